"""What a yarn label says, and how a shape of label finds the largest type at which all of it fits."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from dyehouse.paper.code128 import BarPicture, make_code128
from dyehouse.paper.codes import QrPicture, make_qr
from dyehouse.paper.faces import reads_right_to_left
from dyehouse.paper.placed import LabelTooSmall, Page
from dyehouse.paper.sheets import Sheet
from dyehouse.paper.yarn_words import length_line, weight_line

#: The parts that a small label may have to do without, by their names for the screen.
PART_WORDS = {
    "qr": "the code",
    "studio": "the studio’s name",
    "fibres": "the fibres",
    "nominal_milligrams": "the weight",
    "metres": "the length",
    "origin": "where it was made",
    "maker": "the maker’s line",
    "care": "the care words",
    "picture": "the picture",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class YarnLabel:
    """What one label says. `colourway` is the name as it may be shown; `lot` the dye lot's code, `qr` its payload.

    `fibres` is the line of `composition.fibre_line`, `care` and `origin` those of `yarn_words`; `maker` is the line of
    `label_law.maker_line`; `remark` a word such as “Second”; `picture` a JPEG or PNG for labels with room, kept under
    `photo`. What is empty, 0 or None does not stand on it. `must` names what the market's law wants on it.
    """

    studio: str
    colourway: str
    base: str
    fibres: str
    nominal_milligrams: int
    metres: int | None
    lot: str
    qr: str = ""
    care: str = ""
    origin: str = ""
    maker: str = ""
    remark: str = ""
    shape: str = "tag"
    code_kind: str = "qr"
    must: tuple[str, ...] = ()
    photo: str = ""
    picture: bytes | None = None

    @property
    def texts(self) -> tuple[str, ...]:
        """Every text that is printed, for a look at what the fonts lack."""
        return (
            self.studio,
            self.colourway,
            self.base,
            self.fibres,
            self.care,
            self.origin,
            self.maker,
            self.remark,
        )

    @property
    def amounts(self) -> tuple[str, ...]:
        """Weight and length as they stand on it."""
        weight = (weight_line(self.nominal_milligrams),) if self.nominal_milligrams else ()
        return (*weight, length_line(self.metres)) if self.metres else weight

    @property
    def right_to_left(self) -> bool:
        """Whether the label is laid out from the right, as its colourway's name is read."""
        return reads_right_to_left(self.colourway)


@dataclass(frozen=True, slots=True)
class LaidOut:
    """A label on its place, what did not fit on it named for the screen, and what of that its market's law wants on it."""

    page: Page
    left_out: tuple[str, ...]
    wanting: tuple[str, ...] = ()


Code = QrPicture | BarPicture
Attempt = Callable[[YarnLabel, Sheet, frozenset[str], str], Page | None]


def laid_out(
    label: YarnLabel, sheet: Sheet, attempt: Attempt, may_go: Sequence[str], picture_name: str
) -> LaidOut:
    """The label with all of it; where even the smallest type does not hold it, with as much as fits.

    What the law wants is kept first, then the parts of `may_go` in their order. Raises LabelTooSmall.
    """
    order = sorted(may_go, key=lambda part: part not in label.must)
    wanted = [part for part in order if getattr(label, part)]
    shown = frozenset(wanted)
    page = attempt(label, sheet, shown, picture_name)
    if page is None:
        shown = frozenset()
        page = attempt(label, sheet, shown, picture_name)
        for part in wanted:
            fuller = attempt(label, sheet, shown | {part}, picture_name)
            if fuller is not None:
                page, shown = fuller, shown | {part}
    if page is None:
        name = label.colourway if len(label.colourway) <= 80 else f"{label.colourway[:80]}…"
        raise LabelTooSmall(
            f"“{name}” on {label.base} does not fit on a label of {sheet.label_size} at a size that can be "
            "read. Choose a sheet with larger labels."
        )
    gone = [part for part in may_go if part in wanted and part not in shown]
    return LaidOut(
        page.mirrored(sheet.label_width_um) if label.right_to_left else page,
        tuple(PART_WORDS[part] for part in gone),
        tuple(PART_WORDS[part] for part in gone if part in label.must),
    )


def code_of(label: YarnLabel, sheet: Sheet, *, most_dots: int = 10) -> Code:
    """The label's code in as many printer dots a module as a label of this height carries well."""
    dots = max(5, min(most_dots, sheet.label_height_um // 6_500))
    if label.code_kind == "code128":
        return make_code128(label.qr, dots=max(3, min(5, dots // 2 + 1)))
    return make_qr(label.qr, error="Q", dots=dots)


def safe_um(sheet: Sheet) -> int:
    """How far from its edge a label is printed: printers and knives are out by more on large labels."""
    return next(
        safe for high, safe in ((30_000, 2_000), (15_000, 1_500), (0, 1_000)) if sheet.label_height_um >= high
    )


def size(tenths: int, scale: int, least: int) -> int:
    """A type size at a scale in percent, never below the least that can be read."""
    return max(least, tenths * scale // 100)
