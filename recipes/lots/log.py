"""The pot log: what was really done, in order, as typed and as read. Entries are only ever added.

At the pot the deed wins: nothing is refused for lack of stock, and what the book lacks is found in the same movement.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID, uuid5

from django.db import transaction
from django.utils import timezone

from dyehouse.studio.models import User
from dyehouse.studio.refusals import Refused
from recipes.dyeing.lay import lay_from_json
from recipes.dyeing.potline import read_line
from recipes.dyeing.potline.reading import Known
from recipes.dyeing.techniques import BY_SLUG
from recipes.lots.bench import Bench, set_bench
from recipes.lots.models import LogEntry, PlannedStep, Pot
from recipes.lots.planned import next_step_for, step_as_entry
from recipes.lots.resolving import (
    ADDITIONS,
    SAID,
    Meant,
    complete,
    moment_near,
    moment_of,
    what_is_meant,
    what_was_said,
)
from recipes.lots.using import find_bottle_or_jar, give_back, post_use
from recipes.models import Dye

Kind = LogEntry.Kind
LONGEST_LINE = 500


class NothingTyped(Refused):
    """The line is empty."""


class NotLoaded(Refused):
    """The pot was not loaded, so nothing can go into it."""


class NotAnEntry(Refused):
    """What was given cannot be what was done."""


class StruckAlready(Refused):
    """The entry was struck or corrected before, perhaps on another phone."""


def reading_context(pot: Pot) -> list[Known]:
    """The studio's own dyes and auxiliaries, for reading a line at a pot."""
    return set_bench().known()


def tidy_line(typed: str) -> str:
    """A typed line as it is kept: without control characters, with single spaces."""
    shown = (character if unicodedata.category(character) not in ("Cc", "Cs") else " " for character in typed)
    return " ".join("".join(shown).split())


def read_at_pot(
    *, typed: str, pot: Pot, bench: Bench, told_at: datetime, fahrenheit: bool = False
) -> list[Meant]:
    """What a line at a pot means, before anything is kept; the same for the reading shown and for Enter."""
    if len(typed) > LONGEST_LINE:
        question = "This is too long to be read. What of it went into the pot?"
        return [Meant(Kind.NOTE, {"text": part, "typed": part}, "", question) for part in _parts(typed)]
    lay = lay_from_json(pot.lay_plan)
    readings = read_line(
        typed,
        fahrenheit=fahrenheit,
        known=bench.known(),
        now=f"{timezone.localtime(told_at):%H:%M}",
        sections=lay.names if lay is not None else (),
    )
    return what_is_meant(readings, typed=typed, bench=bench, last_addition=last_addition(pot))


def _parts(typed: str) -> list[str]:
    return [typed[start : start + LONGEST_LINE] for start in range(0, len(typed), LONGEST_LINE)]


def last_addition(pot: Pot) -> LogEntry | None:
    """What went into a pot last and was not struck."""
    return (
        LogEntry.objects.filter(pot=pot, kind__in=ADDITIONS, struck_by__isnull=True)
        .select_related(
            "dye__item",
            "dye__stock_item",
            "jar__lot",
            "bottle__lot",
            "mix__item",
            "mix__lot",
            "auxiliary__item",
        )
        .order_by("-happened_at", "-id")
        .first()
    )


@transaction.atomic
def keep_line(
    *,
    pot: Pot,
    key: UUID,
    typed: str,
    who: User,
    clock: datetime | None = None,
    now: datetime | None = None,
    fahrenheit: bool = False,
    together: UUID | None = None,
    read_at: Pot | None = None,
) -> list[LogEntry]:
    """Keep a line that was typed or dictated at a pot as the entries it means.

    `clock` is when the phone took it, `now` when it arrived here; a time typed in the line goes before both, and a time
    still to come means yesterday. The same key again returns the entries of the first call. A line for several pots at
    once has `together`, the same for all, and is read at one of them: “again” means what went into that one last.
    Raises NothingTyped and NotLoaded.
    """
    line = tidy_line(typed)
    if not line:
        raise NothingTyped("Write what you did, for example “5 ml red” or “82 C”.")
    pot = _at_work(pot)
    first = _kept_under(key)
    if first:
        return first
    arrived = now or timezone.now()
    # A phone whose clock runs ahead cannot have seen the future.
    told_at = min(clock, arrived) if clock is not None else arrived
    bench = set_bench()
    at = read_at or pot
    meant = read_at_pot(typed=line, pot=at, bench=bench, told_at=told_at, fahrenheit=fahrenheit)
    return [
        _add(
            pot=pot,
            key=_numbered(key, number),
            together=_numbered(together, number) if together is not None else None,
            kind=each.kind,
            who=who,
            happened_at=moment_of(each.clock, told_at=told_at),
            question=each.question,
            **each.fields,
        )
        for number, each in enumerate(meant)
    ]


def _numbered(key: UUID, number: int) -> UUID:
    return key if number == 0 else uuid5(key, str(number))


def _kept_under(key: UUID) -> list[LogEntry]:
    """The entries of a line that was kept before under this key."""
    keys = [_numbered(key, number) for number in range(60)]
    return list(LogEntry.objects.filter(key__in=keys).order_by("id"))


def _at_work(pot: Pot) -> Pot:
    """The pot, locked, so that two phones at one pot come one after the other. Raises NotLoaded."""
    locked = Pot.objects.select_for_update().get(pk=pot.pk)
    if locked.loaded_at is None:
        raise NotLoaded(f"Pot {locked.code} is {locked.state}. Load it first, then write what goes in.")
    return locked


@transaction.atomic
def add_entry(*, pot: Pot, key: UUID, kind: str, who: User, happened_at: datetime, **fields: Any) -> LogEntry:
    """Keep one thing done or seen at a pot; dye, stock and auxiliaries leave the store.

    `fields` are those of LogEntry (milligrams, microlitres, dye, bottle, jar, ...). A bottle or a jar names its dye and
    strength; weighings of a jar before and after give the milligrams. The same key again returns the first entry.
    Raises NotLoaded and NotAnEntry.
    """
    pot = _at_work(pot)
    first = LogEntry.objects.filter(key=key).first()
    if first is not None:
        return first
    unknown = set(fields) - {*SAID, "question", "corrects", "together"}
    if unknown:
        raise TypeError(f"LogEntry keeps no {', '.join(sorted(unknown))}.")
    meant = Meant(kind, _filled_in(kind, fields), question=fields.get("question", ""))
    if kind in ADDITIONS:
        meant = complete(meant, set_bench())
    asked = {**meant.fields, "question": meant.question}
    return _add(pot=pot, key=key, kind=kind, who=who, happened_at=happened_at, **asked)


def _filled_in(kind: str, fields: dict[str, Any]) -> dict[str, Any]:
    filled = dict(fields)
    bottle, jar = filled.get("bottle"), filled.get("jar")
    if bottle is not None:
        filled["dye"] = bottle.dye
        filled["strength_mg_per_litre"] = bottle.strength_mg_per_litre
    if jar is not None:
        filled["dye"] = jar.dye
    before, after = filled.get("jar_before_milligrams"), filled.get("jar_after_milligrams")
    if before is not None and after is not None:
        if after >= before:
            raise NotAnEntry(
                "The jar is not lighter after than before. Write the weight before first, then the one after."
            )
        filled["milligrams"] = before - after
    if kind == Kind.TECHNIQUE and filled.get("technique") not in BY_SLUG:
        raise NotAnEntry("Choose what was done to the yarn.")
    amounts = (filled.get("milligrams"), filled.get("microlitres"))
    if (
        kind in (Kind.STOCK, Kind.POWDER, Kind.MIX, Kind.AUXILIARY)
        and not any(amounts)
        and not filled.get("as_typed")
    ):
        raise NotAnEntry("Write how much went in: more than nothing.")
    return filled


def _add(*, pot: Pot, key: UUID, kind: str, who: User, happened_at: datetime, **fields: Any) -> LogEntry:
    find_bottle_or_jar(kind, fields, happened_at)
    if fields.get("planned") is None and (pot.plan_id or pot.way_id):
        fields["planned"] = next_step_for(pot=pot, kind=kind, fields=fields)
    dye: Dye | None = fields.get("dye")
    if dye is not None and fields.get("strength_of_type_percent") is None:
        fields["strength_of_type_percent"] = _strength_then(fields.get("corrects"), dye)
    entry = LogEntry.objects.create(
        pot=pot,
        key=key,
        kind=kind,
        who=who,
        happened_at=happened_at,
        recorded_at=timezone.now(),
        **fields,
    )
    post_use(entry)
    return entry


def _strength_then(corrects: LogEntry | None, dye: Dye) -> int:
    """The dye's strength of type when it went in: of an entry put right that of its own time."""
    if corrects is not None and corrects.dye_id == dye.pk and corrects.strength_of_type_percent:
        return corrects.strength_of_type_percent
    return dye.strength_of_type_percent


@transaction.atomic
def keep_step(*, pot: Pot, step: PlannedStep, key: UUID, who: User, happened_at: datetime) -> LogEntry:
    """Keep a planned step as done just as planned. The same key again returns the first entry."""
    kind, fields = step_as_entry(step)
    return add_entry(pot=pot, key=key, kind=kind, who=who, happened_at=happened_at, planned=step, **fields)


@transaction.atomic
def strike(*, entry: LogEntry, key: UUID, who: User, now: datetime | None = None) -> LogEntry:
    """Strike an entry: it stays visible and counts for nothing, and what it took goes back into the store.

    `now` is when it was struck, on a phone that may have had no network then. Struck before, by anybody, it stays struck: the first strike is returned. Raises NotAnEntry for a strike.
    """
    pot = Pot.objects.select_for_update().get(pk=entry.pot_id)
    first = LogEntry.objects.filter(strikes=entry).first()
    if first is not None:
        return first
    if entry.kind == Kind.STRIKE:
        raise NotAnEntry("A strike cannot be struck. Put the struck entry back instead.")
    at = now or timezone.now()
    struck = LogEntry.objects.create(
        pot=pot, key=key, kind=Kind.STRIKE, who=who, happened_at=at, recorded_at=timezone.now(), strikes=entry
    )
    give_back(entry, key=uuid5(key, "back"), who=who)
    return struck


@transaction.atomic
def correct(
    *,
    entry: LogEntry,
    key: UUID,
    who: User,
    typed: str | None = None,
    now: datetime | None = None,
    fahrenheit: bool = False,
    **fields: Any,
) -> LogEntry:
    """Put an entry right: the old one is struck and a new one, which names it, takes its place and its time.

    Give the line as it should have been typed, or only the fields that change; what was asked about the old one is
    asked no more unless the new one leaves it open. The same key again returns the first correction.
    Raises NothingTyped, and StruckAlready when somebody struck or corrected it before.
    """
    pot = Pot.objects.select_for_update().get(pk=entry.pot_id)
    first = LogEntry.objects.filter(key=key).first()
    if first is not None:
        return first
    if LogEntry.objects.filter(strikes=entry).exists():
        raise StruckAlready("This entry was struck or corrected already. Write what went in as a new line.")
    line = tidy_line(typed) if typed is not None else None
    if line == "":
        raise NothingTyped("Write what it should say, or strike it.")
    strike(entry=entry, key=uuid5(key, "strike"), who=who, now=now)
    bench = set_bench()
    if line is not None:
        told_at = timezone.localtime(entry.happened_at) + timedelta(hours=12)
        meant = read_at_pot(typed=line, pot=pot, bench=bench, told_at=told_at, fahrenheit=fahrenheit)
    else:
        meant = [complete(_changed(entry, fields), bench)]
    return _take_its_place(entry, meant, key=key, who=who, pot=pot, told_at=now or timezone.now())


def _changed(entry: LogEntry, fields: dict[str, Any]) -> Meant:
    said = what_was_said(entry)
    if "dye" in fields or "strength_mg_per_litre" in fields:
        said.update(bottle=None, jar=None)
    said.update(fields)
    kind = said.pop("kind")
    return Meant(kind, _filled_in(kind, said))


def _take_its_place(
    entry: LogEntry, meant: Sequence[Meant], *, key: UUID, who: User, pot: Pot, told_at: datetime
) -> LogEntry:
    made = []
    for number, each in enumerate(meant):
        fields = {**each.fields}
        if number == 0 and fields.get("planned") is None and entry.planned_id and each.kind == entry.kind:
            fields["planned"] = entry.planned
        made.append(
            _add(
                pot=pot,
                key=_numbered(key, number),
                kind=each.kind,
                who=who,
                happened_at=moment_near(each.clock, at=entry.happened_at, told_at=told_at),
                question=each.question,
                corrects=entry,
                **fields,
            )
        )
    return made[0]


@transaction.atomic
def put_back(*, entry: LogEntry, key: UUID, who: User) -> LogEntry:
    """Take a strike back: the same is kept once more, at its own time. The same key again returns the first.

    Raises NotAnEntry when the entry is not struck, StruckAlready when a correction took its place or it was put back.
    """
    pot = Pot.objects.select_for_update().get(pk=entry.pot_id)
    first = LogEntry.objects.filter(key=key).first()
    if first is not None:
        return first
    if not LogEntry.objects.filter(strikes=entry).exists():
        raise NotAnEntry("This entry is not struck.")
    if LogEntry.objects.filter(corrects=entry).exists():
        raise StruckAlready("Another entry took its place already. Correct that one instead.")
    said = what_was_said(entry)
    kind = said.pop("kind")
    return _add(
        pot=pot,
        key=key,
        kind=kind,
        who=who,
        happened_at=entry.happened_at,
        question=entry.question,
        corrects=entry,
        together=entry.together,
        **said,
    )
