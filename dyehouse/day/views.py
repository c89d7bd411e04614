"""The day's page, the first that opens, and the page that closes the day."""

from __future__ import annotations

from uuid import uuid4

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from dyehouse.day.closing import closing_page
from dyehouse.day.queries import LOTS_SHOWN, day_page
from dyehouse.studio.access import SignedInRequest, helper
from dyehouse.studio.answers import SeeOther
from dyehouse.studio.refusals import Refused
from dyehouse.studio.setup import needs_set_up
from recipes.lots.closing import close_day, heat_is_off, leave_on_overnight
from recipes.lots.forms import KeptForm
from recipes.lots.views import in_us_units, pot_or_404


@helper
@require_GET
def day(request: SignedInRequest) -> HttpResponse:
    """What is in the pots, drying, waiting; the owner's first visit goes to the first minute's questions instead."""
    if request.user.is_owner and needs_set_up(request.studio):
        return redirect("set-up")
    page = day_page(user=request.user)
    context = {"day": page, "lots_shown": LOTS_SHOWN, "lots_left_out": -LOTS_SHOWN}
    return render(request, "day/day.html", context)


@helper
@require_http_methods(["GET", "POST"])
def day_close(request: SignedInRequest) -> HttpResponse:
    """Go through the pots whose heat was last recorded on, then close the day."""
    refused = ""
    if request.method == "POST":
        form = KeptForm(request.POST)
        form.is_valid()
        try:
            close_day(key=form.cleaned_data["key"], who=request.user)
        except Refused as waiting:
            refused = str(waiting)
        else:
            messages.success(request, "The day is closed. Good night.")
            return SeeOther(reverse("day"))
    page = closing_page(user=request.user, us=in_us_units(request))
    context = {"page": page, "refused": refused, "new_key": uuid4}
    return render(request, "day/close.html", context, status=422 if refused else 200)


@helper
@require_POST
def day_close_pot(request: SignedInRequest, code: str) -> HttpResponse:
    """Write down what was found at a pot: its heat is off now, or it stays on overnight."""
    pot = pot_or_404(code)
    form = KeptForm(request.POST)
    form.is_valid()
    said = {"pot": pot, "key": form.cleaned_data["key"], "who": request.user, "now": form.at}
    try:
        if request.POST.get("found") == "stays":
            leave_on_overnight(**said, words=request.POST.get("words", ""))
        else:
            heat_is_off(**said)
    except Refused as refused:
        messages.error(request, str(refused))
    return SeeOther(reverse("day-close"))
