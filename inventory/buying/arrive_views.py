"""What comes of an order is taken in, at the shelf with a phone; what was charged for it is written down later."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from dyehouse.studio.access import SignedInRequest, helper, owner
from dyehouse.studio.answers import SeeOther
from dyehouse.studio.refusing import refusals_beside
from inventory.allocation.reorder import saying
from inventory.buying import arriving, pages
from inventory.buying.arrive_forms import BillForm, CameRows, DeliveryForm, first_rows, lines_of, rows_came
from inventory.buying.forms import BackForm
from inventory.buying.models import Arrival, Bill, Delivery
from inventory.buying.ordering import DayOutOfReach
from inventory.buying.queries import costs_of, lines_came, with_costs
from inventory.buying.views import order_or_404


@helper
@require_http_methods(["GET", "POST"])
def buying_arrive(request: SignedInRequest, pk: int) -> HttpResponse:
    """What came of an order: packs and loose pieces by mill lot or jar."""
    purchase = order_or_404(pk)
    lines = lines_came([purchase])[purchase.pk]
    sent = request.POST if request.method == "POST" else None
    form = DeliveryForm(sent)
    rows = CameRows(
        sent, prefix="came", form_kwargs={"lines": lines}, initial=first_rows(lines) if sent is None else None
    )
    if sent is not None and form.is_valid() and rows.is_valid():
        with refusals_beside(form, arrived_on=DayOutOfReach):
            delivery = arriving.take_in(
                purchase=purchase, came=rows_came(rows), who=request.user, **form.cleaned_data
            )
        if not form.errors:
            messages.success(request, "It is in the store.")
            _say_what_is_odd(request, delivery)
            return SeeOther(reverse("buying-order", args=[pk]))
    context = {"form": form, "rows": rows, "purchase": purchase, "lines": lines}
    status = 422 if sent is not None else 200
    return render(request, "buying/arrive.html", context, status=status)


def _say_what_is_odd(request: SignedInRequest, delivery: Delivery) -> None:
    """More than was ordered, and another mill lot than a colourway's open pots are of."""
    for came in lines_came([delivery.purchase])[delivery.purchase_id]:
        if came.over:
            more = saying(came.line.item.unit)(came.over)
            messages.warning(request, f"{came.line.item.name}: {more} more than was ordered.")
    for other in pages.lots_that_differ(delivery):
        messages.warning(request, other.sentence(request.user))


@owner
@require_http_methods(["GET", "POST"])
def buying_bill(request: SignedInRequest, pk: int) -> HttpResponse:
    """What was charged for a delivery."""
    delivery = get_object_or_404(with_costs(Delivery.objects.select_related("purchase__supplier")), pk=pk)
    bills: list[Bill] = delivery.newest  # type: ignore[attr-defined]
    form = BillForm(
        request.POST if request.method == "POST" else None,
        purchase=delivery.purchase,
        costs=costs_of(delivery),
        lines=lines_of(delivery),
        studio_currency=request.studio.currency,
        initial=BillForm.initial_of(bills[0] if bills else None),
    )
    if form.is_bound and form.is_valid():
        with refusals_beside(form):
            arriving.write_bill(delivery=delivery, charged=form.charged, who=request.user)
        if not form.errors:
            messages.success(request, "What it cost is written down.")
            return SeeOther(reverse("buying-order", args=[delivery.purchase_id]))
    context = {"form": form, "delivery": delivery, "bills": bills}
    return render(request, "buying/bill.html", context, status=422 if form.errors else 200)


@owner
@require_http_methods(["GET", "POST"])
def buying_back(request: SignedInRequest, pk: int) -> HttpResponse:
    """An arrival was entered wrongly and leaves the store again."""
    arrivals = Arrival.objects.select_related("line__item", "movement", "delivery", "lot")
    arrival = get_object_or_404(arrivals, pk=pk)
    form = BackForm(request.POST if request.method == "POST" else None)
    if form.is_bound and form.is_valid():
        with refusals_beside(form, "why"):
            arriving.take_back(arrival=arrival, who=request.user, **form.cleaned_data)
        if not form.errors:
            messages.success(request, "It is taken back, as if it had not come.")
            return SeeOther(reverse("buying-order", args=[arrival.delivery.purchase_id]))
    amount = saying(arrival.line.item.unit)(arrival.quantity)
    context = {
        "form": form,
        "heading": f"{arrival.line.item.name} did not come",
        "lead": f"{amount} leave the store again; the order waits for them as before.",
        "back": reverse("buying-order", args=[arrival.delivery.purchase_id]),
        "back_words": "The order",
        "keep": "Take it back",
    }
    return render(request, "recipes/form_page.html", context, status=422 if form.errors else 200)
