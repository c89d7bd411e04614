"""Lengths and sizes as a stylesheet writes them, in any language's number format."""

from __future__ import annotations

from typing import Any

from django import template

from dyehouse.paper.forms import SheetForm
from dyehouse.paper.sheet_picture import filling, sheet_picture

register = template.Library()


@register.filter
def mm(um: int) -> str:
    """Micrometres as CSS millimetres: 63500 is 63.500mm."""
    sign, size = ("-", -um) if um < 0 else ("", um)
    return f"{sign}{size // 1000}.{size % 1000:03d}mm"


@register.filter
def millimetres(um: int) -> str:
    """Micrometres as people read them, to a hundredth: 7250 is 7.25, 63500 is 63.5."""
    hundredths = (um + 5) // 10
    whole, rest = divmod(hundredths, 100)
    return f"{whole}.{rest:02d}".rstrip("0").rstrip(".")


@register.filter
def pt(tenths: int) -> str:
    """Tenths of a point as CSS points: 135 is 13.5pt."""
    return f"{tenths // 10}.{tenths % 10}pt"


@register.inclusion_tag("paper/_sheet_fields.html")
def sheet_fields(form: SheetForm) -> dict[str, Any]:
    """Sheet, first label with a picture to pick it on, and how far the printer is out."""
    sheet, typed = form.shown_sheet, str(form["start_at"].value())
    start_at = int(typed) if typed.isascii() and typed.isdecimal() and len(typed) < 6 else 1
    return {
        "form": form,
        "picture": sheet_picture(sheet, start_at=start_at, count=form.asked),
        "filled": filling(sheet, start_at=start_at, count=form.asked),
        "labels_a_sheet": sheet.labels,
        "from_memory": sheet.from_memory,
    }
