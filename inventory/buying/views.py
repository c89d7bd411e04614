"""Pages of what to order, and of orders from the draft to what was charged."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils.text import slugify
from django.views.decorators.http import require_GET, require_http_methods, require_POST, require_safe

from dyehouse.studio.access import SignedInRequest, helper, owner
from dyehouse.studio.answers import SeeOther
from dyehouse.studio.keys import KeyField
from dyehouse.studio.refusals import Refused
from dyehouse.studio.refusing import refusals_beside
from dyehouse.studio.templatetags.house import day
from inventory.buying import ordering, pages
from inventory.buying.forms import ExpectForm, HabitsForm, OrderForm, SendForm, ShortForm
from inventory.buying.models import BuyingHabits, Purchase, PurchaseLine, Supplier
from inventory.buying.needs import ItemNeed, Needs, needs
from inventory.buying.ordering import Wanted
from inventory.buying.wanted import ColourwaySplit, splits_now
from recipes.paging import page_asked


@helper
@require_safe
def buying(request: SignedInRequest) -> HttpResponse:
    """What to order, of whom and until when; the owner sees what it costs."""
    found = needs()
    context = {
        "needs": found,
        "groups": _by_supplier(found.now),
        "splits": _named(request, found.splits),
        "new_key": KeyField().initial,
    }
    return render(request, "buying/buying.html", context)


@owner
@require_safe
def buying_due(request: SignedInRequest) -> HttpResponse:
    """The part of the day's page that says what to order."""
    found = needs()
    return render(request, "buying/_due.html", {"needs": found})


@helper
@require_safe
def buying_splits(request: SignedInRequest) -> HttpResponse:
    """The part of other pages that names colourways over several mill lots."""
    return render(request, "buying/_splits.html", {"splits": _named(request, splits_now())})


def _named(request: SignedInRequest, splits: list[ColourwaySplit]) -> list[tuple[ColourwaySplit, str]]:
    return [(each, each.name(request.user)) for each in splits]


def _by_supplier(now: list[ItemNeed]) -> list[tuple[Supplier, list[ItemNeed]]]:
    groups: dict[int, tuple[Supplier, list[ItemNeed]]] = {}
    for each in now:
        groups.setdefault(each.offer.supplier_id, (each.offer.supplier, []))[1].append(each)
    return list(groups.values())


@owner
@require_POST
def buying_draft(request: SignedInRequest, pk: int) -> HttpResponse:
    """Write down an order of everything of one supplier whose day is near or past; it is looked at before it is sent."""
    supplier = get_object_or_404(Supplier, pk=pk)
    found: Needs = needs()
    wanted = [Wanted(each.offer, each.packs) for each in found.now if each.offer.supplier_id == pk]
    key = KeyField().clean(request.POST.get("key"))
    try:
        made = ordering.draft_order(key=key, supplier=supplier, wanted=wanted, who=request.user)
    except Refused as refused:
        messages.error(request, str(refused))
        return SeeOther(reverse("buying"))
    messages.success(request, "The order is a draft. Look through it, then send it.")
    return SeeOther(reverse("buying-order", args=[made.pk]))


@owner
@require_http_methods(["GET", "POST"])
def buying_habits(request: SignedInRequest) -> HttpResponse:
    """How it is reckoned what to order."""
    habits = BuyingHabits.current()
    names = ("look_back_weeks", "safety_weeks", "cover_weeks", "ready_days", "near_days")
    known: dict[str, Any] = {name: getattr(habits, name) for name in names}
    known["promised_on_top"] = "yes" if habits.promised_on_top else "no"
    form = HabitsForm(request.POST if request.method == "POST" else None, initial=known)
    if form.is_bound and form.is_valid():
        ordering.change_habits(**form.cleaned_data)
        return SeeOther(reverse("buying"))
    context = {
        "form": form,
        "heading": "How it is reckoned",
        "lead": "An order must be out early enough that yarn and dye never fall below the reserve.",
        "back": reverse("buying"),
        "back_words": "What to order",
        "keep": "Keep",
    }
    return render(request, "recipes/form_page.html", context, status=422 if form.errors else 200)


@helper
@require_safe
def buying_orders(request: SignedInRequest) -> HttpResponse:
    """Open orders, then all that were written, and the suppliers."""
    page = page_asked(request)
    past = pages.past_orders(page=page)
    context = {
        "open": pages.open_orders() if page == 1 else [],
        "past": past[: pages.ORDERS_PAGE],
        "page": page,
        "older": page + 1 if len(past) > pages.ORDERS_PAGE else None,
        "suppliers": Supplier.objects.order_by("retired_at", "name"),
    }
    return render(request, "buying/orders.html", context)


def order_or_404(pk: int) -> Purchase:
    return get_object_or_404(Purchase.objects.select_related("supplier", "made_by"), pk=pk)


@helper
@require_safe
def buying_order(request: SignedInRequest, pk: int) -> HttpResponse:
    """One order: its lines, what came of them, and what there is to do."""
    return show_order(request, order_or_404(pk))


def show_order(request: SignedInRequest, purchase: Purchase, **forms: Any) -> HttpResponse:
    """The page of an order; a form that was wrong comes back with what was typed."""
    page = pages.order_page(purchase)
    context = {
        "page": page,
        "order": page.order,
        "other_lots": [each.sentence(request.user) for each in page.other_lots],
        "purchase": purchase,
        "send": SendForm(),
        "expect": ExpectForm(initial={"day": purchase.expected_on}),
        "short": ShortForm(),
        **forms,
    }
    wrong = any(form.errors for form in forms.values())
    return render(request, "buying/order.html", context, status=422 if wrong else 200)


@owner
@require_http_methods(["GET", "POST"])
def buying_new(request: SignedInRequest, pk: int) -> HttpResponse:
    """A new order to a supplier: packs of what they sell."""
    supplier = get_object_or_404(Supplier, pk=pk)
    form = OrderForm(
        request.POST if request.method == "POST" else None, offers=pages.offers_to_order(supplier)
    )
    if form.is_bound and form.is_valid():
        with refusals_beside(form):
            made = ordering.draft_order(
                key=form.cleaned_data["key"],
                supplier=supplier,
                wanted=form.wanted,
                who=request.user,
                note=form.cleaned_data["note"],
            )
        if not form.errors:
            _say_rounded(request, form)
            return SeeOther(reverse("buying-order", args=[made.pk]))
    return _show_lines(request, form, supplier, reverse("buying-supplier", args=[pk]), f"Order of {supplier}")


@owner
@require_http_methods(["GET", "POST"])
def buying_lines(request: SignedInRequest, pk: int) -> HttpResponse:
    """The lines of a draft, changed; or lines that are added to an order that was sent."""
    purchase = order_or_404(pk)
    sent = purchase.ordered_on is not None
    there = {} if sent else dict(PurchaseLine.objects.filter(purchase=purchase).values_list("offer", "packs"))
    form = OrderForm(
        request.POST if request.method == "POST" else None,
        offers=pages.offers_to_order(purchase.supplier),
        packs=there,
        initial={"note": purchase.note},
    )
    if sent:
        del form.fields["note"]
    if form.is_bound and form.is_valid():
        with refusals_beside(form):
            if sent:
                ordering.add_to_order(key=form.cleaned_data["key"], purchase=purchase, wanted=form.wanted)
            else:
                ordering.change_draft(purchase=purchase, wanted=form.wanted, note=form.cleaned_data["note"])
        if not form.errors:
            _say_rounded(request, form)
            return SeeOther(reverse("buying-order", args=[pk]))
    heading = "Add to the order" if sent else "Change the order"
    return _show_lines(request, form, purchase.supplier, reverse("buying-order", args=[pk]), heading)


def _show_lines(
    request: SignedInRequest, form: OrderForm, supplier: Supplier, back: str, heading: str
) -> HttpResponse:
    context = {"form": form, "supplier": supplier, "back": back, "heading": heading}
    return render(request, "buying/lines.html", context, status=422 if form.errors else 200)


def _say_rounded(request: SignedInRequest, form: OrderForm) -> None:
    for sentence in form.rounded:
        messages.info(request, sentence)


@owner
@require_POST
def buying_send(request: SignedInRequest, pk: int) -> HttpResponse:
    """The order went out."""
    purchase, form = order_or_404(pk), SendForm(request.POST)
    if form.is_valid():
        with refusals_beside(form, "ordered_on"):
            sent = ordering.send_order(
                purchase=purchase, ordered_on=form.cleaned_data["ordered_on"], who=request.user
            )
        if not form.errors:
            messages.success(request, f"Sent. It is expected on {day(sent.expected_on)}.")
            return SeeOther(reverse("buying-order", args=[pk]))
    return show_order(request, purchase, send=form)


@owner
@require_POST
def buying_expect(request: SignedInRequest, pk: int) -> HttpResponse:
    """The supplier named another day."""
    purchase, form = order_or_404(pk), ExpectForm(request.POST)
    if form.is_valid():
        with refusals_beside(form, "day", why=ordering.ReasonMissing):
            ordering.expect_on(purchase=purchase, who=request.user, **form.cleaned_data)
        if not form.errors:
            return SeeOther(reverse("buying-order", args=[pk]))
    return show_order(request, purchase, expect=form)


@owner
@require_POST
def buying_short(request: SignedInRequest, pk: int) -> HttpResponse:
    """The rest of a line, or of the order, will not come."""
    purchase, form = order_or_404(pk), ShortForm(request.POST)
    wanted = request.POST.get("line", "")
    line = PurchaseLine.objects.filter(purchase=purchase, pk=wanted).first() if wanted.isdecimal() else None
    if form.is_valid():
        with refusals_beside(form, "why"):
            ordering.close_short(purchase=purchase, line=line, why=form.cleaned_data["why"], who=request.user)
        if not form.errors:
            messages.success(request, "Nobody waits for the rest any more.")
            return SeeOther(reverse("buying-order", args=[pk]))
    return show_order(request, purchase, short=form)


@owner
@require_POST
def buying_drop(request: SignedInRequest, pk: int) -> HttpResponse:
    """Give up a draft."""
    purchase = order_or_404(pk)
    try:
        ordering.drop_draft(purchase=purchase)
    except Refused as refused:
        messages.error(request, str(refused))
        return SeeOther(reverse("buying-order", args=[pk]))
    messages.success(request, "The draft is dropped.")
    return SeeOther(reverse("buying-orders"))


@owner
@require_GET
def buying_list(request: SignedInRequest, pk: int) -> HttpResponse:
    """The order as a list for a mail to the supplier."""
    purchase = order_or_404(pk)
    answer = HttpResponse(
        pages.order_list(pages.order_page(purchase).order), content_type="text/csv; charset=utf-8"
    )
    name = f"order-{purchase.pk}-{slugify(purchase.supplier.name) or 'supplier'}.csv"
    answer["Content-Disposition"] = f'attachment; filename="{name}"'
    return answer
