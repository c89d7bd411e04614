"""Mills and dye makers as the studio knows them: how long they take, when they are closed, what they sell by the pack."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Any

from django.db import transaction
from django.utils import timezone

from dyehouse.ledger.models import Item
from dyehouse.studio.refusals import Refused
from inventory.allocation.reorder import AlwaysClosed, Closed, PriceFrom, arrives_on
from inventory.buying.models import ClosedWeeks, Offer, Purchase, Supplier
from inventory.buying.queries import on_order
from recipes.words import one_line

#: Mills close for weeks, not for most of the year.
LONGEST_CLOSED_DAYS = 120


class SupplierNameTaken(Refused):
    """Another supplier has this name."""


class PricesInAnotherCurrency(Refused):
    """The prices written down are in the currency of before."""


class ClosedWeeksWrong(Refused):
    """Closed weeks that end before they begin, last too long, or leave no day of work."""


class OfferTaken(Refused):
    """The supplier sells this in packs of this size already."""


class OfferWrong(Refused):
    """A pack of nothing, or price breaks that contradict each other."""


class OrdersOpen(Refused):
    """A supplier with open orders cannot be put away."""


@transaction.atomic
def add_supplier(*, name: str, lead_days: int, currency: str, **facts: Any) -> Supplier:
    """Write down a mill or a dye maker. Raises SupplierNameTaken."""
    name = one_line(name)
    _refuse_taken_name(name)
    return Supplier.objects.create(name=name, lead_days=lead_days, currency=currency, **_tidy(facts))


@transaction.atomic
def change_supplier(
    *, supplier: Supplier, name: str, lead_days: int, currency: str, **facts: Any
) -> Supplier:
    """Put right what is known of a supplier. Orders that were sent keep their day and their money.

    Raises SupplierNameTaken, PricesInAnotherCurrency.
    """
    name = one_line(name)
    _refuse_taken_name(name, other_than=supplier)
    priced = Offer.objects.filter(supplier=supplier, retired_at=None, price_minor__isnull=False)
    if currency != supplier.currency and priced.exists():
        raise PricesInAnotherCurrency(
            f"The prices of what they sell are in {supplier.currency}. Empty them first, then change the currency."
        )
    supplier.name, supplier.lead_days, supplier.currency = name, lead_days, currency
    for fact, value in _tidy(facts).items():
        setattr(supplier, fact, value)
    supplier.save()
    return supplier


def _tidy(facts: dict[str, Any]) -> dict[str, Any]:
    return {name: one_line(value) if isinstance(value, str) else value for name, value in facts.items()}


def _refuse_taken_name(name: str, *, other_than: Supplier | None = None) -> None:
    others = Supplier.objects.filter(name__iexact=name)
    if other_than is not None:
        others = others.exclude(pk=other_than.pk)
    if others.exists():
        raise SupplierNameTaken(
            f"There is a supplier called {name} already. Choose another name, or open that one."
        )


@transaction.atomic
def retire_supplier(*, supplier: Supplier) -> Supplier:
    """Put a supplier away; its orders stay. Raises OrdersOpen."""
    open_orders = Purchase.objects.filter(supplier=supplier, ordered_on=None, dropped_at=None).exists()
    if open_orders or any(each.supplier_id == supplier.pk for each in on_order()):
        raise OrdersOpen(f"{supplier} has open orders. Take them in, close them short or drop them first.")
    supplier.retired_at = supplier.retired_at or timezone.now()
    supplier.save(update_fields=["retired_at"])
    return supplier


@transaction.atomic
def bring_supplier_back(*, supplier: Supplier) -> Supplier:
    """Buy of a supplier again that was put away."""
    supplier.retired_at = None
    supplier.save(update_fields=["retired_at"])
    return supplier


@transaction.atomic
def close_weeks(
    *, supplier: Supplier, first_day: dt.date, last_day: dt.date, every_year: bool = False
) -> ClosedWeeks:
    """Write down days on which a supplier does nothing, the first and the last included. Raises ClosedWeeksWrong."""
    if last_day < first_day:
        raise ClosedWeeksWrong(
            "The last day is before the first. Write the first day of the closed weeks first."
        )
    if (last_day - first_day).days >= LONGEST_CLOSED_DAYS:
        raise ClosedWeeksWrong(
            f"That is more than {LONGEST_CLOSED_DAYS} days. Check the years; closed weeks are short."
        )
    written = ClosedWeeks.objects.create(
        supplier=supplier, first_day=first_day, last_day=last_day, every_year=every_year
    )
    try:
        arrives_on(ordered=first_day, lead_days=supplier.lead_days, closed=closed_of(supplier))
    except AlwaysClosed as never:
        raise ClosedWeeksWrong(
            "With these they would never work. Take some closed weeks away first."
        ) from never
    return written


@transaction.atomic
def open_weeks(*, closed: ClosedWeeks) -> None:
    """They work in these weeks after all. Orders that were sent keep their day."""
    closed.delete()


def closed_of(supplier: Supplier) -> list[Closed]:
    """The closed weeks of a supplier for reckoning. One query unless they were fetched."""
    return [Closed(each.first_day, each.last_day, each.every_year) for each in supplier.closed_weeks.all()]


@transaction.atomic
def offer_packs(
    *,
    supplier: Supplier,
    item: Item,
    pack_quantity: int,
    price_minor: int | None = None,
    breaks: Sequence[PriceFrom] = (),
    their_number: str = "",
) -> Offer:
    """Write down what a supplier sells by the pack; what was put away comes back with its new price.

    Raises OfferTaken, OfferWrong.
    """
    there = Offer.objects.filter(supplier=supplier, item=item, pack_quantity=pack_quantity).first()
    if there is not None and there.retired_at is None:
        raise OfferTaken(f"{supplier} sells this in packs of this size already. Change that one.")
    if pack_quantity < 1:
        raise OfferWrong("A pack holds at least one. Write what is in it.")
    offer = there or Offer(supplier=supplier, item=item, pack_quantity=pack_quantity)
    offer.retired_at = None
    return _keep_offer(offer, price_minor, breaks, their_number)


@transaction.atomic
def change_offer(
    *,
    offer: Offer,
    price_minor: int | None,
    breaks: Sequence[PriceFrom] = (),
    their_number: str = "",
) -> Offer:
    """Write down another price. Orders keep the price they were written with; another pack is another offer."""
    return _keep_offer(offer, price_minor, breaks, their_number)


def _keep_offer(
    offer: Offer, price_minor: int | None, breaks: Sequence[PriceFrom], their_number: str
) -> Offer:
    if breaks and price_minor is None:
        raise OfferWrong("Write the price of one pack as well as that of many.")
    if len({each.packs for each in breaks}) < len(breaks):
        raise OfferWrong("The same number of packs stands there twice. Keep one of them.")
    if any(each.packs < 2 for each in breaks):
        raise OfferWrong("A price for many packs begins at two packs.")
    offer.price_minor, offer.their_number = price_minor, one_line(their_number)
    offer.breaks = [[each.packs, each.price_minor] for each in sorted(breaks, key=lambda each: each.packs)]
    offer.save()
    return offer


@transaction.atomic
def retire_offer(*, offer: Offer) -> Offer:
    """They sell it no more, or it is bought elsewhere; orders of it stay."""
    offer.retired_at = offer.retired_at or timezone.now()
    offer.save(update_fields=["retired_at"])
    return offer


def breaks_of(offer: Offer) -> list[PriceFrom]:
    """The price breaks of an offer, the fewest packs first."""
    return [PriceFrom(packs, price_minor) for packs, price_minor in offer.breaks]
