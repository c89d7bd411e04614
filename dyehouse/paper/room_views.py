"""The printing room: what can be printed, and what was."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from dyehouse.paper.room import printing_room
from dyehouse.studio.access import SignedInRequest, helper


@helper
@require_GET
def printing(request: SignedInRequest) -> HttpResponse:
    """What waits to be printed, every kind of paper, and what was printed with the same again."""
    page = request.GET.get("page", "")
    room = printing_room(
        user=request.user,
        kind=request.GET.get("kind", ""),
        page=max(1, int(page)) if page.isascii() and page.isdecimal() and len(page) < 6 else 1,
    )
    return render(request, "paper/printing.html", {"room": room})
