"""The day's page: the first that opens."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET

from dyehouse.day.queries import LOTS_SHOWN, day_page
from dyehouse.studio.access import SignedInRequest, helper
from dyehouse.studio.setup import needs_set_up


@helper
@require_GET
def day(request: SignedInRequest) -> HttpResponse:
    """What is in the pots, drying, waiting; the owner's first visit goes to the first minute's questions instead."""
    if request.user.is_owner and needs_set_up(request.studio):
        return redirect("set-up")
    page = day_page(user=request.user)
    context = {"day": page, "lots_shown": LOTS_SHOWN, "lots_left_out": -LOTS_SHOWN}
    return render(request, "day/day.html", context)
