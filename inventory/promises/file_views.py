"""Sign-ups and orders from files: chosen, their columns told, looked through, taken in with progress."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from dyehouse.studio.access import SignedInRequest, owner
from dyehouse.studio.answers import SeeOther
from dyehouse.studio.refusals import Refused
from dyehouse.studio.refusing import refusals_beside
from inventory.promises.file_forms import ColumnsForm, FileForm, WordsForm
from inventory.promises.files.looking import Looked
from inventory.promises.files.taking import (
    SourceNameTaken,
    choose_file,
    drop,
    looked_at,
    pick_up_left_behind,
    take_in,
    tell_columns,
    tell_words,
)
from inventory.promises.models import TakingIn

ROWS_SHOWN = 200
FILES_SHOWN = 20


@owner
@require_http_methods(["GET", "POST"])
def files(request: SignedInRequest) -> HttpResponse:
    """Choose a file to look through, and what was taken in before."""
    form = FileForm(request.POST or None, request.FILES or None)
    if request.method == "POST" and form.is_valid():
        said = form.cleaned_data
        with refusals_beside(form, "file"):
            taking = choose_file(
                key=said["key"],
                kind=said["kind"],
                content=form.content,
                file_name=said["file"].name,
                who=request.user,
            )
        if not form.errors:
            return SeeOther(reverse("taking", args=[taking.key]))
    takings = TakingIn.objects.select_related("column_map", "by").defer("contents").order_by("-pk")
    context = {"form": form, "takings": takings[:FILES_SHOWN]}
    return render(request, "promises/files.html", context, status=422 if form.errors else 200)


@owner
@require_GET
def taking(request: SignedInRequest, key: UUID) -> HttpResponse:
    """A file looked through; while it is taken in, how far that is, and afterwards what came of it."""
    found = _found(key)
    if found.state == TakingIn.State.TAKING:
        pick_up_left_behind()
    if found.state != TakingIn.State.LOOKED:
        return render(request, "promises/taking.html", {"taking": found})
    try:
        looked = looked_at(found)
    except Refused as refused:
        messages.error(request, str(refused))
        return SeeOther(reverse("taking-files"))
    return _looked(request, found, looked)


def _looked(
    request: SignedInRequest,
    found: TakingIn,
    looked: Looked,
    *,
    columns: ColumnsForm | None = None,
    words: WordsForm | None = None,
) -> HttpResponse:
    refused = bool((columns and columns.errors) or (words and words.errors))
    if words is None and looked.meanings is not None:
        words = WordsForm(unknown=looked.unknown, meanings=looked.meanings)
    to_take = looked.to_take
    cells = dict(looked.table.rows)
    context = {
        "taking": found,
        "looked": looked,
        "columns": columns
        or ColumnsForm(column_map=found.column_map, header=looked.table.header, columns=looked.columns),
        "words": words,
        "to_take": len(to_take),
        "planned": [(each, ", ".join(filter(None, cells[each.row.row]))) for each in to_take[:ROWS_SHOWN]],
        "asking": [(each.row, each.questions) for each in to_take if each.questions][:ROWS_SHOWN],
        "same": looked.count("same"),
        "new": looked.count("new"),
        "changed": looked.count("changed"),
        "wrong": looked.wrong[:ROWS_SHOWN],
        "shown": ROWS_SHOWN,
    }
    return render(request, "promises/taking.html", context, status=422 if refused else 200)


@owner
@require_POST
def taking_columns(request: SignedInRequest, key: UUID) -> HttpResponse:
    """Says what the columns of the source are; the file is looked through again."""
    found = _to_take(key)
    looked = looked_at(found)
    form = ColumnsForm(
        request.POST, column_map=found.column_map, header=looked.table.header, columns=looked.columns
    )
    if form.is_valid():
        said = form.cleaned_data
        with refusals_beside(form, name=SourceNameTaken):
            tell_columns(
                column_map=found.column_map,
                name=said["name"],
                columns=form.columns,
                day_order=said["day_order"],
            )
        if not form.errors:
            return SeeOther(reverse("taking", args=[key]))
    return _looked(request, found, looked, columns=form)


@owner
@require_POST
def taking_words(request: SignedInRequest, key: UUID) -> HttpResponse:
    """Says what words of the source mean here; the file is looked through again."""
    found = _to_take(key)
    looked = looked_at(found)
    if looked.meanings is None:
        return SeeOther(reverse("taking", args=[key]))
    form = WordsForm(request.POST, unknown=looked.unknown, meanings=looked.meanings)
    if not form.is_valid():
        return _looked(request, found, looked, words=form)
    tell_words(column_map=found.column_map, words=form.words)
    return SeeOther(reverse("taking", args=[key]))


@owner
@require_POST
def taking_take(request: SignedInRequest, key: UUID) -> HttpResponse:
    """Takes in all rows that can be."""
    try:
        take_in(taking=_found(key))
    except Refused as refused:
        messages.error(request, str(refused))
    return SeeOther(reverse("taking", args=[key]))


@owner
@require_POST
def taking_drop(request: SignedInRequest, key: UUID) -> HttpResponse:
    """Leaves the file."""
    drop(taking=_found(key))
    messages.info(request, "The file is left. What was taken in of it stays.")
    return SeeOther(reverse("taking-files"))


def _found(key: UUID) -> TakingIn:
    return get_object_or_404(TakingIn.objects.select_related("column_map", "by"), key=key)


def _to_take(key: UUID) -> TakingIn:
    return get_object_or_404(
        TakingIn.objects.select_related("column_map", "by"), key=key, state=TakingIn.State.LOOKED
    )
