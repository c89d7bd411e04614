"""Amounts of what is bought, by the unit of the thing."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

from django import template

from dyehouse.ledger.models import Item
from dyehouse.studio.templatetags.house import NOTHING
from inventory.allocation.reorder import saying

register = template.Library()


@register.filter
def of_item(quantity: Any, item: Item) -> str:
    """So much of an item: `{{ 20|of_item:item }}` is 20 pieces, 100 g or 500 ml."""
    return NOTHING if quantity in (None, "") else saying(item.unit)(Fraction(quantity))


@register.filter
def each_of(pack_quantity: int, item: Item) -> str:
    """What is in a pack: pack of 10, 100 g."""
    return f"pack of {pack_quantity}" if item.unit == Item.Unit.PIECE else saying(item.unit)(pack_quantity)
