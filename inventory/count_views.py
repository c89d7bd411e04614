"""Counting a place through, on a phone: rows kept as they are typed, codes scanned, differences settled at the end."""

from __future__ import annotations

import re

from django.contrib import messages
from django.http import HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from dyehouse.ledger.models import Item, Lot, Place
from dyehouse.studio.access import SignedInRequest, helper
from dyehouse.studio.answers import SeeOther
from dyehouse.studio.refusals import Refused
from dyehouse.studio.refusing import refusals_beside
from inventory import counting as operations
from inventory.count_forms import SettleForm
from inventory.count_queries import places_to_count, round_page
from inventory.models import CountRound
from inventory.scanning import code_in_picture

FIELD = re.compile(r"n_(\d{1,18})_(\d{1,18})\Z")


@helper
@require_GET
def counts(request: SignedInRequest) -> HttpResponse:
    """The places that can be counted, those being counted first, and what was settled lately."""
    lines, closed = places_to_count()
    return render(request, "inventory/counts.html", {"lines": lines, "closed": closed})


@helper
@require_POST
def count_start(request: SignedInRequest, pk: int) -> HttpResponse:
    """Start counting a place, or go on where somebody stopped."""
    place = get_object_or_404(Place, pk=pk)
    try:
        found = operations.count_place(place=place, who=request.user)
    except Refused as refused:
        messages.error(request, str(refused))
        return SeeOther(reverse("counts"))
    return SeeOther(reverse("count-round", args=[found.pk]))


def _round_or_404(pk: int) -> CountRound:
    rounds = CountRound.objects.select_related("place", "started_by", "closed_by", "movement")
    return get_object_or_404(rounds, pk=pk)


@helper
@require_http_methods(["GET", "POST"])
def count_round(request: SignedInRequest, pk: int) -> HttpResponse:
    """The rows of a place: one number each. What is sent is kept at once; a scanned code leads to its row."""
    found = _round_or_404(pk)
    errors: dict[str, str] = {}
    if request.method == "POST":
        errors = _keep(request, found)
        if request.headers.get("HX-Request"):
            return JsonResponse({"errors": errors}, status=422 if errors else 200)
        if not errors:
            return SeeOther(reverse("count-round", args=[pk]))
    return _page(request, found, errors=errors)


def _page(
    request: SignedInRequest,
    found: CountRound,
    *,
    errors: dict[str, str] | None = None,
    form: SettleForm | None = None,
) -> HttpResponse:
    page = round_page(found, user=request.user, code=request.GET.get("code", ""))
    typed = request.POST if errors else {}
    rows = [
        (row, (errors or {}).get(row.field, ""), typed.get(row.field, row.row.counted)) for row in page.rows
    ]
    elsewhere = [
        (row, (errors or {}).get(row.field, ""), typed.get(row.field, "")) for row in page.elsewhere or []
    ]
    settling = form or SettleForm()
    # Only how it is shown: whether a reason is missing the settling itself says, in its own words.
    settling.fields["why"].required = bool(page.state.differing)
    context = {"round": found, "page": page, "rows": rows, "elsewhere": elsewhere, "form": settling}
    wrong = errors or (form is not None and form.errors)
    return render(request, "inventory/count_round.html", context, status=422 if wrong else 200)


def _keep(request: SignedInRequest, found: CountRound) -> dict[str, str]:
    """Keep every number that was sent and differs from what was kept before; sentences for those that are none."""
    before = {(row.item.pk, row.lot.pk): row.counted for row in operations.state_of(found).rows}
    errors: dict[str, str] = {}
    wanted: dict[tuple[int, int], int] = {}
    for name, typed in request.POST.items():
        which = FIELD.match(name)
        number = str(typed).strip()
        if which is None or not number:
            continue
        what = (int(which[1]), int(which[2]))
        if not (number.isascii() and number.isdecimal() and len(number) <= 5):
            errors[name] = "Write a whole number, 0 for none."
        elif before.get(what) != int(number):
            wanted[what] = int(number)
    items = Item.objects.in_bulk({item for item, _ in wanted})
    lots = Lot.objects.in_bulk({lot for _, lot in wanted})
    for (item, lot), pieces in wanted.items():
        if item not in items or lot not in lots:
            errors[f"n_{item}_{lot}"] = "This is nothing the house knows."
            continue
        try:
            operations.count_row(
                round=found, item=items[item], lot=lots[lot], pieces=pieces, who=request.user
            )
        except Refused as refused:
            errors[f"n_{item}_{lot}"] = str(refused)
    return errors


@helper
@require_POST
def count_settle(request: SignedInRequest, pk: int) -> HttpResponse:
    """The book follows the counts, with a reason, and the round is closed."""
    found, form = _round_or_404(pk), SettleForm(request.POST)
    if form.is_valid():
        said = form.cleaned_data
        with refusals_beside(form, why=operations.WhyDiffers):
            operations.settle(
                round=found,
                key=said["key"],
                who=request.user,
                why=said["why"],
                rest_is_gone=said["rest_is_gone"],
            )
    if form.errors:
        return _page(request, found, form=form)
    messages.success(request, f"{found.place} is counted, and the book follows.")
    return SeeOther(reverse("counts"))


@helper
@require_POST
def scan(request: SignedInRequest) -> HttpResponse:
    """The code in a picture: as JSON to the camera's script, else on to the page that asked (`next`, with ?code=)."""
    upload = request.FILES.get("picture")
    back = request.POST.get("next", "")
    if not url_has_allowed_host_and_scheme(back, allowed_hosts={request.get_host()}):
        back = reverse("find")
    try:
        if upload is None:
            raise operations.NotACount("Take a picture of the code first.")
        code = code_in_picture(upload)
    except Refused as refused:
        if request.headers.get("HX-Request"):
            return JsonResponse({"error": str(refused)}, status=422)
        messages.error(request, str(refused))
        return SeeOther(back)
    if request.headers.get("HX-Request"):
        return JsonResponse({"code": code})
    asks = "for" if back == reverse("find") else "code"
    return redirect(f"{back.partition('?')[0]}?{asks}={code}")
