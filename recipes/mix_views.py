"""Pages of mixes and jugs: what is open, making one, and one with its parts and what moved."""

from __future__ import annotations

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from dyehouse.studio.access import SignedInRequest, helper
from dyehouse.studio.answers import SeeOther
from dyehouse.studio.codes import tidy
from dyehouse.studio.refusing import refusals_beside
from recipes import mixes as operations
from recipes import queries
from recipes.counting import ReasonMissing, count_in_store
from recipes.dyestuff_forms import CountForm, FinishForm
from recipes.mix_forms import MixForm, OnTheBench, PartRows, PartsOfMix
from recipes.mix_making import mix_to_make
from recipes.models import Mix
from recipes.paging import page_asked


@helper
@require_safe
def mixes(request: SignedInRequest) -> HttpResponse:
    """The mixes that are open, and those that are finished."""
    page = page_asked(request)
    finished = queries.finished_mixes(page=page)
    context = {
        "open": queries.mixes_in_store(),
        "finished": finished[: queries.HISTORY_PAGE],
        "page": page,
        "older": len(finished) > queries.HISTORY_PAGE,
    }
    return render(request, "recipes/mixes.html", context)


def _rows(sent: object, bench: OnTheBench) -> PartsOfMix:
    return PartRows(sent, prefix="part", form_kwargs={"bench": bench})  # type: ignore[arg-type]


@helper
@require_http_methods(["GET", "POST"])
def mix_new(request: SignedInRequest) -> HttpResponse:
    """A mix: what it comes to while it is written down, then made."""
    only_show = "show" in request.POST
    sent = request.POST if request.method == "POST" else None
    bench = OnTheBench.now()
    form, rows = MixForm(sent), _rows(sent, bench)
    # Both are asked, so that each shows what is wrong in it.
    valid = all([form.is_valid(), rows.is_valid()]) if sent is not None else False
    if valid and not only_show:
        said, make = form.cleaned_data, mix_to_make(form, rows)
        with refusals_beside(
            form,
            microlitres=operations.MoreThanItsVolume,
            name=(operations.MixNameTaken, operations.NameLikeAnAmount),
        ):
            made = operations.make_mix(
                key=said["key"],
                parts=rows.parts,
                microlitres=said["microlitres"],
                made_at=form.made_at,
                who=request.user,
                name=said["name"],
                best_before=said["best_before"] or make.best_before,
            )
        if form.is_valid():
            messages.success(request, f"Mix {made} is made. Write {made.code} on the jug.")
            for sentence in make.beyond:
                messages.warning(request, sentence)
            return SeeOther(reverse("mix", args=[made.code]))
    wrong = sent is not None and not only_show
    context = {"form": form, "rows": rows, "make": mix_to_make(form, rows), "bench": bench}
    return render(request, "recipes/mix_new.html", context, status=422 if wrong else 200)


@helper
@require_safe
def mix_comes_to(request: SignedInRequest) -> HttpResponse:
    """What the mix that is being written down comes to, shown beside the form."""
    form, rows = MixForm(request.GET), _rows(request.GET, OnTheBench.now())
    form.is_valid()
    rows.is_valid()
    return render(request, "recipes/_mix_to_make.html", {"make": mix_to_make(form, rows)})


def _mix(code: str) -> Mix:
    found = Mix.objects.select_related("item", "lot", "made_by").prefetch_related(
        operations.parts_through("")
    )
    return get_object_or_404(found, code=tidy(code))


@helper
@require_safe
def mix(request: SignedInRequest, code: str) -> HttpResponse:
    """What is in a mix and left of it, what moved, counting and finishing it."""
    return _mix_page(request, _mix(code))


@helper
@require_POST
def mix_count(request: SignedInRequest, code: str) -> HttpResponse:
    """Counts what is left of a mix."""
    one, form = _mix(code), CountForm(request.POST, unit="ul")
    if form.is_valid():
        with refusals_beside(form, "counted", why=ReasonMissing):
            count_in_store(item=one.item, lot=one.lot, who=request.user, **form.cleaned_data)
        if form.is_valid():
            messages.success(request, "The book now says what you counted.")
            return SeeOther(reverse("mix", args=[one.code]))
    return _mix_page(request, one, count=form)


@helper
@require_POST
def mix_finish(request: SignedInRequest, code: str) -> HttpResponse:
    """Puts a mix away for good."""
    one, form = _mix(code), FinishForm(request.POST)
    if form.is_valid():
        with refusals_beside(form, "why"):
            operations.finish_mix(mix=one, who=request.user, **form.cleaned_data)
        if form.is_valid():
            messages.success(request, f"Mix {one} is finished.")
            return SeeOther(reverse("store"))
    return _mix_page(request, one, finish=form)


def _mix_page(request: SignedInRequest, one: Mix, **answered: forms.Form) -> HttpResponse:
    left = queries.left_of(one.lot, one.item)
    context = {
        "mix": one,
        "left": left,
        "holds": operations.what_is_left(one, left),
        "age_days": queries.age_days(one),
        "history": queries.history(lot=one.lot, item=one.item, page=page_asked(request)),
        "count": CountForm(unit="ul", auto_id="count_%s"),
        "finish": FinishForm(auto_id="finish_%s"),
        **answered,
    }
    wrong = any(form.errors for form in answered.values())
    return render(request, "recipes/mix.html", context, status=422 if wrong else 200)
