"""Pages of undyed yarn: bases, put-ups, mill lots, and what comes in of them."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from dyehouse.studio.access import SignedInRequest, helper
from dyehouse.studio.answers import SeeOther
from dyehouse.studio.refusing import refusals_beside
from recipes import queries, yarn
from recipes.counting import count_in_store
from recipes.dyestuff_forms import CountForm
from recipes.models import Base, MillLot, PutUp
from recipes.paging import page_asked
from recipes.yarn_forms import BaseFactsForm, NewBaseForm, PutUpFactsForm, PutUpForm, YarnInForm, put_up_words


@helper
@require_http_methods(["GET", "POST"])
def base_new(request: SignedInRequest) -> HttpResponse:
    """A base with its first put-up and what is there of it."""
    form = NewBaseForm(request.POST or None)
    if form.is_valid():
        said = form.cleaned_data
        with refusals_beside(form, "name", mill_lot=yarn.MillLotTaken, share_1=yarn.FibresDoNotAddUp):
            base = yarn.stock_new_base(
                key=said["key"],
                who=request.user,
                nominal_milligrams=said["nominal_milligrams"],
                metres=said["metres"],
                pieces=said["pieces"] or 0,
                mill_lot_number=said["mill_lot"],
                from_before=said["came"] == "before",
                **form.facts(),
            )
        if form.is_valid():
            messages.success(request, f"{base.name} is in the store.")
            return SeeOther(reverse("base", args=[base.pk]))
    return render(request, "recipes/base_new.html", {"form": form}, status=422 if form.errors else 200)


@helper
@require_safe
def base(request: SignedInRequest, pk: int) -> HttpResponse:
    """What is known of a base and what the store has of it."""
    one = get_object_or_404(Base.objects.prefetch_related("fibres"), pk=pk)
    return render(
        request,
        "recipes/base.html",
        {"base": one, "there": queries.yarn_in_store(one)[0], "facts": queries.base_facts(one)},
    )


@helper
@require_http_methods(["GET", "POST"])
def base_change(request: SignedInRequest, pk: int) -> HttpResponse:
    """What is known of a base, put right."""
    one = get_object_or_404(Base, pk=pk)
    form = BaseFactsForm(request.POST or None, initial=BaseFactsForm.initial_of(one))
    if form.is_valid():
        with refusals_beside(form, "name", share_1=yarn.FibresDoNotAddUp):
            yarn.change_base(base=one, **form.facts())
        if form.is_valid():
            messages.success(request, f"What is known of {form.cleaned_data['name']} was changed.")
            return SeeOther(reverse("base", args=[one.pk]))
    context = {"form": form, "base": one}
    return render(request, "recipes/base_change.html", context, status=422 if form.errors else 200)


@helper
@require_http_methods(["GET", "POST"])
def base_put_up(request: SignedInRequest, pk: int) -> HttpResponse:
    """Another weight that a base is put up in."""
    one = get_object_or_404(Base, pk=pk)
    form = PutUpForm(request.POST or None)
    if form.is_valid():
        with refusals_beside(form, "nominal_milligrams"):
            yarn.add_put_up(base=one, **form.cleaned_data)
        if form.is_valid():
            return SeeOther(reverse("base", args=[one.pk]))
    context = {
        "form": form,
        "heading": f"Another put-up of {one.name}",
        "back": reverse("base", args=[one.pk]),
        "back_words": one.name,
        "keep": "Add it",
    }
    return render(request, "recipes/form_page.html", context, status=422 if form.errors else 200)


@helper
@require_http_methods(["GET", "POST"])
def put_up(request: SignedInRequest, pk: int) -> HttpResponse:
    """The metres and the name of a put-up, put right."""
    one = get_object_or_404(PutUp.objects.select_related("base"), pk=pk)
    form = PutUpFactsForm(request.POST or None, initial={"metres": one.metres, "name": one.name})
    if form.is_valid():
        yarn.change_put_up(put_up=one, **form.cleaned_data)
        return SeeOther(reverse("base", args=[one.base_id]))
    context = {
        "form": form,
        "heading": str(one),
        "lead": "Another weight is another put-up, so the weight of this one stays.",
        "back": reverse("base", args=[one.base_id]),
        "back_words": one.base.name,
        "keep": "Keep",
    }
    return render(request, "recipes/form_page.html", context, status=422 if form.errors else 200)


@helper
@require_http_methods(["GET", "POST"])
def base_yarn_in(request: SignedInRequest, pk: int) -> HttpResponse:
    """Pieces that come into the store."""
    one = get_object_or_404(Base, pk=pk)
    asked = request.GET.get("put_up", "")
    form = YarnInForm(request.POST or None, base=one, initial={"put_up": asked} if asked else {})
    if form.is_valid():
        said = form.cleaned_data
        with refusals_beside(form, "pieces", number=yarn.MillLotTaken):
            yarn.yarn_in(
                key=said["key"],
                who=request.user,
                put_up=form.chosen_put_up,
                lot=form.chosen_lot,
                new_number=form.new_number,
                pieces=said["pieces"],
                from_before=said["came"] == "before",
            )
        if form.is_valid():
            count = said["pieces"]
            messages.success(
                request,
                f"{count} {'piece' if count == 1 else 'pieces'} of {one.name}, {put_up_words(form.chosen_put_up)}, "
                f"{'is' if count == 1 else 'are'} in the store.",
            )
            return SeeOther(reverse("base", args=[one.pk]))
    context = {
        "form": form,
        "heading": f"{one.name} comes in",
        "back": reverse("base", args=[one.pk]),
        "back_words": one.name,
        "keep": "Take it into the store",
    }
    return render(request, "recipes/form_page.html", context, status=422 if form.errors else 200)


@helper
@require_http_methods(["GET", "POST"])
def mill_lot(request: SignedInRequest, pk: int, put_up_pk: int) -> HttpResponse:
    """Pieces of one mill lot at one put-up: what moved, and counting them."""
    lot = get_object_or_404(MillLot.objects.select_related("base", "lot"), pk=pk)
    put_up = get_object_or_404(PutUp.objects.select_related("base", "item"), pk=put_up_pk, base=lot.base_id)
    form = CountForm(request.POST or None, unit="piece")
    if form.is_valid():
        with refusals_beside(form, "counted"):
            count_in_store(item=put_up.item, lot=lot.lot, who=request.user, **form.cleaned_data)
        if form.is_valid():
            messages.success(request, "The book now says what you counted.")
            return SeeOther(reverse("mill-lot", args=[lot.pk, put_up.pk]))
    context = {
        "lot": lot,
        "put_up": put_up,
        "left": queries.left_of(lot.lot, put_up.item),
        "form": form,
        "history": queries.history(lot=lot.lot, item=put_up.item, page=page_asked(request)),
    }
    return render(request, "recipes/mill_lot.html", context, status=422 if form.errors else 200)
