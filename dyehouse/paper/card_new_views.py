"""A card in one step: so many pieces of a colourway on a yarn in a vessel, planned and printed."""

from __future__ import annotations

from typing import Any
from uuid import UUID, uuid4

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from dyehouse.paper.card_new_form import CardForm, colourways_with_ways
from dyehouse.studio.access import SignedInRequest, helper
from dyehouse.studio.answers import SeeOther
from dyehouse.studio.codes import tidy
from dyehouse.studio.refusals import Refused
from recipes.lots.in_store import in_store_today
from recipes.lots.models import RedyePlan
from recipes.lots.redye import RedyeAsk, RedyePreview, plan_redye, preview_redye
from recipes.lots.redye_forms import put_ups_in_use, vessels_to_dye_in


@helper
@require_http_methods(["GET", "POST"])
def card_new(request: SignedInRequest) -> HttpResponse:
    """Four answers, then the card: a page for each pot that is needed. While they are given, how many pots that is."""
    colourways = colourways_with_ways(request.user)
    asking = request.method == "GET" and "pieces" in request.GET
    form = CardForm(
        request.POST if request.method == "POST" else request.GET if asking else None,
        colourways=colourways,
        put_ups=put_ups_in_use(),
        vessels=vessels_to_dye_in(),
        mill_lots=in_store_today().mill_lots,
        initial={"key": uuid4(), "pieces": 5, "colourway": tidy(request.GET.get("colourway", ""))},
    )
    preview: RedyePreview | None = None
    near = None
    if form.is_bound and form.is_valid():
        by = form.chosen_way()
        ask, near = form.ask(by.way), by.near
        try:
            preview = preview_redye(ask)
            if request.method == "POST":
                plan = plan_redye(key=_key(form.cleaned_data["key"], ask), ask=ask, who=request.user)
                if len(preview.pots) > 1:
                    messages.info(request, _many(preview))
                return SeeOther(reverse("dye-cards", args=[plan.pk]))
        except Refused as refused:
            form.add_error(None, str(refused))
    context: dict[str, Any] = {
        "form": form,
        "preview": preview,
        "near": near,
        "many": _many(preview) if preview is not None else "",
        "none": not colourways,
    }
    if request.headers.get("HX-Request"):
        return render(request, "paper/_card_pots.html", context)
    wrong = form.is_bound and form.errors
    return render(request, "paper/card_new.html", context, status=422 if wrong else 200)


def _key(key: UUID, ask: RedyeAsk) -> UUID:
    """The page's key; another one where the page stayed open and now asks for something else."""
    first = RedyePlan.objects.filter(key=key).first()
    asked = (ask.way.pk, ask.put_up.pk, ask.vessel.pk, ask.pieces)
    if first is None or (first.way_id, first.put_up_id, first.vessel_id, first.pieces) == asked:
        return key
    return uuid4()


def _many(preview: RedyePreview) -> str:
    """How many pots, and so how many pages, in a sentence."""
    if len(preview.pots) == 1:
        return f"{preview.split_words}, so one page."
    return f"{preview.ask.vessel} does not take all at once: {preview.split_words}. Each pot has a card, a page each."
