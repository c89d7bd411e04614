"""Products sold before they are dyed, and orders of every kind."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.db.models import Q
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from dyehouse.studio.access import SignedInRequest, owner
from dyehouse.studio.answers import SeeOther
from dyehouse.studio.codes import tidy
from dyehouse.studio.models import Studio
from dyehouse.studio.refusals import Refused
from dyehouse.studio.refusing import refusals_beside
from inventory.kit_queries import kit_choices
from inventory.models import Kit
from inventory.promises import orders as operations
from inventory.promises.models import Offer, Order, OrderChange, OrderLine, Person, Product, ShopTerms
from inventory.promises.order_forms import (
    ChangeLineForm,
    Choices,
    Lines,
    OrderForm,
    PaymentForm,
    ProductForm,
    StepForm,
    TermsForm,
    offers_said,
)
from inventory.promises.order_queries import order_page, order_rows, product_lines, product_page
from inventory.promises.products import ProductDays, ProductNameTaken, change_product, make_product


@owner
@require_GET
def products(request: SignedInRequest) -> HttpResponse:
    """What is sold before it is dyed."""
    return render(request, "promises/products.html", {"lines": product_lines()})


@owner
@require_http_methods(["GET", "POST"])
def product_new(request: SignedInRequest) -> HttpResponse:
    """Write a product down."""
    return _product_form(request, None)


@owner
@require_http_methods(["GET", "POST"])
def product_change(request: SignedInRequest, pk: int) -> HttpResponse:
    """Change a product."""
    return _product_form(request, get_object_or_404(Product, pk=pk))


def _product_form(request: SignedInRequest, product: Product | None) -> HttpResponse:
    currency = Studio.current().currency
    sent = request.POST if request.method == "POST" else None
    form = ProductForm(sent, currency=currency, product=product)
    there = [] if product is None else list(product.offers.filter(retired_at=None).order_by("name", "pk"))
    # A kit that was retired since stays with the choice that is of it.
    kits = Kit.objects.filter(
        Q(retired_at=None, one_of_a_kind=False) | Q(pk__in=[offer.kit_id for offer in there if offer.kit_id])
    )
    shared = {
        "choices": kit_choices(user=request.user),
        "kits": list(kits.order_by("name")),
        "currency": currency,
    }
    initial = [
        {
            "pk": offer.pk,
            "name": offer.name,
            "kit": offer.kit_id,
            "colourway": offer.colourway_id,
            "put_up": offer.put_up_id,
            "price_minor": offer.price_minor,
            "most": offer.most,
        }
        for offer in there
    ]
    choices = Choices(sent, prefix="choices", form_kwargs=shared, initial=initial)
    if sent is not None and form.is_valid() and choices.is_valid():
        with refusals_beside(form, name=ProductNameTaken, ships_on=ProductDays):
            offers = offers_said(choices)
            if product is None:
                product = make_product(facts=form.facts, offers=offers)
            else:
                change_product(product=product, facts=form.facts, offers=offers)
        if not form.errors and product is not None:
            return SeeOther(reverse("product", args=[product.pk]))
    status = 422 if sent is not None else 200
    context = {"form": form, "choices": choices, "product": product}
    return render(request, "promises/product_form.html", context, status=status)


@owner
@require_GET
def product(request: SignedInRequest, pk: int) -> HttpResponse:
    """A product: how many are ordered of each choice, and how their boxes stand."""
    found = get_object_or_404(Product, pk=pk)
    context = {"page": product_page(found), "currency": Studio.current().currency}
    return render(request, "promises/product.html", context)


@owner
@require_GET
def orders(request: SignedInRequest) -> HttpResponse:
    """The newest orders, and finding one."""
    search, kind = request.GET.get("find", "")[:80].strip(), request.GET.get("kind", "")
    product = request.GET.get("product", "")
    of = Product.objects.filter(pk=int(product)).first() if product.isdigit() and len(product) < 10 else None
    context = {
        "rows": order_rows(search=search, kind=kind if kind in Order.Kind.values else "", product=of),
        "search": search,
        "kind": kind,
        "kinds": Order.Kind.choices,
        "product": of,
    }
    return render(request, "promises/orders.html", context)


@owner
@require_http_methods(["GET", "POST"])
def order_new(request: SignedInRequest) -> HttpResponse:
    """Write an order down by hand."""
    currency = Studio.current().currency
    sent = request.POST if request.method == "POST" else None
    form = OrderForm(sent, initial={"kind": Order.Kind.PREORDER, "buyer": request.GET.get("buyer", "")[:254]})
    lines = Lines(sent, prefix="lines", form_kwargs=_line_choices(request, currency))
    if sent is not None and form.is_valid() and lines.is_valid():
        said = form.cleaned_data
        with refusals_beside(form, number=operations.OrderNumberTaken):
            made = operations.place_order(
                kind=said["kind"],
                number=said["number"],
                buyer=said["buyer"],
                receiver=said["receiver"],
                lines=[line.wanted for line in lines if line.wanted is not None],
                placed_at=timezone.now(),
                currency=currency,
                due=said["due"],
                gift_note=said["gift_note"],
                note=said["note"],
                who=request.user,
            )
        if not form.errors:
            return SeeOther(reverse("order", args=[made.pk]))
    status = 422 if sent is not None else 200
    return render(request, "promises/order_form.html", {"form": form, "lines": lines}, status=status)


def _line_choices(request: SignedInRequest, currency: str) -> dict[str, Any]:
    return {
        "choices": kit_choices(user=request.user),
        "offers": list(
            Offer.objects.filter(retired_at=None, product__retired_at=None)
            .select_related("product")
            .order_by("product__name", "name")
        ),
        "currency": currency,
    }


@owner
@require_GET
def order(request: SignedInRequest, pk: int) -> HttpResponse:
    """One order, and what can be done about it."""
    return _order(request, _found(pk))


def _order(request: SignedInRequest, found: Order, **forms: Any) -> HttpResponse:
    context = {
        "page": order_page(found),
        "pay": PaymentForm(currency=found.currency),
        "step": StepForm(),
        "lines": Lines(prefix="lines", form_kwargs=_line_choices(request, found.currency)),
        **forms,
    }
    refused = any(form.errors for form in forms.values() if hasattr(form, "errors"))
    return render(request, "promises/order.html", context, status=422 if refused else 200)


@owner
@require_POST
def order_pay(request: SignedInRequest, pk: int) -> HttpResponse:
    """Says how its payment stands."""
    found = _found(pk)
    form = PaymentForm(request.POST, currency=found.currency)
    if not form.is_valid():
        return _order(request, found, pay=form)
    said = form.cleaned_data
    operations.pay_order(order=found, kind=said["kind"], amount_minor=said["amount"], who=request.user)
    return SeeOther(reverse("order", args=[pk]))


@owner
@require_POST
def order_step(request: SignedInRequest, pk: int) -> HttpResponse:
    """Says how it goes on."""
    found = _found(pk)
    form = StepForm(request.POST)
    if not form.is_valid():
        return _order(request, found, step=form)
    operations.record(found, OrderChange.Kind(form.cleaned_data["kind"]), request.user)
    return SeeOther(reverse("order", args=[pk]))


@owner
@require_POST
def order_line_new(request: SignedInRequest, pk: int) -> HttpResponse:
    """Adds lines to an order."""
    found = _found(pk)
    lines = Lines(request.POST, prefix="lines", form_kwargs=_line_choices(request, found.currency))
    if not lines.is_valid():
        return _order(request, found, lines=lines)
    wanted = [line.wanted for line in lines if line.wanted is not None]
    try:
        operations.refuse_beyond_limit(wanted)
        for each in wanted:
            operations.add_line(order=found, wanted=each, who=request.user)
    except Refused as refused:
        messages.error(request, str(refused))
    return SeeOther(reverse("order", args=[pk]))


@owner
@require_http_methods(["GET", "POST"])
def order_line(request: SignedInRequest, pk: int, position: int) -> HttpResponse:
    """Change how many of a line, or cancel it."""
    found = _found(pk)
    line = get_object_or_404(
        OrderLine.objects.select_related("order", "offer__product", "colourway", "put_up__base"),
        order=found,
        position=position,
    )
    sent = request.POST if request.method == "POST" else None
    form = ChangeLineForm(sent, initial={"count": line.count})
    if sent is not None and form.is_valid():
        with refusals_beside(form, "count"):
            operations.change_line(
                line=line, count=form.cleaned_data["count"], who=request.user, why=form.cleaned_data["why"]
            )
        if not form.errors:
            return SeeOther(reverse("order", args=[pk]))
    context = {"order": found, "line": line, "form": form}
    return render(request, "promises/order_line.html", context, status=422 if form.errors else 200)


@owner
@require_POST
def order_line_cancel(request: SignedInRequest, pk: int, position: int) -> HttpResponse:
    """Takes a line back."""
    line = get_object_or_404(OrderLine, order__pk=pk, position=position)
    return _do(request, pk, lambda why: operations.cancel_line(line=line, who=request.user, why=why))


@owner
@require_POST
def order_cancel(request: SignedInRequest, pk: int) -> HttpResponse:
    """Takes an order back."""
    found = _found(pk)
    return _do(request, pk, lambda why: operations.cancel_order(order=found, who=request.user, why=why))


def _do(request: SignedInRequest, pk: int, deed: Any) -> HttpResponse:
    try:
        deed(request.POST.get("why", "")[:300])
    except Refused as refused:
        messages.error(request, str(refused))
    return SeeOther(reverse("order", args=[pk]))


@owner
@require_http_methods(["GET", "POST"])
def shop_terms(request: SignedInRequest, code: str) -> HttpResponse:
    """On what terms a yarn shop buys."""
    shop = get_object_or_404(Person, code=tidy(code), kind=Person.Kind.SHOP)
    terms = ShopTerms.objects.filter(shop=shop).first()
    sent = request.POST if request.method == "POST" else None
    form = TermsForm(sent, currency=Studio.current().currency, terms=terms)
    if sent is not None and form.is_valid():
        said = dict(form.cleaned_data)
        said["deposit_percent"] = said["deposit_percent"] or 0
        said["discount_percent"] = said["discount_percent"] or 0
        ShopTerms.objects.update_or_create(shop=shop, defaults=said)
        messages.success(request, "The terms are written down.")
        return SeeOther(reverse("promises-person", args=[shop.code]))
    context = {"form": form, "shop": shop}
    return render(request, "promises/shop_terms.html", context, status=422 if form.errors else 200)


def _found(pk: int) -> Order:
    return get_object_or_404(Order.objects.select_related("buyer", "receiver"), pk=pk)
