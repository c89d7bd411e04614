"""Who gets which skein: worked out, looked at, pinned, exchanged, held, taken back."""

from __future__ import annotations

import uuid
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from dyehouse.studio.access import SignedInRequest, owner
from dyehouse.studio.answers import SeeOther
from dyehouse.studio.codes import tidy
from dyehouse.studio.keys import KeyField
from dyehouse.studio.refusals import Refused
from inventory.promises import giving, holding_given
from inventory.promises.giving_table import Of, boxes_waiting, of_what
from inventory.promises.models import Box, Product, Round, WorkedOut
from recipes.lots.models import DyeLot

EARLIER_SHOWN = 10


@owner
@require_http_methods(["GET", "POST"])
def round_allocate(request: SignedInRequest, pk: int) -> HttpResponse:
    """What waits for pieces in a round; working it out."""
    return _allocate(request, get_object_or_404(Round.objects.select_related("club"), pk=pk))


@owner
@require_http_methods(["GET", "POST"])
def product_allocate(request: SignedInRequest, pk: int) -> HttpResponse:
    """What waits for pieces of a product; working it out."""
    return _allocate(request, get_object_or_404(Product, pk=pk))


def _allocate(request: SignedInRequest, of: Of) -> HttpResponse:
    if request.method == "POST":
        key = KeyField().clean(request.POST.get("key"))
        try:
            worked = giving.work_out(of=of, key=key, who=request.user)
        except Refused as refused:
            messages.error(request, str(refused))
            return SeeOther(request.path)
        return SeeOther(reverse("round-given", args=[worked.key]))
    waiting = boxes_waiting(of)
    earlier = WorkedOut.objects.filter(**_mine(of)).select_related("by", "movement").order_by("-pk")
    context = {
        "of": of,
        "back": _page_of(of),
        "boxes": len(waiting),
        "pieces": sum(stand.wanted_pieces - stand.held_pieces for stand in waiting),
        "earlier": earlier[:EARLIER_SHOWN],
        "key": uuid.uuid4(),
    }
    return render(request, "promises/allocate.html", context)


def _mine(of: Of) -> dict[str, Of]:
    return {"round": of} if isinstance(of, Round) else {"product": of}


def _page_of(of: Of) -> str:
    return reverse("round" if isinstance(of, Round) else "product", args=[of.pk])


@owner
@require_GET
def given(request: SignedInRequest, key: UUID) -> HttpResponse:
    """An answer: who gets which and why, what stands in the way of the others, and holding it."""
    worked = _found(key)
    of = of_what(worked)
    page = giving.giving_page(worked) if worked.movement is None else None
    context = {
        "worked": worked,
        "page": page,
        "of": of,
        "back": _page_of(of),
        "held": worked.movement is not None and worked.taken_back_at is None,
        "key": uuid.uuid4(),
    }
    return render(request, "promises/given.html", context)


@owner
@require_POST
def given_again(request: SignedInRequest, key: UUID) -> HttpResponse:
    """Works it out again; nothing moves that need not."""
    return _again(request, _found(key))


@owner
@require_POST
def given_pin(request: SignedInRequest, key: UUID) -> HttpResponse:
    """Pins a lot to a box, forbids it, or takes that back; then works it out again."""
    worked = _found(key)
    box = get_object_or_404(Box, code=tidy(request.POST.get("box", "")))
    lot = DyeLot.objects.filter(code=tidy(request.POST.get("lot", ""))).first()
    if lot is None:
        messages.error(request, "There is no lot of this code. Write it as it stands on the label.")
        return SeeOther(reverse("round-given", args=[key]))
    said = request.POST.get("must", "")
    if said in ("yes", "no"):
        giving.pin(box=box, dye_lot=lot, must=said == "yes", who=request.user)
    else:
        giving.unpin(box=box, dye_lot=lot)
    return _again(request, worked)


def _again(request: SignedInRequest, worked: WorkedOut) -> HttpResponse:
    try:
        new = giving.work_out(of=of_what(worked), key=uuid.uuid4(), who=request.user, earlier=worked)
    except Refused as refused:
        messages.error(request, str(refused))
        return SeeOther(reverse("round-given", args=[worked.key]))
    return SeeOther(reverse("round-given", args=[new.key]))


@owner
@require_POST
def given_exchange(request: SignedInRequest, key: UUID) -> HttpResponse:
    """Two boxes exchange what they get."""
    worked = _found(key)
    try:
        new = giving.exchange(
            worked=worked,
            one=tidy(request.POST.get("one", "")),
            other=tidy(request.POST.get("other", "")),
            key=uuid.uuid4(),
            who=request.user,
        )
    except Refused as refused:
        messages.error(request, str(refused))
        return SeeOther(reverse("round-given", args=[key]))
    return SeeOther(reverse("round-given", args=[new.key]))


@owner
@require_POST
def given_hold(request: SignedInRequest, key: UUID) -> HttpResponse:
    """Holds every piece of the answer."""
    worked = _found(key)
    try:
        holding_given.hold_all(worked=worked, key=KeyField().clean(request.POST.get("key")), who=request.user)
    except Refused as refused:
        messages.error(request, str(refused))
        return SeeOther(reverse("round-given", args=[key]))
    boxes = len({box for box, *_ in worked.pieces})
    messages.success(request, f"{boxes} {'box is' if boxes == 1 else 'boxes are'} held whole.")
    return SeeOther(_page_of(of_what(worked)))


@owner
@require_POST
def given_back(request: SignedInRequest, key: UUID) -> HttpResponse:
    """Undoes a holding, with a reason."""
    worked = _found(key)
    try:
        holding_given.take_back(
            worked=worked,
            key=KeyField().clean(request.POST.get("key")),
            who=request.user,
            why=request.POST.get("why", ""),
        )
    except Refused as refused:
        messages.error(request, str(refused))
        return SeeOther(reverse("round-given", args=[key]))
    messages.success(request, "What was held by it is free again.")
    return SeeOther(_page_of(of_what(worked)))


def _found(key: UUID) -> WorkedOut:
    return get_object_or_404(
        WorkedOut.objects.select_related("round__club", "product", "by", "movement"), key=key
    )
