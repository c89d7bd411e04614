"""What the pages of shows need of a template."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django import template

register = template.Library()


@register.filter
def of(values: Any, name: str) -> Any:
    """What a mapping has under a name; an empty text where it has nothing."""
    return values.get(name, "") if isinstance(values, Mapping) or hasattr(values, "get") else ""
