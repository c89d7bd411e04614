"""What costs are worked out of, read from the ledger, the pots and the invoices: all of it, or what some lots need."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass, field
from typing import Any, NamedTuple, TypeVar

from django.db.models import Q, QuerySet
from django.utils import timezone

from dyehouse.ledger.models import Item, Line, Place
from inventory.costing.models import PotCosts, UsualCosts
from inventory.costing.paid import PaidCost, paid_for
from recipes.lots.models import LogEntry, Pot
from recipes.lots.using import entry_source
from recipes.models import DyedYarn, MillLot, PutUp, StockBottle

Pair = tuple[int, int]
Rows = TypeVar("Rows", bound=QuerySet[Any])
AT_ONCE = 10_000
#: Where what is used for something else goes; what is binned beside what is kept falls on it.
USED_UP = ("consumed", "written_off")


class Moved(NamedTuple):
    """One line of the ledger, as far as costs go."""

    id: int
    movement: int
    item: int
    lot: int
    quantity: int
    day: dt.date

    @property
    def pair(self) -> Pair:
        return self.item, self.lot


class Passed(NamedTuple):
    """Pieces of an unknown mill lot that came in (above zero) or left (below): when, by which movement, from where."""

    line: int
    quantity: int
    at: dt.datetime
    movement: int
    source: str


class PotOut(NamedTuple):
    """A pot whose pieces came out: its id and the day."""

    pot: int
    day: dt.date


@dataclass(slots=True)
class Facts:
    """Everything that is needed, read beforehand; working it out asks the database nothing."""

    kind: dict[int, str] = field(default_factory=dict)
    put_up: dict[int, int] = field(default_factory=dict)
    grade: dict[int, str] = field(default_factory=dict)
    milligrams: dict[int, int] = field(default_factory=dict)
    unknown_lots: set[int] = field(default_factory=set)
    bottles: dict[int, tuple[int, int, Pair | None]] = field(default_factory=dict)
    made: list[Moved] = field(default_factory=list)
    used: dict[int, list[Moved]] = field(default_factory=dict)
    binned: set[int] = field(default_factory=set)
    arrived: list[Moved] = field(default_factory=list)
    paid: dict[int, PaidCost] = field(default_factory=dict)
    priced: dict[int, list[tuple[int, int, int]]] = field(default_factory=dict)
    in_and_out: dict[Pair, list[Passed]] = field(default_factory=dict)
    pot_out: dict[int, PotOut] = field(default_factory=dict)
    pot_used: dict[int, list[Moved]] = field(default_factory=dict)
    usual: list[UsualCosts] = field(default_factory=list)
    own: dict[int, PotCosts] = field(default_factory=dict)


def in_parts(ids: Collection[int] | Collection[str]) -> Iterator[list[Any]]:
    """So many at a time as a database takes in one question."""
    known = list(ids)
    for start in range(0, len(known), AT_ONCE):
        yield known[start : start + AT_ONCE]


def moved(lines: QuerySet[Line]) -> Iterator[Moved]:
    """Lines as plain rows, in the order they were entered."""
    rows = lines.order_by("id").values_list(
        "id", "movement_id", "item_id", "lot_id", "quantity", "movement__happened_at"
    )
    days: dict[dt.datetime, dt.date] = {}
    for pk, movement, item, lot, quantity, at in rows.iterator(chunk_size=5_000):
        day = days.get(at)
        if day is None:
            day = days[at] = timezone.localdate(at)
        yield Moved(pk, movement, item, lot, quantity, day)


def standing(lines: QuerySet[Line]) -> QuerySet[Line]:
    """Lines that were not taken back, and are no taking back themselves."""
    return lines.filter(movement__reverses__isnull=True, movement__reversed_by__isnull=True)


def facts_for(lots: Collection[int] | None) -> Facts:
    """What the costs of these ledger lots (by id) are worked out of; of all lots for None."""
    facts = Facts()
    _read_things(facts)
    _read_made(facts, lots)
    if lots is not None:
        # Where a piece of an unknown mill lot stands in its line is known only with all that came in of it.
        more = {line.lot for lines in facts.used.values() for line in lines} & facts.unknown_lots - set(lots)
        lots = set(lots) | more
        if more:
            facts.made, facts.used, facts.binned = [], {}, set()
            _read_made(facts, lots)
    _read_pots(facts, lots)
    _read_arrived(facts, lots)
    _read_in_and_out(facts, facts.unknown_lots if lots is None else facts.unknown_lots & set(lots))
    facts.usual = list(UsualCosts.objects.order_by("from_day", "id"))
    return facts


def _read_things(facts: Facts) -> None:
    facts.kind = dict(Item.objects.exclude(kind=Item.Kind.MIX).values_list("id", "kind"))
    for pk, item, milligrams in PutUp.objects.values_list("id", "item_id", "nominal_milligrams"):
        facts.put_up[item] = pk
        facts.milligrams[pk] = milligrams
    for item, put_up, grade in DyedYarn.objects.values_list("item_id", "put_up_id", "grade"):
        facts.put_up[item] = put_up
        facts.grade[item] = grade
    facts.unknown_lots = set(MillLot.objects.filter(unknown=True).values_list("lot_id", flat=True))
    bottles = StockBottle.objects.values_list(
        "lot_id", "strength_mg_per_litre", "dye__item_id", "jar__lot_id"
    )
    for lot, strength, dye, jar in bottles:
        facts.bottles[lot] = (strength, dye, (dye, jar) if jar is not None else None)


def _of_lots(lines: QuerySet[Line], lots: Collection[int] | None) -> Iterable[QuerySet[Line]]:
    return [lines] if lots is None else [lines.filter(lot__in=part) for part in in_parts(lots)]


def _read_made(facts: Facts, lots: Collection[int] | None) -> None:
    for lines in _of_lots(standing(Line.objects.filter(from_place__code="made")), lots):
        facts.made += moved(lines)
    movements = {line.movement for line in facts.made}
    went = Line.objects.filter(to_place__code__in=USED_UP)
    if lots is None:
        parts = [went]
    else:
        parts = [went.filter(movement__in=part) for part in in_parts(movements)]
        # What is made of several things is shared among all that is made of them.
        known = {line.id for line in facts.made}
        for part in in_parts(movements):
            beside = Line.objects.filter(movement__in=part, from_place__code="made")
            facts.made += [line for line in moved(beside) if line.id not in known]
    for lines in parts:
        for line in moved(lines):
            if line.movement in movements:
                facts.used.setdefault(line.movement, []).append(line)
        facts.binned |= set(
            lines.filter(to_place__code="written_off", item__dyed__grade=DyedYarn.Grade.UNJUDGED).values_list(
                "id", flat=True
            )
        )


def _read_pots(facts: Facts, lots: Collection[int] | None) -> None:
    pots = Pot.objects.filter(dye_lot__isnull=False)
    if lots is not None:
        pots = pots.filter(dye_lot__lot__in=list({line.lot for line in facts.made} | set(lots)))
    by_source = {f"pot:{code}": (pk, out) for pk, code, out in pots.values_list("pk", "code", "out_at")}
    movements = {line.movement for line in facts.made}
    out = Line.objects.filter(
        from_place__code="made",
        movement__source__startswith="pot:",
        item__dyed__grade=DyedYarn.Grade.UNJUDGED,
    )
    for lines in [out] if lots is None else [out.filter(movement__in=part) for part in in_parts(movements)]:
        for movement, source in lines.values_list("movement_id", "movement__source").distinct():
            if movement in movements and source in by_source:
                pk, at = by_source[source]
                facts.pot_out[movement] = PotOut(pk, timezone.localdate(at))
    wanted = {each.pot for each in facts.pot_out.values()}
    if not wanted:
        return
    entries = LogEntry.objects.filter(kind__in=("stock", "powder", "mix", "auxiliary"))
    known = [entries] if lots is None else [entries.filter(pot__in=part) for part in in_parts(wanted)]
    pot_of = {entry_source(key): pot for each in known for key, pot in each.values_list("key", "pot_id")}
    used = standing(Line.objects.filter(to_place__code="consumed", movement__source__startswith="entry:"))
    for lines in (
        [used] if lots is None else [used.filter(movement__source__in=part) for part in in_parts(pot_of)]
    ):
        sources = dict(lines.values_list("movement_id", "movement__source"))
        for line in moved(lines):
            pot = pot_of.get(sources[line.movement])
            if pot is not None:
                facts.pot_used.setdefault(pot, []).append(line)
    facts.own = {
        row.pot_id: row for row in PotCosts.objects.filter(pot__in=list(wanted)[:AT_ONCE]).order_by("id")
    }
    if len(wanted) > AT_ONCE:
        facts.own = {row.pot_id: row for row in PotCosts.objects.order_by("id")}


def _read_arrived(facts: Facts, lots: Collection[int] | None) -> None:
    outside = standing(Line.objects.filter(from_place__kind=Place.Kind.BOUNDARY)).exclude(
        from_place__code="made"
    )
    for lines in _of_lots(outside, lots):
        facts.arrived += moved(lines)
    facts.paid = paid_for()
    # By item, what was paid of any of its lots: the last known price of the ones that nobody priced.
    for part in in_parts(list(facts.paid)):
        priced = standing(Line.objects.filter(pk__in=part)).order_by("movement__happened_at", "id")
        for pk, item, lot, quantity in priced.values_list("id", "item_id", "lot_id", "quantity"):
            facts.priced.setdefault(item, []).append((pk, lot, quantity))


def _read_in_and_out(facts: Facts, lots: Collection[int]) -> None:
    """For yarn whose mill lot nobody knows: every piece that came in (above zero) or left (below), in order of entry."""
    if not lots:
        return
    undyed = standing(Line.objects.filter(lot__in=list(lots), item__kind=Item.Kind.UNDYED)).filter(
        Q(from_place__kind=Place.Kind.BOUNDARY) | Q(to_place__kind=Place.Kind.BOUNDARY)
    )
    rows = undyed.order_by("id").values_list(
        "id",
        "item_id",
        "lot_id",
        "quantity",
        "movement__happened_at",
        "movement_id",
        "from_place__kind",
        "from_place__code",
    )
    for pk, item, lot, quantity, at, movement, kind, source in rows.iterator(chunk_size=5_000):
        sign = 1 if kind == Place.Kind.BOUNDARY else -1
        passed = Passed(pk, sign * quantity, at, movement, source)
        facts.in_and_out.setdefault((item, lot), []).append(passed)
