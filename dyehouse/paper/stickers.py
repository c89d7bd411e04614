"""Stickers of a few large words: numbers for the days of a box, and the names of shelf places."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import TypeVar

from dyehouse.paper.code128 import PRINTABLE, BarPicture, make_code128
from dyehouse.paper.faces import reads_right_to_left
from dyehouse.paper.fitting import text_um
from dyehouse.paper.imposing import impose
from dyehouse.paper.label_said import safe_um, size
from dyehouse.paper.placed import (
    FONT_OF,
    LabelTooSmall,
    Page,
    Picture,
    line_height,
    pdf_of_pages,
    shrunk_block,
)
from dyehouse.paper.sheets import Offset, Sheet

Sticker = TypeVar("Sticker")


@dataclass(frozen=True, slots=True, kw_only=True)
class DayNumber:
    """The sticker of one day. Outside it says the number alone; inside, which is sealed, the colourway too."""

    number: int
    studio: str = ""
    inside: bool = False
    colourway: str = ""
    base: str = ""

    @property
    def texts(self) -> tuple[str, ...]:
        return (self.studio, self.colourway, self.base)


@dataclass(frozen=True, slots=True, kw_only=True)
class ShelfLabel:
    """The name of a place, to read from across the room, and as a bar code for a scanner that types."""

    name: str

    @property
    def texts(self) -> tuple[str, ...]:
        return (self.name,)


def day_numbers(
    numbers: Sequence[DayNumber], sheet: Sheet, *, start_at: int = 1, offset: Offset | None = None
) -> bytes:
    """A PDF of the numbers in order on a sheet. Raises LabelTooSmall, StartOutsideSheet, OffsetTooFar, PaperUnavailable."""
    return _on_sheet(numbers, sheet, lay_out_day, {}, "Day numbers", start_at, offset)


def shelf_labels(
    labels: Sequence[ShelfLabel], sheet: Sheet, *, start_at: int = 1, offset: Offset | None = None
) -> bytes:
    """A PDF of shelf labels in order on a sheet. Raises as `day_numbers`."""
    codes = {code.name: code.png for label in labels if (code := bar_of(label, sheet)) is not None}
    return _on_sheet(labels, sheet, lay_out_shelf, codes, "Shelf labels", start_at, offset)


def _on_sheet(
    stickers: Sequence[Sticker],
    sheet: Sheet,
    lay_out: Callable[[Sticker, Sheet], Page],
    pictures: Mapping[str, bytes],
    title: str,
    start_at: int,
    offset: Offset | None,
) -> bytes:
    distinct = list(dict.fromkeys(stickers))
    place = {sticker: number for number, sticker in enumerate(distinct)}
    artwork = pdf_of_pages(
        [lay_out(sticker, sheet) for sticker in distinct],
        sheet.label_width_um,
        sheet.label_height_um,
        title=title,
        pictures=dict(pictures),
    )
    order = [place[sticker] for sticker in stickers]
    return impose(artwork, order, sheet, start_at=start_at, offset=offset, title=title)


def lay_out_day(day: DayNumber, sheet: Sheet) -> Page:
    """The sticker at the size of the sheet's labels. Raises LabelTooSmall."""
    return _inside(day, sheet) if day.inside else _outside(day, sheet)


def _outside(day: DayNumber, sheet: Sheet) -> Page:
    safe = safe_um(sheet)
    width, height = sheet.label_width_um - 2 * safe, sheet.label_height_um - 2 * safe
    page = Page()
    studio = (
        shrunk_block("studio", day.studio, width, most=max(52, height // 420), least=50)
        if day.studio
        else None
    )
    if studio is not None and (len(studio.lines) > 1 or studio.height > height // 4):
        studio = None
    room = height - (studio.height if studio is not None else 0)
    # The figures fill what is left: their own height is two thirds of the line's.
    tenths = next(
        (
            tenths
            for tenths in range(2_000, 60, -5)
            if line_height("figure", tenths) * 80 // 100 <= room
            and len(shrunk_block("figure", str(day.number), width, most=tenths, least=tenths).lines) == 1
        ),
        None,
    )
    if tenths is None:
        raise _too_small(f"Number {day.number}", sheet)
    figures = shrunk_block("figure", str(day.number), width, most=tenths, least=tenths)
    page.stack(figures, safe, safe + (room - figures.height) // 2, "center")
    if studio is not None:
        page.stack(studio, safe, safe + height - studio.height, "center")
    return page


def _inside(day: DayNumber, sheet: Sheet) -> Page:
    safe = safe_um(sheet)
    width, height = sheet.label_width_um - 2 * safe, sheet.label_height_um - 2 * safe
    most = min(200, width * 100 // 35_100, height * 100 // 18_200)
    for scale in range(max(most, 76), 55, -3):
        blocks = [
            (shrunk_block("code", f"Day {day.number}", width, most=size(75, scale, 55), least=52), 0),
            (shrunk_block("name", day.colourway, width, most=size(130, scale, 64), least=64), 300),
        ]
        if day.base:
            blocks.append((shrunk_block("base", day.base, width, most=size(70, scale, 50), least=50), 200))
        needed = sum(words.height + gap for words, gap in blocks)
        if needed > height:
            continue
        page, top = Page(), safe + (height - needed) // 2
        for words, gap in blocks:
            top = page.stack(words, safe, top + gap)
        return page.mirrored(sheet.label_width_um) if reads_right_to_left(day.colourway) else page
    raise _too_small(f"“{day.colourway}”", sheet)


def lay_out_shelf(label: ShelfLabel, sheet: Sheet) -> Page:
    """The name as large as it goes, its bar code below. Raises LabelTooSmall."""
    safe = safe_um(sheet)
    width, height = sheet.label_width_um - 2 * safe, sheet.label_height_um - 2 * safe
    bar = bar_of(label, sheet)
    room = height - (bar.height_um + 1_000 if bar is not None else 0)
    longest = max(label.name.split(), key=len, default="")
    for most in range(600, 60, -6):
        words = shrunk_block("name", label.name, width, most=most, least=max(60, most * 8 // 10))
        whole = most < 72 or text_um(longest, FONT_OF["name"], words.tenths) <= width
        if words.height <= room and len(words.lines) <= 3 and whole:
            page = Page()
            page.stack(words, safe, safe + (room - words.height) // 2, "center")
            if bar is not None:
                page.pictures.append(
                    Picture(
                        bar.name,
                        (sheet.label_width_um - bar.width_um) // 2,
                        safe + height - bar.height_um,
                        bar.width_um,
                        bar.height_um,
                        "code",
                    )
                )
            return page
    raise _too_small(f"“{label.name}”", sheet)


def bar_of(label: ShelfLabel, sheet: Sheet) -> BarPicture | None:
    """The bar code of a place's name; None where it is no plain letters or the label has no room for it."""
    if not PRINTABLE.fullmatch(label.name):
        return None
    bar = make_code128(label.name)
    fits = bar.width_um <= sheet.label_width_um and bar.height_um * 2 <= sheet.label_height_um - 2 * safe_um(
        sheet
    )
    return bar if fits else None


def _too_small(what: str, sheet: Sheet) -> LabelTooSmall:
    return LabelTooSmall(
        f"{what} does not fit on a label of {sheet.label_size} at a size that can be read. "
        "Choose a sheet with larger labels."
    )
