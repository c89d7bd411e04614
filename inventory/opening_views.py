"""Stock from before the house: a list looked at and then taken in, and dyed yarn typed in."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from dyehouse.studio.access import SignedInRequest, helper, owner
from dyehouse.studio.answers import SeeOther
from dyehouse.studio.refusals import Refused
from dyehouse.studio.refusing import refusals_beside
from inventory.opening.columns import COLUMNS, EXAMPLES, Kind, example_csv
from inventory.opening.dyed import LotCodeTaken, dyed_from_before
from inventory.opening.taking import Looked, look_at, take_in
from inventory.opening_forms import DyedForm
from recipes.colourways import ColourwayNameTaken
from recipes.lists.cells import ListWrong
from recipes.lists.forms import ListForm
from recipes.lists.reading import FileRefused

ROWS_SHOWN = 200


@helper
@require_GET
def opening(request: SignedInRequest) -> HttpResponse:
    """How to write down what was there before the house: by typing, or (the owner) as a list."""
    return _opening_page(request, ListForm())


def _opening_page(request: SignedInRequest, form: ListForm) -> HttpResponse:
    context: dict[str, Any] = {
        "form": form,
        "columns": [
            (column, _in_order(column.needed), _in_order(column.used - column.needed)) for column in COLUMNS
        ],
        "examples": [(name, name.replace("-", " ")) for name in EXAMPLES],
    }
    return render(request, "inventory/opening.html", context, status=422 if form.errors else 200)


def _in_order(kinds: frozenset[Kind]) -> list[str]:
    return [kind.value for kind in Kind if kind in kinds]


@owner
@require_http_methods(["GET", "POST"])
def opening_list(request: SignedInRequest) -> HttpResponse:
    """A chosen list, looked at: what it would add, or what is wrong with it by row and column. Nothing changes."""
    if request.method == "GET":
        return SeeOther(reverse("opening"))
    form = ListForm(request.POST, request.FILES)
    if form.is_valid():
        try:
            return _looked_page(request, look_at(form.text), form.text)
        except FileRefused as refused:
            form.add_error("file", str(refused))
    return _opening_page(request, form)


def _looked_page(request: SignedInRequest, looked: Looked, text: str) -> HttpResponse:
    cells = dict(looked.table.rows)
    context = {
        "looked": looked,
        "text": text,
        "wrong": looked.wrong[:ROWS_SHOWN],
        "rows_wrong": len({each.row for each in looked.wrong}),
        "planned": [
            (one, ", ".join(cell for cell in cells[one.row.row] if cell))
            for one in looked.planned[:ROWS_SHOWN]
        ],
        "shown": ROWS_SHOWN,
    }
    return render(request, "inventory/opening_list.html", context, status=422 if looked.wrong else 200)


@owner
@require_POST
def opening_take(request: SignedInRequest) -> HttpResponse:
    """Takes in the list that was looked at."""
    text = request.POST.get("text", "")
    try:
        taken = take_in(text=text, who=request.user)
    except ListWrong:
        return _looked_page(request, look_at(text), text)
    except Refused as refused:
        form = ListForm(request.POST)
        form.errors.clear()
        form.add_error("file", str(refused))
        return _opening_page(request, form)
    if taken.taken_before:
        messages.info(request, "This list was taken in before. Nothing changed.")
    else:
        messages.success(request, f"{taken.rows} {'row is' if taken.rows == 1 else 'rows are'} in the books.")
    return SeeOther(reverse("shelf" if taken.dyed else "store"))


@helper
@require_GET
def opening_example(request: SignedInRequest, name: str) -> HttpResponse:
    """An example list of one kind. It begins with a mark by which spreadsheets know its letters."""
    if name not in EXAMPLES:
        raise Http404("There is no such example.")
    return HttpResponse(
        "\ufeff" + example_csv(name),
        content_type="text/csv; charset=utf-8",
        headers={"Content-Disposition": f'attachment; filename="{name}.csv"'},
    )


@helper
@require_http_methods(["GET", "POST"])
def opening_dyed(request: SignedInRequest) -> HttpResponse:
    """Dyed yarn from before the house, typed in."""
    form = DyedForm(request.POST if request.method == "POST" else None, user=request.user)
    if form.is_bound and form.is_valid():
        said = form.cleaned_data
        with refusals_beside(form, "pieces", lot=LotCodeTaken, name=ColourwayNameTaken):
            lot = dyed_from_before(
                key=said["key"],
                colourway=form.chosen_colourway,
                new_name=said["name"],
                put_up=form.chosen_put_up,
                pieces=said["pieces"],
                who=request.user,
                grade=said["grade"],
                lot_code=said["lot"],
                place=form.chosen_place,
                dyed_on=said["dyed_on"],
            )
        if not form.errors:
            count = said["pieces"]
            messages.success(
                request,
                f"{count} {'piece is' if count == 1 else 'pieces are'} in the books as lot {lot.code}.",
            )
            return SeeOther(reverse("lot", args=[lot.code]))
    context = {"form": form}
    return render(request, "inventory/opening_dyed.html", context, status=422 if form.errors else 200)
