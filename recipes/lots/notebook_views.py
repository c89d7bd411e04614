"""The notebook comes in: one recipe typed on a page, or a whole list of them."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from dyehouse.studio.access import SignedInRequest, helper, owner
from dyehouse.studio.answers import SeeOther
from dyehouse.studio.refusals import Refused
from dyehouse.studio.refusing import refusals_beside
from recipes.colourways import ColourwayNameTaken
from recipes.lists.cells import ListWrong
from recipes.lists.forms import ListForm
from recipes.lists.reading import FileRefused
from recipes.lots.colourway_queries import RuleLine, rule_lines
from recipes.lots.models import Photo
from recipes.lots.notebook.columns import COLUMNS, example_csv
from recipes.lots.notebook.lacking import lacking
from recipes.lots.notebook.listing import Looked, look_at, take_in
from recipes.lots.notebook.taking import Recipe, RowsWrong, take_in_notes
from recipes.lots.notebook.text import MOST_ROWS, rows_from_text
from recipes.lots.notebook.things import Things
from recipes.lots.notebook_forms import FIRST_ROWS, MORE_ROWS, BaseRows, NotebookForm, NotesPhotoForm, Rows
from recipes.lots.photos import add_photo
from recipes.lots.views import in_us_units
from recipes.lots.way_views import show_way, way_or_404
from recipes.models import Auxiliary, Dye

ROWS_SHOWN = 200


@helper
@require_http_methods(["GET", "POST"])
def notebook(request: SignedInRequest) -> HttpResponse:
    """A recipe from a notebook: read into rows, looked at as a way of dyeing, and kept."""
    things = Things.now()
    us = in_us_units(request)
    if request.method == "GET":
        form = NotebookForm(user=request.user, things=things, initial=_asked(request))
        return _page(request, form, _rows([{}] * FIRST_ROWS), things)
    form = NotebookForm(request.POST, request.FILES, user=request.user, things=things)
    rows = Rows(request.POST, prefix="row")
    if "read" in request.POST or "more" in request.POST:
        return _with_rows(request, form, rows, things, us)
    if not (form.is_valid() & rows.is_valid()):
        return _page(request, form, rows, things, status=422)
    recipe = form.recipe(rows.noted())
    read = recipe.read(things, fahrenheit=us)
    rows.say(read.wrong)
    if read.wrong or "keep" not in request.POST:
        shown = None if read.wrong else rule_lines(read.steps, recipe.pot.facts, us=us)
        lacks = lacking(read.steps, recipe.pot.facts) if shown else []
        return _page(request, form, rows, things, lines=shown, lacks=lacks, status=422 if read.wrong else 200)
    kept = _kept(request, form, rows, recipe, us)
    return kept or _page(request, form, rows, Things.now(), status=422)


def _asked(request: SignedInRequest) -> dict[str, str]:
    return {name: request.GET[name] for name in ("colourway", "base") if name in request.GET}


def _kept(
    request: SignedInRequest, form: NotebookForm, rows: BaseRows, recipe: Recipe, us: bool
) -> HttpResponse | None:
    with refusals_beside(form, None, name=ColourwayNameTaken):
        try:
            way = take_in_notes(
                key=form.cleaned_data["key"],
                recipe=recipe,
                who=request.user,
                photo=form.cleaned_photo,
                fahrenheit=us,
            )
        except RowsWrong as refused:
            rows.say(refused.wrong)
            return None
        messages.success(
            request, f"Way {way.number} on {way.base.name} is kept. It is from notes and not yet dyed here."
        )
        return SeeOther(reverse("way", args=[way.pk]))
    return None


def _rows(initial: list[dict[str, str]]) -> BaseRows:
    formset = Rows(prefix="row", initial=initial[:MOST_ROWS])
    formset.extra = 0
    return formset


def _with_rows(
    request: SignedInRequest, form: NotebookForm, rows: BaseRows, things: Things, us: bool
) -> HttpResponse:
    """The page with more rows: empty ones, or those that the notes' own words are read into."""
    rows.is_valid()
    before = [
        {name: row[name].value() or "" for name in row.fields}
        for row in rows.forms
        if any(row[name].value() for name in row.fields)
    ]
    read = (
        rows_from_text(request.POST.get("words", ""), things=things, fahrenheit=us)
        if "read" in request.POST
        else []
    )
    fresh = [
        {name: getattr(row, name) for name in ("what", "amount", "strength", "minute", "step")}
        for row, _ in read
    ]
    made = _rows([*before, *fresh, *([{}] * MORE_ROWS if "more" in request.POST or not read else [{}])])
    for form_of_row, (_, question) in zip(made.forms[len(before) :], read, strict=False):
        form_of_row.question = question
    kept = NotebookForm(
        user=request.user,
        things=things,
        initial={name: form[name].value() for name in form.fields if name != "photo"},
    )
    return _page(request, kept, made, things, read=len(read) if "read" in request.POST else None)


def _page(
    request: SignedInRequest,
    form: NotebookForm,
    rows: BaseRows,
    things: Things,
    *,
    lines: list[RuleLine] | None = None,
    lacks: Any = (),
    read: int | None = None,
    status: int = 200,
) -> HttpResponse:
    stored: list[Dye | Auxiliary] = [*things.dyes.values(), *things.auxiliaries.values()]
    context = {
        "form": form,
        "rows": rows,
        "things": sorted({each.name for each in stored if each.pk is not None}, key=str.casefold),
        "new": [each for each in things.new if lines is not None],
        "lines": lines,
        "lacks": lacks,
        "read": read,
    }
    return render(request, "lots/notebook.html", context, status=status)


@helper
@require_POST
def way_photo(request: SignedInRequest, pk: int) -> HttpResponse:
    """Add a photo of the page of notes that a way is from."""
    way = way_or_404(pk)
    form = NotesPhotoForm(request.POST, request.FILES)
    if form.is_valid():
        with refusals_beside(form, "photo"):
            add_photo(
                key=form.cleaned_data["key"],
                upload=form.cleaned_data["photo"],
                kind=Photo.Kind.NOTES,
                who=request.user,
                way=way,
            )
    if form.errors:
        return show_way(request, way, photo_form=form)
    return SeeOther(reverse("way", args=[way.pk]))


@owner
@require_http_methods(["GET", "POST"])
def notebook_list(request: SignedInRequest) -> HttpResponse:
    """A list of recipes, looked at: what it would make, or what is wrong with it by row and column. Nothing changes."""
    form = ListForm(request.POST or None, request.FILES or None)
    if request.method == "POST" and form.is_valid():
        try:
            return _looked_page(request, look_at(form.text, fahrenheit=in_us_units(request)), form.text)
        except FileRefused as refused:
            form.add_error("file", str(refused))
    context = {"form": form, "columns": COLUMNS}
    return render(request, "lots/notebook_list.html", context, status=422 if form.errors else 200)


def _looked_page(request: SignedInRequest, looked: Looked, text: str) -> HttpResponse:
    context = {
        "looked": looked,
        "text": text,
        "wrong": looked.wrong[:ROWS_SHOWN],
        "rows_wrong": len({each.row for each in looked.wrong}),
        "shown": ROWS_SHOWN,
    }
    return render(request, "lots/notebook_looked.html", context, status=422 if looked.wrong else 200)


@owner
@require_POST
def notebook_take(request: SignedInRequest) -> HttpResponse:
    """Takes in the list that was looked at."""
    text, us = request.POST.get("text", ""), in_us_units(request)
    try:
        taken = take_in(text=text, who=request.user, fahrenheit=us)
    except ListWrong as refused:
        looked = look_at(text, fahrenheit=us)
        return _looked_page(
            request, looked if looked.wrong else Looked(looked.table, [], refused.wrong, False), text
        )
    except Refused as refused:
        messages.error(request, str(refused))
        return SeeOther(reverse("notebook-list"))
    if taken.taken_before:
        messages.info(request, "This list was taken in before. Nothing changed.")
    else:
        count = taken.recipes
        messages.success(
            request, f"{count} {'recipe is' if count == 1 else 'recipes are'} in the book, from notes."
        )
    return SeeOther(reverse("colourways"))


@helper
@require_GET
def notebook_example(request: SignedInRequest) -> HttpResponse:
    """An example list. It begins with a mark by which spreadsheets know its letters."""
    return HttpResponse(
        "\ufeff" + example_csv(),
        content_type="text/csv; charset=utf-8",
        headers={"Content-Disposition": 'attachment; filename="recipes.csv"'},
    )
