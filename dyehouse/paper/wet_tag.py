"""The tag that goes with wet yarn: its code so large that it is read across the room, and twice, so that half is enough.

Printed paper does not last in the wet: it goes into a waterproof sleeve, or its code is written over with a laundry pen.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from dyehouse.paper.codes import QUIET_MODULES, make_qr
from dyehouse.paper.fitting import BOLD, text_um
from dyehouse.paper.imposing import impose
from dyehouse.paper.placed import (
    LabelTooSmall,
    Line,
    Page,
    Stroke,
    line_height,
    pdf_of_pages,
    place_qr,
    shrunk_block,
)
from dyehouse.paper.sheets import Offset, Sheet

LEAST_UM = (60_000, 33_000)
SAFE_UM = 2_500


@dataclass(frozen=True, slots=True, kw_only=True)
class WetTag:
    """What one tag says. `colourway` is the name as it may be shown, `date` as people read it, `pieces` how many hang on it."""

    code: str
    colourway: str
    base: str
    pieces: int
    vessel: str
    date: str

    @property
    def texts(self) -> tuple[str, ...]:
        """Every text that is printed, for a look at what the fonts lack."""
        return (self.colourway, self.base, self.vessel, self.date)


def wet_tags(
    tags: Sequence[WetTag], sheet: Sheet, *, start_at: int = 1, offset: Offset | None = None
) -> bytes:
    """A PDF of the tags in order on a sheet or roll from label `start_at`.

    Raises LabelTooSmall, StartOutsideSheet, OffsetTooFar, CodeNotPlain and PaperUnavailable.
    """
    distinct = list(dict.fromkeys(tags))
    codes = {tag.code: make_qr(tag.code, error="H", dots=_dots(sheet)) for tag in distinct}
    artwork = pdf_of_pages(
        [lay_out_tag(tag, sheet) for tag in distinct],
        sheet.label_width_um,
        sheet.label_height_um,
        title="Wet tags",
        pictures={code: picture.png for code, picture in codes.items()},
    )
    return impose(
        artwork,
        [distinct.index(tag) for tag in tags],
        sheet,
        start_at=start_at,
        offset=offset,
        title="Wet tags",
    )


def lay_out_tag(tag: WetTag, sheet: Sheet) -> Page:
    """The tag at the size of the sheet's labels. Raises LabelTooSmall."""
    if sheet.label_width_um < LEAST_UM[0] or sheet.label_height_um < LEAST_UM[1]:
        raise LabelTooSmall(
            f"A wet tag needs a label of 60 × 33 mm or more, and these are {sheet.label_size}. Choose a sheet with larger labels."
        )
    for above in (True, False):
        page = _attempt(tag, sheet, above=above)
        if page is not None:
            return page
    raise LabelTooSmall(
        f"The tag of {tag.code} does not fit on a label of {sheet.label_size}. Choose a sheet with larger labels."
    )


def _attempt(tag: WetTag, sheet: Sheet, *, above: bool) -> Page | None:
    """The tag with its code over the whole width, the rest below it; or beside the QR code. None where it does not fit."""
    width, height = sheet.label_width_um - 2 * SAFE_UM, sheet.label_height_um - 2 * SAFE_UM
    scale = min(220, width * 100 // 58_500, height * 100 // 29_000)
    page = Page()
    strip_top = _strip(page, tag, width, height, 90 * scale // 100)
    bottom = strip_top - 1_200
    qr = make_qr(tag.code, error="H", dots=_dots(sheet))
    side = qr.side_um - min(QUIET_MODULES * qr.module_um, SAFE_UM)

    huge = _widest_code(tag.code, width if above else width - side)
    if not above:
        # A short label: the code gives way until two lines of words have room under it.
        while huge > 200 and SAFE_UM + line_height("huge", huge) + 3 * line_height("base", 70) > bottom:
            huge -= 2
    # The figures of the font stand clear of the top of their line, which is taken back here.
    page.lines.append(Line(tag.code, "huge", SAFE_UM, SAFE_UM - line_height("huge", huge) // 8, width, huge))
    top = SAFE_UM + line_height("huge", huge) * 9 // 10 + 600
    if above and top + side > bottom:
        return None
    place_qr(page, qr, SAFE_UM + width, top if above else SAFE_UM, SAFE_UM)
    narrow = above or top < SAFE_UM + side
    column = width - side - 500 if narrow else width
    for size in range(scale * 95 // 100, 50, -2):
        least = min(size, 60)
        blocks = [
            shrunk_block("base", f"{tag.colourway} on {tag.base}", column, most=size, least=least),
            shrunk_block("body", f"{_count(tag.pieces)}, {tag.vessel}", column, most=size, least=least),
            shrunk_block("body", tag.date, column, most=size, least=least),
        ]
        if top + sum(words.height for words in blocks) <= bottom:
            for words in blocks:
                top = page.stack(words, SAFE_UM, top)
            return page
    return None


def _strip(page: Page, tag: WetTag, width: int, height: int, tenths: int) -> int:
    """The code once more, below the line where the tag may be cut or torn. Says where that line is."""
    top = SAFE_UM + height - line_height("code", tenths)
    page.strokes.append(Stroke(SAFE_UM, top - 700, width, dashed=True))
    page.lines.append(Line(tag.code, "code", SAFE_UM, top, width // 2, tenths))
    page.lines.append(
        Line(_count(tag.pieces), "code", SAFE_UM + width // 2, top, width - width // 2, tenths, "right")
    )
    return top - 700


def _widest_code(code: str, width: int) -> int:
    """The largest size of the code, its letters set apart by an eighth of that size, in tenths of a point."""
    size = 1_000
    while text_um(code, BOLD, size) + len(code) * size * 36 // 8 > width:
        size -= 5
    return size


def _dots(sheet: Sheet) -> int:
    return max(5, min(14, sheet.label_height_um // 6_000))


def _count(pieces: int) -> str:
    if not pieces:
        return "no piece"
    return f"{pieces} piece" if pieces == 1 else f"{pieces} pieces"
