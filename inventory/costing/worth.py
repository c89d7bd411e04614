"""What the stock is worth on a day: every item and lot at every place, at cost, seconds at the lower of cost and expected price.

A cost is what is known of it today, also for a day long past; what was known on a day is what a closed year keeps
(years.py). What is bought and used is counted from the ledger at the moment it is said to have happened.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from fractions import Fraction

from django.db.models import Q, Sum
from django.utils import timezone

from dyehouse.ledger.models import Item, Line, Place
from dyehouse.ledger.places import FIXED_PLACES
from dyehouse.ledger.queries import as_of
from inventory.costing.facts import Pair, in_parts
from inventory.costing.first_in import FirstIn
from inventory.costing.models import UnitCost
from inventory.costing.prices import Prices, retail_prices
from inventory.costing.reckoning import up_to_date
from inventory.costing.sums import NANO, apportion, to_minor
from inventory.costing.usual import usual_now
from inventory.costing.working_out import FIRST_IN
from recipes.lots.models import LogEntry
from recipes.lots.using import entry_source
from recipes.models import DyedYarn

CATEGORIES: dict[str, str] = {
    "undyed": "Undyed yarn",
    "dye": "Dye and auxiliaries",
    "work": "In work",
    "finished": "Finished",
}
Where = tuple[int, int, int]  # place, item, lot


@dataclass(slots=True)
class Things:
    """What places and items are, for telling categories apart."""

    places: dict[int, Place] = field(default_factory=dict)
    item_kind: dict[int, str] = field(default_factory=dict)
    unit: dict[int, str] = field(default_factory=dict)
    dyed: dict[int, tuple[int, int, str]] = field(default_factory=dict)
    names: dict[int, str] = field(default_factory=dict)
    open_names: dict[int, str] = field(default_factory=dict)

    @classmethod
    def now(cls) -> Things:
        """Two queries. Names are the owner's; open ones, for paper, tell a secret colourway by its code."""
        things, now = cls(places=Place.objects.in_bulk()), timezone.now()
        for item in Item.objects.select_related("dyed__colourway", "dyed__put_up__base"):
            things.item_kind[item.pk], things.unit[item.pk] = item.kind, item.unit
            things.names[item.pk] = things.open_names[item.pk] = item.name
            dyed = getattr(item, "dyed", None)
            if dyed is None:
                continue
            colourway = dyed.colourway
            things.dyed[item.pk] = (dyed.put_up_id, dyed.colourway_id, dyed.grade)
            rest = f"on {dyed.put_up}, {dyed.get_grade_display()}"
            secret = colourway.secret_until is not None and colourway.secret_until > now
            things.names[item.pk] = f"{colourway} {rest}"
            things.open_names[item.pk] = f"{colourway.code if secret else colourway} {rest}"
        return things

    @property
    def in_pots(self) -> int | None:
        return next((pk for pk, place in self.places.items() if place.code == "in_pots"), None)

    def category(self, place: int, item: int) -> str:
        """Undyed, dye, in work or finished. Finished is judged and labelled, or on a shelf or at a show."""
        if self.places[place].kind == Place.Kind.POT:
            return "work"
        of = self.item_kind[item]
        if of == Item.Kind.UNDYED:
            return "undyed"
        if of not in (Item.Kind.DYED, Item.Kind.KIT):
            return "dye"
        unjudged = item in self.dyed and self.dyed[item][2] in (
            DyedYarn.Grade.UNJUDGED,
            DyedYarn.Grade.REDYE,
        )
        if unjudged or self.places[place].order < FIXED_PLACES["labelled"].order:
            return "work"
        return "finished"


@dataclass(frozen=True, slots=True)
class Row:
    """So much of an item and lot at a place, what it cost and what it is carried at, in nano of the studio's money."""

    place: int
    item: int
    lot: int
    category: str
    quantity: int
    cost: int
    carried: int
    guesses: tuple[str, ...] = ()
    lacking: tuple[str, ...] = ()

    @property
    def where(self) -> Where:
        return self.place, self.item, self.lot

    @property
    def first_in(self) -> bool:
        return FIRST_IN in self.guesses


@dataclass(slots=True)
class UnitCosts:
    """What one of each item and lot costs now; yarn of unknown mill lots is asked for by layers."""

    nano: dict[Pair, int]
    guesses: dict[Pair, tuple[str, ...]]
    lacking: dict[Pair, tuple[str, ...]]
    layers: dict[Pair, FirstIn]
    lot_names: dict[int, str] = field(default_factory=dict)

    def lacks(self, pair: Pair) -> tuple[str, ...]:
        return self.lacking.get(pair, () if pair in self.nano else ("before",))

    def of(self, pair: Pair) -> int:
        return self.nano.get(pair, 0)


@dataclass(slots=True)
class Worth:
    """The stock of a moment, row by row, with whole smallest units that sum to the total."""

    at: dt.datetime
    currency: str
    rows: list[Row]
    minor: dict[Where, int]
    second_percent: int | None
    things: Things
    lot_names: dict[int, str]

    def of(self, category: str) -> int:
        """The value of a category in whole smallest units."""
        return sum(self.minor[row.where] for row in self.rows if row.category == category)

    @property
    def total(self) -> int:
        return sum(self.minor.values())

    @property
    def lacking(self) -> list[Row]:
        """Rows whose cost is not known altogether."""
        return [row for row in self.rows if row.lacking]

    @property
    def guessed(self) -> list[Row]:
        return [row for row in self.rows if row.guesses]


def end_of(day: dt.date) -> dt.datetime:
    """The last moment of a day where the studio is."""
    return timezone.make_aware(dt.datetime.combine(day, dt.time.max))


def worth(at: dt.datetime, *, currency: str = "", things: Things | None = None) -> Worth:
    """The stock of a moment at what is known today. A fixed number of queries."""
    up_to_date()
    things = things or Things.now()
    quantities = quantities_at(at, things)
    costs = unit_costs({(item, lot) for _, item, lot in quantities})
    day = timezone.localdate(at)
    prices, percent = retail_prices(day, currency=currency), _second_percent(at)
    rows = rows_of(quantities, things=things, costs=costs, at=at, prices=prices, second_percent=percent)
    return Worth(at, prices.currency, rows, minor_of(rows), percent, things, costs.lot_names)


def _second_percent(at: dt.datetime) -> int | None:
    usual = usual_now(timezone.localdate(at))
    return usual.second_percent if usual is not None else None


def quantities_at(at: dt.datetime, things: Things) -> dict[Where, int]:
    """How much lay where, with the dye that was in the baths of pots in work counted in the pots."""
    found = {where: amount.on_hand for where, amount in as_of(at).items() if amount.on_hand}
    if things.in_pots is not None:
        for (item, lot), quantity in in_baths(at).items():
            where = (things.in_pots, item, lot)
            found[where] = found.get(where, 0) + quantity
    return found


def in_baths(at: dt.datetime) -> dict[Pair, int]:
    """What had gone into the pots that were in work at a moment, from jars, bottles, mixes and cans."""
    in_work = Q(pot__loaded_at__lte=at) & (Q(pot__out_at__isnull=True) | Q(pot__out_at__gt=at))
    return went_into(in_work, until=at)


def went_into(pots: Q, *, until: dt.datetime, after: dt.datetime | None = None) -> dict[Pair, int]:
    """What the logs of some pots (by a condition on their entries) took from the store by a moment. Two queries."""
    found: dict[Pair, int] = {}
    keys = LogEntry.objects.filter(pots, kind__in=("stock", "powder", "mix", "auxiliary"))
    for sources in in_parts([entry_source(key) for key in keys.values_list("key", flat=True)]):
        lines = Line.objects.filter(movement__source__in=sources, movement__happened_at__lte=until)
        if after is not None:
            lines = lines.filter(movement__happened_at__gt=after)
        sums = lines.values_list("item_id", "lot_id").annotate(
            into=Sum("quantity", filter=Q(to_place__code="consumed")),
            back=Sum("quantity", filter=Q(from_place__code="consumed")),
        )
        for item, lot, into, back in sums:
            found[item, lot] = found.get((item, lot), 0) + int(into or 0) - int(back or 0)
    return {pair: quantity for pair, quantity in found.items() if quantity}


def unit_costs(pairs: Iterable[Pair]) -> UnitCosts:
    """The costs that are kept of these items and lots, and the layers of those from unknown mill lots."""
    wanted = set(pairs)
    costs = UnitCosts({}, {}, {}, {})
    for lots in in_parts({lot for _, lot in wanted}):
        rows = UnitCost.objects.filter(lot__in=lots).values_list(
            "item_id", "lot_id", "nano", "guesses", "lacking", "layers", "lot__name"
        )
        for item, lot, nano, guesses, lacking, layers, name in rows:
            costs.lot_names[lot] = name
            if layers:
                costs.layers[item, lot] = FirstIn.of(layers)
            costs.nano[item, lot] = nano
            if guesses:
                costs.guesses[item, lot] = tuple(guesses)
            if lacking:
                costs.lacking[item, lot] = tuple(lacking)
    return costs


def rows_of(
    quantities: Mapping[Where, int],
    *,
    things: Things,
    costs: UnitCosts,
    at: dt.datetime,
    prices: Prices,
    second_percent: int | None,
    last_movement: int | None = None,
) -> list[Row]:
    """Quantities with their cost and what they are carried at. `last_movement` leaves later entries out of the layers."""
    together: dict[Pair, int] = {}
    for (_, item, lot), quantity in quantities.items():
        if (item, lot) in costs.layers:
            together[item, lot] = together.get((item, lot), 0) + quantity
    layered = {
        pair: costs.layers[pair].worth(pieces, until=at, last_movement=last_movement)
        for pair, pieces in together.items()
    }
    rows: list[Row] = []
    of_layers: dict[Pair, list[Where]] = {}
    for where, quantity in quantities.items():
        place, item, lot = where
        pair = (item, lot)
        category = things.category(place, item)
        if pair in layered:
            of_layers.setdefault(pair, []).append(where)
            continue
        cost = quantity * costs.of(pair)
        carried = cost
        grade = things.dyed.get(item)
        guesses = costs.guesses.get(pair, ())
        if grade and grade[2] == DyedYarn.Grade.SECOND and second_percent is not None and quantity > 0:
            retail = prices.of(put_up_id=grade[0], colourway_id=grade[1])
            if retail is not None:
                carried = min(cost, quantity * retail * NANO * second_percent // 100)
        rows.append(Row(*where, category, quantity, cost, carried, guesses, costs.lacks(pair)))
    for pair, places in of_layers.items():
        nano, guesses, lacking = layered[pair]
        pieces = together[pair]
        shared = apportion(nano, {where: Fraction(nano * quantities[where], pieces) for where in places})
        rows += [
            Row(
                *where,
                things.category(where[0], where[1]),
                quantities[where],
                shared[where],
                shared[where],
                guesses,
                lacking,
            )
            for where in places
        ]
    return sorted(rows, key=lambda row: row.where)


def minor_of(rows: Iterable[Row]) -> dict[Where, int]:
    """Whole smallest units for each row: the total is rounded, then the categories within it, then the rows within those."""
    by_category: dict[str, list[Row]] = {}
    for row in rows:
        by_category.setdefault(row.category, []).append(row)
    sums = {name: sum(row.carried for row in each) for name, each in by_category.items()}
    whole = apportion(
        to_minor(sum(sums.values())), {name: Fraction(nano, NANO) for name, nano in sums.items()}
    )
    found: dict[Where, int] = {}
    for name, each in by_category.items():
        found |= apportion(whole[name], {row.where: Fraction(row.carried, NANO) for row in each})
    return found
