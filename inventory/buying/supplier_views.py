"""Pages of mills and dye makers."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from dyehouse.studio.access import SignedInRequest, helper, owner
from dyehouse.studio.answers import SeeOther
from dyehouse.studio.refusals import Refused
from dyehouse.studio.refusing import refusals_beside
from inventory.allocation.reorder import AlwaysClosed, arrives_on
from inventory.buying import pages, supplying
from inventory.buying.forms import ClosedWeeksForm, OfferForm, SupplierForm
from inventory.buying.models import ClosedWeeks, Offer, Supplier


@owner
@require_http_methods(["GET", "POST"])
def buying_supplier_new(request: SignedInRequest) -> HttpResponse:
    """Write down a mill or a dye maker."""
    form = SupplierForm(request.POST if request.method == "POST" else None, currency=request.studio.currency)
    if form.is_bound and form.is_valid():
        with refusals_beside(form, "name"):
            made = supplying.add_supplier(**form.cleaned_data)
        if not form.errors:
            messages.success(request, f"{made} is written down. Now write down what they sell.")
            return SeeOther(reverse("buying-supplier", args=[made.pk]))
    back = reverse("buying-orders"), "Orders and suppliers"
    return _form_page(request, form, "A mill or dye maker", back, "Write it down")


@owner
@require_http_methods(["GET", "POST"])
def buying_supplier_change(request: SignedInRequest, pk: int) -> HttpResponse:
    """What is known of a supplier, put right."""
    supplier = get_object_or_404(Supplier, pk=pk)
    form = SupplierForm(
        request.POST if request.method == "POST" else None,
        currency=supplier.currency,
        initial=SupplierForm.initial_of(supplier),
    )
    if form.is_bound and form.is_valid():
        with refusals_beside(form, "name", currency=supplying.PricesInAnotherCurrency):
            supplying.change_supplier(supplier=supplier, **form.cleaned_data)
        if not form.errors:
            return SeeOther(reverse("buying-supplier", args=[pk]))
    back = reverse("buying-supplier", args=[pk]), supplier.name
    return _form_page(request, form, f"Change {supplier}", back, "Keep")


def _form_page(
    request: SignedInRequest, form: SupplierForm, heading: str, back: tuple[str, str], keep: str
) -> HttpResponse:
    context = {"form": form, "heading": heading, "back": back[0], "back_words": back[1], "keep": keep}
    return render(request, "recipes/form_page.html", context, status=422 if form.errors else 200)


@helper
@require_safe
def buying_supplier(request: SignedInRequest, pk: int) -> HttpResponse:
    """A supplier: lead time, closed weeks, what they sell, the orders."""
    return _show(request, get_object_or_404(Supplier, pk=pk), ClosedWeeksForm())


def _show(request: SignedInRequest, supplier: Supplier, closed: ClosedWeeksForm) -> HttpResponse:
    try:
        comes = arrives_on(
            ordered=timezone.localdate(), lead_days=supplier.lead_days, closed=supplying.closed_of(supplier)
        )
    except AlwaysClosed:
        comes = None
    context = {
        "supplier": supplier,
        "page": pages.supplier_page(supplier),
        "closed_form": closed,
        "comes": comes,
    }
    return render(request, "buying/supplier.html", context, status=422 if closed.errors else 200)


@owner
@require_POST
def buying_closed(request: SignedInRequest, pk: int) -> HttpResponse:
    """Weeks in which a supplier is closed."""
    supplier, form = get_object_or_404(Supplier, pk=pk), ClosedWeeksForm(request.POST)
    if form.is_valid():
        with refusals_beside(form, "last_day"):
            supplying.close_weeks(supplier=supplier, **form.cleaned_data)
        if not form.errors:
            return SeeOther(reverse("buying-supplier", args=[pk]))
    return _show(request, supplier, form)


@owner
@require_POST
def buying_closed_away(request: SignedInRequest, pk: int) -> HttpResponse:
    """They work in these weeks after all."""
    closed = get_object_or_404(ClosedWeeks, pk=pk)
    supplying.open_weeks(closed=closed)
    messages.success(request, "These closed weeks are taken away. Orders that were sent keep their day.")
    return SeeOther(reverse("buying-supplier", args=[closed.supplier_id]))


@owner
@require_POST
def buying_supplier_away(request: SignedInRequest, pk: int) -> HttpResponse:
    """Put a supplier away, or bring one back."""
    supplier = get_object_or_404(Supplier, pk=pk)
    try:
        if supplier.retired_at is None:
            supplying.retire_supplier(supplier=supplier)
            messages.success(request, f"Nothing is bought of {supplier} any more. Its orders stay.")
        else:
            supplying.bring_supplier_back(supplier=supplier)
    except Refused as refused:
        messages.error(request, str(refused))
    return SeeOther(reverse("buying-supplier", args=[pk]))


@owner
@require_http_methods(["GET", "POST"])
def buying_offer_new(request: SignedInRequest, pk: int) -> HttpResponse:
    """Something that a supplier sells by the pack."""
    supplier = get_object_or_404(Supplier, pk=pk)
    asked = request.GET.get("what", "")
    form = OfferForm(
        request.POST if request.method == "POST" else None, supplier=supplier, initial={"what": asked}
    )
    if form.is_bound and form.is_valid():
        said = form.cleaned_data
        with refusals_beside(form, pack=supplying.OfferTaken, price=supplying.OfferWrong):
            supplying.offer_packs(
                supplier=supplier,
                item=form.chosen_item,
                pack_quantity=said["pack_quantity"],
                price_minor=said["price"],
                breaks=said["breaks"],
                their_number=said["their_number"],
            )
        if not form.errors:
            return SeeOther(reverse("buying-supplier", args=[pk]))
    return _offer_page(request, form, supplier, None)


@owner
@require_http_methods(["GET", "POST"])
def buying_offer(request: SignedInRequest, pk: int) -> HttpResponse:
    """What a pack costs, put right."""
    offer = get_object_or_404(Offer.objects.select_related("supplier", "item"), pk=pk)
    form = OfferForm(
        request.POST if request.method == "POST" else None,
        supplier=offer.supplier,
        offer=offer,
        initial=OfferForm.initial_of(offer),
    )
    if form.is_bound and form.is_valid():
        said = form.cleaned_data
        with refusals_beside(form, "price"):
            supplying.change_offer(
                offer=offer,
                price_minor=said["price"],
                breaks=said["breaks"],
                their_number=said["their_number"],
            )
        if not form.errors:
            return SeeOther(reverse("buying-supplier", args=[offer.supplier_id]))
    return _offer_page(request, form, offer.supplier, offer)


def _offer_page(
    request: SignedInRequest, form: OfferForm, supplier: Supplier, offer: Offer | None
) -> HttpResponse:
    context = {"form": form, "supplier": supplier, "offer": offer}
    return render(request, "buying/offer.html", context, status=422 if form.errors else 200)


@owner
@require_POST
def buying_offer_away(request: SignedInRequest, pk: int) -> HttpResponse:
    """They sell it no more."""
    offer = get_object_or_404(Offer, pk=pk)
    supplying.retire_offer(offer=offer)
    messages.success(request, "It is not bought there any more. Orders of it stay.")
    return SeeOther(reverse("buying-supplier", args=[offer.supplier_id]))
