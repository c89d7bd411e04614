"""What the dye list takes: undyed yarn in packs and dye to buy, with the day to order by."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from math import ceil

from django.db.models import Prefetch

from dyehouse.ledger.models import Balance, Item
from inventory.allocation.reorder import AlwaysClosed, Closed, in_packs, order_by
from inventory.buying.models import ClosedWeeks, Offer
from inventory.buying.queries import OnOrder, on_order
from inventory.weeks.ahead import Ahead
from recipes.dyeing.units import format_grams
from recipes.dyeing.working import Figure, Source, Standing, Working
from recipes.models import Dye, PutUp, Rule, StockBottle
from recipes.ways import PotSize, amount_in

FROM_LIST = Source("the dye list and the ways of dyeing", Standing.DERIVED)


@dataclass(frozen=True, slots=True)
class HowToBuy:
    """One pack of one supplier: how many packs, and by when they are ordered. `order_by` None cannot be reckoned."""

    offer: Offer
    packs: Figure[int]
    order_by: Figure[dt.date] | None
    days_left: int | None

    @property
    def too_late(self) -> bool:
        return self.days_left is not None and self.days_left < 0


@dataclass(frozen=True, slots=True)
class Need:
    """So much of a yarn or a dye: what the loads take, what there is and comes in time, and what is short."""

    put_up: PutUp | None
    dye: Dye | None
    needed: int
    there: int
    coming: int
    first_day: dt.date | None
    working: Working
    buy: HowToBuy | None

    @property
    def short(self) -> int:
        return max(0, self.needed - self.there - self.coming)

    @property
    def say(self) -> Callable[[int], str]:
        return format_grams if self.dye is not None else (lambda count: str(count))

    @property
    def needed_words(self) -> str:
        return self.say(self.needed)

    @property
    def there_words(self) -> str:
        return self.say(self.there)

    @property
    def coming_words(self) -> str:
        return self.say(self.coming)

    @property
    def short_words(self) -> str:
        return self.say(self.short)


@dataclass(frozen=True, slots=True)
class Needs:
    """Yarn and dye for all planned pots and the whole list; `no_way` are rows whose dye cannot be told."""

    yarn: list[Need]
    dyes: list[Need]
    no_way: list[str]

    @property
    def kinds(self) -> list[tuple[str, list[Need], list[Need]]]:
        """Yarn and dye, each with what is short of it and what suffices."""
        return [
            (name, [each for each in rows if each.short], [each for each in rows if not each.short])
            for name, rows in (("Undyed yarn", self.yarn), ("Dye, as powder", self.dyes))
            if rows
        ]


def what_it_takes(ahead: Ahead) -> Needs:
    """Yarn and dye that the planned pots and the dye list take, by when, and what is short. Nine queries at most."""
    now = ahead.reckoned
    first: dict[int, dt.date] = {}
    pieces: dict[int, int] = {}
    days = {each.job.key: each.day for each in ahead.plan.placed}
    by_way: dict[int, list[tuple[PotSize, dt.date | None]]] = {}
    for seen in ahead.seen.values():
        put_up = now.put_ups[seen.kind.put_up]
        day = days.get(seen.key)
        pieces[put_up.pk] = pieces.get(put_up.pk, 0) + seen.pieces
        if day is not None:
            first[put_up.pk] = min(first.get(put_up.pk, day), day)
        if seen.pot is not None and seen.pot.way_id is not None:
            dry = seen.pieces * put_up.nominal_milligrams
            size = PotSize(dry, seen.pot.planned_bath_microlitres or 0, seen.pieces)
            by_way.setdefault(seen.pot.way_id, []).append((size, day))
    rows = {row.to_dye.kind: row for row in now.rows}
    for seen in ahead.seen.values():
        row = rows.get(seen.kind)
        if seen.pot is None and row is not None and row.by is not None:
            dry = seen.pieces * row.put_up.nominal_milligrams
            size = PotSize(dry, dry * Fraction(row.ratio_tenths, 10), seen.pieces)
            by_way.setdefault(row.by.way.pk, []).append((size, days.get(seen.key)))
    dyes, milligrams, dye_first = _dye_for(by_way)
    yarn = [now.put_ups[pk] for pk in pieces]
    there, dye_there = _in_store([each.item_id for each in yarn])
    items = [*(each.item_id for each in yarn), *(each.item_id for each in dyes.values())]
    offers, coming = _offers(items), on_order(items=items)
    found = Needs([], [], [row.name for row in now.rows if row.by is None])
    for put_up in sorted(yarn, key=lambda each: str(each)):
        found.yarn.append(
            _need(
                needed=pieces[put_up.pk],
                there=there.get(put_up.item_id, 0),
                coming=coming,
                first_day=first.get(put_up.pk),
                offers=offers.get(put_up.item_id, []),
                item_id=put_up.item_id,
                today=now.today,
                put_up=put_up,
            )
        )
    for pk in sorted(dyes, key=lambda pk: dyes[pk].name.casefold()):
        found.dyes.append(
            _need(
                needed=ceil(milligrams[pk]),
                there=dye_there.get(pk, 0),
                coming=coming,
                first_day=dye_first.get(pk),
                offers=offers.get(dyes[pk].item_id, []),
                item_id=dyes[pk].item_id,
                today=now.today,
                dye=dyes[pk],
            )
        )
    return found


def _dye_for(
    by_way: Mapping[int, list[tuple[PotSize, dt.date | None]]],
) -> tuple[dict[int, Dye], dict[int, Fraction], dict[int, dt.date]]:
    """Milligrams of powder by dye, in powder and in stock together, and the first day it is wanted. One query."""
    dyes: dict[int, Dye] = {}
    milligrams: dict[int, Fraction] = {}
    first: dict[int, dt.date] = {}
    for rule in Rule.objects.filter(way__in=by_way, kind=Rule.Kind.DYE).select_related("dye").order_by("pk"):
        if rule.dye is None:
            continue
        for size, day in by_way[rule.way_id]:
            amount = amount_in(rule, size)
            if amount is None:
                continue
            powder = amount.value
            if rule.unit == "ul":
                powder = powder * (rule.strength_mg_per_litre or 0) / 1_000_000
            dyes[rule.dye.pk] = rule.dye
            milligrams[rule.dye.pk] = milligrams.get(rule.dye.pk, Fraction(0)) + powder
            if day is not None:
                first[rule.dye.pk] = min(first.get(rule.dye.pk, day), day)
    return dyes, milligrams, first


def _in_store(yarn_items: Iterable[int]) -> tuple[dict[int, int], dict[int, int]]:
    """Pieces that are free in the store or soak for planned pots by item, and milligrams of each dye in jars and bottles by dye. Two queries."""
    there: dict[int, int] = {}
    dyes: dict[int, int] = {}
    wanted = set(yarn_items)
    rows = Balance.objects.filter(place__code__in=("store", "soaking"), on_hand__gt=0).select_related(
        "item", "lot__jar", "place"
    )
    bottles: dict[int, int] = {}
    for row in rows:
        jar = getattr(row.lot, "jar", None)
        if row.item_id in wanted:
            pieces = row.on_hand if row.place.code == "soaking" else row.free
            there[row.item_id] = there.get(row.item_id, 0) + pieces
        elif row.item.kind == Item.Kind.DYE and jar is not None and jar.finished_at is None:
            dyes[jar.dye_id] = dyes.get(jar.dye_id, 0) + row.on_hand
        elif row.item.kind == Item.Kind.STOCK:
            bottles[row.lot_id] = row.on_hand
    for bottle in StockBottle.objects.filter(lot__in=bottles, finished_at__isnull=True):
        powder = bottles[bottle.lot_id] * bottle.strength_mg_per_litre // 1_000_000
        dyes[bottle.dye_id] = dyes.get(bottle.dye_id, 0) + powder
    return there, dyes


def _offers(items: Iterable[int]) -> dict[int, list[Offer]]:
    """What suppliers sell of these items, the shortest lead time in front. Two queries."""
    found: dict[int, list[Offer]] = {}
    rows = Offer.objects.filter(
        item__in=list(items), retired_at__isnull=True, supplier__retired_at__isnull=True
    ).select_related("supplier")
    closed = Prefetch("supplier__closed_weeks", queryset=ClosedWeeks.objects.order_by("first_day"))
    for offer in rows.prefetch_related(closed).order_by("supplier__lead_days", "pack_quantity", "pk"):
        found.setdefault(offer.item_id, []).append(offer)
    return found


def _need(
    *,
    needed: int,
    there: int,
    coming: Iterable[OnOrder],
    first_day: dt.date | None,
    offers: list[Offer],
    item_id: int,
    today: dt.date,
    put_up: PutUp | None = None,
    dye: Dye | None = None,
) -> Need:
    # What comes after the first load is dyed still comes; only what is short altogether is bought.
    comes = sum(each.quantity for each in coming if each.item_id == item_id)
    short = max(0, needed - there - comes)
    say = format_grams if dye is not None else (lambda count: f"{count} pieces")
    working = Working(
        title="Short",
        formula="what the loads take − in the store − on order",
        substitution=f"{say(needed)} − {say(there)} − {say(comes)}",
        result=say(short),
        source=FROM_LIST,
    )
    buy = (
        _how_to_buy(Figure(short, working), offers, first_day, today, "mg" if dye else "piece")
        if short
        else None
    )
    return Need(put_up, dye, needed, there, comes, first_day, working, buy)


def _how_to_buy(
    short: Figure[int], offers: list[Offer], first_day: dt.date | None, today: dt.date, unit: str
) -> HowToBuy | None:
    if not offers:
        return None
    offer = offers[0]
    packs = in_packs(short, offer.pack_quantity, unit)
    if first_day is None:
        return HowToBuy(offer, packs, None, None)
    closed = [
        Closed(each.first_day, each.last_day, each.every_year) for each in offer.supplier.closed_weeks.all()
    ]
    try:
        last = order_by(needed=first_day, lead_days=offer.supplier.lead_days, closed=closed)
    except AlwaysClosed:
        return HowToBuy(offer, packs, None, None)
    return HowToBuy(offer, packs, last, (last.value - today).days)
