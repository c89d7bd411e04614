"""Lengths and sizes as a stylesheet writes them, in any language's number format."""

from __future__ import annotations

from django import template

register = template.Library()


@register.filter
def mm(um: int) -> str:
    """Micrometres as CSS millimetres: 63500 is 63.500mm."""
    sign, size = ("-", -um) if um < 0 else ("", um)
    return f"{sign}{size // 1000}.{size % 1000:03d}mm"


@register.filter
def pt(tenths: int) -> str:
    """Tenths of a point as CSS points: 135 is 13.5pt."""
    return f"{tenths // 10}.{tenths % 10}pt"
