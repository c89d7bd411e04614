"""Pages of rounds: one written down, one looked at, frozen, its boxes paid, let in late, taken out."""

from __future__ import annotations

from typing import Any
from uuid import uuid4

from django.contrib import messages
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from dyehouse.studio.access import SignedInRequest, owner
from dyehouse.studio.answers import SeeOther
from dyehouse.studio.codes import tidy
from dyehouse.studio.keys import KeyField
from dyehouse.studio.models import User
from dyehouse.studio.refusals import Refused
from inventory.kit_queries import kit_choices
from inventory.promises import clubs, freezing, payments
from inventory.promises.club_forms import RoundColourways, RoundForm
from inventory.promises.models import Box, Club, Membership, Payment, Round
from inventory.promises.round_queries import boxes_page, round_page
from recipes.colourways import new_colourway
from recipes.models import Colourway


def _round_or_404(pk: int) -> Round:
    return get_object_or_404(Round.objects.select_related("club", "frozen_by"), pk=pk)


@owner
@require_http_methods(["GET", "POST"])
def round_new(request: SignedInRequest, pk: int) -> HttpResponse:
    """Write down the next round of a club."""
    return _round_form(request, get_object_or_404(Club, pk=pk), None)


@owner
@require_http_methods(["GET", "POST"])
def round_change(request: SignedInRequest, pk: int) -> HttpResponse:
    """Write down what is true of a round now."""
    found = _round_or_404(pk)
    return _round_form(request, found.club, found)


def _round_form(request: SignedInRequest, club: Club, round: Round | None) -> HttpResponse:
    sent = request.POST if request.method == "POST" else None
    initial, colourways = _round_said(round)
    form = RoundForm(sent, initial=initial)
    rows = RoundColourways(
        sent, prefix="colourways", initial=colourways, form_kwargs={"choices": kit_choices(user=request.user)}
    )
    if sent is not None and form.is_valid() and rows.is_valid():
        kept = _keep_round(form, rows, club, round, who=request.user)
        if kept is not None:
            messages.success(request, f"{kept} is kept.")
            return SeeOther(reverse("round", args=[kept.pk]))
    status = 422 if sent is not None else 200
    context = {"form": form, "rows": rows, "club": club, "round": round}
    return render(request, "promises/round_form.html", context, status=status)


def _keep_round(form: RoundForm, rows: Any, club: Club, round: Round | None, *, who: User) -> Round | None:
    """The round as it was said, new colourways with it, all or nothing; None after saying what is wrong beside its field."""
    try:
        with transaction.atomic():
            facts = form.facts(_colourways_said(rows))
            if round is None:
                return clubs.make_round(club=club, facts=facts)
            if round.frozen_at is not None:
                for number, colourway in enumerate(facts.colourways[: round.colourways.count()], start=1):
                    freezing.give_another_colourway(
                        round=round, number=number, colourway=colourway, who=who, why="another colourway"
                    )
            return clubs.change_round(round=round, facts=facts)
    except clubs.DaysOutOfOrder as refused:
        form.add_error("ships_on", str(refused))
    except Refused as refused:
        form.add_error(None, str(refused))
    return None


def _colourways_said(rows: Any) -> list[Colourway]:
    found = []
    for row in rows:
        said = row.cleaned_data
        if said.get("colourway"):
            found.append(Colourway.objects.get(pk=said["colourway"]))
        elif said.get("new_name"):
            found.append(new_colourway(name=said["new_name"]))
    return found


def _round_said(round: Round | None) -> tuple[dict[str, Any], list[dict[str, Any]]]:
    if round is None:
        return {}, []
    initial = {name: getattr(round, name) for name in RoundForm.base_fields if name != "secret_until_day"}
    if round.secret_until is not None:
        initial["secret_until_day"] = timezone.localdate(round.secret_until)
    rows = round.colourways.order_by("number").values_list("colourway", flat=True)
    return initial, [{"colourway": str(pk)} for pk in rows]


@owner
@require_GET
def round(request: SignedInRequest, pk: int) -> HttpResponse:
    """One round: what is next, the numbers with their working, what changed, what is asked."""
    page = round_page(_round_or_404(pk), user=request.user)
    return render(request, "promises/round.html", {"page": page})


@owner
@require_POST
def round_freeze(request: SignedInRequest, pk: int) -> HttpResponse:
    """Close a round: its boxes are made and its numbers kept. Closed before, nothing changes."""
    found = _round_or_404(pk)
    try:
        freezing.freeze(round=found, who=request.user)
    except Refused as refused:
        messages.error(request, str(refused))
    else:
        messages.success(request, "Frozen. What changes from now on is shown as a change.")
    return SeeOther(reverse("round", args=[pk]))


@owner
@require_POST
def round_late(request: SignedInRequest, pk: int) -> HttpResponse:
    """Let a membership into a frozen round by hand."""
    found = _round_or_404(pk)
    said = request.POST.get("membership", "")
    member = get_object_or_404(
        Membership.objects.select_related("level", "base", "receiver"),
        pk=int(said) if said.isdecimal() else 0,
        club=found.club,
    )
    try:
        freezing.let_in_late(
            round=found, membership=member, who=request.user, why=request.POST.get("why", "")[:300]
        )
    except Refused as refused:
        messages.error(request, str(refused))
    else:
        messages.success(request, f"{member.receiver} is in, marked late.")
    return SeeOther(reverse("round", args=[pk]))


@owner
@require_http_methods(["GET", "POST"])
def round_boxes(request: SignedInRequest, pk: int) -> HttpResponse:
    """The boxes of a round, and whether they were paid: many at once."""
    found = _round_or_404(pk)
    if request.method == "POST":
        try:
            messages.success(request, _say_paid(request, found))
        except Refused as refused:
            messages.error(request, str(refused))
        return SeeOther(reverse("round-boxes", args=[pk]))
    return render(request, "promises/round_boxes.html", {"page": boxes_page(found), "new_key": uuid4()})


def _say_paid(request: SignedInRequest, round: Round) -> str:
    ticked = {int(pk) for pk in request.POST.getlist("box") if pk.isdecimal()}
    said = request.POST.get("say", "")
    if said == "all_but":
        paid, failed = payments.all_paid_but(round=round, these=ticked, who=request.user)
        return f"{paid} marked paid, {failed} failed."
    kinds = {"paid": Payment.Kind.PAID, "failed": Payment.Kind.FAILED, "due": Payment.Kind.DUE}
    kind = kinds.get(said, Payment.Kind.DUE)
    boxes = Box.objects.filter(round=round, pk__in=ticked, withdrawn_at=None)
    count = payments.say_paid(boxes=boxes, kind=kind, who=request.user)
    return f"{count} marked {kind.label}."


def _box_or_404(request: SignedInRequest, pk: int) -> Box:
    return get_object_or_404(
        Box.objects.select_related("round"), code=tidy(request.POST.get("box", "")), round=pk
    )


@owner
@require_POST
def round_box_out(request: SignedInRequest, pk: int) -> HttpResponse:
    """Take a box out of a frozen round."""
    box = _box_or_404(request, pk)
    key = KeyField().clean(request.POST.get("key"))
    try:
        freezing.take_out(box=box, key=key, who=request.user, why=request.POST.get("why", "")[:300])
    except Refused as refused:
        messages.error(request, str(refused))
    else:
        messages.success(request, f"Box {box.code} is out; what was held for it is free.")
    return SeeOther(reverse("round-boxes", args=[pk]))


@owner
@require_POST
def round_box_back(request: SignedInRequest, pk: int) -> HttpResponse:
    """Promise a box again that was taken out."""
    box = _box_or_404(request, pk)
    freezing.take_in_again(box=box, who=request.user)
    messages.success(request, f"Box {box.code} is promised again.")
    return SeeOther(reverse("round-boxes", args=[pk]))
