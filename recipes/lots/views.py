"""The pages of the pots: the list, and the pot itself."""

from __future__ import annotations

from typing import Any
from uuid import uuid4

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from dyehouse.studio.access import SignedInRequest, helper
from dyehouse.studio.codes import tidy
from dyehouse.studio.models import Studio
from recipes.lots.board import board
from recipes.lots.deeds import learned_from
from recipes.lots.models import Pot
from recipes.lots.queries import pot_page
from recipes.lots.untried import untried


def pot_or_404(code: str) -> Pot:
    """The pot of a code, however it was typed, with what its pages show of it."""
    pots = Pot.objects.select_related(
        "colourway", "vessel", "dye_lot", "way__base", "started_by", "bath_from"
    )
    pot = pots.annotate(way_untried=untried("way"), **learned_from("pk")).filter(code=tidy(code)).first()
    if pot is None:
        raise Http404("There is no pot with this code.")
    return pot


def in_us_units(request: SignedInRequest) -> bool:
    """Whether the studio reads US measures beside the metric, and degrees without a letter as °F."""
    studio: Studio | None = getattr(request, "studio", None)
    return studio is not None and studio.units == Studio.Units.US


def studio_of(request: SignedInRequest) -> Studio:
    """The studio, as the middleware read it."""
    return getattr(request, "studio", None) or Studio.current()


def show_pot(
    request: SignedInRequest, pot: Pot, *, refused: dict[str, Any] | None = None, fragment: str = ""
) -> HttpResponse:
    """The page of a pot, or the parts of it that change with every entry; with what was refused, if anything was."""
    us = in_us_units(request)
    context = {
        "page": pot_page(pot, user=request.user, us=us),
        "pot": pot,
        "refused": refused,
        "new_key": uuid4,
        "degrees": "°F" if us else "°C",
    }
    return render(request, f"lots/{fragment or 'pot'}.html", context, status=422 if refused else 200)


@helper
@require_GET
def pots(request: SignedInRequest) -> HttpResponse:
    """The board of the pots in work, and those planned and lately out; with `live` only the board, with `mine` only theirs."""
    shown = board(user=request.user, only_mine=bool(request.GET.get("mine")), us=in_us_units(request))
    if not request.GET.get("live"):
        return render(request, "lots/pots.html", {"page": shown})
    parts = render(request, "lots/_board.html", {"page": shown})
    # Tells the script that this is the board, and not the sign-in page that a redirect led to.
    parts["X-Kept"] = "board"
    return parts


@helper
@require_GET
def pot(request: SignedInRequest, code: str) -> HttpResponse:
    """One pot: what is in it, the line to write in, the bench, and the log; with `live` only the parts that change."""
    pot = pot_or_404(code)
    if not request.GET.get("live"):
        return show_pot(request, pot)
    parts = show_pot(request, pot, fragment="_live")
    parts["X-Kept"] = pot.code
    return parts
