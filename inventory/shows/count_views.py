"""Rows of numbers at a show: packing, the tally, and the closing count. What is typed is kept at once, row by row."""

from __future__ import annotations

import re
import uuid
from collections.abc import Callable

from django.contrib import messages
from django.http import Http404, HttpResponse, JsonResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from dyehouse.ledger.operations import NotEnough
from dyehouse.studio.access import SignedInRequest, helper
from dyehouse.studio.answers import SeeOther
from dyehouse.studio.codes import tidy
from dyehouse.studio.keys import KeyField
from dyehouse.studio.refusals import Refused
from dyehouse.studio.refusing import refusals_beside
from inventory.queries import shelf_places
from inventory.shows import closing, packing, tallying
from inventory.shows.forms import CloseForm
from inventory.shows.models import Show
from inventory.shows.things import Thing
from inventory.shows.views import show_or_404

WRONG_NUMBER = "Write a whole number, 0 for none."
NUMBER = re.compile(r"\d{1,5}\Z", re.ASCII)


def _sent(request: SignedInRequest) -> dict[str, str]:
    """The numbers that were sent, by the name of their field."""
    return {name: str(typed).strip() for name, typed in request.POST.items() if name.startswith(("n_", "s_"))}


def _keep_each(sent: dict[str, str], keep: Callable[[str, int | None], None]) -> dict[str, str]:
    """Keep each number; sentences for those that are none or are refused."""
    errors: dict[str, str] = {}
    for name, typed in sent.items():
        if typed and NUMBER.match(typed) is None:
            errors[name] = WRONG_NUMBER
            continue
        try:
            keep(name, int(typed) if typed else None)
        except Refused as refused:
            errors[name] = str(refused)
    return errors


@helper
@require_http_methods(["GET", "POST"])
def pack(request: SignedInRequest, pk: int) -> HttpResponse:
    """The pack list: a number a row, kept as it is typed; one touch takes everything."""
    found = show_or_404(pk)
    code = request.GET.get("code", "")
    page = packing.pack_list(found, user=request.user, code=code)
    errors: dict[str, str] = {}
    refusal = ""
    if request.method == "POST":
        rows = {row.field: row for row in (*page.rows, *page.elsewhere)}
        sent = _sent(request)
        if sent.keys() - rows.keys():
            # Rows of a lot that was found by its code, which the list did not ask for.
            rows = {row.field: row for row in packing.free_rows(user=request.user)} | rows

        def keep(name: str, pieces: int | None) -> None:
            row = rows.get(name)
            if row is None:
                raise packing.NotTaken("This is not free any more.")
            if pieces is not None and pieces != row.pieces:
                packing.pack(
                    show=found, item=row.item, lot=row.lot, place=row.place, pieces=pieces, who=request.user
                )

        errors = _keep_each(sent, keep)
        if request.headers.get("HX-Request"):
            return JsonResponse({"errors": errors}, status=422 if errors else 200)
        if not errors and "take" not in request.POST:
            return SeeOther(reverse("shows-pack", args=[pk]))
        if not errors:
            takings = [
                packing.Taking(rows[name].item, rows[name].lot, rows[name].place, int(typed))
                for name, typed in sent.items()
                if typed
            ]
            try:
                load = packing.take(
                    key=KeyField().clean(request.POST.get("key")),
                    show=found,
                    takings=takings,
                    who=request.user,
                )
            except (Refused, NotEnough) as refused:
                refusal = str(refused)
            else:
                pieces = sum(each.pieces for each in takings)
                messages.success(
                    request, f"{pieces} {'piece is' if pieces == 1 else 'pieces are'} at {load.show}."
                )
                return SeeOther(reverse("shows-show", args=[pk]))
    context = {
        "show": found,
        "page": page,
        "errors": errors,
        "typed": request.POST if errors or refusal else {},
        "refusal": refusal,
        "is_open": _is_open(found),
        "new_key": uuid.uuid4(),
    }
    return render(request, "shows/pack.html", context, status=422 if errors or refusal else 200)


def _is_open(show: Show) -> bool:
    return show.called_off_at is None and closing.closing_of(show) is None


@helper
@require_http_methods(["GET", "POST"])
def tally(request: SignedInRequest, pk: int) -> HttpResponse:
    """The tally at the booth: one large button an item."""
    found = show_or_404(pk)
    if request.method == "POST":
        named = re.fullmatch(r"(\d{1,18})(?:-(\d{1,18}))?", request.POST.get("item", ""), re.ASCII)
        if named is None:
            raise Http404("This is nothing the house knows.")
        thing = Thing(int(named[1]), int(named[2]) if named[2] else None)
        less = request.POST.get("less") == "1"
        error, so_far = "", 0
        try:
            so_far = tallying.tally(
                key=KeyField().clean(request.POST.get("key")),
                show=found,
                thing=thing,
                who=request.user,
                pieces=-1 if less else 1,
            )
        except Refused as refused:
            error = str(refused)
        if request.headers.get("HX-Request"):
            answer = {"error": error} if error else {"tallied": so_far}
            return JsonResponse(answer, status=422 if error else 200)
        if error:
            messages.error(request, error)
        return SeeOther(reverse("shows-tally", args=[pk]) + f"#item-{thing.key}")
    rows = tallying.tally_rows(found, user=request.user)
    context = {
        "show": found,
        "rows": [(row, uuid.uuid4()) for row in rows],
        "tallied": sum(row.tallied for row in rows),
        "is_open": _is_open(found),
    }
    return render(request, "shows/tally.html", context)


@helper
@require_http_methods(["GET", "POST"])
def back(request: SignedInRequest, pk: int) -> HttpResponse:
    """The closing count: how many of each lot came back, kept as it is typed; then the book follows it."""
    found = show_or_404(pk)
    if not _is_open(found):
        return SeeOther(reverse("shows-show", args=[pk]))
    closes = request.method == "POST" and "close" in request.POST
    form = CloseForm(request.POST if closes else None, places=shelf_places())
    errors: dict[str, str] = {}
    if request.method == "POST":
        errors = _keep_back(request, found)
        if request.headers.get("HX-Request"):
            return JsonResponse({"errors": errors}, status=422 if errors else 200)
        if not errors and not closes:
            return SeeOther(reverse("shows-back", args=[pk]))
        if not errors and form.is_valid():
            with refusals_beside(
                form, why=closing.WhyMissing, rest_is_gone=closing.CountFirst, to=closing.GoesWhere
            ):
                closing.close(
                    key=form.cleaned_data["key"],
                    show=found,
                    who=request.user,
                    why=form.cleaned_data["why"],
                    to=form.chosen_place,
                    rest_is_gone=form.cleaned_data["rest_is_gone"],
                )
            if not form.errors:
                messages.success(request, "Counted back. What returned is on its shelves and free again.")
                return SeeOther(reverse("shows-show", args=[pk]))
    context = {
        "show": found,
        "state": closing.back_state(found, user=request.user),
        "form": form,
        "errors": errors,
        "typed": request.POST if errors or form.errors else {},
        "asked": tidy(request.GET.get("code", ""))[:20],
    }
    wrong = errors or form.errors
    return render(request, "shows/back.html", context, status=422 if wrong else 200)


def _keep_back(request: SignedInRequest, found: Show) -> dict[str, str]:
    state = closing.back_state(found, user=request.user)
    rows = {row.field: row for row in state.rows}
    items = {item.field: item for item in state.items}

    def keep(name: str, pieces: int | None) -> None:
        if name in items:
            if pieces != items[name].said:
                closing.say_sold(show=found, thing=items[name].thing, pieces=pieces, who=request.user)
        elif name in rows:
            if pieces is not None and pieces != rows[name].counted:
                closing.count_back(
                    show=found, item=rows[name].item, lot=rows[name].lot, pieces=pieces, who=request.user
                )
        else:
            raise closing.NotCounted("This was not taken to the show by the book.")

    return _keep_each(_sent(request), keep)
