"""Colourways: the list, the page of one, its name and its secret; and its ways of dyeing."""

from __future__ import annotations

import datetime as dt

from django.core.exceptions import PermissionDenied
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from dyehouse.studio.access import SignedInRequest, helper, owner
from dyehouse.studio.answers import SeeOther
from dyehouse.studio.codes import tidy
from dyehouse.studio.refusing import refusals_beside
from recipes.colourways import keep_secret, name_colourway, note_snip, sort_into_families
from recipes.dyeing.families import FAMILIES, family_names
from recipes.lots.colourway_queries import colourway_list, colourway_page
from recipes.lots.views import in_us_units
from recipes.lots.way_forms import FamiliesForm, NameForm, SecretForm, SnipForm
from recipes.models import Colourway
from recipes.paging import page_asked


def _colourway_or_404(code: str) -> Colourway:
    return get_object_or_404(Colourway, code=tidy(code))


@helper
@require_GET
def colourways(request: SignedInRequest) -> HttpResponse:
    """All colourways, the one dyed last first."""
    search, family = request.GET.get("find", "")[:80], request.GET.get("family", "")
    found = colourway_list(user=request.user, search=search, family=family, page=page_asked(request))
    return render(request, "lots/colourways.html", {"found": found, "families": FAMILIES})


def _show(request: SignedInRequest, colourway: Colourway, **forms: object) -> HttpResponse:
    context = {
        "page": colourway_page(colourway, user=request.user, us=in_us_units(request)),
        "colourway": colourway,
        "name_form": NameForm(initial={"name": colourway.name}),
        "secret_form": SecretForm(
            initial={"until": timezone.localdate(colourway.secret_until) if colourway.secret_until else None}
        ),
        "families_form": FamiliesForm(initial={"families": colourway.families}),
        "snip_form": SnipForm(initial={"snip": colourway.snip}),
        "families": family_names(colourway.families),
        **forms,
    }
    return render(request, "lots/colourway.html", context, status=422 if forms else 200)


@helper
@require_GET
def colourway(request: SignedInRequest, code: str) -> HttpResponse:
    """One colourway: on each base the lot to repeat and how it is dyed."""
    return _show(request, _colourway_or_404(code))


@owner
@require_POST
def colourway_name(request: SignedInRequest, code: str) -> HttpResponse:
    """Give a colourway its name."""
    found = _colourway_or_404(code)
    form = NameForm(request.POST)
    if form.is_valid():
        with refusals_beside(form, "name"):
            name_colourway(colourway=found, name=form.cleaned_data["name"])
    if form.errors:
        return _show(request, _colourway_or_404(code), name_form=form)
    return SeeOther(reverse("colourway", args=[found.code]))


@helper
@require_POST
def colourway_families(request: SignedInRequest, code: str) -> HttpResponse:
    """Sort a colourway into colour families."""
    found = _colourway_or_404(code)
    if not found.may_be_seen_by(request.user):
        raise PermissionDenied
    form = FamiliesForm(request.POST)
    if form.is_valid():
        with refusals_beside(form, "families"):
            sort_into_families(colourway=found, families=form.cleaned_data["families"])
    if form.errors:
        return _show(request, found, families_form=form)
    return SeeOther(reverse("colourway", args=[found.code]))


@helper
@require_POST
def colourway_snip(request: SignedInRequest, code: str) -> HttpResponse:
    """Say where the snip of a colourway is kept."""
    found = _colourway_or_404(code)
    form = SnipForm(request.POST)
    if form.is_valid():
        with refusals_beside(form, "snip"):
            note_snip(colourway=found, where=form.cleaned_data["snip"])
    if form.errors:
        return _show(request, found, snip_form=form)
    return SeeOther(reverse("colourway", args=[found.code]))


@owner
@require_POST
def colourway_secret(request: SignedInRequest, code: str) -> HttpResponse:
    """Keep a colourway secret until a day, or no longer."""
    found = _colourway_or_404(code)
    form = SecretForm(request.POST)
    if form.is_valid():
        day = form.cleaned_data["until"]
        until = timezone.make_aware(dt.datetime.combine(day, dt.time())) if day is not None else None
        with refusals_beside(form, "until"):
            keep_secret(colourway=found, until=until)
    if form.errors:
        return _show(request, found, secret_form=form)
    return SeeOther(reverse("colourway", args=[found.code]))
