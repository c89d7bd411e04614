"""What the pages say of a load, alike wherever it is shown."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import template
from django.template.context import RequestContext

from recipes.lots import load_words as words
from recipes.lots.models import Pot, PotLoad

register = template.Library()


@register.simple_tag(takes_context=True)
def what_lies_in(context: RequestContext, pot: Pot, loads: Sequence[PotLoad]) -> str:
    """All that lies in a pot in a line: `{% what_lies_in pot loads %}` is 3 × Heron Sock, 100 g; a strip of 12 g."""
    us = bool(context.get("us_units"))
    return words.load_words(list(loads), strip_milligrams=pot.strip_milligrams, us=us)


@register.filter
def before_words(load: PotLoad) -> str:
    """What the pieces of a line were before; empty for undyed yarn."""
    return words.before_words(load)


@register.filter
def mill_lot_words(load: Any) -> str:
    """The mill lot of a line, or that nobody knows it."""
    return words.mill_lot_words(load)
