"""The page on which a colourway is planned again, and the plan's own page."""

from __future__ import annotations

from typing import Any
from uuid import uuid4

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from dyehouse.studio.access import SignedInRequest, helper
from dyehouse.studio.answers import SeeOther
from dyehouse.studio.codes import tidy
from dyehouse.studio.refusals import Refused
from recipes.lots.in_store import in_store_today
from recipes.lots.mill_lots import SplitOverLots, split_of_redye
from recipes.lots.models import Pot, RedyePlan
from recipes.lots.nearest import WayOnBase, way_for
from recipes.lots.redye import drop_planned, plan_redye, preview_redye
from recipes.lots.redye_forms import (
    RedyeForm,
    first_answers,
    put_ups_in_use,
    vessels_to_dye_in,
    ways_to_dye,
)
from recipes.lots.redye_queries import RedyePage, plan_page, redye_page
from recipes.lots.sampling import plan_sample
from recipes.lots.untried import untried
from recipes.lots.views import in_us_units, pot_or_404, studio_of
from recipes.models import Colourway


@helper
@require_http_methods(["GET", "POST"])
def redye(request: SignedInRequest, code: str) -> HttpResponse:
    """Ask how many of what; show the pots with all their amounts before anything is written; then plan them."""
    ways = ways_to_dye(tidy(code))
    if not ways:
        colourway = get_object_or_404(Colourway, code=tidy(code))
        context = {"colourway": colourway, "name": colourway.shown_name(request.user)}
        return render(request, "lots/redye_none.html", context)
    colourway = ways[0].colourway
    sent = request.POST if request.method == "POST" else request.GET if "pieces" in request.GET else None
    put_ups, store = put_ups_in_use(), in_store_today()
    wanted = (request.POST if request.method == "POST" else request.GET).get("put_up")
    put_up = next((each for each in put_ups if str(each.pk) == wanted), None)
    by = way_for(ways, put_up.base) if put_up is not None else WayOnBase(ways[0].base, ways[0])
    way = by.way
    if request.method == "POST":
        # What is planned is what was shown, also when the way was corrected meanwhile.
        way = next((each for each in ways if str(each.pk) == request.POST.get("way")), way)
    form = RedyeForm(
        sent,
        put_ups=put_ups,
        vessels=vessels_to_dye_in(),
        mill_lots=store.mill_lots,
        initial=first_answers(way=way, put_up=put_up) if sent is None else None,
    )
    page: RedyePage | None = None
    split: SplitOverLots | None = None
    if sent is not None and form.is_valid():
        ask = form.ask(way)
        try:
            if request.method == "POST":
                plan = plan_redye(key=form.cleaned_data["key"], ask=ask, who=request.user)
                if "sample" in request.POST:
                    plan_sample(plan=plan, who=request.user)
                return SeeOther(reverse("redye-plan", args=[plan.pk]))
            page = redye_page(
                preview_redye(ask), studio=studio_of(request), store=store, us=in_us_units(request)
            )
            split = split_of_redye(
                put_up=ask.put_up,
                mill_lot=ask.mill_lot,
                pieces=ask.pieces,
                there=store.yarn.get(ask.put_up.item_id, []),
            )
        except Refused as refused:
            form.add_error(None, str(refused))
    context = {
        "colourway": colourway,
        "name": colourway.shown_name(request.user),
        "way": way,
        "near": by.near if by.way == way else None,
        "form": form,
        "page": page,
        "split": split,
        "new_key": uuid4(),
    }
    return render(request, "lots/redye.html", context, status=422 if form.is_bound and form.errors else 200)


@helper
@require_GET
def redye_plan(request: SignedInRequest, pk: int) -> HttpResponse:
    """The planned pots of one redye, with their cards."""
    plan = (
        RedyePlan.objects.select_related(
            "way__colourway", "way__base", "put_up__base", "mill_lot", "vessel", "made_by"
        )
        .annotate(way_untried=untried("way"))
        .filter(pk=pk)
        .first()
    )
    if plan is None:
        raise Http404("There is no such plan.")
    page = plan_page(plan, studio=studio_of(request), us=in_us_units(request))
    context: dict[str, Any] = {
        "plan": plan,
        "name": plan.way.colourway.shown_name(request.user),
        "shows_photos": plan.way.colourway.may_be_seen_by(request.user),
        "page": page,
        "split": page.split,
    }
    return render(request, "lots/redye_plan.html", context)


@helper
@require_POST
def redye_sample(request: SignedInRequest, pk: int) -> HttpResponse:
    """Plan a sample before the pots of a plan."""
    plans = RedyePlan.objects.select_related("way__colourway", "put_up__base", "mill_lot")
    plan_sample(plan=get_object_or_404(plans, pk=pk), who=request.user)
    return SeeOther(reverse("redye-plan", args=[pk]))


@helper
@require_POST
def pot_drop(request: SignedInRequest, code: str) -> HttpResponse:
    """Give up a planned pot."""
    pot: Pot = pot_or_404(code)
    try:
        drop_planned(pot=pot, who=request.user)
    except Refused as refused:
        messages.error(request, str(refused))
    else:
        messages.success(request, f"Pot {pot.code} is dropped; its yarn is free again.")
    if pot.plan_id is None:
        return SeeOther(reverse("pots"))
    return SeeOther(reverse("redye-plan", args=[pot.plan_id]))
