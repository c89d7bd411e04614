"""What was paid for what came in: entered by hand, arrival by arrival, in the money of the invoice."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from uuid import UUID

from django.db import transaction
from django.db.models import OuterRef, Q, QuerySet, Subquery
from django.utils import timezone

from dyehouse.ledger.models import Item, Line, Lot, Movement
from dyehouse.ledger.operations import say_quantity
from dyehouse.studio.models import Studio, User
from dyehouse.studio.money import places_of
from dyehouse.studio.refusals import Refused
from inventory.buying.queries import arrival_costs
from inventory.costing.again import costs_again
from inventory.costing.models import RATE_PLACES, Paid, UnitCost
from inventory.costing.sums import NANO
from recipes.models import StockBottle
from recipes.words import one_line

CAME_FROM = ("supplier", "before_the_house")
#: What a year begins with or what came from a mill; kits and mixes are made here.
PRICED = (Item.Kind.UNDYED, Item.Kind.DYE, Item.Kind.AUXILIARY, Item.Kind.DYED, Item.Kind.STOCK)


class NotAnArrival(Refused):
    """A price belongs to something that came in from outside and was not taken back."""


class RateMissing(Refused):
    """Money of another currency needs the day's rate."""


@dataclass(frozen=True, slots=True)
class PaidCost:
    """What one arrival cost altogether in the studio's money: exact nano of goods and of freight.

    `as_agreed` is the price of an order of which no bill has come yet.
    """

    goods: Fraction
    freight: Fraction
    as_agreed: bool = False


@transaction.atomic
def say_paid(
    *,
    key: UUID,
    line: Line,
    goods_minor: int,
    freight_minor: int = 0,
    currency: str = "",
    rate: Decimal | None = None,
    note: str = "",
    who: User,
) -> Paid:
    """Write down what an arrival cost, goods and its share of the freight, in the smallest units of a currency.

    `rate` is how much of the studio's money one of another currency was worth on the day; it is stored and never looked
    up. What was said before stays and no longer holds. The same key again gives the first.
    Raises NotAnArrival, RateMissing.
    """
    first = Paid.objects.filter(key=key).first()
    if first is not None:
        return first
    if not arrivals_of().filter(pk=line.pk).exists():
        raise NotAnArrival(
            "This did not come in without an order, or was taken back. What came of an order has its bill there."
        )
    own = Studio.current().currency
    currency = currency or own
    if currency == own:
        rate = Decimal(1)
    if rate is None or rate <= 0:
        raise RateMissing(f"Write how much {own} one {currency} was worth on the day, for example 0.8612.")
    billionths = int(rate.scaleb(RATE_PLACES).to_integral_value())
    if billionths < 1:
        raise RateMissing("The rate is too small to be kept. Check it.")
    paid = Paid.objects.create(
        key=key,
        line=line,
        goods_minor=goods_minor,
        freight_minor=freight_minor,
        currency=currency,
        rate_billionths=billionths,
        note=one_line(note)[:200],
        said_at=timezone.now(),
        by=who,
    )
    costs_again({(line.item_id, line.lot_id), *those_of([line.item_id])})
    return paid


def those_of(items: Iterable[int]) -> set[tuple[int, int]]:
    """Everything by item and lot that a price of these items may change: all their lots may take the last known one."""
    wanted = set(items)
    pairs = UnitCost.objects.filter(item__in=wanted).values_list("item_id", "lot_id")
    bottles = StockBottle.objects.filter(dye__item__in=wanted).values_list("dye__stock_item_id", "lot_id")
    return {*pairs, *bottles}


def cost_of(paid: Paid, *, currency: str) -> PaidCost:
    """An invoice in the studio's money, at the rate that was entered. Exact."""
    one = Fraction(paid.rate_billionths, 10**RATE_PLACES)
    one *= Fraction(10) ** (places_of(currency) - places_of(paid.currency)) * NANO
    return PaidCost(paid.goods_minor * one, paid.freight_minor * one)


def arrivals_of() -> QuerySet[Line]:
    """The lines by which something came in from outside without an order and was not taken back."""
    return Line.objects.filter(
        movement__arrival__isnull=True,
        from_place__code__in=CAME_FROM,
        item__kind__in=PRICED,
        movement__reverses__isnull=True,
        movement__reversed_by__isnull=True,
    )


def paid_for() -> dict[int, PaidCost]:
    """What arrivals cost, by their line's id: by their order's bill, else as was said by hand. A fixed number of queries."""
    currency = Studio.current().currency
    found = _ordered(currency)
    # The newest for an arrival comes last and holds.
    return found | {paid.line_id: cost_of(paid, currency=currency) for paid in Paid.objects.order_by("id")}


def _ordered(currency: str) -> dict[int, PaidCost]:
    """What came of orders, by line; a foreign bill without its rate tells nothing."""
    costs = {cost.arrival_id: cost for cost in arrival_costs() if cost.goods_minor is not None}
    if not costs:
        return {}
    lines = Line.objects.filter(movement__arrival__isnull=False, from_place__code="supplier")
    found: dict[int, PaidCost] = {}
    for line, arrival in lines.values_list("id", "movement__arrival"):
        cost = costs.get(arrival)
        if cost is None or (cost.currency != currency and cost.rate is None):
            continue
        rate = Fraction(1) if cost.currency == currency else cost.rate or Fraction(1)
        one = rate * Fraction(10) ** (places_of(currency) - places_of(cost.currency)) * NANO
        found[line] = PaidCost((cost.goods_minor or 0) * one, cost.freight_minor * one, not cost.charged)
    return found


@dataclass(frozen=True, slots=True)
class Arrival:
    """Something that came in, and what was paid for it, where that is known."""

    line: Line
    paid: Paid | None

    @property
    def item(self) -> Item:
        return self.line.item

    @property
    def lot(self) -> Lot:
        return self.line.lot

    @property
    def movement(self) -> Movement:
        return self.line.movement

    @property
    def quantity(self) -> str:
        return say_quantity(self.line.quantity, self.line.item)

    @property
    def from_before(self) -> bool:
        return self.line.from_place.code == "before_the_house"


def arrivals(
    *, unpriced: bool | None = None, limit: int = 200, lines: Iterable[int] | None = None
) -> list[Arrival]:
    """What came in, newest first, with its price; all, or only those with or without one. Two queries."""
    newest = Paid.objects.filter(line=OuterRef("pk")).order_by("-id").values("pk")[:1]
    found = arrivals_of().annotate(price=Subquery(newest))
    if lines is not None:
        found = found.filter(pk__in=list(lines))
    if unpriced is not None:
        found = found.filter(Q(price__isnull=unpriced))
    rows = list(
        found.select_related("item", "lot", "movement", "from_place").order_by(
            "-movement__happened_at", "-id"
        )[:limit]
    )
    prices = Paid.objects.in_bulk([row.price for row in rows if row.price])
    return [Arrival(row, prices.get(row.price)) for row in rows]


def count_unpriced() -> int:
    """How many arrivals nobody has said a price of. One query."""
    return arrivals_of().filter(paid__isnull=True).count()
