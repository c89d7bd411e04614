"""What a piece is sold for: by base and put-up, a colourway's own where it has one, and of kits; with every earlier price.

Money is whole smallest units of the studio's currency. Other rooms ask `retail_prices` once and look up what they need.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import TypeVar
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from dyehouse.studio.models import Studio, User
from dyehouse.studio.refusals import Refused
from inventory.costing.models import RetailPrice
from inventory.models import Kit
from recipes.models import Colourway, PutUp

K = TypeVar("K")


class PriceOfNothing(Refused):
    """A price without what it is of, or an end of a price that never was."""


@dataclass(frozen=True, slots=True)
class Prices:
    """Retail prices of a day, in smallest units of one currency."""

    currency: str
    of_put_up: dict[int, int] = field(default_factory=dict)
    of_colourway: dict[tuple[int, int], int] = field(default_factory=dict)
    of_kit: dict[int, int] = field(default_factory=dict)

    def of(self, *, put_up_id: int, colourway_id: int | None = None) -> int | None:
        """What a piece sells for: the colourway's own price on the put-up, else the put-up's. None where nobody said."""
        own = self.of_colourway.get((put_up_id, colourway_id)) if colourway_id is not None else None
        return own if own is not None else self.of_put_up.get(put_up_id)


def retail_prices(on: dt.date | None = None, *, currency: str = "") -> Prices:
    """All retail prices as they hold on a day, today unless said otherwise. One query where the currency is given."""
    currency = currency or Studio.current().currency
    prices = Prices(currency)
    # Later days and later entries come last and hold; what is in money of another day does not.
    said = RetailPrice.objects.filter(from_day__lte=on or timezone.localdate(), currency=currency)
    for row in said.order_by("from_day", "id"):
        if row.kit_id is not None:
            _hold(prices.of_kit, row.kit_id, row.minor)
        elif row.colourway_id is not None:
            _hold(prices.of_colourway, (row.put_up_id or 0, row.colourway_id), row.minor)
        else:
            _hold(prices.of_put_up, row.put_up_id or 0, row.minor)
    return prices


def _hold(prices: dict[K, int], key: K, minor: int | None) -> None:
    if minor is None:
        prices.pop(key, None)
    else:
        prices[key] = minor


@transaction.atomic
def say_price(
    *,
    key: UUID,
    minor: int | None,
    who: User,
    put_up: PutUp | None = None,
    colourway: Colourway | None = None,
    kit: Kit | None = None,
    from_day: dt.date | None = None,
) -> RetailPrice:
    """Write down what is asked from a day on, in the studio's money; None ends a price. What was said before stays.

    The same key again gives the first. Raises PriceOfNothing.
    """
    first = RetailPrice.objects.filter(key=key).first()
    if first is not None:
        return first
    if (put_up is None) == (kit is None):
        raise PriceOfNothing("Say what the price is of: a yarn at a weight, or a kit.")
    if minor is not None and minor < 1:
        raise PriceOfNothing("A price is more than nothing. Leave it empty to end it.")
    return RetailPrice.objects.create(
        key=key,
        put_up=put_up,
        colourway=colourway if put_up is not None else None,
        kit=kit,
        minor=minor,
        currency=Studio.current().currency,
        from_day=from_day or timezone.localdate(),
        said_at=timezone.now(),
        by=who,
    )


def price_history(*, put_up: PutUp | None = None, kit: Kit | None = None) -> Iterable[RetailPrice]:
    """Everything that was said of the price of a yarn or a kit, the newest day first. One query."""
    rows = (
        RetailPrice.objects.filter(put_up=put_up)
        if put_up is not None
        else RetailPrice.objects.filter(kit=kit)
    )
    return rows.select_related("colourway", "by").order_by("-from_day", "-id")[:100]
