"""What the pages of orders and suppliers read, each in a fixed number of queries."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, field

from django.db.models import F
from django.utils import timezone

from dyehouse.studio.cells import list_of
from dyehouse.studio.models import User
from dyehouse.studio.money import format_money
from inventory.allocation.reorder import saying
from inventory.buying.models import (
    Arrival,
    ClosedShort,
    ClosedWeeks,
    Delivery,
    ExpectedDay,
    Offer,
    Purchase,
    PurchaseLine,
    Supplier,
)
from inventory.buying.queries import (
    ArrivalCost,
    LineCame,
    arrivals_that_count,
    costs_of,
    lines_came,
    with_arrived,
    with_costs,
)
from recipes.lots.in_store import LotPieces
from recipes.lots.models import Pot, PotLoad
from recipes.models import Colourway, PutUp

ORDERS_PAGE = 30


@dataclass(frozen=True, slots=True)
class OrderSummary:
    """An order with its lines and what became of them."""

    purchase: Purchase
    lines: list[LineCame]
    today: dt.date

    @property
    def state(self) -> str:
        """drafted, dropped, sent, partly arrived, arrived, or closed short."""
        if self.purchase.dropped_at is not None:
            return "dropped"
        if self.purchase.ordered_on is None:
            return "drafted"
        if any(came.open for came in self.lines):
            return "partly arrived" if any(came.arrived for came in self.lines) else "sent"
        return "closed short" if any(came.short for came in self.lines) else "arrived"

    @property
    def is_open(self) -> bool:
        return self.state in ("sent", "partly arrived")

    @property
    def late_days(self) -> int:
        """Days past the day it was expected; 0 when it is not late, or not open."""
        expected = self.purchase.expected_on
        return max(0, (self.today - expected).days) if self.is_open and expected is not None else 0

    @property
    def total_minor(self) -> int | None:
        """What all lines cost as ordered; None where a price is not known."""
        prices = [came.line.price_minor for came in self.lines]
        if not prices or None in prices:
            return None
        return sum((came.line.price_minor or 0) * came.line.packs for came in self.lines)

    @property
    def things(self) -> str:
        """What was ordered, in a line."""
        return ", ".join(dict.fromkeys(came.line.item.name for came in self.lines))


def open_orders(*, today: dt.date | None = None) -> list[OrderSummary]:
    """Drafts, then what is still to come, the soonest first. Three queries."""
    on = today or timezone.localdate()
    drafts = list(
        Purchase.objects.filter(ordered_on=None, dropped_at=None).select_related("supplier").order_by("pk")
    )
    waiting = with_arrived(
        PurchaseLine.objects.filter(purchase__ordered_on__isnull=False, closed_short__isnull=True)
    ).filter(came__lt=F("packs") * F("pack_quantity"))
    sent = Purchase.objects.filter(pk__in=waiting.values("purchase")).select_related("supplier")
    return _summed([*drafts, *sent.order_by("expected_on", "pk")], on)


def past_orders(*, page: int, supplier: Supplier | None = None) -> list[OrderSummary]:
    """Orders by when they were written, the last first: a page and one more if there is an older one. Two queries."""
    start = (page - 1) * ORDERS_PAGE
    orders = Purchase.objects.select_related("supplier").order_by("-pk")
    if supplier is not None:
        orders = orders.filter(supplier=supplier)
    return _summed(list(orders[start : start + ORDERS_PAGE + 1]), timezone.localdate())


def _summed(purchases: Sequence[Purchase], today: dt.date) -> list[OrderSummary]:
    lines = lines_came(purchases)
    return [OrderSummary(purchase, lines[purchase.pk], today) for purchase in purchases]


@dataclass(frozen=True, slots=True)
class DeliveryLine:
    """One delivery with what came in it and what it cost."""

    delivery: Delivery
    costs: list[ArrivalCost]

    @property
    def arrivals(self) -> list[tuple[Arrival, ArrivalCost]]:
        return list(zip(self.delivery.counting, self.costs, strict=True))  # type: ignore[attr-defined]

    @property
    def charged(self) -> bool:
        """Whether a bill was written down."""
        return bool(self.delivery.newest)  # type: ignore[attr-defined]

    @property
    def goods_minor(self) -> int | None:
        goods = [cost.goods_minor for cost in self.costs]
        return None if None in goods else sum(each or 0 for each in goods)

    @property
    def freight_minor(self) -> int:
        return sum(cost.freight_minor for cost in self.costs)


@dataclass(frozen=True, slots=True)
class OtherLot:
    """A lot that just came, beside the lot that a colourway's open pots are of already."""

    colourway: Colourway
    put_up: PutUp
    came: LotPieces
    used: LotPieces

    def sentence(self, user: User) -> str:
        """Which lots, and that they are to be kept apart."""
        name = self.colourway.shown_name(user)
        return (
            f"{name} on {self.put_up}: its open pots are of another mill lot ({self.used}) than came now "
            f"({self.came}). Keep them apart."
        )


@dataclass(frozen=True, slots=True)
class OrderPage:
    """One order: its lines, what came when, what was said of its day."""

    order: OrderSummary
    deliveries: list[DeliveryLine]
    said: list[ExpectedDay]
    shorts: list[ClosedShort]
    other_lots: list[OtherLot]


def order_page(purchase: Purchase) -> OrderPage:
    """Everything of one order; of what came last, where it parts a colourway. Eight queries at most."""
    (summary,) = _summed([purchase], timezone.localdate())
    deliveries = Delivery.objects.filter(purchase=purchase).select_related("purchase__supplier", "made_by")
    said = ExpectedDay.objects.filter(purchase=purchase).select_related("by").order_by("-pk")
    came = list(with_costs(deliveries.order_by("-arrived_on", "-pk")))
    return OrderPage(
        order=summary,
        deliveries=[DeliveryLine(each, costs_of(each)) for each in came],
        said=list(said),
        shorts=[each.line.closed_short for each in summary.lines if each.closed],
        other_lots=lots_that_differ(came[0]) if came else [],
    )


@dataclass(frozen=True, slots=True)
class SupplierPage:
    """One supplier: what they sell, when they are closed, and the orders to them."""

    offers: list[Offer]
    closed: list[ClosedWeeks]
    orders: list[OrderSummary] = field(default_factory=list)


def supplier_page(supplier: Supplier) -> SupplierPage:
    """Everything of one supplier. Four queries."""
    offers = (
        Offer.objects.filter(supplier=supplier, retired_at=None)
        .select_related("item__put_up", "item__dye", "item__auxiliary")
        .order_by("item__kind", "item__name", "pack_quantity")
    )
    return SupplierPage(
        offers=list(offers),
        closed=list(supplier.closed_weeks.order_by("first_day", "pk")),
        orders=past_orders(page=1, supplier=supplier)[:ORDERS_PAGE],
    )


def offers_to_order(supplier: Supplier) -> list[Offer]:
    """What an order to a supplier can be of, yarn first. One query."""
    offers = Offer.objects.filter(supplier=supplier, retired_at=None).select_related("item", "supplier")
    return sorted(offers, key=lambda each: (each.item.kind != "undyed", each.item.name, each.pack_quantity))


def lots_that_differ(delivery: Delivery) -> list[OtherLot]:
    """Where a delivery brought another mill lot than the pots that are planned or in work are of.

    One query for a delivery as `with_costs` reads it, else two.
    """
    read: list[Arrival] | None = getattr(delivery, "counting", None)
    if read is None:
        read = list(arrivals_that_count().filter(delivery=delivery).select_related("line", "lot__mill_lot"))
    came = {
        (arrival.line.item_id, arrival.lot.mill_lot): arrival.quantity
        for arrival in read
        if hasattr(arrival.lot, "mill_lot")
    }
    if not came:
        return []
    loads = PotLoad.objects.filter(
        pot__in=Pot.objects.filter(out_at=None, dropped_at=None),
        put_up__item__in={item for item, _ in came},
        was=None,
        mill_lot__unknown=False,
    )
    used: dict[tuple[Colourway, PutUp, int], int] = {}
    lots = {}
    for load in loads.select_related("pot__colourway", "put_up__base", "mill_lot").order_by("pk"):
        key = (load.pot.colourway, load.put_up, load.mill_lot_id)
        used[key] = used.get(key, 0) + load.pieces
        lots[load.mill_lot_id] = load.mill_lot
    return [
        OtherLot(colourway, put_up, LotPieces(lot, quantity), LotPieces(lots[lot_id], pieces))
        for (colourway, put_up, lot_id), pieces in used.items()
        for (item, lot), quantity in came.items()
        if item == put_up.item_id and lot.pk != lot_id
    ]


def order_list(summary: OrderSummary) -> str:
    """An order as a list of cells for a mail to the supplier: plain, and nothing in it that a spreadsheet would run."""
    purchase = summary.purchase
    head = ("their number", "what", "packs", "in a pack", "altogether", "price of a pack", "price")
    rows = [head, *(_cells(came.line, purchase.currency) for came in summary.lines)]
    if summary.total_minor is not None:
        rows.append(("", "Sum", "", "", "", "", format_money(summary.total_minor, purchase.currency)))
    if purchase.note:
        rows.append(("", purchase.note, "", "", "", "", ""))
    return list_of(rows)


def _cells(line: PurchaseLine, currency: str) -> tuple[str, ...]:
    say, price = saying(line.item.unit), line.price_minor
    return (
        line.offer.their_number,
        line.item.name,
        str(line.packs),
        say(line.pack_quantity),
        say(line.ordered),
        "" if price is None else format_money(price, currency),
        "" if price is None else format_money(price * line.packs, currency),
    )
