"""Label sheets and rolls by their dimensions, in whole micrometres, and where each label lies on them.

A grid is centred on its page unless its margins are given. An inch is 25,400 micrometres; a margin that falls on half a
micrometre is rounded up.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from fractions import Fraction
from typing import Any

INCH_UM = 25_400
A4 = (210_000, 297_000)
LETTER = (215_900, 279_400)
MOST_OFFSET_UM = 10_000
OFFSET_STEP_UM = 500


class SheetError(ValueError):
    """A sentence about a sheet: what is wrong and what would be right. `field` names the box it belongs beside."""

    def __init__(self, sentence: str, field: str = "") -> None:
        super().__init__(sentence)
        self.field = field


class SheetUnknown(SheetError):
    """No sheet goes by this name."""


class SheetDoesNotFit(SheetError):
    """The labels of a sheet of one's own do not fit on its page, or overlap."""


class StartOutsideSheet(SheetError):
    """The first label to use is not on the sheet."""


class OffsetTooFar(SheetError):
    """The printing would be moved so far that labels would be lost."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """A page of equal labels, or a roll where each label is a page. All lengths in micrometres."""

    slug: str
    name: str
    width_um: int
    height_um: int
    columns: int
    rows: int
    label_width_um: int
    label_height_um: int
    gap_x_um: int = 0
    gap_y_um: int = 0
    left_um: int
    top_um: int
    # Grids whose margins nobody has measured on a real sheet yet: the outline test page comes first.
    from_memory: bool = False
    # Plain paper that is cut apart after printing: marks outside the labels show where.
    to_cut: bool = False

    @property
    def labels(self) -> int:
        """How many labels one page has."""
        return self.columns * self.rows

    @property
    def is_roll(self) -> bool:
        return self.labels == 1 and (self.width_um, self.height_um) == (
            self.label_width_um,
            self.label_height_um,
        )

    @property
    def pitch_x_um(self) -> int:
        return self.label_width_um + self.gap_x_um

    @property
    def pitch_y_um(self) -> int:
        return self.label_height_um + self.gap_y_um

    @property
    def label_size(self) -> str:
        """The size of one label as printed on the packet: 63.5 × 33.9 mm."""
        return f"{_millimetres(self.label_width_um)} × {_millimetres(self.label_height_um)} mm"

    def as_payload(self) -> dict[str, Any]:
        """The sheet as plain JSON, for a print run that must come out the same again."""
        return asdict(self)

    @classmethod
    def from_payload(cls, payload: Mapping[str, Any]) -> Sheet:
        """The sheet that `as_payload` put down."""
        return cls(**payload)


@dataclass(frozen=True, slots=True)
class Position:
    """Where one label lies: its page from 0, and its top left corner in micrometres from the page's top left."""

    page: int
    left_um: int
    top_um: int


@dataclass(frozen=True, slots=True)
class Offset:
    """How far a printer's paper path is out: everything is printed so much further right and down."""

    x_um: int = 0
    y_um: int = 0


def centred(page: int, count: int, label: int, gap: int) -> int:
    """The margin that centres so many labels on a page, in micrometres, halves rounded up."""
    return (page - count * label - (count - 1) * gap + 1) // 2


def _grid(
    slug: str,
    page: tuple[int, int],
    grid: tuple[int, int],
    label: tuple[int, int],
    gap_x_um: int,
    paper: str,
    from_memory: bool = False,
) -> Sheet:
    columns, rows = grid
    return Sheet(
        slug=slug,
        name=f"{paper}, {columns} × {rows} labels of {_millimetres(label[0])} × {_millimetres(label[1])} mm",
        width_um=page[0],
        height_um=page[1],
        columns=columns,
        rows=rows,
        label_width_um=label[0],
        label_height_um=label[1],
        gap_x_um=gap_x_um,
        left_um=centred(page[0], columns, label[0], gap_x_um),
        top_um=centred(page[1], rows, label[1], 0),
        from_memory=from_memory,
    )


def _cut(
    slug: str, page: tuple[int, int], grid: tuple[int, int], label: tuple[int, int], paper: str
) -> Sheet:
    """Plain paper for bands: dimensions of our own."""
    size = f"{_millimetres(label[0])} × {_millimetres(label[1])} mm"
    return replace(
        _grid(slug, page, grid, label, 0, paper),
        name=f"{paper} plain paper, {grid[0] * grid[1]} bands of {size} to cut",
        to_cut=True,
    )


def _roll(slug: str, width_um: int, height_um: int) -> Sheet:
    return Sheet(
        slug=slug,
        name=f"Roll, labels of {_millimetres(width_um)} × {_millimetres(height_um)} mm",
        width_um=width_um,
        height_um=height_um,
        columns=1,
        rows=1,
        label_width_um=width_um,
        label_height_um=height_um,
        left_um=0,
        top_um=0,
    )


def _millimetres(um: int) -> str:
    """Micrometres as millimetres to a tenth."""
    tenths = (um + 50) // 100
    return f"{tenths // 10}.{tenths % 10}" if tenths % 10 else str(tenths // 10)


SHEETS: tuple[Sheet, ...] = (
    _grid("a4-3x8", A4, (3, 8), (63_500, 33_900), 2_500, "A4"),
    _grid("a4-3x7", A4, (3, 7), (63_500, 38_100), 2_500, "A4"),
    _grid("a4-2x7", A4, (2, 7), (99_100, 38_100), 2_500, "A4", True),
    _grid("a4-2x4", A4, (2, 4), (99_100, 67_700), 2_500, "A4", True),
    _grid("a4-5x13", A4, (5, 13), (38_100, 21_200), 2_500, "A4", True),
    _grid("a4-4x12", A4, (4, 12), (45_700, 21_200), 2_500, "A4", True),
    _grid("letter-3x10", LETTER, (3, 10), (66_675, 25_400), 3_175, "Letter"),
    _grid("letter-2x5", LETTER, (2, 5), (101_600, 50_800), 4_763, "Letter"),
    _grid("letter-2x3", LETTER, (2, 3), (101_600, 84_667), 4_763, "Letter", True),
    _grid("letter-4x20", LETTER, (4, 20), (44_450, 12_700), 7_620, "Letter", True),
    _cut("a4-1x6-cut", A4, (1, 6), (190_000, 45_000), "A4"),
    _cut("letter-1x5-cut", LETTER, (1, 5), (190_500, 47_625), "Letter"),
    _roll("roll-100x150", 100_000, 150_000),
    _roll("roll-62x29", 62_000, 29_000),
    _roll("roll-4x6in", 101_600, 152_400),
)
BY_SLUG: dict[str, Sheet] = {sheet.slug: sheet for sheet in SHEETS}


def sheet_named(slug: str) -> Sheet:
    """The sheet that goes by a slug. Raises SheetUnknown."""
    try:
        return BY_SLUG[slug]
    except KeyError:
        raise SheetUnknown(
            f"There is no label sheet called “{slug}”. Choose one from the list.", "sheet"
        ) from None


def custom_sheet(
    *,
    slug: str = "custom",
    name: str,
    width_um: int,
    height_um: int,
    columns: int,
    rows: int,
    label_width_um: int,
    label_height_um: int,
    gap_x_um: int = 0,
    gap_y_um: int = 0,
    left_um: int | None = None,
    top_um: int | None = None,
) -> Sheet:
    """A sheet of one's own, in micrometres; without margins its grid is centred.

    Raises SheetDoesNotFit when the labels are smaller than 10 mm a side, run off the page, or overlap.
    """
    if columns < 1 or rows < 1:
        raise SheetDoesNotFit(
            "A sheet has at least one label across and one down.", "columns" if columns < 1 else "rows"
        )
    for length, field in ((label_width_um, "label_width"), (label_height_um, "label_height")):
        if length < 10_000:
            raise SheetDoesNotFit("A label is at least 10 mm wide and 10 mm high.", field)
    if gap_x_um < 0 or gap_y_um < 0:
        raise SheetDoesNotFit("The gap between labels is 0 mm or more.", "gap_x" if gap_x_um < 0 else "gap_y")
    left = centred(width_um, columns, label_width_um, gap_x_um) if left_um is None else left_um
    top = centred(height_um, rows, label_height_um, gap_y_um) if top_um is None else top_um
    right = left + columns * label_width_um + (columns - 1) * gap_x_um
    bottom = top + rows * label_height_um + (rows - 1) * gap_y_um
    if left < 0 or right > width_um:
        raise SheetDoesNotFit(
            f"{columns} labels across end at {_millimetres(max(right, right - left))} mm, and the sheet is "
            f"{_millimetres(width_um)} mm wide. Check the width, the gap and the left margin.",
            "label_width",
        )
    if top < 0 or bottom > height_um:
        raise SheetDoesNotFit(
            f"{rows} labels down end at {_millimetres(max(bottom, bottom - top))} mm, and the sheet is "
            f"{_millimetres(height_um)} mm high. Check the height, the gap and the top margin.",
            "label_height",
        )
    return Sheet(
        slug=slug,
        name=name,
        width_um=width_um,
        height_um=height_um,
        columns=columns,
        rows=rows,
        label_width_um=label_width_um,
        label_height_um=label_height_um,
        gap_x_um=gap_x_um,
        gap_y_um=gap_y_um,
        left_um=left,
        top_um=top,
    )


def positions(sheet: Sheet, start_at: int, count: int) -> list[Position]:
    """Where `count` labels lie from label number `start_at` (from 1, row by row), over as many pages as it takes.

    Raises StartOutsideSheet.
    """
    if not 1 <= start_at <= sheet.labels:
        raise StartOutsideSheet(
            f"This sheet has {sheet.labels} label{'s' if sheet.labels > 1 else ''}. "
            f"Write the number of the first one to use, from 1 to {sheet.labels}.",
            "start_at",
        )
    found = []
    for index in range(start_at - 1, start_at - 1 + count):
        page, on_page = divmod(index, sheet.labels)
        row, column = divmod(on_page, sheet.columns)
        found.append(
            Position(
                page=page,
                left_um=sheet.left_um + column * sheet.pitch_x_um,
                top_um=sheet.top_um + row * sheet.pitch_y_um,
            )
        )
    return found


def pages_needed(sheet: Sheet, start_at: int, count: int) -> int:
    """How many pages `count` labels take from label `start_at`."""
    return positions(sheet, start_at, count)[-1].page + 1 if count else 0


def check_offset(offset: Offset) -> Offset:
    """The offset, if it is no more than 10 mm either way. Raises OffsetTooFar."""
    for um, field in ((offset.x_um, "offset_x"), (offset.y_um, "offset_y")):
        if abs(um) > MOST_OFFSET_UM:
            raise OffsetTooFar(
                f"{_millimetres(abs(um))} mm is too far. Move the printing by 10 mm at most, in steps of half a millimetre.",
                field,
            )
    return offset


def points(um: int | Fraction) -> str:
    """Micrometres as PDF points (72 to the inch) to a ten-thousandth, as a PDF writes them."""
    ten_thousandths = round(Fraction(um) * 72 * 10_000 / INCH_UM)
    sign = "-" if ten_thousandths < 0 else ""
    whole, rest = divmod(abs(ten_thousandths), 10_000)
    return f"{sign}{whole}.{rest:04d}"
