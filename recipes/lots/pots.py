"""A pot is loaded, more is put in, it is weighed, or put back again while nothing is in its bath."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from uuid import UUID, uuid5

from django.db import transaction
from django.utils import timezone

from dyehouse.ledger.models import Movement
from dyehouse.ledger.operations import Step, post, reverse
from dyehouse.studio.codes import take_code
from dyehouse.studio.models import Studio, User, Vessel
from dyehouse.studio.refusals import Refused
from recipes.colourways import new_colourway
from recipes.dyeing.units import format_grams
from recipes.lots.baths import UsedBath, fill_from, holds_something
from recipes.lots.load_lines import LoadLine, NotALoad, rows_of, share_among, share_weight, steps_in
from recipes.lots.load_words import line_words
from recipes.lots.log import add_entry
from recipes.lots.models import LogEntry, Pot, PotLoad
from recipes.lots.redye import reckon_again
from recipes.lots.soaking import leave_off_soaking, minutes_soaked, steps_into
from recipes.lots.water import water_of
from recipes.models import Colourway, MillLot, PutUp

Kind = LogEntry.Kind
#: What makes a bath hold more than water.
INTO_THE_BATH = (Kind.STOCK, Kind.POWDER, Kind.MIX, Kind.AUXILIARY)


class AlreadyLoaded(Refused):
    """The pot was loaded, emptied or dropped before."""


class SomethingIsIn(Refused):
    """The pot holds more than yarn and water, so it cannot be as if it had not been loaded."""


def pot_source(pot: Pot) -> str:
    """How the ledger names a pot as the cause of a movement."""
    return f"pot:{pot.code}"


def start_trial(
    *,
    key: UUID,
    put_up: PutUp,
    mill_lot: MillLot | None,
    pieces: int,
    dry_milligrams: int | None,
    vessel: Vessel | None,
    colourway: Colourway | None,
    who: User,
    happened_at: datetime | None = None,
) -> Pot:
    """Load a pot with one line of undyed yarn to try a colour, as `load_pot` does. Raises NotALoad."""
    return load_pot(
        key=key,
        lines=[LoadLine(put_up, mill_lot, pieces, dry_milligrams)],
        vessel=vessel,
        colourway=colourway,
        who=who,
        happened_at=happened_at,
    )


@transaction.atomic
def load_pot(
    *,
    key: UUID,
    lines: Sequence[LoadLine],
    vessel: Vessel | None,
    colourway: Colourway | None,
    who: User,
    together_milligrams: int | None = None,
    strip_milligrams: int | None = None,
    bath: UsedBath | None = None,
    happened_at: datetime | None = None,
) -> Pot:
    """Load a pot to try a colour: it gets its short code, and its pieces go from where they lie into the pots.

    A line weighs what its put-up says unless it was weighed by itself or all of it together. A strip beside the pieces
    counts as fibre and is no piece. Without a colourway a new one is made with the pot's code. What the book does not have
    is found in the same movement. The same key again returns the pot of the first call.
    Raises NotALoad.
    """
    first = _loaded_by(key)
    if first is not None:
        return first
    if not lines and not strip_milligrams:
        raise NotALoad("Say what goes in: pieces, or a strip with its dry weight.")
    at = happened_at or timezone.now()
    code = take_code()
    pot = Pot(
        code=code,
        colourway=colourway or new_colourway(code=code),
        vessel=vessel,
        made_at=at,
        started_by=who,
        loaded_at=at,
        strip_milligrams=strip_milligrams,
        water=water_of(Studio.current()),
    )
    loads = rows_of(pot, lines, together_milligrams=together_milligrams)
    pot.save()
    PotLoad.objects.bulk_create(loads)
    _move_in(key=key, pot=pot, loads=loads, who=who, at=at)
    if bath is not None:
        fill_from(pot=pot, bath=bath, key=uuid5(key, "bath"), who=who, at=at)
    return pot


@transaction.atomic
def load_planned(
    *,
    key: UUID,
    pot: Pot,
    mill_lot: MillLot | None,
    dry_milligrams: int | None,
    who: User,
    happened_at: datetime | None = None,
    lines: Sequence[LoadLine] | None = None,
    strip_milligrams: int | None = None,
    bath: UsedBath | None = None,
) -> Pot:
    """Load a planned pot: its pieces go from where they lie into the pots, from what is really at hand.

    None keeps what was planned; `mill_lot` takes all of it from another lot, `lines` puts what really goes in, from several
    lots or in another count, in place of what was planned. A weight is a weighing of all its pieces together. What is planned
    and not yet done follows. The same key again changes nothing.
    Raises AlreadyLoaded and NotALoad.
    """
    if _loaded_by(key) is not None:
        return Pot.objects.get(pk=pot.pk)
    locked = Pot.objects.select_for_update().get(pk=pot.pk)
    if locked.state != "planned":
        raise AlreadyLoaded(f"Pot {locked.code} is {locked.state}; only a planned pot can be loaded.")
    locked.strip_milligrams = strip_milligrams or locked.strip_milligrams
    loads = _lines_in_place_of_planned(locked, lines) if lines is not None else _planned_loads(locked)
    if not loads and not locked.strip_milligrams:
        raise NotALoad(f"Pot {locked.code} has no pieces planned. Drop it and plan it again.")
    if mill_lot is not None:
        _change_lot(loads, mill_lot)
    if dry_milligrams is not None and lines is not None:
        share_weight(loads, dry_milligrams)
    elif dry_milligrams is not None:
        _weigh(loads, dry_milligrams)
    PotLoad.objects.bulk_update(loads, ["mill_lot", "dry_milligrams", "weighed"])
    at = happened_at or timezone.now()
    locked.loaded_at = at
    # Whoever loads it dyes it, and it is theirs in the record; who planned it is kept with the plan.
    locked.started_by = who
    locked.water = water_of(Studio.current())
    steps, soaked_since = steps_into(locked, loads)
    if soaked_since is not None and locked.presoak_minutes is None:
        locked.presoak_minutes = minutes_soaked(soaked_since, at)
    locked.save(update_fields=["loaded_at", "started_by", "water", "strip_milligrams", "presoak_minutes"])
    if dry_milligrams is not None or lines is not None or strip_milligrams:
        reckon_again(pot=locked)
    _move_in(key=key, pot=locked, loads=loads, who=who, at=at, steps=steps)
    if bath is not None:
        fill_from(pot=locked, bath=bath, key=uuid5(key, "bath"), who=who, at=at)
    return locked


@transaction.atomic
def add_line(
    *, key: UUID, pot: Pot, line: LoadLine, who: User, happened_at: datetime | None = None
) -> PotLoad | None:
    """Put more pieces into a pot in work. Once its bath holds something, the log says when they went in.

    What is planned and not yet done follows. The same key again changes nothing and gives None.
    Raises AlreadyLoaded when the pot is not in work, and NotALoad.
    """
    locked = Pot.objects.select_for_update().get(pk=pot.pk)
    if Movement.objects.filter(key=key).exists():
        return None
    if locked.state != "in work":
        raise AlreadyLoaded(f"Pot {locked.code} is {locked.state}; only into a pot in work more can be put.")
    load = rows_of(locked, [line])[0]
    load.save()
    at = happened_at or timezone.now()
    _move_in(key=key, pot=locked, loads=[load], who=who, at=at)
    if bath_holds(locked):
        add_entry(
            pot=locked,
            key=uuid5(key, "said"),
            kind=Kind.NOTE,
            who=who,
            happened_at=at,
            text=f"{line_words(load)} put in as well",
        )
    reckon_again(pot=locked)
    return load


@transaction.atomic
def weigh_load(
    *,
    pot: Pot,
    dry_milligrams: int | None = None,
    by_load: Mapping[int, int] | None = None,
    strip_milligrams: int | None = None,
) -> None:
    """Put the weighed dry weight in place of what was taken from the put-ups: of all pieces together, or line by line.

    `by_load` gives milligrams by the id of a line; with `dry_milligrams` beside it, the other lines share the rest.
    What is planned and not yet done follows the weight. Raises NotALoad.
    """
    loads = list(PotLoad.objects.select_for_update().filter(pot=pot).order_by("id"))
    single = by_load or {}
    for load in loads:
        if load.pk in single:
            load.dry_milligrams, load.weighed = single[load.pk], True
    if dry_milligrams is not None and single:
        others = [load for load in loads if load.pk not in single]
        for load in others:
            load.weighed = False
        share_weight(loads, dry_milligrams)
    elif dry_milligrams is not None:
        _weigh(loads, dry_milligrams)
    if any(load.dry_milligrams < 1 for load in loads):
        raise NotALoad("The dry weight is more than nothing. Write the grams that the scale shows.")
    PotLoad.objects.bulk_update(loads, ["dry_milligrams", "weighed"])
    if strip_milligrams is not None:
        pot.strip_milligrams = strip_milligrams or None
        pot.save(update_fields=["strip_milligrams"])
    reckon_again(pot=pot)


@transaction.atomic
def unload_untouched(*, key: UUID, pot: Pot, who: User) -> Pot:
    """Put the pieces of a pot back to where they lay when nothing has gone into its bath but water.

    Raises SomethingIsIn when it holds dye or an auxiliary, AlreadyLoaded when it is not in work.
    """
    locked = Pot.objects.select_for_update().get(pk=pot.pk)
    if locked.dropped_at is not None:
        return locked
    if locked.state != "in work":
        raise AlreadyLoaded(f"Pot {locked.code} is {locked.state}; only a pot in work can be put back.")
    if locked.bath_from is not None and holds_something(locked):
        raise SomethingIsIn(
            f"Pot {locked.code} was filled from the bath of pot {locked.bath_from.code}, which holds dye. If the yarn "
            "did not go into it, say first that the bath is fresh."
        )
    if bath_holds(locked):
        raise SomethingIsIn(
            f"Pot {locked.code} holds more than yarn and water. Strike what did not go in, or take the pieces out."
        )
    moved = Movement.objects.filter(
        source=pot_source(locked), reverses__isnull=True, reversed_by__isnull=True
    ).order_by("-id")
    for number, into in enumerate(moved):
        reverse(
            movement=into,
            key=uuid5(key, str(number)) if number else key,
            who=who,
            why=f"Pot {locked.code} was not dyed",
        )
    # What had soaked for it soaks again by the taking back, and goes to where it lay.
    leave_off_soaking(key=uuid5(key, "soaked"), pots=[locked], who=who)
    locked.loaded_at = None
    locked.dropped_at = timezone.now()
    locked.save(update_fields=["loaded_at", "dropped_at"])
    return locked


def bath_holds(pot: Pot) -> bool:
    """Whether something has gone into the bath of a pot, or was in it before: more than water."""
    added = LogEntry.objects.filter(pot=pot, kind__in=INTO_THE_BATH, struck_by__isnull=True)
    return added.exists() or holds_something(pot)


def _loaded_by(key: UUID) -> Pot | None:
    """The pot that was loaded under a key: its movement names it, and a strip alone moves nothing but says so in the log."""
    source = Movement.objects.filter(key=key).values_list("source", flat=True).first()
    if source is not None:
        return Pot.objects.filter(code=source.removeprefix("pot:")).first()
    said = LogEntry.objects.filter(key=key).select_related("pot").first()
    return said.pot if said is not None else None


def _planned_loads(pot: Pot) -> list[PotLoad]:
    return list(
        PotLoad.objects.filter(pot=pot)
        .select_related(
            "put_up__item", "put_up__base", "mill_lot__lot", "was__item", "overdyes__lot", "from_place"
        )
        .order_by("id")
    )


def _lines_in_place_of_planned(pot: Pot, lines: Sequence[LoadLine]) -> list[PotLoad]:
    if not lines and not pot.strip_milligrams:
        raise NotALoad("Say what goes in: at least one piece.")
    loads = rows_of(pot, lines)
    PotLoad.objects.filter(pot=pot).delete()
    PotLoad.objects.bulk_create(loads)
    return loads


def _change_lot(loads: Iterable[PotLoad], mill_lot: MillLot) -> None:
    fitting = [load for load in loads if load.put_up.base_id == mill_lot.base_id]
    if not fitting:
        raise NotALoad(
            f"Mill lot {mill_lot.number} is of another base. Choose a lot of the base in this pot."
        )
    for load in fitting:
        load.mill_lot = mill_lot


def _weigh(loads: list[PotLoad], dry_milligrams: int) -> None:
    if dry_milligrams < len(loads) or not loads:
        raise NotALoad("The dry weight is more than nothing. Write the grams that the scale shows.")
    share_among(loads, dry_milligrams)


def _move_in(
    *,
    key: UUID,
    pot: Pot,
    loads: Sequence[PotLoad],
    who: User,
    at: datetime,
    steps: Sequence[Step] | None = None,
) -> None:
    if not loads:
        strip = format_grams(pot.strip_milligrams or 0)
        add_entry(
            pot=pot, key=key, kind=Kind.NOTE, who=who, happened_at=at, text=f"A strip of {strip}, no pieces"
        )
        return
    post(
        key=key,
        who=who,
        steps=steps_in(loads) if steps is None else steps,
        why=f"Into pot {pot.code}",
        source=pot_source(pot),
        happened_at=at,
        find_missing=True,
    )
    before = [line_words(load) for load in loads if load.overdyes_id is not None]
    if before:
        add_entry(
            pot=pot,
            key=uuid5(key, "dyed before"),
            kind=Kind.NOTE,
            who=who,
            happened_at=at,
            text=f"Overdyed: {'; '.join(before)}",
        )
