"""Boxes of days: how each day stands, laying days out over the boxes, and counting what is left."""

from __future__ import annotations

import re
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_POST

from dyehouse.studio.access import SignedInRequest, helper
from dyehouse.studio.answers import SeeOther
from dyehouse.studio.refusals import Refused
from inventory.promises.days import CannotLayOut, days_page, lay_out, leftovers, take_out
from inventory.promises.models import Offer

MOST_NUMBERS = 400


@helper
@require_GET
def days(request: SignedInRequest, pk: int) -> HttpResponse:
    """The grid of days: needed, dyed, good, wrapped, and which boxes each day is in."""
    return _page(request, _found(pk))


def _page(request: SignedInRequest, offer: Offer, **more: Any) -> HttpResponse:
    page = days_page(offer, user=request.user)
    context = {"page": page, "back": reverse("product", args=[offer.product_id]), **more}
    return render(request, "promises/days.html", context)


@helper
@require_POST
def day_in(request: SignedInRequest, pk: int) -> HttpResponse:
    """Says in which boxes a day is."""
    offer = _found(pk)
    try:
        first, last = _number(request, "first"), _number(request, "last")
        day = _number(request, "day")
        lay_out(
            offer=offer,
            day=day,
            first=first,
            last=last,
            but_not=numbers_in(request.POST.get("but_not", "")),
            who=request.user,
        )
    except Refused as refused:
        messages.error(request, str(refused))
    return SeeOther(reverse("product-days", args=[pk]))


@helper
@require_POST
def day_out(request: SignedInRequest, pk: int) -> HttpResponse:
    """Says in which boxes a day is not after all."""
    offer = _found(pk)
    try:
        boxes = numbers_in(request.POST.get("boxes", ""))
        take_out(offer=offer, day=_number(request, "day"), boxes=boxes, who=request.user)
    except Refused as refused:
        messages.error(request, str(refused))
    return SeeOther(reverse("product-days", args=[pk]))


@helper
@require_POST
def days_left(request: SignedInRequest, pk: int) -> HttpResponse:
    """Says what the counted leftovers tell; nothing moves by it."""
    offer = _found(pk)
    page = days_page(offer, user=request.user)
    counted: dict[int, int] = {}
    for row in page.rows:
        typed = request.POST.get(f"left-{row.day.number}", "").strip()
        if not re.fullmatch(r"\d{1,5}", typed, re.ASCII):
            messages.error(request, f"Day {row.day.number}: write how many are left, 0 where none is.")
            return SeeOther(reverse("product-days", args=[pk]))
        counted[row.day.number] = int(typed)
    return _page(request, offer, told=leftovers(page, counted), counted=counted)


def numbers_in(typed: str) -> list[int]:
    """Numbers as one writes them: "13, 20-22". Raises CannotLayOut for anything else."""
    found: list[int] = []
    for part in filter(None, re.split(r"[,;\s]+", typed.strip())):
        match = re.fullmatch(r"(\d{1,4})(?:[-–](\d{1,4}))?", part, re.ASCII)
        if match is None:
            raise CannotLayOut(f"“{part[:20]}” is no number of a box. Write them like 13, 20-22.")
        low, high = int(match[1]), int(match[2] or match[1])
        if high < low or high - low > MOST_NUMBERS:
            raise CannotLayOut(f"“{part[:20]}” does not run from a lower to a higher number.")
        found.extend(range(low, high + 1))
    return found


def _number(request: SignedInRequest, name: str) -> int:
    typed = request.POST.get(name, "").strip()
    if not re.fullmatch(r"\d{1,4}", typed, re.ASCII):
        raise CannotLayOut("Write the number of the first and of the last box.")
    return int(typed)


def _found(pk: int) -> Offer:
    return get_object_or_404(Offer.objects.select_related("product", "kit"), pk=pk, kit__isnull=False)
