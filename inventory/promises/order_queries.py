"""What the pages of products and orders show."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from dataclasses import dataclass, field

from django.db.models import Q, QuerySet, Sum

from inventory.promises.boxes import Stand, stands
from inventory.promises.models import (
    Box,
    Offer,
    Order,
    OrderChange,
    OrderLine,
    Payment,
    Person,
    Product,
    ShopTerms,
)
from inventory.promises.orders import LineWanted, below_terms, word_for

ORDERS_SHOWN = 100


@dataclass(frozen=True, slots=True)
class OfferRow:
    """One choice of a product: how many are ordered, and how their boxes stand."""

    offer: Offer
    ordered: int
    boxes: int
    filled: int
    packed: int
    gone: int

    @property
    def left(self) -> int | None:
        return None if self.offer.most is None else max(0, self.offer.most - self.ordered)


@dataclass(slots=True)
class ProductPage:
    """A product, its choices, and how what was ordered of it was paid."""

    product: Product
    offers: list[OfferRow] = field(default_factory=list)
    paid: dict[str, int] = field(default_factory=dict)

    @property
    def ordered(self) -> int:
        return sum(row.ordered for row in self.offers)

    @property
    def left(self) -> int | None:
        return None if self.product.most is None else max(0, self.product.most - self.ordered)

    @property
    def oversold(self) -> int:
        return 0 if self.product.most is None else max(0, self.ordered - self.product.most)

    @property
    def boxes(self) -> int:
        return sum(row.boxes for row in self.offers)


@dataclass(frozen=True, slots=True)
class ProductLine:
    """A product in the list."""

    product: Product
    ordered: int
    left: int | None


@dataclass(frozen=True, slots=True)
class OrderRow:
    """An order in the list: how it stands in a word, and what is in it."""

    order: Order
    word: str
    what: str
    due: dt.date | None
    paid: str


@dataclass(slots=True)
class OrderPage:
    """One order with everything that was said and done about it."""

    order: Order
    word: str
    lines: list[OrderLine]
    boxes: list[Stand]
    payments: list[Payment]
    changes: list[OrderChange]
    below: list[str]
    total_minor: int | None

    @property
    def is_over(self) -> bool:
        return self.word in ("cancelled", "on its way")


def product_lines() -> list[ProductLine]:
    """The products that are still offered, those that ship soonest first. Two queries."""
    products = list(Product.objects.filter(retired_at=None).order_by("ships_on", "name"))
    ordered = dict(
        OrderLine.objects.filter(offer__product__in=products, cancelled_at=None)
        .values("offer__product")
        .annotate(count_sum=Sum("count"))
        .values_list("offer__product", "count_sum")
    )
    return [
        ProductLine(
            product=product,
            ordered=ordered.get(product.pk, 0),
            left=None if product.most is None else max(0, product.most - ordered.get(product.pk, 0)),
        )
        for product in products
    ]


def product_page(product: Product) -> ProductPage:
    """A product as its page shows it. At most ten queries."""
    offers = list(product.offers.select_related("kit", "colourway", "put_up__base").order_by("name", "pk"))
    ordered = dict(
        OrderLine.objects.filter(offer__in=offers, cancelled_at=None)
        .values("offer")
        .annotate(count_sum=Sum("count"))
        .values_list("offer", "count_sum")
    )
    by_offer: dict[int, list[Stand]] = defaultdict(list)
    paid: dict[str, int] = defaultdict(int)
    for stand in stands(Box.objects.filter(order_line__offer__in=offers, withdrawn_at=None).order_by("pk")):
        line = stand.box.order_line
        if line is not None and line.offer_id is not None:
            by_offer[line.offer_id].append(stand)
            paid[Payment.Kind(stand.paid).label] += 1
    rows = [
        OfferRow(
            offer=offer,
            ordered=ordered.get(offer.pk, 0),
            boxes=len(by_offer[offer.pk]),
            filled=sum(stand.is_filled for stand in by_offer[offer.pk]),
            packed=sum(stand.is_packed for stand in by_offer[offer.pk]),
            gone=sum(stand.is_gone for stand in by_offer[offer.pk]),
        )
        for offer in offers
        if offer.retired_at is None or ordered.get(offer.pk)
    ]
    return ProductPage(product, rows, dict(paid))


def order_rows(*, search: str = "", kind: str = "", product: Product | None = None) -> list[OrderRow]:
    """The newest orders, by number, person or what is in them. At most twelve queries."""
    orders: QuerySet[Order] = Order.objects.select_related("buyer", "receiver").order_by("-placed_at", "-pk")
    if kind:
        orders = orders.filter(kind=kind)
    if product is not None:
        orders = orders.filter(lines__offer__product=product).distinct()
    if search:
        orders = orders.filter(
            Q(number__icontains=search)
            | Q(buyer__name__icontains=search)
            | Q(buyer__email__icontains=search)
            | Q(receiver__name__icontains=search)
        )
    found = list(orders[:ORDERS_SHOWN])
    lines: dict[int, list[OrderLine]] = defaultdict(list)
    of_these = OrderLine.objects.filter(order__in=found, cancelled_at=None)
    for line in of_these.select_related("offer__product", "colourway", "put_up__base").order_by("position"):
        lines[line.order_id].append(line)
    changes: dict[int, set[str]] = defaultdict(set)
    for order_id, change in OrderChange.objects.filter(order__in=found).values_list("order", "kind"):
        changes[order_id].add(change)
    paid = dict(Payment.objects.filter(order__in=found).order_by("pk").values_list("order", "kind"))
    boxes: dict[int, list[Stand]] = defaultdict(list)
    for stand in stands(Box.objects.filter(order_line__order__in=found, withdrawn_at=None)):
        if stand.box.order_line is not None:
            boxes[stand.box.order_line.order_id].append(stand)
    return [
        OrderRow(
            order=order,
            word=word_for(order, changes[order.pk], paid.get(order.pk), boxes[order.pk]),
            what=", ".join(f"{line.count} × {what_is(line)}" for line in lines[order.pk][:4])
            + (" …" if len(lines[order.pk]) > 4 else ""),
            due=order.due
            or next((line.offer.product.ships_on for line in lines[order.pk] if line.offer), None),
            paid=Payment.Kind(paid.get(order.pk, Payment.Kind.DUE)).label,
        )
        for order in found
    ]


def what_is(line: OrderLine) -> str:
    """What a line is of, in words for the owner."""
    if line.offer is not None:
        return str(line.offer)
    return f"{line.colourway or 'a colour to be found'} on {line.put_up}"


def order_page(order: Order) -> OrderPage:
    """An order as its page shows it. At most twelve queries."""
    lines = list(
        order.lines.select_related(
            "offer__product", "offer__kit", "colourway", "put_up__base", "reference_lot__colourway"
        ).order_by("position")
    )
    boxes = stands(Box.objects.filter(order_line__order=order, withdrawn_at=None).order_by("pk"))
    payments = list(order.payments.select_related("by").order_by("-pk"))
    changes = list(order.changes.select_related("by").order_by("-pk"))
    standing = [line for line in lines if line.cancelled_at is None]
    prices = [line.count * line.each_minor for line in standing if line.each_minor is not None]
    terms = (
        ShopTerms.objects.filter(shop=order.buyer_id).first()
        if order.buyer.kind == Person.Kind.SHOP
        else None
    )
    wanted = [
        LineWanted(line.count, colourway=line.colourway, put_up=line.put_up, each_minor=line.each_minor)
        for line in standing
    ]
    return OrderPage(
        order=order,
        word=word_for(
            order, {change.kind for change in changes}, payments[0].kind if payments else None, boxes
        ),
        lines=lines,
        boxes=boxes,
        payments=payments,
        changes=changes,
        below=below_terms(terms=terms, lines=wanted, currency=order.currency) if terms is not None else [],
        total_minor=sum(prices) if standing and len(prices) == len(standing) else None,
    )
