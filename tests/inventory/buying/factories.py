"""Suppliers, what they sell, orders to them and what comes of those."""

from __future__ import annotations

import datetime as dt
import uuid
from typing import Any

from django.utils import timezone

from dyehouse.ledger.models import Item
from dyehouse.studio.models import User
from inventory.buying import arriving, ordering, supplying
from inventory.buying.models import ClosedWeeks, Delivery, Offer, Purchase, Supplier
from tests import factories

_suppliers = iter(range(1, 1_000_000))


def supplier(name: str = "", **facts: Any) -> Supplier:
    """A mill that takes 30 days and writes invoices in EUR."""
    return supplying.add_supplier(
        name=name or f"Fell Mill {next(_suppliers)}", **{"lead_days": 30, "currency": "EUR", **facts}
    )


def closed_weeks(*, of: Supplier | None = None) -> ClosedWeeks:
    """Three weeks in August, every year."""
    return supplying.close_weeks(
        supplier=of or supplier(),
        first_day=dt.date(2027, 8, 1),
        last_day=dt.date(2027, 8, 21),
        every_year=True,
    )


def offer(*, of: Item | None = None, by: Supplier | None = None, **facts: Any) -> Offer:
    """Packs of ten skeins at 68.00."""
    return supplying.offer_packs(
        supplier=by or supplier(),
        item=of or factories.put_up().item,
        **{"pack_quantity": 10, "price_minor": 6800, **facts},
    )


def draft(*, of: Offer | None = None, packs: int = 3, who: User | None = None) -> Purchase:
    """An order of one line that is not sent."""
    one = of or offer()
    return ordering.draft_order(
        key=uuid.uuid4(),
        supplier=one.supplier,
        wanted=[ordering.Wanted(one, packs)],
        who=who or factories.OwnerFactory(),
    )


def sent_order(
    *, of: Offer | None = None, packs: int = 3, ordered_on: dt.date | None = None, who: User | None = None
) -> Purchase:
    """An order of one line that was sent today, or on a day before."""
    by = who or factories.OwnerFactory()
    made = draft(of=of, packs=packs, who=by)
    return ordering.send_order(purchase=made, ordered_on=ordered_on or timezone.localdate(), who=by)


def delivery(
    *, purchase: Purchase | None = None, packs: int = 1, number: str = "M1", who: User | None = None
) -> Delivery:
    """So many packs of the first line of an order, come today in one lot."""
    order = purchase or sent_order()
    line = order.lines.select_related("item").order_by("number").first()
    return arriving.take_in(
        key=uuid.uuid4(),
        purchase=order,
        came=[arriving.Came(line, packs=packs, number=number)],
        arrived_on=timezone.localdate(),
        who=who or factories.OwnerFactory(),
    )
