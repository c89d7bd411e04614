"""The pages of the pots: the list, loading one, and the pot itself."""

from __future__ import annotations

from typing import Any
from uuid import uuid4

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from dyehouse.studio.access import SignedInRequest, helper
from dyehouse.studio.answers import SeeOther
from dyehouse.studio.codes import tidy
from dyehouse.studio.models import Studio
from dyehouse.studio.refusals import Refused
from recipes.lots import pots as operations
from recipes.lots.departing import learned_from
from recipes.lots.forms import KeptForm, LoadForm, PlannedLoadForm, WeightForm
from recipes.lots.loading import mill_lots_for, what_can_be_loaded
from recipes.lots.models import Pot
from recipes.lots.queries import loads_of, pot_page, pots_page
from recipes.lots.untried import untried


def pot_or_404(code: str) -> Pot:
    """The pot of a code, however it was typed, with what its pages show of it."""
    pots = Pot.objects.select_related("colourway", "vessel", "dye_lot", "way__base", "started_by")
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
    """The pots in work, planned and lately out."""
    return render(request, "lots/pots.html", {"page": pots_page(user=request.user)})


@helper
@require_http_methods(["GET", "POST"])
def pot_new(request: SignedInRequest) -> HttpResponse:
    """Load a pot to try a colour."""
    sent = request.POST if request.method == "POST" else None
    wanted = (sent or request.GET).get("put_up", "")
    choices = what_can_be_loaded(put_up_id=int(wanted) if wanted.isdecimal() else None)
    if choices.put_up is None:
        return render(request, "lots/pot_new.html", {"choices": choices})
    form = LoadForm(
        sent,
        initial={**choices.initial, "key": uuid4()},
        put_up=choices.put_up,
        mill_lots=choices.mill_lots,
        vessels=choices.vessels,
        colourways=choices.colourways,
        user=request.user,
    )
    if sent is not None and form.is_valid():
        try:
            pot = operations.start_trial(
                key=form.cleaned_data["key"],
                put_up=choices.put_up,
                mill_lot=form.chosen_mill_lot,
                pieces=form.cleaned_data["pieces"],
                dry_milligrams=form.cleaned_data["dry_weight"],
                vessel=form.chosen_vessel,
                colourway=form.chosen_colourway,
                who=request.user,
                happened_at=form.at,
            )
        except Refused as refused:
            form.add_error(None, str(refused))
        else:
            return SeeOther(reverse("pot", args=[pot.code]))
    context = {"choices": choices, "form": form}
    return render(request, "lots/pot_new.html", context, status=422 if form.errors else 200)


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


@helper
@require_http_methods(["GET", "POST"])
def pot_load(request: SignedInRequest, code: str) -> HttpResponse:
    """Load a planned pot."""
    pot = pot_or_404(code)
    if request.method == "GET" and pot.state != "planned":
        return SeeOther(reverse("pot", args=[pot.code]))
    loads = loads_of(pot)
    form = PlannedLoadForm(
        request.POST if request.method == "POST" else None,
        initial={"key": uuid4(), "mill_lot": str(loads[0].mill_lot_id) if loads else ""},
        mill_lots=mill_lots_for(loads),
        planned_milligrams=sum(load.dry_milligrams for load in loads),
    )
    if request.method == "POST" and form.is_valid():
        try:
            operations.load_planned(
                key=form.cleaned_data["key"],
                pot=pot,
                mill_lot=form.chosen_mill_lot,
                dry_milligrams=form.cleaned_data["dry_weight"],
                who=request.user,
                happened_at=form.at,
            )
        except Refused as refused:
            form.add_error(None, str(refused))
        else:
            return SeeOther(reverse("pot", args=[pot.code]))
    context = {"pot": pot, "name": pot.colourway.shown_name(request.user), "loads": loads, "form": form}
    return render(request, "lots/pot_load.html", context, status=422 if form.errors else 200)


@helper
@require_POST
def pot_unload(request: SignedInRequest, code: str) -> HttpResponse:
    """Put the yarn back: the pot was not dyed."""
    pot = pot_or_404(code)
    form = KeptForm(request.POST)
    form.is_valid()
    try:
        operations.unload_untouched(key=form.cleaned_data["key"], pot=pot, who=request.user)
    except Refused as refused:
        messages.error(request, str(refused))
        return SeeOther(reverse("pot", args=[pot.code]))
    messages.success(request, f"The yarn of pot {pot.code} is back in the store.")
    return SeeOther(reverse("pots"))


@helper
@require_http_methods(["GET", "POST"])
def pot_weight(request: SignedInRequest, code: str) -> HttpResponse:
    """The dry weight of what is in a pot, weighed after all."""
    pot = pot_or_404(code)
    loads = loads_of(pot)
    dry = sum(load.dry_milligrams for load in loads)
    form = WeightForm(request.POST if request.method == "POST" else None, initial={"dry_weight": dry})
    if request.method == "POST" and form.is_valid():
        try:
            operations.weigh_load(pot=pot, dry_milligrams=form.cleaned_data["dry_weight"])
        except Refused as refused:
            form.add_error("dry_weight", str(refused))
        else:
            return SeeOther(reverse("pot", args=[pot.code]))
    context = {"pot": pot, "name": pot.colourway.shown_name(request.user), "loads": loads, "form": form}
    return render(request, "lots/pot_weight.html", context, status=422 if form.errors else 200)
