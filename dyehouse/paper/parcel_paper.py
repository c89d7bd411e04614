"""Papers of a batch of parcels: the pick list and slips, which lie open, insert cards, which are sealed, address labels.

Open paper has every secret by its code. Addresses are drawn afresh each time; what was printed keeps none of them.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from dyehouse.paper.forms import SheetForm
from dyehouse.paper.html_to_pdf import PaperUnavailable, pdf_from_template
from dyehouse.paper.imposing import impose
from dyehouse.paper.label_said import safe_um
from dyehouse.paper.lists import paper_of
from dyehouse.paper.models import PrintRun
from dyehouse.paper.own_sheets import usual_sheet
from dyehouse.paper.placed import LabelTooSmall, Page, pdf_of_pages, shrunk_block
from dyehouse.paper.printouts import PaperRefused, pdf_answer
from dyehouse.paper.sheets import Offset, Sheet
from dyehouse.paper.views import first_sheet, record_sheet_run
from dyehouse.studio.access import SignedInRequest, helper, owner
from dyehouse.studio.answers import SeeOther
from dyehouse.studio.codes import tidy
from inventory.promises.addresses import address_lines, has_address
from inventory.promises.boxes import Stand
from inventory.promises.models import Parcel, PickBatch, Product, Round
from inventory.promises.parcel_queries import batch_page
from inventory.promises.parcels import boxes_of
from inventory.promises.told import what_it_is

LARGEST, SMALLEST = 130, 60


@dataclass(frozen=True, slots=True)
class SlipRow:
    """Pieces of one lot on a slip or a card."""

    pieces: int
    name: str
    yarn: str
    lot: str


@dataclass(frozen=True, slots=True)
class Slip:
    """What lies in one parcel, in words that anybody may read."""

    code: str
    boxes: tuple[tuple[str, tuple[SlipRow, ...]], ...]

    @property
    def pieces(self) -> int:
        return sum(row.pieces for _, rows in self.boxes for row in rows)


@dataclass(frozen=True, slots=True)
class InsertCard:
    """The card that lies sealed in a box."""

    heading: str
    words: str
    gift_note: str
    rows: tuple[SlipRow, ...]
    code: str


def still_here(batch: PickBatch) -> list[Parcel]:
    """The parcels of a batch that have not left and were not taken apart, in the order they are packed."""
    here = (Parcel.State.OPEN, Parcel.State.PACKED)
    return list(batch.parcels.filter(state__in=here).select_related("receiver").order_by("pk"))


def slips(parcels: Sequence[Parcel]) -> list[Slip]:
    """A slip a parcel. Every secret stands by its code, whoever prints it."""
    contents = boxes_of(parcels)
    return [
        Slip(
            parcel.code,
            tuple((what_it_is(stand.box)[0], _rows(stand, opened=False)) for stand in contents[parcel.pk]),
        )
        for parcel in parcels
    ]


def insert_cards(parcels: Sequence[Parcel]) -> list[InsertCard]:
    """A card a box in the order they are packed; its secrets are named where the round or product allows sealed names."""
    contents = boxes_of(parcels)
    cards = []
    for parcel in parcels:
        for stand in contents[parcel.pk]:
            of = _round_or_product(stand)
            box = stand.box
            note = box.membership.gift_note if box.membership is not None else ""
            if box.order_line is not None:
                note = box.order_line.order.gift_note
            cards.append(
                InsertCard(
                    heading=str(of) if of is not None else "",
                    words=of.insert_words if of is not None else "",
                    gift_note=note,
                    rows=_rows(stand, opened=of is not None and of.names_on_sealed_paper),
                    code=parcel.code,
                )
            )
    return cards


def _round_or_product(stand: Stand) -> Round | Product | None:
    box = stand.box.replaces or stand.box
    if box.round is not None:
        return box.round
    line = box.order_line
    return line.offer.product if line is not None and line.offer is not None else None


def _rows(stand: Stand, *, opened: bool) -> tuple[SlipRow, ...]:
    rows: Counter[tuple[str, str, str]] = Counter()
    for row in stand.held:
        colourway = row.item.dyed.colourway
        name = (colourway.name or colourway.code) if opened else colourway.shown_name(None)
        rows[name, str(row.item.dyed.put_up), row.lot.name] += row.pieces
    return tuple(SlipRow(pieces, *what) for what, pieces in rows.items())


def address_labels(
    labels: Sequence[tuple[str, Sequence[str]]],
    sheet: Sheet,
    *,
    start_at: int = 1,
    offset: Offset | None = None,
) -> bytes:
    """A PDF of addresses, each with its parcel's code, on a sheet. Raises LabelTooSmall and what `impose` raises."""
    artwork = pdf_of_pages(
        [lay_out_address(code, lines, sheet) for code, lines in labels],
        sheet.label_width_um,
        sheet.label_height_um,
        title="Address labels",
        pictures={},
    )
    return impose(
        artwork, list(range(len(labels))), sheet, start_at=start_at, offset=offset, title="Address labels"
    )


def lay_out_address(code: str, lines: Sequence[str], sheet: Sheet) -> Page:
    """The lines of an address as large as they all go, the parcel's code small below. Raises LabelTooSmall."""
    safe = safe_um(sheet)
    width, height = sheet.label_width_um - 2 * safe, sheet.label_height_um - 2 * safe
    below = shrunk_block("small", code, width, most=60, least=50)
    for tenths in range(LARGEST, SMALLEST - 1, -2):
        blocks = [shrunk_block("body", line, width, most=tenths, least=tenths) for line in lines]
        if sum(block.height for block in blocks) + below.height <= height:
            page, top = Page(), safe
            for block in blocks:
                top = page.stack(block, safe, top)
            page.stack(below, safe, safe + height - below.height)
            return page
    raise LabelTooSmall(
        f"The address of parcel {code} does not fit on a label of {sheet.label_size} at a size that can be read. "
        "Choose a sheet with larger labels."
    )


def _batch(code: str) -> PickBatch:
    return get_object_or_404(PickBatch, code=tidy(code))


def _pdf(
    request: SignedInRequest, batch: PickBatch, template: str, what: dict[str, Any], *, name: str
) -> HttpResponse:
    context = {
        "list": {
            "studio": request.studio.name,
            "date": f"{timezone.localdate():%d %B %Y}",
            "paper": paper_of(request.studio),
            "code": batch.code,
            **what,
        }
    }
    try:
        content = pdf_from_template(template, context, stylesheet="parcels.css")
    except PaperUnavailable as reason:
        messages.error(request, str(reason))
        return SeeOther(reverse("parcel-batch", args=[batch.code]))
    return pdf_answer(content, f"{name}-{batch.code}")


@helper
@require_GET
def pick_list_paper(request: SignedInRequest, code: str) -> HttpResponse:
    """The pick list of a batch in shelf order."""
    batch = _batch(code)
    page = batch_page(batch)
    rows = [
        (place.name, [(line, line.item.dyed.colourway.shown_name(None)) for line in lines])
        for place, lines in page.places
    ]
    what = {"places": rows, "pieces": page.to_pick, "parcels": page.to_pack}
    return _pdf(request, batch, "paper/parcel_pick.html", what, name="pick-list")


@helper
@require_GET
def slips_paper(request: SignedInRequest, code: str) -> HttpResponse:
    """A slip for each parcel of a batch that is still here."""
    batch = _batch(code)
    return _pdf(request, batch, "paper/parcel_slips.html", {"slips": slips(still_here(batch))}, name="slips")


@owner
@require_GET
def cards_paper(request: SignedInRequest, code: str) -> HttpResponse:
    """The insert card of each box of a batch that is still here; the owner's, since it may name secrets."""
    batch = _batch(code)
    return _pdf(
        request, batch, "paper/parcel_cards.html", {"cards": insert_cards(still_here(batch))}, name="cards"
    )


@owner
@require_http_methods(["GET", "POST"])
def address_labels_paper(request: SignedInRequest, code: str) -> HttpResponse:
    """Address labels for the parcels of a batch that are still here."""
    batch = _batch(code)
    parcels = [parcel for parcel in still_here(batch) if has_address(parcel.receiver)]
    form = SheetForm(
        request.POST if request.method == "POST" else None,
        initial=first_sheet(usual_sheet(request.studio.label_sheet)),
    )
    if form.is_bound and form.is_valid():
        country = request.studio.country
        labels = [(parcel.code, address_lines(parcel.receiver, sent_from=country)) for parcel in parcels]
        try:
            content = address_labels(
                labels, form.chosen_sheet, start_at=form.cleaned_data["start_at"], offset=form.offset
            )
        except PaperRefused as reason:
            form.add_error(None, str(reason))
        else:
            counts = {parcel.code: 1 for parcel in parcels}
            record_sheet_run(request, form, PrintRun.Kind.ADDRESS_LABELS, counts, {})
            return pdf_answer(content, f"addresses-{batch.code}")
    context = {"form": form, "batch": batch, "parcels": parcels}
    return render(request, "paper/parcel_labels.html", context, status=422 if form.errors else 200)
