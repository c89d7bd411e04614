"""The store's page, stock solutions and auxiliaries."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from dyehouse.studio.access import SignedInRequest, helper
from dyehouse.studio.answers import SeeOther
from dyehouse.studio.refusing import refusals_beside
from recipes import dyestuff, queries
from recipes.counting import ReasonMissing, count_in_store
from recipes.dyestuff_forms import (
    AuxiliaryFactsForm,
    AuxiliaryInForm,
    CountForm,
    FinishForm,
    NewAuxiliaryForm,
)
from recipes.models import Auxiliary, StockBottle
from recipes.paging import page_asked
from recipes.stock_forms import BEFORE, StockForm, asked_for
from recipes.stock_making import to_make


@helper
@require_safe
def store(request: SignedInRequest) -> HttpResponse:
    """Everything in the store: yarn, dyes, stock bottles, auxiliaries."""
    return render(request, "recipes/store.html", {"store": queries.the_store()})


@helper
@require_http_methods(["GET", "POST"])
def stock_new(request: SignedInRequest) -> HttpResponse:
    """A bottle of stock: what to weigh for it while it is filled in, then made."""
    only_show = "show" in request.POST
    form = StockForm(request.POST) if request.method == "POST" else _asked_stock(request)
    if form.is_valid() and not only_show:
        said = form.cleaned_data
        with refusals_beside(form, "jar", microlitres=dyestuff.NothingInIt):
            bottle = dyestuff.make_stock(
                key=said["key"],
                dye=form.chosen_dye,
                jar=form.chosen_jar,
                strength_mg_per_litre=form.chosen_strength,
                microlitres=said["microlitres"],
                made_at=form.made_at,
                who=request.user,
                best_before=form.best_before_day,
                in_fridge=form.in_fridge,
                from_before=said["came"] == BEFORE,
            )
        if form.is_valid():
            messages.success(request, f"{bottle} is in the store.")
            beyond = to_make(form).beyond
            if beyond:
                messages.warning(request, beyond)
            return SeeOther(reverse("bottle", args=[bottle.pk]))
    context = {"form": form, "make": to_make(form)}
    return render(
        request, "recipes/stock_new.html", context, status=422 if form.errors and not only_show else 200
    )


@helper
@require_safe
def stock_powder(request: SignedInRequest) -> HttpResponse:
    """What to weigh for the stock that is being filled in, shown beside the form."""
    form = StockForm(request.GET)
    form.is_valid()
    return render(request, "recipes/_stock_to_make.html", {"make": to_make(form)})


def _asked_stock(request: SignedInRequest) -> StockForm:
    """An empty form, with what the address already says filled in."""
    asked = asked_for(jar=request.GET.get("jar", ""), strength_mg_per_litre=request.GET.get("strength", ""))
    return StockForm(initial=asked)


def _bottle(pk: int) -> StockBottle:
    return get_object_or_404(StockBottle.objects.select_related("dye__stock_item", "jar", "lot"), pk=pk)


@helper
@require_safe
def bottle(request: SignedInRequest, pk: int) -> HttpResponse:
    """What is left in a bottle, what moved, counting and finishing it."""
    return _bottle_page(request, _bottle(pk))


@helper
@require_POST
def bottle_count(request: SignedInRequest, pk: int) -> HttpResponse:
    """Counts what is left in a bottle."""
    one, form = _bottle(pk), CountForm(request.POST, unit="ul")
    if form.is_valid():
        with refusals_beside(form, "counted", why=ReasonMissing):
            count_in_store(item=one.dye.stock_item, lot=one.lot, who=request.user, **form.cleaned_data)
        if form.is_valid():
            messages.success(request, "The book now says what you counted.")
            return SeeOther(reverse("bottle", args=[one.pk]))
    return _bottle_page(request, one, count=form)


@helper
@require_POST
def bottle_finish(request: SignedInRequest, pk: int) -> HttpResponse:
    """Puts a bottle away for good."""
    one, form = _bottle(pk), FinishForm(request.POST)
    if form.is_valid():
        with refusals_beside(form, "why"):
            dyestuff.finish_bottle(bottle=one, who=request.user, **form.cleaned_data)
        if form.is_valid():
            messages.success(request, f"{one} is finished.")
            return SeeOther(reverse("store"))
    return _bottle_page(request, one, finish=form)


def _bottle_page(request: SignedInRequest, one: StockBottle, **answered: forms.Form) -> HttpResponse:
    context: dict[str, Any] = {
        "bottle": one,
        "left": queries.left_of(one.lot, one.dye.stock_item),
        "age_days": queries.age_days(one),
        "history": queries.history(lot=one.lot, page=page_asked(request)),
        "count": CountForm(unit="ul", auto_id="count_%s"),
        "finish": FinishForm(auto_id="finish_%s"),
        **answered,
    }
    return _page(request, "recipes/bottle.html", context, answered)


@helper
@require_http_methods(["GET", "POST"])
def auxiliary_new(request: SignedInRequest) -> HttpResponse:
    """An acid, a salt or another auxiliary, with what is there of it."""
    form = NewAuxiliaryForm(request.POST or None)
    if form.is_valid():
        said = form.cleaned_data
        with refusals_beside(form, "name"):
            auxiliary = dyestuff.stock_new_auxiliary(
                key=said["key"],
                who=request.user,
                form=said["form"],
                amount=said["amount"] or 0,
                from_before=said["came"] == "before",
                **form.facts(),
            )
        if form.is_valid():
            messages.success(request, f"{auxiliary.name} is in the store.")
            return SeeOther(reverse("auxiliary", args=[auxiliary.pk]))
    return render(request, "recipes/auxiliary_new.html", {"form": form}, status=422 if form.errors else 200)


def _auxiliary(pk: int) -> Auxiliary:
    return get_object_or_404(Auxiliary.objects.select_related("item", "lot"), pk=pk)


@helper
@require_safe
def auxiliary(request: SignedInRequest, pk: int) -> HttpResponse:
    """What is there of an auxiliary, what moved, more of it, and counting it."""
    return _auxiliary_page(request, _auxiliary(pk))


@helper
@require_http_methods(["GET", "POST"])
def auxiliary_change(request: SignedInRequest, pk: int) -> HttpResponse:
    """What is known of an auxiliary, put right."""
    one = _auxiliary(pk)
    form = AuxiliaryFactsForm(request.POST or None, initial=AuxiliaryFactsForm.initial_of(one))
    if form.is_valid():
        with refusals_beside(form, "name"):
            dyestuff.change_auxiliary(auxiliary=one, **form.facts())
        if form.is_valid():
            messages.success(request, f"What is known of {form.cleaned_data['name']} was changed.")
            return SeeOther(reverse("auxiliary", args=[one.pk]))
    context = {
        "form": form,
        "heading": one.name,
        "back": reverse("auxiliary", args=[one.pk]),
        "back_words": one.name,
        "keep": "Keep",
    }
    return _page(request, "recipes/form_page.html", context, {"form": form})


@helper
@require_POST
def auxiliary_in(request: SignedInRequest, pk: int) -> HttpResponse:
    """More of an auxiliary."""
    one = _auxiliary(pk)
    form = AuxiliaryInForm(request.POST, auxiliary=one)
    if form.is_valid():
        said = form.cleaned_data
        with refusals_beside(form, "amount"):
            dyestuff.receive_auxiliary(
                key=said["key"],
                auxiliary=one,
                amount=said["amount"],
                who=request.user,
                from_before=said["came"] == "before",
            )
        if form.is_valid():
            messages.success(request, f"More {one.name} is in the store.")
            return SeeOther(reverse("auxiliary", args=[one.pk]))
    return _auxiliary_page(request, one, more=form)


@helper
@require_POST
def auxiliary_count(request: SignedInRequest, pk: int) -> HttpResponse:
    """Counts what is there of an auxiliary."""
    one = _auxiliary(pk)
    form = CountForm(request.POST, unit="ul" if one.is_liquid else "mg")
    if form.is_valid():
        with refusals_beside(form, "counted", why=ReasonMissing):
            count_in_store(item=one.item, lot=one.lot, who=request.user, **form.cleaned_data)
        if form.is_valid():
            messages.success(request, "The book now says what you counted.")
            return SeeOther(reverse("auxiliary", args=[one.pk]))
    return _auxiliary_page(request, one, count=form)


def _auxiliary_page(request: SignedInRequest, one: Auxiliary, **answered: forms.Form) -> HttpResponse:
    context: dict[str, Any] = {
        "auxiliary": one,
        "left": queries.left_of(one.lot, one.item),
        "history": queries.history(lot=one.lot, page=page_asked(request)),
        "more": AuxiliaryInForm(auxiliary=one),
        "count": CountForm(unit="ul" if one.is_liquid else "mg", auto_id="count_%s"),
        **answered,
    }
    return _page(request, "recipes/auxiliary.html", context, answered)


def _page(
    request: SignedInRequest, template: str, context: dict[str, Any], answered: dict[str, forms.Form]
) -> HttpResponse:
    wrong = any(form.errors for form in answered.values())
    return render(request, template, context, status=422 if wrong else 200)
