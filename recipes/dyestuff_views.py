"""Pages of dyes and their jars."""

from __future__ import annotations

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
from recipes.dyeing.cautions import cautions
from recipes.dyestuff_forms import (
    CountForm,
    DyeFactsForm,
    FinishForm,
    JarForm,
    NewDyeForm,
    TareForm,
    WeighForm,
)
from recipes.models import Dye, Jar
from recipes.paging import page_asked


@helper
@require_http_methods(["GET", "POST"])
def dye_new(request: SignedInRequest) -> HttpResponse:
    """A dye with its first jar, when there is one."""
    form = NewDyeForm(request.POST or None)
    if form.is_valid():
        said = form.cleaned_data
        with refusals_beside(form, "name", label=dyestuff.JarTaken, gross_milligrams=dyestuff.NothingInIt):
            dye = dyestuff.stock_new_dye(
                key=said["key"],
                who=request.user,
                jar=form.jar(),
                from_before=said["came"] == "before",
                **form.facts(),
            )
        if form.is_valid():
            messages.success(request, f"{dye.name} is in the store.")
            return SeeOther(reverse("dye", args=[dye.pk]))
    return render(request, "recipes/dye_new.html", {"form": form}, status=422 if form.errors else 200)


@helper
@require_safe
def dye(request: SignedInRequest, pk: int) -> HttpResponse:
    """What is known of a dye, its jars and its bottles."""
    one = get_object_or_404(Dye, pk=pk)
    context = {
        "dye": one,
        "there": queries.dyes_in_store(one)[0],
        "bottles": queries.bottles_in_store(one),
        "cautions": cautions([one.dye_class]),
    }
    return render(request, "recipes/dye.html", context)


@helper
@require_http_methods(["GET", "POST"])
def dye_change(request: SignedInRequest, pk: int) -> HttpResponse:
    """What is known of a dye, put right."""
    one = get_object_or_404(Dye, pk=pk)
    form = DyeFactsForm(request.POST or None, initial=DyeFactsForm.initial_of(one))
    if form.is_valid():
        with refusals_beside(form, "name"):
            dyestuff.change_dye(dye=one, **form.facts())
        if form.is_valid():
            messages.success(request, f"What is known of {form.cleaned_data['name']} was changed.")
            return SeeOther(reverse("dye", args=[one.pk]))
    context = {
        "form": form,
        "heading": one.name,
        "lead": "A way of dyeing that uses this dye is not changed by it.",
        "back": reverse("dye", args=[one.pk]),
        "back_words": one.name,
        "keep": "Keep",
    }
    return render(request, "recipes/form_page.html", context, status=422 if form.errors else 200)


@helper
@require_http_methods(["GET", "POST"])
def dye_jar(request: SignedInRequest, pk: int) -> HttpResponse:
    """One more jar of a dye."""
    one = get_object_or_404(Dye, pk=pk)
    form = JarForm(request.POST or None)
    if form.is_valid():
        said = form.cleaned_data
        with refusals_beside(
            form, "milligrams", label=dyestuff.JarTaken, gross_milligrams=dyestuff.NothingInIt
        ):
            jar = dyestuff.add_jar(
                key=said["key"], dye=one, who=request.user, from_before=said["came"] == "before", **form.jar()
            )
        if form.is_valid():
            messages.success(request, f"{one.name}, {jar.label}, is in the store.")
            return SeeOther(reverse("dye", args=[one.pk]))
    context = {"form": form, "dye": one}
    return render(request, "recipes/jar_new.html", context, status=422 if form.errors else 200)


def _jar(pk: int) -> Jar:
    return get_object_or_404(Jar.objects.select_related("dye__item", "lot"), pk=pk)


@helper
@require_safe
def jar(request: SignedInRequest, pk: int) -> HttpResponse:
    """What is left in a jar, what moved, and counting it."""
    return _jar_page(request, _jar(pk))


@helper
@require_POST
def jar_weigh(request: SignedInRequest, pk: int) -> HttpResponse:
    """Counts a jar by weighing it."""
    one, form = _jar(pk), WeighForm(request.POST)
    if form.is_valid():
        with refusals_beside(form, "gross_milligrams"):
            moved = dyestuff.weigh_jar(jar=one, who=request.user, **form.cleaned_data)
        if form.is_valid():
            said = (
                "The book now says what you weighed." if moved else "The book was right; nothing was changed."
            )
            messages.success(request, said)
            return SeeOther(reverse("jar", args=[one.pk]))
    return _jar_page(request, one, weigh=form)


@helper
@require_POST
def jar_tare(request: SignedInRequest, pk: int) -> HttpResponse:
    """Keeps what the empty jar weighs."""
    one, form = _jar(pk), TareForm(request.POST)
    if form.is_valid():
        dyestuff.set_tare(jar=one, tare_milligrams=form.cleaned_data["tare_milligrams"])
        return SeeOther(reverse("jar", args=[one.pk]))
    return _jar_page(request, one, tare=form)


@helper
@require_POST
def jar_count(request: SignedInRequest, pk: int) -> HttpResponse:
    """Counts the dye of a jar by itself."""
    one, form = _jar(pk), CountForm(request.POST, unit="mg")
    if form.is_valid():
        with refusals_beside(form, "counted", why=ReasonMissing):
            count_in_store(item=one.dye.item, lot=one.lot, who=request.user, **form.cleaned_data)
        if form.is_valid():
            messages.success(request, "The book now says what you counted.")
            return SeeOther(reverse("jar", args=[one.pk]))
    return _jar_page(request, one, count=form)


@helper
@require_POST
def jar_finish(request: SignedInRequest, pk: int) -> HttpResponse:
    """Puts a jar away for good."""
    one, form = _jar(pk), FinishForm(request.POST)
    if form.is_valid():
        with refusals_beside(form, "why"):
            dyestuff.finish_jar(jar=one, who=request.user, **form.cleaned_data)
        if form.is_valid():
            messages.success(request, f"{one.dye.name}, {one.label}, is finished.")
            return SeeOther(reverse("dye", args=[one.dye_id]))
    return _jar_page(request, one, finish=form)


def _jar_page(request: SignedInRequest, one: Jar, **answered: forms.Form) -> HttpResponse:
    left = queries.left_of(one.lot, one.dye.item)
    context = {
        "jar": one,
        "left": left,
        "gross_by_the_book": None if one.tare_milligrams is None else left + one.tare_milligrams,
        "history": queries.history(lot=one.lot, page=page_asked(request)),
        "weigh": WeighForm(),
        "tare": TareForm(initial={"tare_milligrams": one.tare_milligrams}),
        "count": CountForm(unit="mg", auto_id="count_%s"),
        "finish": FinishForm(auto_id="finish_%s"),
        **answered,
    }
    wrong = any(form.errors for form in answered.values())
    return render(request, "recipes/jar.html", context, status=422 if wrong else 200)
