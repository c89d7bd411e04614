"""What was paid, what is usual, and what is asked for a piece. The owner's alone."""

from __future__ import annotations

from decimal import Decimal

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from dyehouse.ledger.operations import say_quantity
from dyehouse.studio.access import SignedInRequest, owner
from dyehouse.studio.answers import SeeOther
from dyehouse.studio.refusing import refusals_beside
from inventory.costing import paid as invoices
from inventory.costing.forms import PaidForm, PriceForm, UsualForm
from inventory.costing.models import RATE_PLACES, Paid, UsualCosts
from inventory.costing.prices import PriceOfNothing, price_history, retail_prices, say_price
from inventory.costing.usual import USUAL, NotUsual, say_usual, usual_now
from inventory.models import Kit
from recipes.models import Colourway, PutUp


@owner
@require_safe
def paid(request: SignedInRequest) -> HttpResponse:
    """What came in without an order: first what nobody said a price of."""
    context = {
        "unpriced": invoices.arrivals(unpriced=True, limit=60),
        "priced": invoices.arrivals(unpriced=False, limit=60),
        "count": invoices.count_unpriced(),
    }
    return render(request, "costing/paid.html", context)


@owner
@require_http_methods(["GET", "POST"])
def paid_line(request: SignedInRequest, pk: int) -> HttpResponse:
    """The invoice of one arrival; what was said before stays readable."""
    line = get_object_or_404(
        invoices.arrivals_of().select_related("item", "lot", "movement", "from_place"), pk=pk
    )
    said = list(Paid.objects.filter(line=line).select_related("by").order_by("-id"))
    own, newest = request.studio.currency, said[0] if said else None
    initial = {}
    if newest is not None:
        initial = {
            "goods": newest.goods_minor,
            "freight": newest.freight_minor,
            "currency": newest.currency,
            "note": newest.note,
        }
        if newest.currency != own:
            initial["rate"] = (Decimal(newest.rate_billionths).scaleb(-RATE_PLACES)).normalize()
    form = PaidForm(request.POST if request.method == "POST" else None, own=own, initial=initial)
    if form.is_bound and form.is_valid():
        told = form.cleaned_data
        with refusals_beside(form, rate=invoices.RateMissing):
            invoices.say_paid(
                key=told["key"], line=line, goods_minor=told["goods"], freight_minor=told["freight"] or 0,
                currency=told["currency"], rate=told["rate"], note=told["note"], who=request.user,
            )  # fmt: skip
        if not form.errors:
            messages.success(request, f"Kept what {line.item} cost.")
            return SeeOther(reverse("costs-paid"))
    context = {"line": line, "quantity": say_quantity(line.quantity, line.item), "form": form, "said": said}
    return render(request, "costing/paid_line.html", context, status=422 if form.errors else 200)


@owner
@require_http_methods(["GET", "POST"])
def usual(request: SignedInRequest) -> HttpResponse:
    """Wage, minutes and small things, from a day on."""
    known, currency = usual_now(), request.studio.currency
    initial = {name: getattr(known, name, None) for name in USUAL}
    form = UsualForm(request.POST if request.method == "POST" else None, currency=currency, initial=initial)
    if form.is_bound and form.is_valid():
        told = form.cleaned_data
        with refusals_beside(form, second_percent=NotUsual):
            say_usual(key=told["key"], from_day=told["from_day"], figures=form.figures, who=request.user)
        if not form.errors:
            messages.success(request, "Kept. Costs are worked out by it from that day on.")
            return SeeOther(reverse("costs"))
    history = UsualCosts.objects.select_related("by").order_by("-from_day", "-id")[:20]
    context = {"form": form, "history": history}
    return render(request, "costing/usual.html", context, status=422 if form.errors else 200)


@owner
@require_safe
def prices(request: SignedInRequest) -> HttpResponse:
    """The retail price of every yarn at every weight, and of kits."""
    known = retail_prices(currency=request.studio.currency)
    put_ups = PutUp.objects.filter(retired_at__isnull=True, base__retired_at__isnull=True)
    own: dict[int, int] = {}
    for put_up, _ in known.of_colourway:
        own[put_up] = own.get(put_up, 0) + 1
    rows = [
        (each, known.of_put_up.get(each.pk), own.get(each.pk, 0))
        for each in put_ups.select_related("base").order_by("base__name", "-nominal_milligrams")
    ]
    kits = [
        (kit, known.of_kit.get(kit.pk))
        for kit in Kit.objects.filter(retired_at__isnull=True).order_by("name")
    ]
    return render(request, "costing/prices.html", {"rows": rows, "kits": kits})


@owner
@require_http_methods(["GET", "POST"])
def price(request: SignedInRequest, pk: int) -> HttpResponse:
    """What is asked for a yarn at a weight: for all colourways, or one its own; with every earlier price."""
    put_up = get_object_or_404(PutUp.objects.select_related("base"), pk=pk)
    colourways = list(Colourway.objects.filter(retired_at__isnull=True).order_by("name", "code"))
    return _price(request, put_up=put_up, kit=None, colourways=colourways)


@owner
@require_http_methods(["GET", "POST"])
def kit_price(request: SignedInRequest, pk: int) -> HttpResponse:
    """What is asked for a kit."""
    return _price(request, put_up=None, kit=get_object_or_404(Kit, pk=pk), colourways=None)


def _price(
    request: SignedInRequest, *, put_up: PutUp | None, kit: Kit | None, colourways: list[Colourway] | None
) -> HttpResponse:
    form = PriceForm(
        request.POST if request.method == "POST" else None,
        currency=request.studio.currency,
        colourways=colourways,
        initial={"colourway": request.GET.get("colourway", "")},
    )
    if form.is_bound and form.is_valid():
        told = form.cleaned_data
        with refusals_beside(form, minor=PriceOfNothing):
            say_price(
                key=told["key"], minor=told["minor"], who=request.user, put_up=put_up, kit=kit,
                colourway=form.colourway, from_day=told["from_day"],
            )  # fmt: skip
        if not form.errors:
            messages.success(request, f"Kept the price of {put_up or kit}.")
            return SeeOther(reverse("costs-prices"))
    context = {"of": put_up or kit, "form": form, "history": price_history(put_up=put_up, kit=kit)}
    return render(request, "costing/price.html", context, status=422 if form.errors else 200)
