"""What to order, of whom and until when: the house's stock, promises, plans and usual use put into the arithmetic."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any

from django.db.models import Case, Exists, F, Min, OuterRef, Q, Subquery, Sum, When
from django.utils import timezone

from dyehouse.ledger.models import Item, Line
from inventory.allocation.reorder import (
    AlwaysClosed,
    Cheaper,
    Coming,
    Due,
    Habits,
    Reorder,
    Supply,
    cheaper_above,
    price_of_pack,
    reorder,
)
from inventory.buying.models import BuyingHabits, Offer, Purchase
from inventory.buying.queries import OnOrder, on_order
from inventory.buying.supplying import breaks_of, closed_of
from inventory.buying.wanted import (
    BOUGHT,
    ColourwaySplit,
    Stock,
    ToDye,
    WantedYarn,
    in_the_house,
    splits,
    wanted,
)

# What leaves the store to these is used; what comes back from them was not. Counts and write-offs are no use.
USED_AT = ("in_pots", "consumed", "customer", "given_away")


SOON_DAYS = 92


@dataclass(frozen=True, slots=True)
class ItemNeed:
    """One thing that is bought, what is there and on order, and what the arithmetic says of it."""

    item: Item
    offer: Offer
    on_hand: int
    coming: list[OnOrder]
    to_dye: list[ToDye]
    planned: int
    said: Reorder
    today: dt.date
    near_days: int
    reserve_weeks: int = 0
    other_offers: int = 0

    @property
    def on_order(self) -> int:
        return sum(each.quantity for each in self.coming)

    @property
    def promised(self) -> int:
        """Promised pieces that neither stock nor pots cover."""
        return sum(each.pieces for each in self.to_dye)

    @property
    def packs(self) -> int:
        return self.said.packs.value if self.said.packs is not None else 0

    @property
    def runs_out_words(self) -> str:
        """What happens on the day that it is ordered for."""
        return "falls below the reserve" if self.reserve_weeks and self.said.use_a_week.value else "runs out"

    @property
    def days_left(self) -> int | None:
        return self.said.days_left(self.today)

    @property
    def state(self) -> str:
        """late (its day is past), near, later, or enough."""
        left = self.days_left
        if left is None:
            return "enough"
        return "late" if left < 0 else "near" if left <= self.near_days else "later"

    @property
    def now(self) -> bool:
        """Whether it is to be ordered now: its day is near or past."""
        return self.state in ("late", "near")

    @property
    def late_days(self) -> int:
        return -min(0, self.days_left or 0)

    @property
    def unit_price_minor(self) -> int | None:
        """Of a pack, when so many are ordered."""
        return price_of_pack(self.packs, self.offer.price_minor, breaks_of(self.offer))

    @property
    def price_minor(self) -> int | None:
        """Of all packs that are suggested."""
        each = self.unit_price_minor
        return None if each is None else each * self.packs

    @property
    def cheaper(self) -> list[Cheaper]:
        """The price breaks that the suggestion does not reach."""
        return cheaper_above(self.packs, self.offer.price_minor, breaks_of(self.offer))


@dataclass(frozen=True, slots=True)
class Needs:
    """Everything that is bought, what is most urgent first, and what could not be reckoned."""

    items: list[ItemNeed]
    habits: BuyingHabits
    unsold: list[Item] = field(default_factory=list)
    never: list[Offer] = field(default_factory=list)
    splits: list[ColourwaySplit] = field(default_factory=list)

    @property
    def now(self) -> list[ItemNeed]:
        return [each for each in self.items if each.now]

    @property
    def later(self) -> list[ItemNeed]:
        """Within three months."""
        return [each for each in self.items if each.state == "later" and (each.days_left or 0) <= SOON_DAYS]

    @property
    def much_later(self) -> list[ItemNeed]:
        return [each for each in self.items if each.state == "later" and (each.days_left or 0) > SOON_DAYS]

    @property
    def enough(self) -> list[ItemNeed]:
        return [each for each in self.items if each.state == "enough"]

    @property
    def overdue(self) -> list[OnOrder]:
        """Orders that should have come by now, one line of each."""
        late = [one for each in self.items for one in each.coming if one.expected_on < each.today]
        return list({one.purchase_id: one for one in late}.values())

    @property
    def gaps(self) -> list[ItemNeed]:
        """Where there is too little until something comes that is on order already."""
        return [each for each in self.items if each.said.gap is not None]


def needs(*, today: dt.date | None = None) -> Needs:
    """What to order of everything that a supplier sells. Eleven queries at most, and those of the rooms that promise."""
    on = today or timezone.localdate()
    habits = BuyingHabits.current()
    since = timezone.now() - dt.timedelta(weeks=habits.look_back_weeks)
    offers = _offers(since)
    stock = in_the_house()
    used = _used(since)
    coming: dict[int, list[OnOrder]] = {}
    for each in on_order():
        coming.setdefault(each.item_id, []).append(each)
    wanted_now = wanted(stock)
    found, never = [], []
    for item_id, choices in offers.items():
        offer = _best(choices)
        put_up = getattr(offer.item, "put_up", None)
        to_dye = wanted_now.to_dye.get(put_up.pk, []) if put_up is not None else []
        pieces = wanted_now.planned.get(put_up.pk, 0) if put_up is not None else 0
        said = _said(
            offer,
            today=on,
            habits=habits,
            on_hand=stock.store.get(item_id, 0),
            coming=coming.get(item_id, []),
            used=_at_a_rate(offer, used.get(item_id), habits.look_back_weeks),
            due=_due(to_dye, pieces, habits.ready_days),
        )
        if said is None:
            never.append(offer)
            continue
        found.append(
            ItemNeed(
                item=offer.item,
                offer=offer,
                on_hand=stock.store.get(item_id, 0),
                coming=coming.get(item_id, []),
                to_dye=to_dye,
                planned=pieces,
                said=said,
                today=on,
                near_days=habits.near_days,
                reserve_weeks=habits.safety_weeks,
                other_offers=len(choices) - 1,
            )
        )
    found.sort(key=lambda each: (each.days_left is None, each.days_left or 0, each.item.name))
    return Needs(found, habits, _unsold(used, stock, wanted_now, offers), never, splits(stock, wanted_now))


def _said(
    offer: Offer,
    *,
    today: dt.date,
    habits: BuyingHabits,
    on_hand: int,
    coming: Sequence[OnOrder],
    used: tuple[int, int],
    due: Sequence[Due],
) -> Reorder | None:
    supplier = offer.supplier
    try:
        return reorder(
            today=today,
            on_hand=on_hand,
            coming=[Coming(each.expected_on, each.quantity) for each in coming],
            due=due,
            habits=Habits(
                used=used[0],
                look_back_weeks=used[1],
                safety_weeks=habits.safety_weeks,
                cover_weeks=habits.cover_weeks,
                promised_on_top=habits.promised_on_top,
            ),
            supply=Supply(supplier.lead_days, offer.pack_quantity, tuple(closed_of(supplier))),
            unit=offer.item.unit,
        )
    except AlwaysClosed:
        return None


def _due(to_dye: Iterable[ToDye], planned: int, ready_days: int) -> list[Due]:
    """What is promised must be in the pot some days before it is to leave; planned pots wait for their yarn today."""
    ready = dt.timedelta(days=ready_days)
    due = [Due(each.promise.due and each.promise.due - ready, each.pieces) for each in to_dye]
    return [*due, Due(None, planned)] if planned else due


def _offers(since: dt.datetime) -> dict[int, list[Offer]]:
    """What suppliers sell, by item. Two queries.

    `is_old` is what the house moved before a moment already, `draft` the newest draft of an order to the supplier.
    """
    drafts = Purchase.objects.filter(supplier=OuterRef("supplier"), ordered_on=None, dropped_at=None)
    before = Line.objects.filter(item=OuterRef("item"), movement__happened_at__lt=since)
    rows = (
        Offer.objects.filter(retired_at=None, supplier__retired_at=None)
        .filter(
            Q(item__put_up__retired_at=None, item__put_up__base__retired_at=None),
            item__dye__retired_at=None,
            item__auxiliary__retired_at=None,
        )
        .select_related("supplier", "item__put_up__base", "item__dye", "item__auxiliary")
        .annotate(is_old=Exists(before), draft=Subquery(drafts.order_by("-pk").values("pk")[:1]))
        .prefetch_related("supplier__closed_weeks")
        .order_by("pk")
    )
    found: dict[int, list[Offer]] = {}
    for offer in rows:
        found.setdefault(offer.item_id, []).append(offer)
    return found


def _best(offers: Sequence[Offer]) -> Offer:
    """Where one thing is sold in several ways: the cheapest by the piece or gram, else the soonest."""

    def by_price(offer: Offer) -> tuple[bool, Fraction, int, int]:
        known = offer.price_minor is not None
        each = Fraction(offer.price_minor or 0, offer.pack_quantity)
        return (not known, each, offer.supplier.lead_days, offer.pk)

    return min(offers, key=by_price)


@dataclass(frozen=True, slots=True)
class _Used:
    """What went of an item, and when it was moved first since that is looked at."""

    quantity: int
    first: dt.datetime


def _at_a_rate(offer: Any, used: _Used | None, look_back_weeks: int) -> tuple[int, int]:
    """What was used in how many weeks: those that are looked back, fewer where the thing is new in the house."""
    if used is None:
        return 0, look_back_weeks
    weeks = look_back_weeks if offer.is_old else (timezone.now() - used.first).days // 7 + 1
    return used.quantity, min(look_back_weeks, weeks)


def _used(since: dt.datetime) -> dict[int, _Used]:
    """What went out of the store into pots, stocks and to customers since a moment, less what came back. One query."""
    rows = (
        Line.objects.filter(movement__happened_at__gte=since, item__kind__in=BOUGHT)
        .values("item")
        .annotate(
            out=Sum(
                Case(
                    When(from_place__code="store", to_place__code__in=USED_AT, then=F("quantity")), default=0
                )
            ),
            back=Sum(
                Case(
                    When(to_place__code="store", from_place__code__in=USED_AT, then=F("quantity")), default=0
                )
            ),
            first=Min("movement__happened_at"),
        )
    )
    return {
        row["item"]: _Used(row["out"] - row["back"], row["first"]) for row in rows if row["out"] > row["back"]
    }


def _unsold(
    used: dict[int, _Used], stock: Stock, yarn: WantedYarn, offers: dict[int, list[Offer]]
) -> list[Item]:
    """Yarn and dyes that are used, planned or promised and that no supplier is written down for. One query at most."""
    lacking = {pk: stock.items[pk] for pk in used if pk not in offers and pk in stock.items}
    sold = {offer.item.put_up.pk for (offer, *_) in offers.values() if hasattr(offer.item, "put_up")}
    wanted_put_ups = {*yarn.planned, *yarn.to_dye} - sold
    if wanted_put_ups:
        lacking |= {item.pk: item for item in Item.objects.filter(put_up__in=wanted_put_ups)}
    return sorted(lacking.values(), key=lambda each: each.name)
