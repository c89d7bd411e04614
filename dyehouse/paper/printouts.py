"""What was printed, drawn again from what was kept of it, and how a PDF is handed over."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from django.http import HttpResponse

from dyehouse.paper.dye_card import dye_cards
from dyehouse.paper.html_to_pdf import PaperUnavailable
from dyehouse.paper.lists import count_sheet_from, count_sheets_pdf, mixing_list_from, mixing_list_pdf
from dyehouse.paper.models import PrintRun
from dyehouse.paper.own_pictures import photo_bytes, photos_of_codes
from dyehouse.paper.own_sheets import sheet_here
from dyehouse.paper.payloads import cards_from, labels_from, payload_of, tags_from
from dyehouse.paper.placed import LabelTooSmall
from dyehouse.paper.sheets import Offset, Sheet, SheetError
from dyehouse.paper.show_lists import show_list_from, show_list_pdf
from dyehouse.paper.stickers import DayNumber, ShelfLabel, day_numbers, shelf_labels
from dyehouse.paper.wet_tag import wet_tags
from dyehouse.paper.yarn_label import YarnLabel, yarn_labels

PaperRefused = (PaperUnavailable, LabelTooSmall, SheetError)


class NotKept(Exception):
    """What was printed then cannot be drawn again."""


def pdf_answer(content: bytes, name: str) -> HttpResponse:
    """A PDF to look at and print. The name is open to all eyes: codes and kinds only, never a colourway's name."""
    return HttpResponse(
        content,
        content_type="application/pdf",
        headers={"Content-Disposition": f'inline; filename="{name}.pdf"'},
    )


def run_of_labels(
    labels: Sequence[YarnLabel], sheet: Sheet, *, start_at: int, offset: Offset
) -> dict[str, Any]:
    """What `record_run` is told of yarn labels in the order printed."""
    counts: dict[str, int] = {}
    for label in labels:
        counts[label.lot] = counts.get(label.lot, 0) + 1
    return {
        "kind": PrintRun.Kind.YARN_LABELS.value,
        "counts": counts,
        "sheet": sheet.slug,
        "start_at": start_at,
        "offset_x_um": offset.x_um,
        "offset_y_um": offset.y_um,
        "payload": {"labels": payload_of(labels), "sheet": sheet.as_payload()},
    }


def sheet_of_run(run: PrintRun) -> Sheet:
    """The sheet as it was on the day; for what was printed before sheets were kept with it, as it is known now."""
    kept = run.payload.get("sheet")
    return Sheet.from_payload(kept) if kept else sheet_here(run.sheet)


def _on_sheets(draw: Callable[..., bytes]) -> Callable[[PrintRun], bytes]:
    def drawn(run: PrintRun) -> bytes:
        return draw(
            run.payload,
            sheet=sheet_of_run(run),
            start_at=run.start_at,
            offset=Offset(run.offset_x_um, run.offset_y_um),
        )

    return drawn


#: How each kind of paper is drawn again from what was kept of it.
DRAWN_AGAIN: Mapping[str, Callable[[PrintRun], bytes]] = {
    PrintRun.Kind.DYE_CARDS: lambda run: _cards_again(run),
    PrintRun.Kind.YARN_LABELS: _on_sheets(lambda kept, **on: yarn_labels(labels_from(kept["labels"]), **on)),
    PrintRun.Kind.DAY_NUMBERS: _on_sheets(
        lambda kept, **on: day_numbers([DayNumber(**one) for one in kept["numbers"]], **on)
    ),
    PrintRun.Kind.SHELF_LABELS: _on_sheets(
        lambda kept, **on: shelf_labels([ShelfLabel(**one) for one in kept["labels"]], **on)
    ),
    PrintRun.Kind.MIXING_LISTS: lambda run: mixing_list_pdf(mixing_list_from(run.payload["list"])),
    PrintRun.Kind.COUNT_SHEETS: lambda run: count_sheets_pdf(
        [count_sheet_from(one) for one in run.payload["sheets"]]
    ),
    PrintRun.Kind.SHOW_LISTS: lambda run: show_list_pdf(show_list_from(run.payload["list"])),
    PrintRun.Kind.WET_TAGS: _on_sheets(lambda kept, **on: wet_tags(tags_from(kept["tags"]), **on)),
}


def _cards_again(run: PrintRun) -> bytes:
    """The cards of a run, with the pictures that they had as far as their lots still show one."""
    kept, pictured = run.payload["cards"], set(run.payload.get("pictured", ()))
    references = {one["code"]: one["reference"] for one in kept if one["code"] in pictured}
    photos = photos_of_codes(references.values())
    pictures = {
        code: content
        for code, reference in references.items()
        if (content := photo_bytes(photos.get(reference, ""))) is not None
    }
    return dye_cards(cards_from(kept, pictures=pictures))


def can_print_again(run: PrintRun) -> bool:
    """Whether what was printed was kept word for word."""
    return bool(run.payload) and run.kind in DRAWN_AGAIN


def paper_of(run: PrintRun) -> bytes:
    """The paper of a run, word for word and on the same labels. Raises NotKept and `PaperRefused`."""
    if not can_print_again(run):
        raise NotKept("What was printed then was not kept word for word. Print it afresh from its lot.")
    return DRAWN_AGAIN[run.kind](run)
