"""Suppliers, what they sell, and orders to them."""

from __future__ import annotations

import datetime as dt
import uuid
from typing import Any

from django.utils import timezone

from dyehouse.ledger.models import Item
from dyehouse.studio.models import User
from inventory.buying.models import Offer, Purchase, PurchaseLine, Supplier
from tests import factories

_suppliers = iter(range(1, 1_000_000))


def supplier(name: str = "", **facts: Any) -> Supplier:
    """A mill that takes 30 days and writes invoices in EUR."""
    return Supplier.objects.create(
        name=name or f"Fell Mill {next(_suppliers)}", **{"lead_days": 30, "currency": "EUR", **facts}
    )


def offer(*, of: Item | None = None, by: Supplier | None = None, **facts: Any) -> Offer:
    """Packs of ten skeins at 68.00."""
    return Offer.objects.create(
        supplier=by or supplier(),
        item=of or factories.put_up().item,
        **{"pack_quantity": 10, "price_minor": 6800, **facts},
    )


def sent_order(
    *, of: Offer | None = None, packs: int = 3, expected_on: dt.date | None = None, who: User | None = None
) -> Purchase:
    """An order of one line that was sent today and is expected in thirty days."""
    one, today = of or offer(), timezone.localdate()
    purchase = Purchase.objects.create(
        key=uuid.uuid4(),
        supplier=one.supplier,
        currency=one.supplier.currency,
        made_at=timezone.now(),
        made_by=who or factories.OwnerFactory(),
        ordered_on=today,
        expected_on=expected_on or today + dt.timedelta(days=30),
    )
    PurchaseLine.objects.create(
        purchase=purchase,
        number=1,
        offer=one,
        item=one.item,
        pack_quantity=one.pack_quantity,
        packs=packs,
        price_minor=one.price_minor,
    )
    return purchase
