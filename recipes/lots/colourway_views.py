"""Colourways: the list, the page of one, its name and its secret; and its ways of dyeing."""

from __future__ import annotations

import datetime as dt

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from dyehouse.studio.access import SignedInRequest, helper, owner
from dyehouse.studio.answers import SeeOther
from dyehouse.studio.codes import tidy
from dyehouse.studio.models import Vessel
from dyehouse.studio.refusals import Refused
from dyehouse.studio.refusing import refusals_beside
from recipes.colourways import keep_secret, name_colourway
from recipes.lots.colourway_queries import colourway_lines, colourway_page, way_lines
from recipes.lots.filling_in import answer_missing
from recipes.lots.learning import ProposedWay, learn_way, propose_way
from recipes.lots.models import Pot
from recipes.lots.views import in_us_units, pot_or_404
from recipes.lots.way_forms import AnswerForm, CorrectForm, NameForm, SecretForm, chosen_bases
from recipes.models import Colourway, WayOfDyeing
from recipes.way_words import departures
from recipes.ways import WayFacts, depart, drafts_of, rules_of


def _colourway_or_404(code: str) -> Colourway:
    return get_object_or_404(Colourway, code=tidy(code))


@helper
@require_GET
def colourways(request: SignedInRequest) -> HttpResponse:
    """All colourways, the one dyed last first."""
    search = request.GET.get("find", "")[:80]
    lines = colourway_lines(user=request.user, search=search)
    return render(request, "lots/colourways.html", {"lines": lines, "search": search})


def _show(request: SignedInRequest, colourway: Colourway, **forms: object) -> HttpResponse:
    context = {
        "page": colourway_page(colourway, user=request.user, us=in_us_units(request)),
        "colourway": colourway,
        "name_form": NameForm(initial={"name": colourway.name}),
        "secret_form": SecretForm(
            initial={"until": timezone.localdate(colourway.secret_until) if colourway.secret_until else None}
        ),
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


@helper
@require_http_methods(["GET", "POST"])
def way_new(request: SignedInRequest, code: str) -> HttpResponse:
    """Make a pot repeatable: its additions as rules, what is missing, and keeping it as a way of dyeing."""
    pot = pot_or_404(code)
    us = in_us_units(request)
    problem = ""
    sent = request.POST if request.method == "POST" else request.GET
    try:
        proposed = propose_way(pot, us=us)
        chosen = chosen_bases(sent, proposed.rules)
        if request.method == "POST" and "keep" in request.POST:
            way = learn_way(pot=pot, who=request.user, rules=chosen)
            messages.success(request, f"Way {way.number} on {way.base.name} is kept. It never changes.")
            return SeeOther(reverse("colourway", args=[pot.colourway.code]))
        if chosen:
            proposed = propose_way(pot, chosen=chosen, us=us)
    except Refused as refused:
        proposed, problem = None, str(refused)
    return _show_way(request, pot, proposed, problem=problem)


def _show_way(
    request: SignedInRequest,
    pot: Pot,
    proposed: ProposedWay | None,
    *,
    problem: str = "",
    answering: str = "",
    errors: list[str] | None = None,
) -> HttpResponse:
    context = {
        "pot": pot,
        "proposed": proposed,
        "problem": problem,
        "name": pot.colourway.shown_name(request.user),
        "vessels": Vessel.objects.filter(retired_at__isnull=True).order_by("name"),
        "answer_form": AnswerForm(),
        "answering": answering,
        "errors": errors or [],
        "said": request.POST if answering else {},
    }
    return render(
        request,
        "lots/way_new.html",
        context,
        status=422 if errors or (problem and request.method == "POST") else 200,
    )


@helper
@require_POST
def way_answer(request: SignedInRequest, code: str) -> HttpResponse:
    """Answer one thing that is missing to dye a pot again."""
    pot = pot_or_404(code)
    form = AnswerForm(request.POST)
    errors: list[str] = []
    if form.is_valid():
        said = form.cleaned_data
        try:
            answer_missing(
                pot=pot,
                slug=said["slug"],
                key=said["key"],
                who=request.user,
                text=said["text"],
                milligrams=said["grams"],
                microlitres=said["litres"] * 1000 if said["litres"] is not None else None,
                minutes=said["minutes"],
                vessel=said["vessel"],
                centi_celsius=said["degrees"],
                clock=said["clock"].replace(".", ":"),
                fahrenheit=in_us_units(request),
            )
        except Refused as refused:
            errors = [str(refused)]
    else:
        errors = form.sentences()
    if not errors:
        return SeeOther(reverse("way-new", args=[pot.code]) + "#missing")
    return _show_way(
        request,
        pot,
        propose_way(pot, us=in_us_units(request)),
        answering=request.POST.get("slug", ""),
        errors=errors,
    )


def _way_or_404(pk: int) -> WayOfDyeing:
    ways = WayOfDyeing.objects.select_related("colourway", "base", "departs_from", "made_by", "origin__pot")
    return get_object_or_404(ways, pk=pk)


@helper
@require_GET
def way(request: SignedInRequest, pk: int) -> HttpResponse:
    """One way of dyeing as it was kept."""
    found = _way_or_404(pk)
    context = {
        "way": found,
        "lines": way_lines(found, us=in_us_units(request)),
        "name": found.colourway.shown_name(request.user),
    }
    return render(request, "lots/way.html", context)


@helper
@require_http_methods(["GET", "POST"])
def way_correct(request: SignedInRequest, pk: int) -> HttpResponse:
    """Correct a way: a new one that says what it departs from and why; the old one stays as it is."""
    found = _way_or_404(pk)
    form = CorrectForm(request.POST if request.method == "POST" else None, rules=rules_of(found))
    departs: list[str] = []
    if form.is_bound and form.is_valid():
        facts = WayFacts.of(found)
        departs = departures((drafts_of(found), facts), (form.drafts(), facts))
        if "keep" in request.POST:
            with refusals_beside(form):
                kept = depart(way=found, rules=form.drafts(), why=form.cleaned_data["why"], who=request.user)
            if not form.errors:
                messages.success(request, f"Way {kept.number} is kept; way {found.number} stays as it is.")
                return SeeOther(reverse("colourway", args=[found.colourway.code]))
    context = {
        "way": found,
        "form": form,
        "departs": departs,
        "looked": form.is_bound and not form.errors,
        "name": found.colourway.shown_name(request.user),
    }
    return render(request, "lots/way_correct.html", context, status=422 if form.errors else 200)
