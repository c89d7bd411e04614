"""Putting pieces aside by hand, and what becomes of them."""

from __future__ import annotations

from uuid import uuid4

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from dyehouse.ledger.operations import NotEnough
from dyehouse.studio.access import SignedInRequest, helper
from dyehouse.studio.answers import SeeOther
from dyehouse.studio.keys import KeyField
from dyehouse.studio.refusals import Refused
from dyehouse.studio.refusing import refusals_beside
from inventory import holding
from inventory.hold_forms import HoldForm, LetGoForm, LongerForm
from inventory.models import HandHold
from inventory.views import lot_or_404, row_or_404


@helper
@require_http_methods(["GET", "POST"])
def hold_new(request: SignedInRequest, code: str, dyed: int, place: int) -> HttpResponse:
    """Put pieces of a lot aside where they lie."""
    lot = lot_or_404(code)
    row = row_or_404(request, lot, dyed, place)
    free = row.pieces - row.held
    form = HoldForm(request.POST if request.method == "POST" else None, free=free)
    if form.is_bound and form.is_valid():
        with refusals_beside(
            form, for_whom=holding.NotHeldFor, until=holding.HoldUntilWhen, pieces=NotEnough
        ):
            said = form.cleaned_data
            holding.hold_by_hand(
                key=said["key"],
                dyed=row.dyed,
                dye_lot=lot,
                place=row.place,
                pieces=said["pieces"],
                for_whom=said["for_whom"],
                until=said["until"],
                note=said["note"],
                who=request.user,
            )
        if not form.errors:
            messages.success(request, f"Put aside for {said['for_whom']}.")
            return SeeOther(reverse("holds"))
    context = {"lot": lot, "row": row, "form": form, "free": free}
    return render(request, "inventory/hold_new.html", context, status=422 if form.errors else 200)


@helper
@require_GET
def holds(request: SignedInRequest) -> HttpResponse:
    """Everything that is put aside by hand, the one due first at the top."""
    return render(request, "inventory/holds.html", {"holds": holding.open_holds(user=request.user)})


def _hold_page(
    request: SignedInRequest,
    held: HandHold,
    longer: LongerForm | None = None,
    let_go: LetGoForm | None = None,
) -> HttpResponse:
    wrong = bool((longer and longer.errors) or (let_go and let_go.errors))
    line = next((each for each in holding.open_holds(user=request.user) if each.hold.pk == held.pk), None)
    context = {
        "held": held,
        "line": line,
        "name": held.dye_lot.shown_name(request.user),
        "longer": longer or LongerForm(initial={"until": held.until}),
        "let_go": let_go or LetGoForm(),
        "new_key": uuid4(),
    }
    return render(request, "inventory/hold.html", context, status=422 if wrong else 200)


def _held_or_404(pk: int) -> HandHold:
    holds = HandHold.objects.select_related(
        "claim", "dyed__put_up__base", "dye_lot__colourway", "made_by", "ended_by"
    )
    return get_object_or_404(holds, pk=pk)


@helper
@require_GET
def hold(request: SignedInRequest, pk: int) -> HttpResponse:
    """One hold: for whom, what, where, and what may become of it."""
    return _hold_page(request, _held_or_404(pk))


@helper
@require_POST
def hold_longer(request: SignedInRequest, pk: int) -> HttpResponse:
    """Hold until another day."""
    held, form = _held_or_404(pk), LongerForm(request.POST)
    if form.is_valid():
        with refusals_beside(form, "until"):
            holding.hold_longer(held=held, until=form.cleaned_data["until"])
    if form.errors:
        return _hold_page(request, held, longer=form)
    messages.success(request, f"Held for {held.for_whom} until the day you chose.")
    return SeeOther(reverse("holds"))


@helper
@require_POST
def hold_let_go(request: SignedInRequest, pk: int) -> HttpResponse:
    """Make the pieces free again, with a reason."""
    held, form = _held_or_404(pk), LetGoForm(request.POST)
    if form.is_valid():
        with refusals_beside(form, "why"):
            said = form.cleaned_data
            holding.let_go(held=held, key=said["key"], who=request.user, why=said["why"])
    if form.errors:
        return _hold_page(request, held, let_go=form)
    messages.success(request, f"What was held for {held.for_whom} is free again.")
    return SeeOther(reverse("holds"))


@helper
@require_POST
def hold_over(request: SignedInRequest, pk: int) -> HttpResponse:
    """The pieces went to whom they were held for."""
    held = _held_or_404(pk)
    try:
        holding.hand_over(held=held, key=KeyField().clean(request.POST.get("key")), who=request.user)
    except Refused as refused:
        messages.error(request, str(refused))
        return SeeOther(reverse("hold", args=[pk]))
    messages.success(request, f"Handed over to {held.for_whom}.")
    return SeeOther(reverse("holds"))
