"""Stickers for days, labels for shelves, mixing lists and count sheets."""

from __future__ import annotations

from typing import Any

from django.db.models import Sum
from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_http_methods

from dyehouse.ledger.models import Place
from dyehouse.paper.document_forms import (
    BOTH,
    INSIDE,
    OUTSIDE,
    CountSheetsForm,
    DayNumbersForm,
    MixingListForm,
    ShelfLabelsForm,
)
from dyehouse.paper.fitting import unprintable
from dyehouse.paper.html_to_pdf import PaperUnavailable
from dyehouse.paper.lists import (
    count_sheets,
    count_sheets_pdf,
    list_payload,
    mixing_list,
    mixing_list_pdf,
)
from dyehouse.paper.models import PrintRun
from dyehouse.paper.own_sheets import usual_sheet
from dyehouse.paper.payloads import payload_of
from dyehouse.paper.printouts import PaperRefused, pdf_answer
from dyehouse.paper.runs import record_run
from dyehouse.paper.stickers import DayNumber, ShelfLabel, day_numbers, shelf_labels
from dyehouse.paper.views import first_sheet, record_sheet_run
from dyehouse.studio.access import SignedInRequest, helper
from inventory.models import KitPart
from inventory.queries import shelf_places
from recipes.lots.before_day import before_day

SMALL_SHEET = "a4-5x13"


@helper
@require_http_methods(["GET", "POST"])
def days(request: SignedInRequest) -> HttpResponse:
    """Numbers 1 to n for the outside, colourways for the inside; from a kit in its order where one is named."""
    form = DayNumbersForm(
        request.POST if request.method == "POST" else None,
        user=request.user,
        initial={**first_sheet(usual_sheet(SMALL_SHEET)), **_of_kit(request)},
    )
    if form.is_bound and form.is_valid():
        said = form.cleaned_data
        opened = bool(said.get("open_names")) and request.user.is_owner
        numbers = _numbers(request, form, opened=opened)
        try:
            if form.unprintable:
                raise PaperUnavailable(form.unprintable)
            content = day_numbers(numbers, form.chosen_sheet, start_at=said["start_at"], offset=form.offset)
        except PaperRefused as reason:
            form.add_error(None, str(reason))
        else:
            record_sheet_run(
                request, form, PrintRun.Kind.DAY_NUMBERS, {}, {"numbers": payload_of(numbers)},
                pieces=len(numbers),
                names_opened=opened and any(colourway.is_secret for colourway in form.inside),
            )  # fmt: skip
            return pdf_answer(content, "day-numbers")
    return render(request, "paper/days.html", {"form": form}, status=422 if form.errors else 200)


def _numbers(request: SignedInRequest, form: DayNumbersForm, *, opened: bool) -> list[DayNumber]:
    said, studio = form.cleaned_data, request.studio.name
    outside = [DayNumber(number=number, studio=studio) for number in range(1, said["days"] + 1)]
    inside = [
        DayNumber(
            number=number,
            inside=True,
            colourway=(each.name or each.code) if opened else each.shown_name(None),
        )
        for number, each in enumerate(form.inside, start=1)
    ]
    one_box = {OUTSIDE: outside, INSIDE: inside, BOTH: outside + inside}[said["part"]]
    return one_box * said["boxes"]


def _of_kit(request: SignedInRequest) -> dict[str, Any]:
    kit = request.GET.get("kit", "")
    if not (kit.isascii() and kit.isdecimal() and len(kit) < 10):
        return {}
    parts = KitPart.objects.filter(kit=int(kit)).select_related("colourway").order_by("position")
    lines = [part.colourway.shown_name(request.user) for part in parts]
    return {"days": len(lines), "colourways": "\n".join(lines), "part": BOTH} if lines else {}


@helper
@require_http_methods(["GET", "POST"])
def places(request: SignedInRequest) -> HttpResponse:
    """Labels for shelf places: the name to read from afar, and a bar code that a scanner types."""
    form = ShelfLabelsForm(
        request.POST if request.method == "POST" else None,
        places=shelf_places(),
        initial=first_sheet(usual_sheet(request.studio.label_sheet)),
    )
    if form.is_bound and form.is_valid():
        labels = [
            ShelfLabel(name=place.name)
            for place in form.chosen_places
            for _ in range(form.cleaned_data["copies"])
        ]
        try:
            content = shelf_labels(
                labels, form.chosen_sheet, start_at=form.cleaned_data["start_at"], offset=form.offset
            )
        except PaperRefused as reason:
            form.add_error(None, str(reason))
        else:
            record_sheet_run(
                request,
                form,
                PrintRun.Kind.SHELF_LABELS,
                {},
                {"labels": payload_of(labels)},
                pieces=len(labels),
            )
            return pdf_answer(content, "shelf-labels")
    context = {"form": form, "unprintable": unprintable(" ".join(form.names))}
    return render(request, "paper/places.html", context, status=422 if form.errors else 200)


@helper
@require_http_methods(["GET", "POST"])
def count(request: SignedInRequest) -> HttpResponse:
    """A sheet for each place, to count on with a pencil."""
    with_yarn = list(
        Place.objects.filter(closed_at=None, kind__in=[Place.Kind.SHELF, Place.Kind.STAGE])
        .annotate(pieces=Sum("balances__on_hand"))
        .filter(pieces__gt=0)
        .order_by("order", "name")
    )
    form = CountSheetsForm(request.POST if request.method == "POST" else None, places=with_yarn)
    if form.is_bound and form.is_valid():
        sheets = count_sheets(
            form.chosen_places, studio=request.studio, shows_book=form.cleaned_data["shows_book"]
        )
        if not sheets:
            form.add_error("places", "No dyed yarn lies in these places.")
        else:
            try:
                content = count_sheets_pdf(sheets)
            except PaperUnavailable as reason:
                form.add_error(None, str(reason))
            else:
                record_run(
                    key=form.cleaned_data["key"], kind=PrintRun.Kind.COUNT_SHEETS, who=request.user,
                    counts={}, pieces=len(sheets), payload={"sheets": [list_payload(each) for each in sheets]},
                )  # fmt: skip
                return pdf_answer(content, "count-sheets")
    return render(request, "paper/count.html", {"form": form}, status=422 if form.errors else 200)


@helper
@require_http_methods(["GET", "POST"])
def mixing(request: SignedInRequest) -> HttpResponse:
    """What to mix and weigh for the planned pots, all together."""
    pots = before_day(user=request.user).pots
    form = MixingListForm(request.POST if request.method == "POST" else None, pots=pots)
    if form.is_bound and form.is_valid():
        reckoned = before_day(user=request.user, codes=form.cleaned_data["pots"])
        what = mixing_list(reckoned, studio=request.studio)
        try:
            content = mixing_list_pdf(what)
        except PaperUnavailable as reason:
            form.add_error(None, str(reason))
        else:
            record_run(
                key=form.cleaned_data["key"], kind=PrintRun.Kind.MIXING_LISTS, who=request.user,
                counts=dict.fromkeys(what.codes, 1), pieces=1, payload={"list": list_payload(what)},
            )  # fmt: skip
            return pdf_answer(content, "mixing-list")
    return render(
        request, "paper/mixing.html", {"form": form, "pots": pots}, status=422 if form.errors else 200
    )
