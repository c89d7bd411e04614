"""Dye cards as PDF: one pot's, or all that a plan still has to dye."""

from __future__ import annotations

import uuid

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.urls import reverse
from django.views.decorators.http import require_GET

from dyehouse.paper.cards import cards_of
from dyehouse.paper.dye_card import dye_cards
from dyehouse.paper.html_to_pdf import PaperUnavailable
from dyehouse.paper.models import PrintRun
from dyehouse.paper.payloads import payload_of
from dyehouse.paper.runs import record_run
from dyehouse.studio.access import SignedInRequest, helper
from dyehouse.studio.answers import SeeOther
from dyehouse.studio.codes import tidy
from dyehouse.studio.models import Studio
from recipes.lots.models import Pot, RedyePlan
from recipes.lots.untried import untried


def _plan_or_404(**wanted: object) -> RedyePlan:
    plan = (
        RedyePlan.objects.select_related("way__colourway", "way__base", "put_up__base", "mill_lot", "vessel")
        .annotate(way_untried=untried("way"))
        .filter(**wanted)
        .first()
    )
    if plan is None:
        raise Http404("This pot was not planned from a way of dyeing, so it has no card.")
    return plan


@helper
@require_GET
def dye_card(request: SignedInRequest, code: str) -> HttpResponse:
    """The card of one planned pot."""
    plan = _plan_or_404(pots__code=tidy(code))
    pots = _pots(plan)
    return _pdf(request, plan, [pot for pot in pots if pot.code == tidy(code)], pots)


@helper
@require_GET
def plan_cards(request: SignedInRequest, pk: int) -> HttpResponse:
    """The cards of all pots of a plan that are still to be dyed; of all of them when none is."""
    plan = _plan_or_404(pk=pk)
    pots = _pots(plan)
    return _pdf(request, plan, [pot for pot in pots if pot.state == "planned"] or pots, pots)


def _pots(plan: RedyePlan) -> list[Pot]:
    return list(
        Pot.objects.filter(plan=plan)
        .select_related("vessel", "colourway")
        .prefetch_related("loads")
        .order_by("id")
    )


def _pdf(request: SignedInRequest, plan: RedyePlan, pots: list[Pot], all_pots: list[Pot]) -> HttpResponse:
    cards = cards_of(plan, pots, all_pots=all_pots, studio=Studio.current())
    try:
        content = dye_cards(cards)
    except PaperUnavailable as reason:
        messages.error(request, str(reason))
        return SeeOther(reverse("redye-plan", args=[plan.pk]))
    record_run(
        key=uuid.uuid4(),
        kind=PrintRun.Kind.DYE_CARDS,
        who=request.user,
        counts={pot.code: 1 for pot in pots},
        payload={
            "cards": payload_of(cards),
            "pictured": [card.code for card in cards if card.picture is not None],
        },
    )
    name = f"dye-card-{pots[0].code}.pdf" if len(pots) == 1 else f"dye-cards-{plan.pk}.pdf"
    return HttpResponse(
        content, content_type="application/pdf", headers={"Content-Disposition": f'inline; filename="{name}"'}
    )
