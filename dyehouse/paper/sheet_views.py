"""Sheets: which there are, the studio's own, and how far the printer is out on each."""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from dyehouse.paper.html_to_pdf import PaperUnavailable
from dyehouse.paper.imposing import outline_page
from dyehouse.paper.models import OwnSheet
from dyehouse.paper.own_sheets import (
    OWN,
    SheetNameTaken,
    keep_offset,
    keep_own_sheet,
    offset_on,
    out_in_words,
    retire_own_sheet,
    sheet_here,
    sheets_here,
)
from dyehouse.paper.printouts import pdf_answer
from dyehouse.paper.sheet_forms import OffsetForm, OwnSheetForm, own_sheet_initial
from dyehouse.paper.sheet_picture import sheet_picture
from dyehouse.paper.sheets import Sheet, SheetUnknown
from dyehouse.studio.access import SignedInRequest, helper
from dyehouse.studio.answers import SeeOther
from dyehouse.studio.refusing import refusals_beside


@helper
@require_GET
def sheets(request: SignedInRequest) -> HttpResponse:
    """All sheets, the studio's own first."""
    return render(request, "paper/sheets.html", {"sheets": list(sheets_here().values()), "own": OWN})


@helper
@require_http_methods(["GET", "POST"])
def new_sheet(request: SignedInRequest) -> HttpResponse:
    """A sheet of one's own."""
    form = OwnSheetForm(request.POST if request.method == "POST" else None)
    if form.is_bound and form.is_valid():
        with refusals_beside(form, "name", name=SheetNameTaken):
            row = keep_own_sheet(sheet=form.sheet)
            messages.success(request, "The sheet was kept. Hold its outline against a real one.")
            return SeeOther(reverse("sheet", args=[f"{OWN}{row.pk}"]))
    return render(request, "paper/sheet_new.html", {"form": form}, status=422 if form.errors else 200)


@helper
@require_http_methods(["GET", "POST"])
def sheet(request: SignedInRequest, slug: str) -> HttpResponse:
    """One sheet: its picture, its outline to print, and how far the printer is out on it."""
    one = _sheet_or_404(slug)
    out = offset_on(one)
    form = OffsetForm(
        request.POST if request.method == "POST" else None,
        initial={"x": out_in_words(out.x_um), "y": out_in_words(out.y_um)},
    )
    if form.is_bound and form.is_valid():
        keep_offset(sheet=one, offset=form.offset)
        messages.success(request, "How far the printer is out was kept for this sheet.")
        return SeeOther(reverse("sheet", args=[slug]))
    context = {
        "sheet": one,
        "own": slug.startswith(OWN),
        "form": form,
        "picture": sheet_picture(one, start_at=1, count=0),
    }
    return render(request, "paper/sheet.html", context, status=422 if form.errors else 200)


@helper
@require_http_methods(["GET", "POST"])
def change_sheet(request: SignedInRequest, slug: str) -> HttpResponse:
    """Measure a sheet of one's own again."""
    row = _own_or_404(slug)
    form = OwnSheetForm(request.POST if request.method == "POST" else None, initial=own_sheet_initial(row))
    if form.is_bound and form.is_valid():
        with refusals_beside(form, "name", name=SheetNameTaken):
            keep_own_sheet(sheet=form.sheet, of=row)
            messages.success(
                request, "The sheet was kept. What was printed on it before prints again as it was."
            )
            return SeeOther(reverse("sheet", args=[slug]))
    return render(
        request, "paper/sheet_new.html", {"form": form, "slug": slug}, status=422 if form.errors else 200
    )


@helper
@require_POST
def drop_sheet(request: SignedInRequest, slug: str) -> HttpResponse:
    """Take a sheet of one's own out of the list."""
    retire_own_sheet(of=_own_or_404(slug))
    messages.success(request, "The sheet is out of the list.")
    return SeeOther(reverse("sheets"))


@helper
@require_GET
def sheet_outline(request: SignedInRequest, slug: str) -> HttpResponse:
    """A page of outlines, to hold against a real sheet before any label is spent; moved by what is asked or kept."""
    one = _sheet_or_404(slug)
    form = OffsetForm(request.GET)
    asked = "x" in request.GET or "y" in request.GET
    offset = form.offset if asked and form.is_valid() else offset_on(one)
    try:
        return pdf_answer(outline_page(one, offset=offset), f"outline-{slug}")
    except PaperUnavailable as reason:
        return HttpResponse(str(reason), content_type="text/plain; charset=utf-8", status=503)


def _sheet_or_404(slug: str) -> Sheet:
    try:
        return sheet_here(slug)
    except SheetUnknown as error:
        raise Http404(str(error)) from error


def _own_or_404(slug: str) -> OwnSheet:
    number = slug.removeprefix(OWN)
    if not slug.startswith(OWN) or not number.isdecimal() or len(number) > 9:
        raise Http404("This sheet is not one of the studio's own.")
    return get_object_or_404(OwnSheet, pk=int(number))
