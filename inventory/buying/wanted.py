"""What the house has and what is wanted of it: promises that neither stock nor pots cover, and colourways over several lots."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass, field

from django.db.models import Q

from dyehouse.ledger.models import Balance, Item, Place
from dyehouse.studio.models import User
from dyehouse.studio.templatetags.house import address_of
from inventory.reach import ToDye, still_to_dye
from inventory.spoken_for import SpokenFor, spoken_for
from inventory.weeks.models import Wanted
from recipes.lots.in_store import LotPieces
from recipes.lots.mill_lots import SplitOverLots, split_over_lots
from recipes.lots.models import Pot, PotLoad
from recipes.models import Colourway, DyedYarn, PutUp

BOUGHT = (Item.Kind.UNDYED, Item.Kind.DYE, Item.Kind.AUXILIARY)
#: A put-up and a colourway, or None while that is open.
Colour = tuple[int, int | None]


@dataclass(frozen=True, slots=True)
class Stock:
    """What is free in the store by item, undyed yarn by put-up and mill lot, and dyed pieces by put-up and colourway."""

    store: dict[int, int] = field(default_factory=dict)
    items: dict[int, Item] = field(default_factory=dict)
    yarn: dict[int, list[LotPieces]] = field(default_factory=dict)
    dyed: dict[Colour, int] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class WantedYarn:
    """By put-up: pieces that planned pots wait for, what promises want dyed beside them, and the loads of open plans."""

    planned: dict[int, int]
    to_dye: dict[int, list[ToDye]]
    loads: list[PotLoad]


@dataclass(frozen=True, slots=True)
class ColourwaySplit:
    """One colourway on one put-up whose yarn is, or would be, of several mill lots, and for what."""

    colourway: Colourway
    put_up: PutUp
    split: SplitOverLots
    what: str
    address: str

    def name(self, user: User | None) -> str:
        return self.colourway.shown_name(user)


def in_the_house() -> Stock:
    """What the house has: one-offs aside, and with what soaks for planned pots. One query."""
    stock = Stock()
    good = (DyedYarn.Grade.GOOD, DyedYarn.Grade.UNJUDGED)
    rows = (
        Balance.objects.filter(on_hand__gt=0)
        # What is away at a show is owned, and covers no promise until it is back.
        .exclude(place__kind__in=(Place.Kind.BOUNDARY, Place.Kind.SHOW))
        .filter(
            Q(place__code="store", item__kind__in=BOUGHT)
            | Q(place__code="soaking", item__kind=Item.Kind.UNDYED)
            | Q(item__dyed__grade__in=good, lot__dye_lot__own_name="")
        )
        .select_related("place", "item__dyed", "item__put_up", "lot__mill_lot")
        .order_by("pk")
    )
    for row in rows:
        if row.item.kind == Item.Kind.DYED:
            colour = (row.item.dyed.put_up_id, row.item.dyed.colourway_id)
            stock.dyed[colour] = stock.dyed.get(colour, 0) + row.free
            continue
        # What soaks is held for its planned pot, which is counted among what is wanted.
        there = row.on_hand if row.place.code == "soaking" else row.free
        stock.store[row.item_id] = stock.store.get(row.item_id, 0) + there
        stock.items[row.item_id] = row.item
        if row.item.kind == Item.Kind.UNDYED and there:
            lots = stock.yarn.setdefault(row.item.put_up.pk, [])
            same = next((at for at, each in enumerate(lots) if each.mill_lot == row.lot.mill_lot), None)
            if same is None:
                lots.append(LotPieces(row.lot.mill_lot, there))
            else:
                lots[same] = LotPieces(row.lot.mill_lot, lots[same].pieces + there)
    return stock


def wanted(stock: Stock) -> WantedYarn:
    """What planned pots, promises and the dyer want. Three queries, and those of the rooms that promise.

    The soonest promise is covered first, by free dyed pieces of its colourway and by what pots will give.
    """
    loads = _open_loads()
    planned: dict[int, int] = {}
    cover = dict(stock.dyed)
    for load in loads:
        if load.pot.out_at is not None:
            continue
        colour: Colour = (load.put_up_id, load.pot.colourway_id)
        cover[colour] = cover.get(colour, 0) + load.pieces
        if load.pot.loaded_at is None and load.was_id is None:
            planned[load.put_up_id] = planned.get(load.put_up_id, 0) + load.pieces
    by_colour: dict[Colour, list[SpokenFor]] = {}
    for promise in _in_order([*spoken_for(), *wanted_by_hand()]):
        by_colour.setdefault((promise.put_up_id, promise.colourway_id), []).append(promise)
    to_dye: dict[int, list[ToDye]] = {}
    for colour, promises in by_colour.items():
        # While the colourway is open nothing that lies here can be said to cover it.
        there = cover.get(colour, 0) if colour[1] is not None else 0
        to_dye.setdefault(colour[0], []).extend(still_to_dye(there=there, promises=promises))
    return WantedYarn(planned, {put_up: rows for put_up, rows in to_dye.items() if rows}, loads)


def wanted_by_hand() -> list[SpokenFor]:
    """What the dyer wants by a day beside all that is promised, kits part by part. Two queries."""
    found = []
    rows = Wanted.objects.filter(ended_at=None).select_related("kit").prefetch_related("kit__parts")
    for row in rows.order_by("pk"):
        what = row.what_for or "wanted by hand"
        parts = (
            [(part.put_up_id, part.colourway_id, part.pieces * row.count) for part in row.kit.parts.all()]
            if row.kit is not None
            else [(row.put_up_id, row.colourway_id, row.count)]
        )
        found += [
            SpokenFor(row.due, put_up, colourway, pieces, 0, what, address_of("dyelist"))
            for put_up, colourway, pieces in parts
            if put_up is not None
        ]
    return found


def _in_order(promises: Iterable[SpokenFor]) -> list[SpokenFor]:
    """The soonest first, those without a day last."""
    return sorted(promises, key=lambda each: (each.due is None, each.due or dt.date.max))


def _open_loads() -> list[PotLoad]:
    """What lies in pots that are planned or in work, and in the pots that are out of the same plans. One query."""
    going = Pot.objects.filter(out_at=None, dropped_at=None)
    plans = going.filter(plan__isnull=False)
    pots = Pot.objects.filter(
        Q(pk__in=going.values("pk")) | Q(plan__in=plans.values("plan")), dropped_at=None, sample=False
    )
    loads = PotLoad.objects.filter(pot__in=pots)
    return list(loads.select_related("pot__colourway", "put_up__base", "mill_lot").order_by("pk"))


def splits(stock: Stock, yarn: WantedYarn) -> list[ColourwaySplit]:
    """Colourways that are dyed, or would have to be dyed, on several mill lots: of open plans, then of promises.

    Two queries, none where nothing is promised beyond what is there.
    """
    return [*_of_plans(stock, yarn.loads), *_of_promises(stock, yarn)]


def splits_now() -> list[ColourwaySplit]:
    """The same, read afresh. Six queries, and those of the rooms that promise."""
    stock = in_the_house()
    return splits(stock, wanted(stock))


def _of_plans(stock: Stock, loads: Iterable[PotLoad]) -> list[ColourwaySplit]:
    by_plan: dict[tuple[int, int], list[PotLoad]] = {}
    for load in loads:
        if load.pot.plan_id is not None and load.was_id is None:
            by_plan.setdefault((load.pot.plan_id, load.put_up_id), []).append(load)
    found = []
    for (plan_id, put_up_id), of_plan in by_plan.items():
        first = of_plan[0]
        there = stock.yarn.get(put_up_id, [])
        split = split_over_lots(put_up=first.put_up, loads=of_plan, wanted=0, there=there)
        if split is not None:
            pieces = sum(load.pieces for load in of_plan)
            what = f"{pieces} planned"
            address = address_of("redye-plan", plan_id)
            found.append(ColourwaySplit(first.pot.colourway, first.put_up, split, what, address))
    return found


def _of_promises(stock: Stock, yarn: WantedYarn) -> list[ColourwaySplit]:
    open_ones = [
        each for rows in yarn.to_dye.values() for each in rows if each.promise.colourway_id is not None
    ]
    if not open_ones:
        return []
    colourways = Colourway.objects.in_bulk({each.promise.colourway_id for each in open_ones})
    put_ups = PutUp.objects.select_related("base").in_bulk({each.promise.put_up_id for each in open_ones})
    found = []
    for each in open_ones:
        put_up = put_ups[each.promise.put_up_id]
        split = split_over_lots(
            put_up=put_up, loads=[], wanted=each.pieces, there=stock.yarn.get(put_up.pk, [])
        )
        if split is not None and each.promise.colourway_id is not None:
            found.append(
                ColourwaySplit(
                    colourways[each.promise.colourway_id],
                    put_up,
                    split,
                    each.promise.what,
                    each.promise.address,
                )
            )
    return found
