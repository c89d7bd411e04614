"""Shows: the list, one show, its normal numbers, and what came of it."""

from __future__ import annotations

import uuid

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from dyehouse.studio.access import SignedInRequest, helper, owner
from dyehouse.studio.answers import SeeOther
from dyehouse.studio.refusals import Refused
from dyehouse.studio.refusing import refusals_beside
from inventory.shows import after, closing, packing, planning, tallying
from inventory.shows.forms import NextForm, NormalForm, ShowForm, TakingsForm, WhyForm
from inventory.shows.models import Load, Show
from inventory.shows.queries import due_shows, normal_page, show_lines, show_page


def show_or_404(pk: int) -> Show:
    """A show with its place."""
    return get_object_or_404(Show.objects.select_related("place"), pk=pk)


@helper
@require_GET
def shows(request: SignedInRequest) -> HttpResponse:
    """The shows to come and those that are over."""
    coming, over = show_lines()
    return render(request, "shows/shows.html", {"coming": coming, "over": over})


@helper
@require_GET
def shows_today(request: SignedInRequest) -> HttpResponse:
    """What the day's page says of shows: a part of it; nothing where no show is near."""
    return render(request, "shows/_today.html", {"due": due_shows()})


@helper
@require_http_methods(["GET", "POST"])
def show_new(request: SignedInRequest) -> HttpResponse:
    """Write a show down."""
    form = ShowForm(request.POST if request.method == "POST" else None)
    if form.is_bound and form.is_valid():
        with refusals_beside(form, "name", ends_on=planning.WrongDays):
            found = planning.plan_show(**form.cleaned_data, who=request.user)
        if not form.errors:
            return SeeOther(reverse("shows-show", args=[found.pk]))
    context = {"form": form, "heading": "A show", "back": reverse("shows"), "back_words": "Shows"}
    return render(request, "shows/form.html", context, status=422 if form.errors else 200)


@helper
@require_http_methods(["GET", "POST"])
def show_change(request: SignedInRequest, pk: int) -> HttpResponse:
    """Put right what is known of a show."""
    found = show_or_404(pk)
    known = {name: getattr(found, name) for name in ("name", "where", "starts_on", "ends_on", "note")}
    form = ShowForm(request.POST if request.method == "POST" else None, initial=known)
    back = reverse("shows-show", args=[pk])
    if form.is_bound and form.is_valid():
        with refusals_beside(form, "name", ends_on=planning.WrongDays):
            planning.change_show(show=found, **form.cleaned_data)
        if not form.errors:
            return SeeOther(back)
    context = {"form": form, "heading": f"Change {found}", "back": back, "back_words": str(found)}
    return render(request, "shows/form.html", context, status=422 if form.errors else 200)


@helper
@require_GET
def show(request: SignedInRequest, pk: int) -> HttpResponse:
    """One show: what is there, what was taken, and what came of it."""
    return _show(request, show_or_404(pk))


def _show(
    request: SignedInRequest, found: Show, *, takings: TakingsForm | None = None, status: int = 200
) -> HttpResponse:
    page = show_page(found, user=request.user)
    currency = request.studio.currency
    initial = {"minor": page.takings.minor} if page.takings is not None else {}
    context = {
        "show": found,
        "page": page,
        "takings": takings or TakingsForm(currency=currency, initial=initial),
        "new_key": uuid.uuid4(),
    }
    return render(request, "shows/show.html", context, status=status)


@helper
@require_POST
def show_call_off(request: SignedInRequest, pk: int) -> HttpResponse:
    """The show does not take place, or not with us."""
    found = show_or_404(pk)
    try:
        planning.call_off(show=found)
    except Refused as refused:
        messages.error(request, str(refused))
        return SeeOther(reverse("shows-show", args=[pk]))
    messages.success(request, f"{found} is called off.")
    return SeeOther(reverse("shows"))


@helper
@require_POST
def load_back(request: SignedInRequest, pk: int, load: int) -> HttpResponse:
    """A load was not taken after all."""
    found = get_object_or_404(Load.objects.select_related("show", "movement"), pk=load, show=pk)
    form = WhyForm(request.POST)
    try:
        why = form.cleaned_data["why"] if form.is_valid() else ""
        packing.not_taken(key=form.cleaned_data["key"], load=found, who=request.user, why=why)
    except Refused as refused:
        messages.error(request, str(refused))
    else:
        messages.success(request, "All of it lies where it lay.")
    return SeeOther(reverse("shows-show", args=[pk]))


@helper
@require_POST
def open_again(request: SignedInRequest, pk: int) -> HttpResponse:
    """Take a closing back: all of it is at the show again."""
    found = show_or_404(pk)
    closed = closing.closing_of(found)
    form = WhyForm(request.POST)
    if closed is None:
        messages.error(request, f"{found} is open already.")
        return SeeOther(reverse("shows-show", args=[pk]))
    try:
        why = form.cleaned_data["why"] if form.is_valid() else ""
        closing.open_again(key=form.cleaned_data["key"], closing=closed, who=request.user, why=why)
    except Refused as refused:
        messages.error(request, str(refused))
        return SeeOther(reverse("shows-show", args=[pk]))
    messages.success(request, f"{found} is open again; its count is as it was typed.")
    return SeeOther(reverse("shows-back", args=[pk]))


@owner
@require_POST
def show_takings(request: SignedInRequest, pk: int) -> HttpResponse:
    """What the show took in money."""
    found = show_or_404(pk)
    form = TakingsForm(request.POST, currency=request.studio.currency)
    if not form.is_valid():
        return _show(request, found, takings=form, status=422)
    tallying.note_takings(
        show=found,
        minor=form.cleaned_data["minor"],
        currency=request.studio.currency,
        who=request.user,
    )
    messages.success(request, "The takings are written down.")
    return SeeOther(reverse("shows-show", args=[pk]))


@helper
@require_http_methods(["GET", "POST"])
def normal(request: SignedInRequest) -> HttpResponse:
    """How many of what usually go to a show."""
    page = normal_page(user=request.user)
    form = NormalForm(request.POST if request.method == "POST" else None, page=page)
    if form.is_bound and form.is_valid():
        with refusals_beside(form):
            planning.keep_normal_numbers(numbers=form.numbers, who=request.user)
        if not form.errors:
            messages.success(request, "The normal numbers are kept.")
            return SeeOther(reverse("shows-normal"))
    return render(
        request, "shows/normal.html", {"form": form, "page": page}, status=422 if form.errors else 200
    )


@helper
@require_http_methods(["GET", "POST"])
def next_time(request: SignedInRequest, pk: int) -> HttpResponse:
    """What a show that is over says for the next: looked through, put right, kept as normal numbers."""
    found = show_or_404(pk)
    closed = closing.closing_of(found)
    if closed is None:
        raise Http404("This show is not counted back yet.")
    sorts = after.after(closed, user=request.user).sorts
    form = NextForm(request.POST if request.method == "POST" else None, sorts=sorts)
    if form.is_bound and form.is_valid():
        with refusals_beside(form):
            planning.keep_normal_numbers(numbers=form.numbers, who=request.user)
        if not form.errors:
            messages.success(request, "Kept as normal numbers for the next show.")
            return SeeOther(reverse("shows-normal"))
    context = {"show": found, "form": form}
    return render(request, "shows/next.html", context, status=422 if form.errors else 200)
