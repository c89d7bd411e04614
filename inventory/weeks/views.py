"""The dye list, the weeks ahead, a lost day, and how the weeks go."""

from __future__ import annotations

from typing import Any
from uuid import uuid4

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from dyehouse.studio.access import SignedInRequest, helper, owner
from dyehouse.studio.answers import SeeOther
from dyehouse.studio.refusals import Refused
from dyehouse.studio.refusing import refusals_beside
from inventory.allocation.dye_list import days_needed
from inventory.kit_queries import kit_choices
from inventory.weeks import keeping
from inventory.weeks.ahead import Ahead, late_now, preview_lost, weeks_ahead, whom_to_tell
from inventory.weeks.forms import HabitsForm, LoseDayForm, WantedForm, has_sessions
from inventory.weeks.models import LostDay, Wanted, WeekHabits
from inventory.weeks.needs import what_it_takes
from inventory.weeks.picture import calendar, places_svg
from inventory.weeks.planning import plan_loads
from inventory.weeks.reckoning import DyeRow, reckon, vessels_that_dye
from recipes.lots.forms import KeptForm
from recipes.lots.in_store import in_store_today
from recipes.lots.views import pot_or_404


def _dye_list_page(
    request: SignedInRequest, *, wrong: str = "", ticked: frozenset[str] = frozenset()
) -> HttpResponse:
    ahead = weeks_ahead(user=request.user)
    loads = len(ahead.jobs)
    context = {
        "ahead": ahead,
        "page": ahead.reckoned,
        "days_needed": days_needed(loads=loads, loads_a_session=ahead.pace.a_session),
        "short_of_places": [each for each in ahead.needed if each.short],
        "wrong": wrong,
        "ticked": ticked,
        "new_key": uuid4(),
    }
    return render(request, "weeks/dye_list.html", context, status=422 if wrong else 200)


@helper
@require_GET
def dye_list(request: SignedInRequest) -> HttpResponse:
    """What must be dyed for everything promised and wanted, in pot loads."""
    return _dye_list_page(request)


@helper
@require_POST
def plan(request: SignedInRequest) -> HttpResponse:
    """Hand the ticked rows over to the redye planning."""
    form = KeptForm(request.POST)
    form.is_valid()
    ticked = frozenset(request.POST.getlist("row"))
    if not ticked:
        return _dye_list_page(request, wrong="Tick what is to be planned.")
    rows: list[DyeRow] = [row for row in reckon(user=request.user).rows if row.key in ticked]
    changed = [row for row in rows if request.POST.get(f"loads-{row.key}") != str(len(row.to_dye.loads))]
    if len(rows) < len(ticked) or changed:
        return _dye_list_page(
            request,
            wrong="The list has changed meanwhile, and nothing was planned. Look at it again.",
            ticked=ticked,
        )
    try:
        plans = plan_loads(
            key=form.cleaned_data["key"], rows=rows, mill_lots=in_store_today().mill_lots, who=request.user
        )
    except Refused as refused:
        return _dye_list_page(request, wrong=str(refused), ticked=ticked)
    if len(plans) == 1:
        return SeeOther(reverse("redye-plan", args=[plans[0].pk]))
    pots = sum(len(row.to_dye.loads) for row in rows)
    messages.success(
        request, f"{pots} pots are planned. Each has its short code; yarn moves when a pot is loaded."
    )
    return SeeOther(reverse("dyelist"))


@helper
@require_http_methods(["GET", "POST"])
def wanted_new(request: SignedInRequest) -> HttpResponse:
    """Put something on the dye list that nobody was promised."""
    form = WantedForm(
        request.POST if request.method == "POST" else None, choices=kit_choices(user=request.user)
    )
    if form.is_bound and form.is_valid():
        with refusals_beside(form, due=keeping.DayGoneBy, set_of=keeping.NotWanted):
            keeping.want_by_hand(**form.cleaned_data, who=request.user)
        if not form.errors:
            messages.success(request, "It is on the dye list.")
            return SeeOther(reverse("dyelist"))
    return render(request, "weeks/wanted.html", {"form": form}, status=422 if form.errors else 200)


@helper
@require_POST
def wanted_end(request: SignedInRequest, pk: int) -> HttpResponse:
    """Take it off the list."""
    keeping.want_no_more(wanted=get_object_or_404(Wanted, pk=pk), who=request.user)
    messages.success(request, "It is off the dye list. Pots that are planned for it stay.")
    return SeeOther(reverse("dyelist"))


@helper
@require_GET
def needs(request: SignedInRequest) -> HttpResponse:
    """Undyed yarn and dye that the list and the planned pots take, and by when to order."""
    ahead = weeks_ahead(user=request.user)
    context = {"ahead": ahead, "page": ahead.reckoned, "needs": what_it_takes(ahead)}
    return render(request, "weeks/needs.html", context)


@helper
@require_GET
def weeks(request: SignedInRequest) -> HttpResponse:
    """The weeks ahead: sessions, loads, racks, what is due, what is late and whom to tell."""
    ahead = weeks_ahead(user=request.user)
    weeks_seen = calendar(ahead)
    shown = [day for week in weeks_seen for day in week]
    context = {
        "ahead": ahead,
        "page": ahead.reckoned,
        "calendar": weeks_seen,
        "sessions": [day for day in shown if not day.past and (day.is_session or day.lost)],
        "beyond": sum(1 for each in ahead.plan.placed if each.day > shown[-1].day),
        "tell": whom_to_tell(late_now(ahead), ahead.seen, request.studio.name, day_lost=bool(ahead.lost)),
        "days_needed": days_needed(loads=len(ahead.jobs), loads_a_session=ahead.pace.a_session),
        "has_sessions": has_sessions(ahead.reckoned.habits, ahead.weeks.today),
        "key_pot": places_svg([("pot", False)]),
        "key_load": places_svg([("load", False)]),
        "key_free": places_svg([("free", False)]),
        "key_late": places_svg([("pot", True)]),
    }
    return render(request, "weeks/weeks.html", context)


@helper
@require_http_methods(["GET", "POST"])
def lose(request: SignedInRequest) -> HttpResponse:
    """“I lost this day”: what moves and what is late, before it is kept; then keep it."""
    sent = request.POST if request.method == "POST" else request.GET if "day" in request.GET else None
    form = LoseDayForm(sent)
    context: dict[str, Any] = {"form": form}
    if sent is not None and form.is_valid():
        said = form.cleaned_data
        ahead: Ahead = weeks_ahead(user=request.user)
        preview = preview_lost(
            ahead=ahead, day=said["day"], loads_left=said["loads_left"], studio_name=request.studio.name
        )
        if preview.session is None:
            form.add_error(
                "day", "There is no session on this day. Choose one of the sessions of the weeks ahead."
            )
        elif said["loads_left"] >= preview.session.loads:
            form.add_error("loads_left", f"It takes {preview.session.loads} loads as it is. Write fewer.")
        elif request.method == "POST":
            with refusals_beside(form, "day"):
                keeping.lose_day(who=request.user, **said)
            if not form.errors:
                messages.success(request, "The day is taken out, and the loads stand on their new days.")
                return SeeOther(reverse("weeks"))
        else:
            context["preview"] = preview
            context["stays"] = [preview.seen[each.job.key] for each in preview.change.stays]
    wrong = form.is_bound and bool(form.errors)
    return render(request, "weeks/lose.html", context, status=422 if wrong else 200)


@helper
@require_POST
def day_back(request: SignedInRequest, pk: int) -> HttpResponse:
    """The lost day takes place after all."""
    keeping.take_back_lost_day(lost=get_object_or_404(LostDay, pk=pk))
    messages.success(request, "The day takes place after all. The plan is the one from before.")
    return SeeOther(reverse("weeks"))


@helper
@require_POST
def pin(request: SignedInRequest, code: str) -> HttpResponse:
    """Keep a planned pot on its day, or let it move again."""
    pot = pot_or_404(code)
    form = LoseDayForm({"day": request.POST.get("day", ""), "loads_left": "0"})
    day = form.cleaned_data["day"] if request.POST.get("day") and form.is_valid() else None
    try:
        keeping.keep_on_day(pot=pot, day=day, who=request.user)
    except Refused as refused:
        messages.error(request, str(refused))
    else:
        done = f"Pot {pot.code} stays on its day." if day else f"Pot {pot.code} may move again."
        messages.success(request, done)
    return SeeOther(reverse("weeks"))


@owner
@require_http_methods(["GET", "POST"])
def settings(request: SignedInRequest) -> HttpResponse:
    """Sessions, drying, racks, finishing, spares, and what goes into a vessel."""
    form = HabitsForm(
        request.POST if request.method == "POST" else None,
        habits=WeekHabits.current(),
        vessels=vessels_that_dye(),
    )
    if form.is_bound and form.is_valid():
        keeping.keep_habits(**form.said())
        messages.success(request, "The weeks are reckoned this way from now on.")
        return SeeOther(reverse("weeks"))
    return render(request, "weeks/settings.html", {"form": form}, status=422 if form.errors else 200)
