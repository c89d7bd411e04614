"""Sets that belong together, and lots that match by eye."""

from __future__ import annotations

from uuid import uuid5

from django import forms
from django.contrib import messages
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from dyehouse.studio.access import SignedInRequest, helper
from dyehouse.studio.answers import SeeOther
from dyehouse.studio.codes import tidy
from dyehouse.studio.refusals import Refused
from dyehouse.studio.refusing import refusals_beside
from inventory import matching
from inventory.hold_forms import HoldForm
from inventory.holding import HoldUntilWhen, NotHeldFor, hold_by_hand
from inventory.models import LotMatch
from inventory.views import lot_or_404
from recipes.lots.models import DyeLot
from recipes.models import DyedYarn

USUAL_SET = 3


class MatchForm(forms.Form):
    """Which other lot was laid beside it."""

    code = forms.CharField(
        label="Code of the other lot",
        max_length=20,
        widget=forms.TextInput(attrs={"autocapitalize": "characters", "autocomplete": "off"}),
        error_messages={"required": "Write the code of the lot that it matches."},
    )
    words = forms.CharField(label="In a few words", max_length=matching.LONGEST_WORDS, required=False)


@helper
@require_http_methods(["GET", "POST"])
def lot_matches(request: SignedInRequest, code: str) -> HttpResponse:
    """The lots that a lot was found to match in daylight, and saying so of another."""
    lot = lot_or_404(code)
    form = MatchForm(request.POST if request.method == "POST" else None)
    if form.is_bound and form.is_valid():
        other = DyeLot.objects.filter(code=tidy(form.cleaned_data["code"])).first()
        if other is None:
            form.add_error("code", "No lot has this code. It has five characters, as on its tag or label.")
        else:
            with refusals_beside(form, "code"):
                matching.say_they_match(
                    one=lot, other=other, who=request.user, words=form.cleaned_data["words"]
                )
        if not form.errors:
            return SeeOther(reverse("lot-matches", args=[lot.code]))
    context = {
        "lot": lot,
        "name": lot.shown_name(request.user),
        "form": form,
        "matches": [
            (match, match.second if match.first_id == lot.pk else match.first)
            for match in matching.matches_of(lot)
        ],
    }
    return render(request, "inventory/matches.html", context, status=422 if form.errors else 200)


@helper
@require_POST
def match_back(request: SignedInRequest, code: str, pk: int) -> HttpResponse:
    """Two lots do not match after all."""
    lot = lot_or_404(code)
    matching.take_match_back(match=get_object_or_404(LotMatch, pk=pk))
    return SeeOther(reverse("lot-matches", args=[lot.code]))


@helper
@require_http_methods(["GET", "POST"])
def matching_set(request: SignedInRequest, dyed: int) -> HttpResponse:
    """So many pieces for one person that belong together; refused, the next best; taken, they are put aside."""
    of = get_object_or_404(
        DyedYarn.objects.select_related("colourway", "put_up__base", "item"),
        pk=dyed,
        grade=DyedYarn.Grade.GOOD,
    )
    sent = request.POST if request.method == "POST" else request.GET
    pieces, number = _number(sent.get("pieces"), USUAL_SET), _number(sent.get("offer"), 1)
    refused, found = "", []
    try:
        found = matching.offers(dyed=of, pieces=pieces)
    except Refused as why:
        refused = str(why)
    offer = found[min(number, len(found)) - 1] if found else None
    form = HoldForm(request.POST if request.method == "POST" else None, free=pieces)
    if form.is_bound and form.is_valid() and offer is not None:
        with refusals_beside(form, for_whom=NotHeldFor, until=HoldUntilWhen):
            _put_aside(of, offer, form, request)
        if not form.errors:
            messages.success(request, f"{pieces} put aside for {form.cleaned_data['for_whom']}.")
            return SeeOther(reverse("holds"))
    context = {
        "dyed": of,
        "name": of.colourway.shown_name(request.user),
        "pieces": pieces,
        "offer": offer,
        "number": min(number, len(found)) if found else 1,
        "next": number + 1 if number < len(found) else 0,
        "count": len(found),
        "refused": refused,
        "form": form,
    }
    return render(request, "inventory/set.html", context, status=422 if form.errors else 200)


def _number(typed: str | None, usual: int) -> int:
    return int(typed[:4]) if typed and typed.isascii() and typed.isdecimal() and int(typed[:4]) else usual


@transaction.atomic
def _put_aside(of: DyedYarn, offer: matching.Offer, form: HoldForm, request: SignedInRequest) -> None:
    said = form.cleaned_data
    for each in offer.taken:
        hold_by_hand(
            key=uuid5(said["key"], str(each.row.pk)),
            dyed=of,
            dye_lot=each.row.lot.dye_lot,
            place=each.row.place,
            pieces=each.pieces,
            for_whom=said["for_whom"],
            until=said["until"],
            note=said["note"],
            who=request.user,
        )
