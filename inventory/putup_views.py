"""Pages of winding off: a skein into minis, a cone into skeins, half skeins into whole ones."""

from __future__ import annotations

import uuid

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from dyehouse.studio.access import SignedInRequest, helper
from dyehouse.studio.answers import SeeOther
from dyehouse.studio.keys import KeyField
from dyehouse.studio.refusals import Refused
from dyehouse.studio.refusing import refusals_beside
from inventory import putups as operations
from inventory.models import PutUpChange
from inventory.putup_forms import WindForm
from inventory.views import lot_or_404, row_or_404
from recipes.models import MillLot, PutUp


@helper
@require_GET
def putups(request: SignedInRequest) -> HttpResponse:
    """What was wound off, the newest first."""
    context = {"lines": operations.changes(user=request.user), "new_key": uuid.uuid4()}
    return render(request, "inventory/putups.html", context)


@helper
@require_http_methods(["GET", "POST"])
def putup_dyed(request: SignedInRequest, code: str, dyed: int, place: int) -> HttpResponse:
    """Wind off pieces of a lot where they lie; they stay of the lot."""
    lot = lot_or_404(code)
    row = row_or_404(request, lot, dyed, place)
    wound = operations.ToWind(operations.Dyed(row.dyed, lot, row.place), row.pieces - row.held, row.held)
    name = lot.shown_name(request.user)
    facts = {
        "heading": lot.code if name == lot.code else f"{name} {lot.code}",
        "where": row.place.name,
        "grade": row.grade,
        "back": reverse("lot", args=[lot.code]),
        "back_words": f"Lot {lot.code}",
    }
    return _wind(request, wound, row.dyed.put_up, facts)


@helper
@require_http_methods(["GET", "POST"])
def putup_undyed(request: SignedInRequest, pk: int, put_up_pk: int) -> HttpResponse:
    """Wind off undyed pieces in the store; they stay of their mill lot."""
    put_up = get_object_or_404(PutUp.objects.select_related("base", "item"), pk=put_up_pk)
    mill_lot = get_object_or_404(MillLot.objects.select_related("lot"), pk=pk, base=put_up.base_id)
    facts = {
        "heading": "mill lot not known" if mill_lot.unknown else f"mill lot {mill_lot.number}",
        "where": "The store",
        "grade": "",
        "back": reverse("mill-lot", args=[mill_lot.pk, put_up.pk]),
        "back_words": put_up.base.name,
    }
    return _wind(request, operations.undyed_to_wind(mill_lot=mill_lot, put_up=put_up), put_up, facts)


def _wind(
    request: SignedInRequest, wound: operations.ToWind, put_up: PutUp, facts: dict[str, str]
) -> HttpResponse:
    others = operations.put_ups_for(put_up)
    typed = request.GET if "pieces" in request.GET else None
    form = WindForm(request.POST if request.method == "POST" else typed, free=wound.free, put_ups=others)
    context = {"form": form, "wound": wound, "put_up": put_up, "others": others, **facts}
    if form.is_bound:
        form.is_valid()
        pieces = form.cleaned_data.get("pieces")
        if pieces and form.made:
            context["figure"] = operations.waste(put_up=put_up, pieces=pieces, made=form.made)
    if request.method == "GET" and form.is_bound:
        return render(request, "inventory/_putup_waste.html", context)
    if form.is_bound and form.is_valid():
        with refusals_beside(form, "pieces", why=operations.WhyWaste):
            change = operations.change_put_up(
                key=form.cleaned_data["key"],
                of=wound.of,
                pieces=form.cleaned_data["pieces"],
                made=form.made,
                who=request.user,
                why=form.cleaned_data["why"],
            )
        if not form.errors:
            messages.success(request, f"{change.movement.why}.")
            return SeeOther(facts["back"])
    return render(request, "inventory/putup.html", context, status=422 if form.errors else 200)


@helper
@require_POST
def putup_back(request: SignedInRequest, pk: int) -> HttpResponse:
    """Take a winding off back, with a reason: the pieces are as they were."""
    change = get_object_or_404(PutUpChange.objects.select_related("movement"), pk=pk)
    try:
        operations.take_change_back(
            key=KeyField().clean(request.POST.get("key")),
            change=change,
            who=request.user,
            why=request.POST.get("why", "")[: operations.LONGEST_REASON],
        )
    except Refused as refused:
        messages.error(request, str(refused))
    else:
        messages.success(request, "Taken back: the pieces are as they were.")
    return SeeOther(reverse("putup"))
