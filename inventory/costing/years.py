"""A year of stock from opening to closing, and closing it for good.

A closed year keeps its rows as they were known on the day it was closed, and they are the next year's opening. What is
entered later with a day in a closed year, and what is put right of its costs, is told in the next year by itself, so that
opening, what was added and what left always sum to the closing.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from dyehouse.ledger.models import Line, Movement
from dyehouse.ledger.operations import say_quantity
from dyehouse.studio.models import Studio, User
from dyehouse.studio.refusals import Refused
from inventory.costing.models import ClosedRow, ClosedSum, ClosedYear
from inventory.costing.moving import Flows, flows_between
from inventory.costing.prices import retail_prices
from inventory.costing.sums import NANO, apportion
from inventory.costing.worth import (
    CATEGORIES,
    Row,
    Things,
    Worth,
    end_of,
    quantities_at,
    rows_of,
    unit_costs,
    worth,
)
from recipes.words import one_line

#: How a closing came about, in the order of the page; the rows between the first and the last are what changed.
ROWS: dict[str, str] = {
    "opening": "Opening stock",
    "late": "Dated before, entered since the last closing",
    "put_right": "Costs of the opening stock put right since",
    "bought": "Bought, with freight",
    "before": "There before the house",
    "put_in": "Work, energy and labels put in",
    "moved": "Moved on and used for dyeing, kits and mixes",
    "sold": "Sold",
    "given": "Given away",
    "lost": "Written off, and dye of trials without pieces",
    "counted": "Found and missing in counts",
    "written_down": "Seconds written down to what they should bring",
    "closing": "Closing stock",
}
CHANGES = tuple(row for row in ROWS if row not in ("opening", "closing"))
IDENTIFIED, FIRST_IN_FIRST_OUT = "identified", "fifo"
Sums = dict[str, dict[str, int]]


class CannotClose(Refused):
    """The day is not over, or lies in a year that is closed."""


@dataclass(frozen=True, slots=True)
class Late:
    """A line that was entered after a year was closed and is dated into it: what it changes of the opening."""

    line: Line | None
    minor: int

    @property
    def words(self) -> str:
        if self.line is None:
            return "Dye in the baths of that day, and yarn of unknown mill lots by first in, first out"
        return f"{self.line.item}, lot {self.line.lot}"

    @property
    def quantity(self) -> str:
        return say_quantity(self.line.quantity, self.line.item) if self.line is not None else ""


@dataclass(frozen=True, slots=True)
class Year:
    """A year up to a day: sums by row and category that add up, its closing stock, and what came late into the one before."""

    before: ClosedYear | None
    until: dt.date
    sums: Sums
    closing: Worth
    late: list[Late]
    things: Things
    unexplained: dict[str, int]

    def total(self, row: str) -> int:
        return sum(self.sums[row].values())


def last_closed() -> ClosedYear | None:
    """The year that was closed last."""
    return ClosedYear.objects.order_by("-ends_on").select_related("closed_by").first()


def year_until(until: dt.date, *, currency: str = "") -> Year:
    """The year since the last closing, up to a day, with everything that is known today. Raises CannotClose."""
    before = last_closed()
    if before is not None and until <= before.ends_on:
        raise CannotClose(f"The year to {before.ends_on:%-d %B %Y} is closed. Choose a later day.")
    things = Things.now()
    at = end_of(until)
    closing = worth(at, currency=currency, things=things)
    opened = _opening(before, things, closing)
    flows = flows_between(
        after=end_of(before.ends_on) if before is not None else None,
        until=at,
        opening=opened.now,
        closing=closing.rows,
        things=things,
    )
    exact = _exact(opened, flows, closing)
    sums = _whole(exact, opened.minor, {name: closing.of(name) for name in CATEGORIES})
    late = _late(before, things, exact["late"], sum(sums["late"].values()))
    return Year(before, until, sums, closing, late, things, _unexplained(exact, opened, closing))


@dataclass(frozen=True, slots=True)
class _Opening:
    """What was there when the year began: as it was closed, and the same moment as it is known today."""

    now: list[Row]
    frozen_now: list[Row]
    cost: dict[str, int]
    carried: dict[str, int]
    minor: dict[str, int]


def _opening(before: ClosedYear | None, things: Things, closing: Worth) -> _Opening:
    nothing = dict.fromkeys(CATEGORIES, 0)
    if before is None:
        return _Opening([], [], nothing, dict(nothing), dict(nothing))
    at = end_of(before.ends_on)
    quantities = quantities_at(at, things)
    cost, carried, minor = dict(nothing), dict(nothing), dict(nothing)
    frozen: dict[tuple[int, int, int], int] = {}
    for row in ClosedRow.objects.filter(year=before):
        cost[row.category] += int(row.cost_nano)
        carried[row.category] += int(row.carried_nano)
        minor[row.category] += row.value_minor
        frozen[row.place_id, row.item_id, row.lot_id] = row.quantity
    costs = unit_costs({(item, lot) for _, item, lot in {*quantities, *frozen}})
    prices = retail_prices(before.ends_on, currency=closing.currency)
    # Writing down is told by itself, so that here everything stands at cost.
    now = rows_of(quantities, things=things, costs=costs, at=at, prices=prices, second_percent=None)
    frozen_now = rows_of(
        frozen,
        things=things,
        costs=costs,
        at=at,
        prices=prices,
        second_percent=None,
        last_movement=before.last_movement,
    )
    return _Opening(now, frozen_now, cost, carried, minor)


def by_category(rows: Iterable[Row]) -> dict[str, int]:
    """The cost of rows in nano, category by category."""
    found = dict.fromkeys(CATEGORIES, 0)
    for row in rows:
        found[row.category] += row.cost
    return found


def _exact(opened: _Opening, flows: Flows, closing: Worth) -> Sums:
    now, frozen_now = by_category(opened.now), by_category(opened.frozen_now)
    exact: Sums = {row: dict(flows.get(row, {})) for row in CHANGES}
    written_down = dict.fromkeys(CATEGORIES, 0)
    for stock in closing.rows:
        written_down[stock.category] += stock.carried - stock.cost
    for name in CATEGORIES:
        exact["late"][name] = now[name] - frozen_now[name]
        exact["put_right"][name] = exact["put_right"].get(name, 0) + frozen_now[name] - opened.cost[name]
        exact["written_down"][name] = written_down[name] - (opened.carried[name] - opened.cost[name])
        for row in CHANGES:
            exact[row].setdefault(name, 0)
    return exact


def _unexplained(exact: Sums, opened: _Opening, closing: Worth) -> dict[str, int]:
    """Nano by category that opening and changes are away from the closing: nothing, unless the books were bent."""
    carried = dict.fromkeys(CATEGORIES, 0)
    for row in closing.rows:
        carried[row.category] += row.carried
    return {
        name: carried[name] - opened.carried[name] - sum(exact[row][name] for row in CHANGES)
        for name in CATEGORIES
    }


def _whole(exact: Sums, opening: Mapping[str, int], closing: Mapping[str, int]) -> Sums:
    """Whole smallest units for every row and category: each column sums from opening to closing, and what only moved sums to nothing."""
    sums: Sums = {row: dict.fromkeys(CATEGORIES, 0) for row in ROWS}
    sums["opening"], sums["closing"] = dict(opening), dict(closing)
    moved = {name: Fraction(nano, NANO) for name, nano in exact["moved"].items()}
    sums["moved"] = apportion(0, moved)
    for name in CATEGORIES:
        # Where nothing happened nothing is rounded up or down.
        happened = {
            row: Fraction(exact[row][name], NANO) for row in CHANGES if row != "moved" and exact[row][name]
        }
        change = closing[name] - opening[name] - sums["moved"][name]
        if not happened and change:
            happened = {"put_right": Fraction(0)}
        for row, minor in apportion(change, happened).items():
            sums[row][name] = minor
    return sums


def _late(before: ClosedYear | None, things: Things, exact: Mapping[str, int], minor: int) -> list[Late]:
    if before is None:
        return []
    lines = list(
        Line.objects.filter(
            movement__happened_at__lte=end_of(before.ends_on), movement__gt=before.last_movement
        )
        .select_related("movement__who", "item", "lot", "from_place", "to_place")
        .order_by("id")
    )
    costs = unit_costs({(line.item_id, line.lot_id) for line in lines})
    nano: dict[int, int] = {}
    for number, line in enumerate(lines):
        is_in = line.from_place.kind == "boundary" and line.to_place.kind != "boundary"
        is_out = line.to_place.kind == "boundary" and line.from_place.kind != "boundary"
        nano[number] = (is_in - is_out) * line.quantity * costs.of((line.item_id, line.lot_id))
    rest = sum(exact.values()) - sum(nano.values())
    if rest:
        nano[len(lines)] = rest
    shared = apportion(minor, {number: Fraction(each, NANO) for number, each in nano.items()})
    return [Late(lines[at] if at < len(lines) else None, shared[at]) for at in nano]


@transaction.atomic
def close_year(*, key: UUID, ends_on: dt.date, who: User, note: str = "") -> ClosedYear:
    """Close the year that ends on a day: its stock and sums are kept as they are known now, for good.

    The same key again gives the first. Raises CannotClose.
    """
    Studio.current()
    # The studio's row lets two who close at once take turns.
    studio = Studio.objects.select_for_update().get(pk=1)
    first = ClosedYear.objects.filter(key=key).first()
    if first is not None:
        return first
    if ends_on >= timezone.localdate():
        raise CannotClose("A year is closed once its last day is over. Choose a day before today.")
    year = year_until(ends_on, currency=studio.currency)
    newest = Movement.objects.order_by("-id").values_list("id", flat=True).first() or 0
    closed = ClosedYear.objects.create(
        key=key,
        ends_on=ends_on,
        before=year.before,
        closed_at=timezone.now(),
        closed_by=who,
        last_movement=newest,
        currency=year.closing.currency,
        note=one_line(note)[:300],
    )
    ClosedRow.objects.bulk_create(
        (
            ClosedRow(
                year=closed,
                category=row.category,
                place_id=row.place,
                item_id=row.item,
                lot_id=row.lot,
                quantity=row.quantity,
                cost_nano=row.cost,
                carried_nano=row.carried,
                value_minor=year.closing.minor[row.where],
                what=year.things.open_names[row.item][:200],
                which=year.closing.lot_names.get(row.lot, "")[:120],
                where=year.things.places[row.place].name,
                method=FIRST_IN_FIRST_OUT if row.first_in and row.category == "undyed" else IDENTIFIED,
                guesses=list(row.guesses),
                lacking=list(row.lacking),
            )
            for row in year.closing.rows
        ),
        batch_size=1_000,
    )
    ClosedSum.objects.bulk_create(
        ClosedSum(year=closed, number=number, row=row, category=name, minor=year.sums[row][name])
        for number, row in enumerate(ROWS)
        for name in CATEGORIES
    )
    return closed


def closed_sums(year: ClosedYear) -> Sums:
    """The sums of a closed year as they were kept. One query."""
    sums: Sums = {row: dict.fromkeys(CATEGORIES, 0) for row in ROWS}
    for kept in ClosedSum.objects.filter(year=year):
        sums[kept.row][kept.category] = kept.minor
    return sums
