"""Labels and wet tags: what to print, from which label of which sheet, and the same again."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods

from dyehouse.paper.composition import market_of
from dyehouse.paper.designs import Design, designs_here
from dyehouse.paper.fitting import unprintable
from dyehouse.paper.forms import LabelForm, SheetForm, WetTagForm
from dyehouse.paper.label_law import about_maker
from dyehouse.paper.labelling import (
    WAITING_SHOWN,
    Labelled,
    Printing,
    good_pieces,
    label_of,
    prepare,
    said_of_all,
    waiting_for_labels,
    wet_tag_of,
)
from dyehouse.paper.long_printing import LONG, sheets_of, start_long_printing
from dyehouse.paper.models import PrintRun
from dyehouse.paper.own_pictures import photos_of_lots
from dyehouse.paper.own_sheets import keep_offset, offset_on, out_in_words, usual_sheet
from dyehouse.paper.payloads import payload_of
from dyehouse.paper.printouts import NotKept, PaperRefused, paper_of, pdf_answer, run_of_labels
from dyehouse.paper.runs import next_label, record_run
from dyehouse.paper.sheets import Sheet
from dyehouse.paper.wet_tag import wet_tags
from dyehouse.paper.yarn_label import YarnLabel, yarn_labels
from dyehouse.studio.access import SignedInRequest, helper
from dyehouse.studio.answers import SeeOther
from dyehouse.studio.codes import tidy
from dyehouse.studio.models import Studio
from recipes.lots.models import Pot


def first_sheet(sheet: Sheet) -> dict[str, Any]:
    """What a form begins with: a sheet, the label that comes next on it, and how far the printer is out on it."""
    out = offset_on(sheet)
    return {
        "sheet": sheet.slug,
        "start_at": next_label(sheet),
        "offset_x": out_in_words(out.x_um),
        "offset_y": out_in_words(out.y_um),
    }


@helper
@require_http_methods(["GET", "POST"])
def labels(request: SignedInRequest) -> HttpResponse:
    """Labels for the chosen lots: by `lot` in the address, else for all that still want some."""
    codes = [tidy(code) for code in request.GET.getlist("lot") if code]
    lines = good_pieces(user=request.user, codes=codes) if codes else waiting_for_labels(user=request.user)
    chosen = lines if codes else lines[:WAITING_SHOWN]
    asked_in = QueryDict(mutable=True)
    asked_in.setlist("lot", codes)
    designs = designs_here()
    form = LabelForm(
        request.POST if request.method == "POST" else None,
        lines=chosen,
        may_open=request.user.is_owner and any(line.lot.colourway.is_secret for line in lines),
        more_wait=len(lines) - len(chosen),
        here=f"{reverse('labels')}?{asked_in.urlencode()}",
        designs=designs,
        initial=_asked_so_far(request, designs),
    )
    if form.is_bound and form.is_valid():
        answer = _print_labels(request, form, lines)
        if answer is not None:
            return answer
    printing = _printing(request.studio, form, form.shown_sheet)
    photos = photos_of_lots(line.lot.pk for line in chosen) if printing.design.with_picture else {}
    prepared = [prepare(line, printing, photo=photos.get(line.lot.pk, "")) for line in chosen]
    rules = [*dict.fromkeys(each.rule for each in prepared if each.rule), about_maker(printing.market)]
    common = said_of_all(prepared)
    context = {
        "form": form,
        "common": common,
        "rows": list(zip(prepared, form.count_fields, strict=True)),
        "rules": [rule for rule in rules if rule],
        "chosen": bool(codes),
    }
    return render(request, "paper/labels.html", context, status=422 if form.errors else 200)


def _printing(studio: Studio, form: LabelForm, sheet: Sheet, *, opened: bool = False) -> Printing:
    return Printing(studio, form.shown_market, form.shown_design, sheet, opened)


def _asked_so_far(request: SignedInRequest, designs: Mapping[str, Design]) -> dict[str, Any]:
    """What the page begins with, and what was chosen and counted on it so far."""
    studio, asked = request.studio, request.GET
    design = designs.get(asked.get("design", "")) or next(iter(designs.values()))
    changed = request.htmx.trigger_name  # type: ignore[attr-defined]
    wanted = asked.get("sheet") or design.sheet or studio.label_sheet
    if changed == "design" and design.sheet:
        wanted = design.sheet
    sheet = usual_sheet(wanted)
    begin = {
        **first_sheet(sheet),
        "design": design.slug,
        "market": asked.get("market") or market_of(studio.country).value,
        **{name: value for name, value in asked.items() if name.startswith("count_")},
    }
    if asked.get("start_at") and asked.get("sheet") == sheet.slug and changed != "sheet":
        begin |= {name: asked.get(name) for name in ("start_at", "offset_x", "offset_y")}
    return begin


def _print_labels(
    request: SignedInRequest, form: LabelForm, lines: Sequence[Labelled]
) -> HttpResponse | None:
    """The PDF; for many labels that differ, the page that shows how far they are. None where it was refused."""
    sheet, start_at = form.chosen_sheet, form.cleaned_data["start_at"]
    printing = _printing(
        request.studio,
        form,
        sheet,
        opened=bool(form.cleaned_data.get("open_names")) and request.user.is_owner,
    )
    counts = form.counts
    if form.cleaned_data.get("all_waiting"):
        counts |= {line.key: line.lacking for line in lines if line.key not in counts}
    wanted = [line for line in lines if counts.get(line.key)]
    photos = photos_of_lots(line.lot.pk for line in wanted) if printing.design.with_picture else {}
    printed: list[YarnLabel] = []
    for line in wanted:
        label, _ = label_of(line, printing, photo=photos.get(line.lot.pk, ""))
        printed += [label] * counts[line.key]
    opened = printing.open_names and any(line.lot.colourway.is_secret for line in wanted)
    keep_offset(sheet=sheet, offset=form.offset)
    try:
        if len(wanted) > LONG:
            job = start_long_printing(
                key=form.cleaned_data["key"], who=request.user, labels=printed, sheet=sheet,
                start_at=start_at, offset=form.offset, names_opened=opened,
            )  # fmt: skip
            return SeeOther(reverse("long-printing", args=[job.key]))
        content = yarn_labels(printed, sheet, start_at=start_at, offset=form.offset)
    except PaperRefused as reason:
        form.add_error(None, str(reason))
        return None
    record_run(
        **run_of_labels(printed, sheet, start_at=start_at, offset=form.offset),
        key=form.cleaned_data["key"],
        who=request.user,
        names_opened=opened,
    )
    return pdf_answer(content, "yarn-labels")


@helper
@require_http_methods(["GET", "POST"])
def wet_tag(request: SignedInRequest, code: str) -> HttpResponse:
    """Tags for the pieces of a pot, to hang on while they are wet."""
    pots = Pot.objects.select_related("colourway", "vessel", "dye_lot").prefetch_related(
        "loads__put_up__base"
    )
    pot = get_object_or_404(pots, code=tidy(code))
    tag = wet_tag_of(pot)
    form = WetTagForm(
        request.POST if request.method == "POST" else None,
        initial={**first_sheet(usual_sheet(request.studio.label_sheet)), "tags": max(1, tag.pieces)},
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
            record_sheet_run(
                request, form, PrintRun.Kind.WET_TAGS, {pot.code: len(tags)}, {"tags": payload_of(tags)}
            )
            return pdf_answer(content, f"wet-tags-{pot.code}")
    context = {
        "form": form,
        "pot": pot,
        "tag": tag,
        "name": pot.colourway.shown_name(request.user),
        "unprintable": unprintable(" ".join(tag.texts)),
    }
    return render(request, "paper/wet_tag_page.html", context, status=422 if form.errors else 200)


def record_sheet_run(
    request: SignedInRequest,
    form: SheetForm,
    kind: str,
    counts: Mapping[str, int],
    payload: Mapping[str, Any],
    *,
    pieces: int | None = None,
    names_opened: bool = False,
) -> None:
    """Write down what a form with a sheet printed, and remember how far the printer is out on that sheet."""
    sheet = form.chosen_sheet
    keep_offset(sheet=sheet, offset=form.offset)
    record_run(
        key=form.cleaned_data["key"],
        kind=kind,
        who=request.user,
        counts=counts,
        pieces=pieces,
        sheet=sheet.slug,
        start_at=form.cleaned_data["start_at"],
        offset_x_um=form.offset.x_um,
        offset_y_um=form.offset.y_um,
        names_opened=names_opened,
        payload={**payload, "sheet": sheet.as_payload()},
    )


@helper
@require_GET
def labels_sheet(request: SignedInRequest) -> HttpResponse:
    """The fields of another sheet: its picture, the label that comes next on it, how far the printer is out."""
    form = SheetForm(initial=first_sheet(usual_sheet(request.GET.get("sheet", ""))))
    return render(request, "paper/sheet_fields.html", {"form": form})


@helper
@require_GET
def print_again(request: SignedInRequest, pk: int) -> HttpResponse:
    """The same paper as was printed before, word for word, from the same label on."""
    run = get_object_or_404(PrintRun.objects.select_related("job"), pk=pk)
    if run.names_opened and not request.user.is_owner:
        raise PermissionDenied("Names that are secret stand on this paper. The owner prints it again.")
    job = getattr(run, "job", None)
    try:
        content = (sheets_of(job) if job is not None else None) or paper_of(run)
    except NotKept as error:
        raise Http404(str(error)) from error
    except PaperRefused as reason:
        return HttpResponse(str(reason), content_type="text/plain; charset=utf-8", status=503)
    return pdf_answer(content, f"again-{run.pk}")
