"""Which page of a long list was asked for."""

from __future__ import annotations

from django.http import HttpRequest

FURTHEST = 200


def page_asked(request: HttpRequest) -> int:
    """The page number in the address, from 1; 1 when it is none."""
    asked = request.GET.get("page", "1")
    if not (asked.isascii() and asked.isdecimal()):
        return 1
    return min(max(int(asked[:9]), 1), FURTHEST)
