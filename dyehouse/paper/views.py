"""Labels and wet tags: what to print, from which label of which sheet, and the same again."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_GET, require_http_methods

from dyehouse.paper.forms import LabelForm, SheetForm, WetTagForm
from dyehouse.paper.html_to_pdf import PaperUnavailable
from dyehouse.paper.imposing import outline_page
from dyehouse.paper.labelling import (
    WAITING_SHOWN,
    good_pieces,
    labels_for,
    prepare,
    waiting_for_labels,
    wet_tag_of,
)
from dyehouse.paper.models import PrintRun
from dyehouse.paper.payloads import labels_from, payload_of, tags_from
from dyehouse.paper.placed import LabelTooSmall
from dyehouse.paper.runs import next_label, record_run
from dyehouse.paper.sheets import BY_SLUG, SHEETS, Offset, SheetError, SheetUnknown, sheet_named
from dyehouse.paper.wet_tag import wet_tags
from dyehouse.paper.yarn_label import yarn_labels
from dyehouse.studio.access import SignedInRequest, helper
from dyehouse.studio.codes import tidy
from dyehouse.studio.models import Studio
from recipes.lots.models import Pot

RUNS_SHOWN = 12
PaperRefused = (PaperUnavailable, LabelTooSmall, SheetError)


def _pdf(content: bytes, name: str) -> HttpResponse:
    return HttpResponse(
        content,
        content_type="application/pdf",
        headers={"Content-Disposition": f'inline; filename="{name}.pdf"'},
    )


def _first_sheet(request: SignedInRequest, slug: str) -> dict[str, Any]:
    """A sheet with the label that comes next on it, and how far this browser's printer was out on it last time."""
    sheet = BY_SLUG.get(slug, SHEETS[0])
    out = request.session.get("printer_out", {}).get(sheet.slug, {})
    return {
        "sheet": sheet.slug,
        "start_at": next_label(sheet),
        "offset_x": out.get("x"),
        "offset_y": out.get("y"),
    }


def _remember(request: SignedInRequest, form: SheetForm) -> None:
    out = dict(request.session.get("printer_out", {}))
    out[form.cleaned_data["sheet"]] = {
        "x": str(form.cleaned_data.get("offset_x") or ""),
        "y": str(form.cleaned_data.get("offset_y") or ""),
    }
    request.session["printer_out"] = out


@helper
@require_http_methods(["GET", "POST"])
def labels(request: SignedInRequest) -> HttpResponse:
    """Labels for the chosen lots: by `lot` in the address, else for all that still want some."""
    studio = Studio.current()
    codes = [tidy(code) for code in request.GET.getlist("lot") if code]
    lines = good_pieces(user=request.user, codes=codes) if codes else waiting_for_labels(user=request.user)
    chosen = lines if codes else lines[:WAITING_SHOWN]
    form = LabelForm(
        request.POST if request.method == "POST" else None,
        lines=chosen,
        may_open=request.user.is_owner,
        initial=_first_sheet(request, request.GET.get("sheet") or studio.label_sheet),
    )
    if form.is_bound and form.is_valid():
        answer = _print_labels(request, form, studio)
        if answer is not None:
            return answer
    prepared = [prepare(line, studio=studio, sheet=form.shown_sheet) for line in chosen]
    context = {
        "form": form,
        "rows": list(zip(prepared, form.count_fields, strict=True)),
        "rules": list(dict.fromkeys(each.rule for each in prepared if each.rule)),
        "chosen": bool(codes),
        "more": len(lines) - len(chosen),
        "runs": PrintRun.objects.exclude(kind=PrintRun.Kind.DYE_CARDS)
        .select_related("printed_by")
        .order_by("-printed_at", "-id")[:RUNS_SHOWN],
    }
    return render(request, "paper/labels.html", context, status=422 if form.errors else 200)


def _print_labels(request: SignedInRequest, form: LabelForm, studio: Studio) -> HttpResponse | None:
    sheet, counts = form.chosen_sheet, form.counts
    opened = bool(form.cleaned_data.get("open_names"))
    wanted = [
        prepare(line, studio=studio, sheet=sheet, open_name=opened) for line in form.lines if counts[line.key]
    ]
    printed = labels_for(wanted, counts)
    try:
        content = yarn_labels(printed, sheet, start_at=form.cleaned_data["start_at"], offset=form.offset)
    except PaperRefused as reason:
        form.add_error(None, str(reason))
        return None
    by_code: dict[str, int] = {}
    for label in printed:
        by_code[label.lot] = by_code.get(label.lot, 0) + 1
    _record(request, form, PrintRun.Kind.YARN_LABELS, by_code, {"labels": payload_of(printed)})
    return _pdf(content, "yarn-labels")


def _record(
    request: SignedInRequest, form: SheetForm, kind: str, counts: dict[str, int], payload: dict[str, Any]
) -> None:
    _remember(request, form)
    record_run(
        key=form.cleaned_data["key"],
        kind=kind,
        who=request.user,
        counts=counts,
        sheet=form.cleaned_data["sheet"],
        start_at=form.cleaned_data["start_at"],
        offset_x_um=form.offset.x_um,
        offset_y_um=form.offset.y_um,
        payload=payload,
    )


@helper
@require_http_methods(["GET", "POST"])
def wet_tag(request: SignedInRequest, code: str) -> HttpResponse:
    """Tags for the pieces of a pot, to hang on while they are wet."""
    pots = Pot.objects.select_related("colourway", "vessel").prefetch_related("loads__put_up__base")
    pot = get_object_or_404(pots, code=tidy(code))
    tag = wet_tag_of(pot)
    first = _first_sheet(request, Studio.current().label_sheet)
    form = WetTagForm(
        request.POST if request.method == "POST" else None, initial={**first, "tags": max(1, tag.pieces)}
    )
    if form.is_bound and form.is_valid():
        tags = [tag] * form.cleaned_data["tags"]
        try:
            content = wet_tags(
                tags, form.chosen_sheet, start_at=form.cleaned_data["start_at"], offset=form.offset
            )
        except PaperRefused as reason:
            form.add_error(None, str(reason))
        else:
            _record(request, form, PrintRun.Kind.WET_TAGS, {pot.code: len(tags)}, {"tags": payload_of(tags)})
            return _pdf(content, f"wet-tags-{pot.code}")
    context = {"form": form, "pot": pot, "tag": tag, "name": pot.colourway.shown_name(request.user)}
    return render(request, "paper/wet_tag_page.html", context, status=422 if form.errors else 200)


@helper
@require_GET
def labels_sheet(request: SignedInRequest) -> HttpResponse:
    """The fields of another sheet: its picture, the label that comes next on it, how far the printer is out."""
    form = SheetForm(initial=_first_sheet(request, request.GET.get("sheet", "")))
    return render(request, "paper/sheet_fields.html", {"form": form})


@helper
@require_GET
def print_again(request: SignedInRequest, pk: int) -> HttpResponse:
    """The same paper as was printed before, word for word, from the same label on."""
    run = get_object_or_404(PrintRun, pk=pk)
    makers: dict[str, Callable[..., bytes]] = {
        PrintRun.Kind.YARN_LABELS: lambda **on: yarn_labels(labels_from(run.payload["labels"]), **on),
        PrintRun.Kind.WET_TAGS: lambda **on: wet_tags(tags_from(run.payload["tags"]), **on),
    }
    if run.kind not in makers or not run.payload:
        raise Http404("What was printed then was not kept word for word. Print it afresh from its lot.")
    try:
        content = makers[run.kind](
            sheet=sheet_named(run.sheet),
            start_at=run.start_at,
            offset=Offset(run.offset_x_um, run.offset_y_um),
        )
    except PaperRefused as reason:
        return HttpResponse(str(reason), content_type="text/plain; charset=utf-8", status=503)
    return _pdf(content, f"again-{run.pk}")


@helper
@require_GET
def sheet_outline(request: SignedInRequest, slug: str) -> HttpResponse:
    """A page of outlines, to hold against a real sheet before any label is spent."""
    try:
        return _pdf(outline_page(sheet_named(slug)), f"outline-{slug}")
    except SheetUnknown as error:
        raise Http404(str(error)) from error
    except PaperUnavailable as reason:
        return HttpResponse(str(reason), content_type="text/plain; charset=utf-8", status=503)
