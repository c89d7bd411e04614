"""What the pages of the pots read, each in a fixed number of queries however long the log is."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db.models import Exists, F, OuterRef, Prefetch, Q, QuerySet, Subquery
from django.utils import timezone

from dyehouse.studio.models import User
from dyehouse.studio.templatetags.house import at_clock
from recipes.dyeing.cautions import Caution, cautions
from recipes.dyeing.units import format_celsius, format_ph
from recipes.lots import mixed
from recipes.lots.asking import Asked, Things, quick_answers
from recipes.lots.baths import beside_of
from recipes.lots.bench import stands_open
from recipes.lots.contents import PotContents, add_up, counts
from recipes.lots.deeds import Deed, deed_on_page
from recipes.lots.departing import PotOfPlan, main_base
from recipes.lots.fibre_kinds import kinds_of, with_kinds
from recipes.lots.load_words import OF_A_LOAD
from recipes.lots.missing import lacks_acid
from recipes.lots.models import LogEntry, Pot, PotLoad
from recipes.lots.planned import PlannedBesideDone, beside_done, planned_steps
from recipes.lots.put_on import PutOn, what_was_put_on
from recipes.lots.resolving import ADDITIONS
from recipes.lots.standing import AtWork, Standing, how_it_stands, pots_at_work
from recipes.lots.taps import Taps, set_taps
from recipes.lots.technique_taps import TechniqueTaps, set_technique_taps
from recipes.lots.twice import Twice, written_twice
from recipes.lots.wording import entry_detail, entry_words, step_words
from recipes.models import Dye

Kind = LogEntry.Kind
LATEST_ROWS = 3
RECENTLY_OUT = 12


@dataclass(frozen=True, slots=True)
class EntryRow:
    """A log entry as a page shows it: in words, with who and when, struck or not, and what it still asks."""

    entry: LogEntry
    words: str
    detail: str
    typed: str
    struck: bool
    struck_by: str
    struck_at: datetime | None
    replaced: bool
    corrects: bool
    asked: Asked | None
    twice: Twice | None = None
    also_in: list[LogEntry] = field(default_factory=list)

    @property
    def also_standing(self) -> list[LogEntry]:
        """The same in other pots, kept at once with it, where it is not struck."""
        return [entry for entry in self.also_in if counts(entry)]

    @property
    def question(self) -> str:
        return "" if self.struck else self.entry.question

    @property
    def may_be_put_back(self) -> bool:
        return self.struck and not self.replaced

    @property
    def correctable(self) -> str:
        """What to start a correction from."""
        return self.entry.typed or self.words


@dataclass(frozen=True, slots=True)
class PotPage:
    """Everything that the page of a pot shows."""

    pot: Pot
    name: str
    loads: list[PotLoad]
    contents: PotContents
    rows: list[EntryRow]
    planned: list[PlanRow]
    unplanned: list[EntryRow]
    taps: Taps
    cautions: list[Caution]
    shows_photos: bool
    standing: Standing
    at_work: list[AtWork]
    put_on: PutOn
    techniques: TechniqueTaps
    us: bool = False
    deed: Deed | None = None

    @property
    def others(self) -> list[Pot]:
        """The other pots at work, which an entry may go into too."""
        others = [each.pot for each in self.at_work if each.pot.pk != self.pot.pk]
        return others if self.pot.state == "in work" else []

    @property
    def again(self) -> EntryRow | None:
        """What went in last, to be put in again."""
        additions = (row for row in self.rows if row.entry.kind in ADDITIONS and not row.struck)
        return next(additions, None) if self.pot.state == "in work" else None

    @property
    def fill_microlitres(self) -> int:
        """The bath to fill up to at a touch: as planned, else to the vessel's working mark; 0 where neither is known."""
        if self.pot.planned_bath_microlitres:
            return self.pot.planned_bath_microlitres
        return self.pot.vessel.working_millilitres * 1000 if self.pot.vessel is not None else 0

    @property
    def lacks_acid(self) -> bool:
        """Whether dye is in that takes acid on this yarn, and none is."""
        return bool(self.contents.dyes) and lacks_acid(self.contents, kinds_of(self.loads))

    @property
    def last_temperature_words(self) -> str:
        seen = self.contents.last_temperature
        return f"{format_celsius(seen.value, us=self.us)} {at_clock(seen.at)}" if seen is not None else ""

    @property
    def last_ph_words(self) -> str:
        seen = self.contents.last_ph
        return f"{format_ph(seen.value)} {at_clock(seen.at)}" if seen is not None else ""

    @property
    def touched(self) -> bool:
        """Whether anything was written down since it was loaded."""
        return any(row.entry.happened_at != self.pot.loaded_at for row in self.rows)

    @property
    def latest(self) -> list[EntryRow]:
        return self.rows[:LATEST_ROWS]

    @property
    def earlier(self) -> list[EntryRow]:
        return self.rows[LATEST_ROWS:]

    @property
    def asking(self) -> int:
        """How many entries still ask something."""
        return sum(1 for row in self.rows if row.question)

    @property
    def asking_earlier(self) -> int:
        return sum(1 for row in self.earlier if row.question)


@dataclass(frozen=True, slots=True)
class PlanRow:
    """A planned step in words, beside what was done of it in words."""

    line: PlannedBesideDone
    words: str
    done_words: str

    @property
    def done_at(self) -> datetime | None:
        return self.line.done[-1].happened_at if self.line.done else None


def entries_of(pot: Pot) -> list[LogEntry]:
    """The log of a pot in the order it happened, struck entries and strikes included, with all that a row shows."""
    return list(
        LogEntry.objects.filter(pot=pot)
        .select_related(
            "who",
            "dye__item",
            "dye__stock_item",
            "jar",
            "bottle__jar",
            "mix",
            "auxiliary",
            "photo",
            "planned",
            "struck_by__who",
        )
        .prefetch_related(mixed.PARTS)
        .order_by("happened_at", "id")
    )


def log_rows(
    entries: Sequence[LogEntry], *, us: bool = False, things: Things | None = None
) -> list[EntryRow]:
    """The rows of a log, newest first; strikes are shown on what they strike. Questions need `things` to be answered."""
    replaced = {entry.corrects_id for entry in entries if entry.corrects_id}
    additions = [entry for entry in entries if entry.kind in ADDITIONS and counts(entry)]
    last = additions[-1] if additions else None
    twice, elsewhere = written_twice(entries), _kept_elsewhere(entries)
    rows = []
    for entry in reversed(entries):
        if entry.kind == Kind.STRIKE:
            continue
        words = entry_words(entry, us=us)
        struck_by = getattr(entry, "struck_by", None)
        asks = things is not None and struck_by is None and (entry.question or entry.kind == Kind.NOTE)
        asked = quick_answers(entry, things=things, last_addition=last) if asks and things else None
        rows.append(
            EntryRow(
                entry=entry,
                words=words,
                detail=entry_detail(entry),
                typed=entry.typed if _bare(entry.typed) != _bare(words) else "",
                struck=struck_by is not None,
                struck_by=str(struck_by.who) if struck_by is not None else "",
                struck_at=struck_by.recorded_at if struck_by is not None else None,
                replaced=entry.pk in replaced,
                corrects=entry.corrects_id is not None,
                asked=asked,
                twice=twice.get(entry.pk),
                also_in=elsewhere.get(entry.together, []) if entry.together else [],
            )
        )
    return rows


def _kept_elsewhere(entries: Sequence[LogEntry]) -> dict[UUID, list[LogEntry]]:
    """The same entries in other pots, by what they were kept together under; read only where there are any."""
    together = {entry.together for entry in entries if entry.together}
    if not together:
        return {}
    found: dict[UUID, list[LogEntry]] = {}
    others = LogEntry.objects.filter(together__in=together).exclude(pk__in=[entry.pk for entry in entries])
    for entry in others.select_related("pot", "struck_by").order_by("pot_id"):
        if entry.together:
            found.setdefault(entry.together, []).append(entry)
    return found


def _bare(text: str) -> str:
    """Letters and digits alone, to tell whether the typed line says more than its reading."""
    return "".join(character for character in text.casefold() if character.isalnum())


def pot_page(pot: Pot, *, user: User, us: bool = False) -> PotPage:
    """The page of a pot. `pot` comes with its colourway, vessel and dye lot."""
    loads = loads_of(pot)
    entries = entries_of(pot)
    kept = [entry for entry in entries if counts(entry)]
    there = stands_open()
    things = Things(
        dyes=_dyes(entries),
        auxiliaries=sorted(there.auxiliaries, key=lambda each: each.name.casefold()),
        bottles=there.bottles,
        jars=there.jars,
        mixes=there.mixes,
    )
    contents = add_up(loads=loads, entries=entries, beside=beside_of(pot))
    steps = planned_steps(pot) if pot.plan_id or pot.way_id else []
    planned, unplanned = beside_done(steps, kept) if steps else ([], [])
    rows = log_rows(entries, us=us, things=things)
    by_entry = {row.entry.pk: row for row in rows}
    now = timezone.now()
    return PotPage(
        pot=pot,
        name=pot.colourway.shown_name(user),
        loads=loads,
        contents=contents,
        rows=rows,
        planned=[_plan_row(line, us=us) for line in planned],
        unplanned=[by_entry[entry.pk] for entry in unplanned],
        taps=set_taps(there, entries=kept),
        cautions=cautions_for(contents, kept, loads),
        shows_photos=pot.colourway.may_be_seen_by(user),
        standing=how_it_stands(loads=loads, kept=kept, contents=contents, planned=planned, now=now, us=us),
        at_work=pots_at_work(now=now),
        put_on=what_was_put_on(pot, kept=kept, contents=contents, now=now, us=us),
        techniques=set_technique_taps(kept, us=us),
        us=us,
        deed=deed_on_page(PotOfPlan(pot, steps, kept, contents, main_base(loads) if loads else None, us)),
    )


def _plan_row(line: PlannedBesideDone, *, us: bool) -> PlanRow:
    return PlanRow(
        line=line,
        words=step_words(line.step, us=us),
        done_words=", ".join(entry_words(entry, us=us) for entry in line.done),
    )


def loads_of(pot: Pot) -> list[PotLoad]:
    """What lies in a pot, with base, mill lot, and what it was before."""
    loads = PotLoad.objects.filter(pot=pot).select_related(*OF_A_LOAD)
    return list(with_kinds(loads).order_by("id"))


def _dyes(entries: Iterable[LogEntry]) -> list[Dye]:
    """All dyes of the store, read only where an entry asks which one it was."""
    if not any(entry.question and entry.dye_id is None and entry.name for entry in entries):
        return []
    return list(Dye.objects.filter(retired_at__isnull=True).order_by("name"))


def cautions_for(contents: PotContents, kept: Iterable[LogEntry], loads: Iterable[PotLoad]) -> list[Caution]:
    """What to mind with what is in the pot; before any dye is in, as with a dye whose class nobody knows."""
    classes = [each.dye.dye_class for each in contents.dyes] or [Dye.Class.ACID_UNKNOWN.value]
    powder = not contents.dyes or any(entry.kind == Kind.POWDER for entry in kept)
    roles = [each.auxiliary.role for each in contents.auxiliaries]
    return cautions(classes, roles, powder=powder, fibres=kinds_of(loads))


@dataclass(frozen=True, slots=True)
class PotLine:
    """A pot in a list: what lies in it, when it was last touched, what was last recorded of its heat."""

    pot: Pot
    name: str
    loads: list[PotLoad]
    touched_at: datetime | None
    heat_on: bool | None
    heat_level: str
    heat_at: datetime | None
    asks: bool

    @property
    def pieces(self) -> int:
        return sum(load.pieces for load in self.loads)

    @property
    def dry_milligrams(self) -> int:
        """The fibre in the pot, its strip as well."""
        return sum(load.dry_milligrams for load in self.loads) + (self.pot.strip_milligrams or 0)


@dataclass(frozen=True, slots=True)
class PotsPage:
    """The pots in work, planned, and lately out."""

    in_work: list[PotLine]
    planned: list[PotLine]
    out: list[PotLine]


def pots_page(*, user: User, with_out: bool = True, only_of: User | None = None) -> PotsPage:
    """The list of pots; those in work with the one touched last at the top, and those lately out unless left out.

    `only_of` leaves those that somebody loaded or planned.
    """
    pots = Pot.objects.all() if only_of is None else Pot.objects.filter(started_by=only_of)
    standing = _listed(pots.filter(out_at__isnull=True, dropped_at__isnull=True))
    lines = [_line(pot, user) for pot in standing.order_by(F("touched_at").desc(nulls_last=True), "-id")]
    out = _listed(pots.filter(out_at__isnull=False)).order_by("-out_at", "-id")[:RECENTLY_OUT]
    return PotsPage(
        in_work=[line for line in lines if line.pot.loaded_at is not None],
        planned=sorted((line for line in lines if line.pot.loaded_at is None), key=lambda line: line.pot.pk),
        out=[_line(pot, user) for pot in out] if with_out else [],
    )


def pots_in_work(*, user: User) -> list[PotLine]:
    """The pots that are loaded and not yet out, the one touched last first."""
    pots = _listed(Pot.objects.filter(out_at__isnull=True, loaded_at__isnull=False))
    return [_line(pot, user) for pot in pots.order_by(F("touched_at").desc(nulls_last=True), "-id")]


def _listed(pots: QuerySet[Pot]) -> QuerySet[Pot]:
    kept = LogEntry.objects.filter(pot=OuterRef("pk"), struck_by__isnull=True).exclude(kind=Kind.STRIKE)
    newest = kept.order_by("-happened_at", "-id")
    heat = newest.filter(kind=Kind.HEAT)
    columns: dict[str, Any] = {
        "touched_at": Subquery(newest.values("happened_at")[:1]),
        "heat_on": Subquery(heat.values("heat_on")[:1]),
        "heat_level": Subquery(heat.values("heat_level")[:1]),
        "heat_at": Subquery(heat.values("happened_at")[:1]),
        "asks": Exists(kept.filter(~Q(question=""))),
    }
    loads = PotLoad.objects.select_related(*OF_A_LOAD).order_by("id")
    return (
        pots.select_related("colourway", "vessel", "dye_lot", "started_by", "bath_from")
        .prefetch_related(Prefetch("loads", queryset=loads))
        .annotate(**columns)
    )


def _line(pot: Pot, user: User) -> PotLine:
    return PotLine(
        pot=pot,
        name=pot.colourway.shown_name(user),
        loads=list(pot.loads.all()),
        touched_at=getattr(pot, "touched_at", None) or pot.loaded_at,
        heat_on=getattr(pot, "heat_on", None),
        heat_level=getattr(pot, "heat_level", None) or "",
        heat_at=getattr(pot, "heat_at", None),
        asks=bool(getattr(pot, "asks", False)),
    )
