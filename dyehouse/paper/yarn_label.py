"""Labels on skeins as a PDF: whatever the shape, each distinct label is drawn once."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from dyehouse.paper import label_band, label_mini, label_tag
from dyehouse.paper.imposing import impose
from dyehouse.paper.label_said import Attempt, LaidOut, YarnLabel, code_of, laid_out
from dyehouse.paper.placed import pdf_of_pages
from dyehouse.paper.sheets import Offset, Sheet

__all__ = ["LaidOut", "YarnLabel", "label_artwork", "lay_out", "left_out", "yarn_labels"]

#: How each shape is drawn, and the parts it may have to do without, most wanted first.
SHAPES: Mapping[str, tuple[Attempt, tuple[str, ...]]] = {
    "tag": (label_tag.tag, label_tag.MAY_GO),
    "band": (label_band.band, label_band.MAY_GO),
    "mini": (label_mini.mini, label_mini.MAY_GO),
}
TITLE = "Yarn labels"


def yarn_labels(
    labels: Sequence[YarnLabel], sheet: Sheet, *, start_at: int = 1, offset: Offset | None = None
) -> bytes:
    """A PDF of the labels in order on the sheet from label `start_at`; equal labels are drawn once.

    Raises LabelTooSmall, StartOutsideSheet, OffsetTooFar, CodeNotPlain and PaperUnavailable.
    """
    distinct = list(dict.fromkeys(labels))
    place = {label: number for number, label in enumerate(distinct)}
    return impose(
        label_artwork(distinct, sheet),
        [place[label] for label in labels],
        sheet,
        start_at=start_at,
        offset=offset,
        title=TITLE,
    )


def label_artwork(distinct: Sequence[YarnLabel], sheet: Sheet) -> bytes:
    """A PDF with a page of the size of one label for each of them. Raises LabelTooSmall, CodeNotPlain, PaperUnavailable."""
    pictures: dict[str, bytes] = {}
    pages = []
    for number, label in enumerate(distinct):
        page = lay_out(label, sheet, picture_name=f"photo-{number}").page
        if label.picture is not None:
            pictures[f"photo-{number}"] = label.picture
        if label.qr:
            code = code_of(label, sheet)
            pictures[code.name] = code.png
        pages.append(page)
    return pdf_of_pages(pages, sheet.label_width_um, sheet.label_height_um, title=TITLE, pictures=pictures)


def left_out(label: YarnLabel, sheet: Sheet) -> tuple[str, ...]:
    """What a sheet's labels have no room for, named for the screen. Raises LabelTooSmall."""
    return lay_out(label, sheet).left_out


def lay_out(label: YarnLabel, sheet: Sheet, *, picture_name: str = "photo") -> LaidOut:
    """The largest type at which the whole label fits; with less on it where even the smallest does not.

    Raises LabelTooSmall.
    """
    attempt, may_go = SHAPES[label.shape]
    return laid_out(label, sheet, attempt, may_go, picture_name)
