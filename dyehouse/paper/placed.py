"""Small pages where every line has its place: labels and tags. Lengths are micrometres, type sizes tenths of a point."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from dyehouse.paper.code128 import QUIET_MODULES as BAR_QUIET
from dyehouse.paper.code128 import BarPicture
from dyehouse.paper.codes import QUIET_MODULES, QrPicture
from dyehouse.paper.faces import reaches_far
from dyehouse.paper.fitting import BOLD, SANS, SEMIBOLD, SERIF, lines_of, text_um
from dyehouse.paper.html_to_pdf import pdf_from_template

#: A tenth of a point in micrometres, rounded up.
_TENTH_UM = 36

FONT_OF = {
    "name": SERIF,
    "tall": SERIF,
    "figure": SERIF,
    "studio": SEMIBOLD,
    "base": SEMIBOLD,
    "body": SANS,
    "small": SANS,
    "code": BOLD,
    "huge": BOLD,
}
#: Line height in hundredths of the type size.
LEADING = {"name": 112, "tall": 150, "figure": 100, "huge": 100, "code": 112}
USUAL_LEADING = 122


class LabelTooSmall(ValueError):
    """A label on which the words that must be there do not fit at a size that can be read."""


@dataclass(frozen=True, slots=True)
class Line:
    """One line of text in a box of its own; it was measured to fit and is never wrapped."""

    text: str
    kind: str
    left: int
    top: int
    width: int
    tenths: int
    align: str = "left"

    @property
    def height(self) -> int:
        return line_height(self.kind, self.tenths)


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture by its name, in a box that it fills."""

    name: str
    left: int
    top: int
    width: int
    height: int
    kind: str = "photo"


@dataclass(frozen=True, slots=True)
class Stroke:
    """A level line; dashed where it is to be cut or torn along. With a height it is an upright one."""

    left: int
    top: int
    width: int
    dashed: bool = False
    height: int = 0


@dataclass(slots=True)
class Page:
    """What lies on one label."""

    lines: list[Line] = field(default_factory=list)
    pictures: list[Picture] = field(default_factory=list)
    strokes: list[Stroke] = field(default_factory=list)

    def stack(self, block: Block, left: int, top: int, align: str = "left") -> int:
        """Put a block's lines under each other and say where the next thing begins."""
        for text in block.lines:
            self.lines.append(Line(text, block.kind, left, top, block.width, block.tenths, align))
            top += line_height(block.kind, block.tenths)
        return top

    def mirrored(self, width: int) -> Page:
        """The page laid out from the right: everything on its other side, and what began at the left ends at the right."""
        other = {"left": "right", "right": "left"}
        return Page(
            [
                replace(line, left=width - line.left - line.width, align=other.get(line.align, line.align))
                for line in self.lines
            ],
            [replace(each, left=width - each.left - each.width) for each in self.pictures],
            [replace(each, left=width - each.left - each.width) for each in self.strokes],
        )


@dataclass(frozen=True, slots=True)
class Block:
    """A text broken into lines that fit a width."""

    kind: str
    lines: tuple[str, ...]
    width: int
    tenths: int

    @property
    def height(self) -> int:
        return len(self.lines) * line_height(self.kind, self.tenths)


def line_height(kind: str, tenths: int) -> int:
    """The height of a line of a kind at a size."""
    return tenths * _TENTH_UM * LEADING.get(kind, USUAL_LEADING) // 100


def block(kind: str, text: str, width: int, tenths: int) -> Block:
    """A text at a size, in as many lines as it takes."""
    return Block(kind, tuple(lines_of(text, FONT_OF[kind], tenths, width)), width, tenths)


def shrunk_block(kind: str, text: str, width: int, *, most: int, least: int) -> Block:
    """A text that must not be cut: on one line, a little smaller if need be; else on two or three; else on as many as it takes.

    A word is broken only where it is wider than the label at the smallest size.
    """
    if kind == "name" and reaches_far(text):
        kind = "tall"
    longest = max(text.split(), key=len, default="")
    for lines, share in ((1, 80), (2, 60), (3, 0)):
        for size in range(most, max(least, most * share // 100) - 1, -2):
            candidate = block(kind, text, width, size)
            if len(candidate.lines) <= lines and text_um(longest, FONT_OF[kind], size) <= width:
                return candidate
    return block(kind, text, width, least)


def place_qr(page: Page, code: QrPicture, right: int, top: int, safe: int) -> tuple[int, int]:
    """Put a QR code with its dark part's top right corner at a point; its quiet zone reaches into the label's margin.

    Says how wide and high the dark part with the quiet zone on its other two sides is.
    """
    quiet = min(QUIET_MODULES * code.module_um, safe)
    page.pictures.append(
        Picture(code.name, right + quiet - code.side_um, top - quiet, code.side_um, code.side_um, "code")
    )
    return code.side_um - quiet, code.side_um - quiet


def place_code(page: Page, code: QrPicture | BarPicture, right: int, top: int, safe: int) -> tuple[int, int]:
    """The same for whichever code a label has; the quiet zones of a bar code are at its sides."""
    if isinstance(code, QrPicture):
        return place_qr(page, code, right, top, safe)
    quiet = min(BAR_QUIET * code.module_um, safe)
    page.pictures.append(
        Picture(code.name, right + quiet - code.width_um, top, code.width_um, code.height_um, "code")
    )
    return code.width_um - quiet, code.height_um


def pdf_of_pages(
    pages: Sequence[Page], width_um: int, height_um: int, *, title: str, pictures: dict[str, bytes]
) -> bytes:
    """The pages as a PDF, each of the size of one label. Raises PaperUnavailable."""
    return pdf_from_template(
        "paper/placed.html",
        {"pages": pages, "width_um": width_um, "height_um": height_um, "title": title},
        stylesheet="placed.css",
        pictures=pictures,
    )
