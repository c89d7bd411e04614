"""What other rooms ask of buying: what is on order, and what each arrival cost."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from django.db.models import Prefetch, Q, QuerySet, Sum
from django.db.models.functions import Coalesce
from django.urls import reverse

from dyehouse.studio.money import in_currency
from inventory.buying.models import Arrival, Bill, Delivery, Purchase, PurchaseLine

MILLION = 1_000_000


@dataclass(frozen=True, slots=True)
class LineCame:
    """A line of an order and what became of it, all in the item's unit.

    Always: ordered + over = arrived + open + short. `over` is what came beyond the order.
    """

    line: PurchaseLine
    arrived: int
    closed: bool

    @property
    def ordered(self) -> int:
        return self.line.ordered

    @property
    def open(self) -> int:
        return 0 if self.closed else max(0, self.ordered - self.arrived)

    @property
    def short(self) -> int:
        return max(0, self.ordered - self.arrived) if self.closed else 0

    @property
    def over(self) -> int:
        return max(0, self.arrived - self.ordered)


@dataclass(frozen=True, slots=True)
class OnOrder:
    """What is still to come of one line of a sent order: pieces, mg or µl; the day is the newest word of it.

    `put_up_id`, `dye_id` and `auxiliary_id`: one of the three is set. `address` is the order's page, `what` its name in
    words, without prices.
    """

    item_id: int
    put_up_id: int | None
    dye_id: int | None
    auxiliary_id: int | None
    quantity: int
    expected_on: dt.date
    purchase_id: int
    supplier_id: int
    supplier: str
    what: str
    address: str


@dataclass(frozen=True, slots=True)
class ArrivalCost:
    """What one arrival cost. Money is in the smallest unit of `currency`, that of the supplier's invoice.

    `lot_id` is the ledger's lot (of the mill lot, jar or auxiliary), `quantity` pieces, mg or µl. `goods_minor` is None
    where no price is known at all; where `charged` is False it is the price of the order, no bill having come yet.
    `freight_minor` is this arrival's share of freight and other costs of its delivery: in proportion to what the goods
    cost, or to the counts of lines where the goods of a delivery have no price; the shares of a delivery sum to what was
    charged. `rate` is how many of the studio's currency one of `currency` is worth by that bill, None where nobody said.
    """

    arrival_id: int
    delivery_id: int
    purchase_id: int
    supplier: str
    lot_id: int
    item_id: int
    quantity: int
    arrived_on: dt.date
    currency: str
    goods_minor: int | None
    freight_minor: int
    charged: bool
    rate: Fraction | None

    def goods_in(self, currency: str) -> int | None:
        """What the goods cost in another currency by the bill's rate; None where price or rate is not known."""
        return None if self.goods_minor is None else self._in(self.goods_minor, currency)

    def freight_in(self, currency: str) -> int | None:
        """The share of freight in another currency by the bill's rate; None where the rate is not known."""
        return self._in(self.freight_minor, currency)

    def _in(self, minor: int, currency: str) -> int | None:
        if currency == self.currency:
            return minor
        return (
            None if self.rate is None else in_currency(minor, of=self.currency, to=currency, rate=self.rate)
        )


def arrivals_that_count() -> QuerySet[Arrival]:
    """Arrivals that were not taken back."""
    return Arrival.objects.filter(movement__reversed_by__isnull=True)


def with_arrived(lines: QuerySet[PurchaseLine]) -> QuerySet[Any]:
    """Lines of orders with what came of them as `came`, their things, and whether the rest was given up."""
    counts = Q(arrivals__movement__isnull=False, arrivals__movement__reversed_by__isnull=True)
    return lines.select_related(*_ITEM, "closed_short__by", "offer").annotate(
        came=Coalesce(Sum("arrivals__quantity", filter=counts), 0)
    )


def lines_came(purchases: Iterable[Purchase]) -> dict[int, list[LineCame]]:
    """For each order (by id) its lines in their order with what came of them. One query."""
    found: dict[int, list[LineCame]] = {purchase.pk: [] for purchase in purchases}
    lines = with_arrived(PurchaseLine.objects.filter(purchase__in=found))
    for line in lines.order_by("purchase_id", "number"):
        found[line.purchase_id].append(LineCame(line, line.came, hasattr(line, "closed_short")))
    return found


_ITEM = ("item__put_up__base", "item__dye", "item__auxiliary")


def on_order(*, items: Collection[int] | None = None) -> list[OnOrder]:
    """What is still to come of orders that were sent, the soonest first; of these ledger items, or of all. One query."""
    lines = PurchaseLine.objects.filter(purchase__ordered_on__isnull=False, closed_short__isnull=True)
    if items is not None:
        lines = lines.filter(item__in=items)
    found = [
        _still_to_come(line, line.ordered - line.came)
        for line in with_arrived(lines).select_related("purchase__supplier")
        if line.came < line.ordered
    ]
    return sorted(found, key=lambda each: (each.expected_on, each.purchase_id, each.item_id))


def _still_to_come(line: PurchaseLine, quantity: int) -> OnOrder:
    purchase, kinds = line.purchase, ("put_up", "dye", "auxiliary")
    of = {kind: getattr(line.item, kind).pk if hasattr(line.item, kind) else None for kind in kinds}
    assert purchase.expected_on is not None  # the database holds that what was sent is expected
    return OnOrder(
        item_id=line.item_id,
        put_up_id=of["put_up"],
        dye_id=of["dye"],
        auxiliary_id=of["auxiliary"],
        quantity=quantity,
        expected_on=purchase.expected_on,
        purchase_id=purchase.pk,
        supplier_id=purchase.supplier_id,
        supplier=purchase.supplier.name,
        what=f"ordered of {purchase.supplier.name}",
        address=reverse("buying-order", args=[purchase.pk]),
    )


def arrival_costs(
    *,
    lots: Collection[int] | None = None,
    arrived_from: dt.date | None = None,
    arrived_until: dt.date | None = None,
) -> list[ArrivalCost]:
    """What each arrival cost, the earliest first: of these ledger lots, from and until these days, or all. Four queries.

    Arrivals that were taken back are left out.
    """
    deliveries = Delivery.objects.select_related("purchase__supplier")
    if lots is not None:
        # All arrivals of a delivery share its freight, so whole deliveries are read.
        wanted = arrivals_that_count().filter(lot__in=lots)
        deliveries = deliveries.filter(pk__in=wanted.values("delivery"))
    if arrived_from is not None:
        deliveries = deliveries.filter(arrived_on__gte=arrived_from)
    if arrived_until is not None:
        deliveries = deliveries.filter(arrived_on__lte=arrived_until)
    return [
        cost
        for delivery in with_costs(deliveries.order_by("arrived_on", "pk"))
        for cost in costs_of(delivery)
        if lots is None or cost.lot_id in lots
    ]


def with_costs(deliveries: QuerySet[Delivery]) -> QuerySet[Delivery]:
    """Deliveries with their arrivals that count and their bills with lines."""
    return deliveries.prefetch_related(
        Prefetch(
            "arrivals",
            queryset=arrivals_that_count()
            .select_related("line__item", "lot__mill_lot", "lot__jar")
            .order_by("pk"),
            to_attr="counting",
        ),
        Prefetch("bills", queryset=Bill.objects.order_by("-pk").prefetch_related("lines"), to_attr="newest"),
    )


def costs_of(delivery: Delivery) -> list[ArrivalCost]:
    """What each arrival of a delivery cost; the delivery as `with_costs` reads it."""
    arrivals: list[Arrival] = delivery.counting  # type: ignore[attr-defined]
    bills: list[Bill] = delivery.newest  # type: ignore[attr-defined]
    bill = bills[0] if bills else None
    billed = {line.arrival_id: line.goods_minor for line in bill.lines.all()} if bill is not None else {}
    goods = [billed.get(each.pk, as_ordered(each.line, each.quantity)) for each in arrivals]
    freight = bill.freight_minor + bill.other_minor if bill is not None else 0
    shares = shared_out(freight, [one or 0 for one in goods])
    rate = Fraction(bill.rate_millionths, MILLION) if bill is not None and bill.rate_millionths else None
    purchase = delivery.purchase
    return [
        ArrivalCost(
            arrival_id=each.pk,
            delivery_id=delivery.pk,
            purchase_id=purchase.pk,
            supplier=purchase.supplier.name,
            lot_id=each.lot_id,
            item_id=each.line.item_id,
            quantity=each.quantity,
            arrived_on=delivery.arrived_on,
            currency=purchase.currency,
            goods_minor=cost,
            freight_minor=share,
            charged=each.pk in billed,
            rate=rate,
        )
        for each, cost, share in zip(arrivals, goods, shares, strict=True)
    ]


def as_ordered(line: PurchaseLine, quantity: int) -> int | None:
    """What so much of a line costs at the price that was agreed, to the nearest smallest unit; None without a price."""
    if line.price_minor is None:
        return None
    return round(Fraction(line.price_minor * quantity, line.pack_quantity))


def shared_out(total: int, weights: Sequence[int]) -> list[int]:
    """A whole amount in whole shares by weights, evenly where all are zero; the largest remainders get the odd ones."""
    if not weights:
        return []
    by = list(weights) if any(weights) else [1] * len(weights)
    whole = sum(by)
    shares = [total * each // whole for each in by]
    odd = sorted(range(len(by)), key=lambda at: (-(total * by[at] % whole), at))
    for at in odd[: total - sum(shares)]:
        shares[at] += 1
    return shares
