"""The label on a skein, at the size of one label."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from dyehouse.paper.codes import QrPicture, make_qr
from dyehouse.paper.imposing import impose
from dyehouse.paper.placed import (
    Block,
    LabelTooSmall,
    Page,
    Picture,
    Stroke,
    block,
    pdf_of_pages,
    place_qr,
    shrunk_block,
)
from dyehouse.paper.sheets import Offset, Sheet
from dyehouse.paper.yarn_words import length_line, weight_line

# What a small label may have to do without, most wanted first, with its name for the screen.
MAY_GO = (
    ("qr", "the QR code"),
    ("studio", "the studio’s name"),
    ("origin", "where it was made"),
    ("maker", "the maker’s line"),
    ("care", "the care words"),
    ("picture", "the picture"),
)
LEAST_PICTURE_UM = 15_000


@dataclass(frozen=True, slots=True, kw_only=True)
class YarnLabel:
    """What one label says. `colourway` is the name as it may be shown; `lot` the dye lot's code, `qr` its payload.

    `fibres` is the line of `composition.fibre_line`, `care` and `origin` those of `yarn_words`; `maker` is the studio's
    address or registered number; `remark` a word such as “Second”; `picture` a JPEG or PNG for labels with room.
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


@dataclass(frozen=True, slots=True)
class LaidOut:
    """A label on its place and what did not fit on it, named for the screen."""

    page: Page
    left_out: tuple[str, ...]


def yarn_labels(
    labels: Sequence[YarnLabel], sheet: Sheet, *, start_at: int = 1, offset: Offset | None = None
) -> bytes:
    """A PDF of the labels in order on the sheet from label `start_at`; equal labels are drawn once.

    Raises LabelTooSmall, StartOutsideSheet, OffsetTooFar, CodeNotPlain and PaperUnavailable.
    """
    distinct = list(dict.fromkeys(labels))
    pictures: dict[str, bytes] = {}
    pages = []
    for number, label in enumerate(distinct):
        page = lay_out(label, sheet, picture_name=f"photo-{number}").page
        if label.picture is not None:
            pictures[f"photo-{number}"] = label.picture
        pages.append(page)
    pictures |= {label.qr: _code(label.qr, sheet).png for label in distinct if label.qr}
    title = "Yarn labels"
    artwork = pdf_of_pages(pages, sheet.label_width_um, sheet.label_height_um, title=title, pictures=pictures)
    place = {label: number for number, label in enumerate(distinct)}
    return impose(
        artwork, [place[label] for label in labels], sheet, start_at=start_at, offset=offset, title=title
    )


def left_out(label: YarnLabel, sheet: Sheet) -> tuple[str, ...]:
    """What a sheet's labels have no room for, named for the screen. Raises LabelTooSmall."""
    return lay_out(label, sheet).left_out


def lay_out(label: YarnLabel, sheet: Sheet, *, picture_name: str = "photo") -> LaidOut:
    """The largest type at which the whole label fits; with less on it where even the smallest does not. Raises LabelTooSmall."""
    wanted = [name for name, _ in MAY_GO if getattr(label, name)]
    shown = set(wanted)
    page = _largest(label, sheet, shown, picture_name)
    if page is None:
        shown = set()
        page = _largest(label, sheet, shown, picture_name)
        for name in wanted:
            fuller = _largest(label, sheet, shown | {name}, picture_name)
            if fuller is not None:
                page, shown = fuller, shown | {name}
    if page is not None:
        return LaidOut(page, tuple(said for name, said in MAY_GO if name in wanted and name not in shown))
    raise LabelTooSmall(
        f"“{label.colourway}” on {label.base} does not fit on a label of {sheet.label_size} at a size that can be read. "
        "Choose a sheet with larger labels."
    )


def _largest(label: YarnLabel, sheet: Sheet, shown: set[str], picture_name: str) -> Page | None:
    safe = next(
        safe for high, safe in ((30_000, 2_000), (15_000, 1_500), (0, 1_000)) if sheet.label_height_um >= high
    )
    inner = (sheet.label_width_um - 2 * safe, sheet.label_height_um - 2 * safe)
    # 100 is the type of a label of 63.5 x 33.9 mm.
    most = min(210, inner[0] * 100 // 59_500, inner[1] * 100 // 29_900)
    code = _code(label.qr, sheet) if "qr" in shown else None
    for scale in range(max(most, 76), 50, -3):
        for full_width in (True, False):
            page = _attempt(label, shown, inner, safe, scale, code, full_width, picture_name)
            if page is not None:
                return page
    return None


def _code(payload: str, sheet: Sheet) -> QrPicture:
    """The QR code in as many printer dots a module as a label of this height carries well."""
    dots = max(5, min(10, sheet.label_height_um // 6_500))
    return make_qr(payload, error="Q", dots=dots)


def _attempt(
    label: YarnLabel,
    shown: set[str],
    inner: tuple[int, int],
    safe: int,
    scale: int,
    code: QrPicture | None,
    full_width: bool,
    picture_name: str,
) -> Page | None:
    """The label at one scale, or None where it does not fit. `full_width`: the foot runs under the code too."""
    width, height = inner
    page = Page()
    side = bottom_of_side = 0
    if code is not None:
        side, code_height = place_qr(page, code, safe + width, safe, safe)
        lot = shrunk_block("code", label.lot, side, most=_size(95, scale, 70), least=_size(60, scale, 55))
        word = block("small", "Dye lot", side, _size(55, scale, 50))
        if len(lot.lines) > 1 or len(word.lines) > 1:
            return None
        left = safe + width - side
        below = page.stack(word, left, safe + code_height, "right")
        below = page.stack(lot, left, below, "right")
        bottom_of_side = below - safe
        side += 500
    column = width - side
    if column < 14_000:
        return None
    stack = _words(label, shown, column, scale, with_lot=code is None)
    top = safe
    for words, gap in stack:
        top = page.stack(words, safe, top + gap)
    used = top - safe
    foot = _foot(label, shown, width if full_width else column, scale)
    foot_height = sum(words.height for words in foot)
    if foot:
        foot_height += 700
    taken = max(used, bottom_of_side if full_width or not foot else 0) + (500 if foot else 0) + foot_height
    if taken > height or bottom_of_side > height:
        return None
    top = safe + height - foot_height
    if foot:
        page.strokes.append(Stroke(safe, top, width if full_width else column))
        top += 700
    for words in foot:
        top = page.stack(words, safe, top)
    if "picture" in shown:
        room = height - taken - 2_000
        if room < LEAST_PICTURE_UM or not full_width:
            return None
        page.pictures.append(
            Picture(picture_name, safe, safe + max(used, bottom_of_side) + 1_500, width, room)
        )
    return page


def _words(
    label: YarnLabel, shown: set[str], width: int, scale: int, *, with_lot: bool
) -> list[tuple[Block, int]]:
    """The upper part from the top down, each block with the gap above it."""
    body = _size(70, scale, 52)
    found: list[tuple[Block, int]] = []
    if "studio" in shown:
        found.append((shrunk_block("studio", label.studio, width, most=_size(62, scale, 52), least=50), 0))
    found.append(
        (
            shrunk_block("name", label.colourway, width, most=_size(135, scale, 66), least=66),
            200 if found else 0,
        )
    )
    base = f"{label.base}, {label.remark.lower()}" if label.remark else label.base
    if with_lot:
        base = f"{base} · Dye lot {label.lot}"
    found.append((shrunk_block("base", base, width, most=_size(82, scale, 52), least=52), 150))
    if label.fibres:
        found.append((block("body", label.fibres, width, body), scale * scale // 12))
    amounts = [weight_line(label.nominal_milligrams)]
    if label.metres:
        amounts.append(length_line(label.metres))
    together = block("body", " · ".join(amounts), width, body)
    if len(together.lines) == 1:
        found.append((together, 150))
    else:
        found.extend(
            (block("body", amount, width, body), 150 if not at else 0) for at, amount in enumerate(amounts)
        )
    return found


def _foot(label: YarnLabel, shown: set[str], width: int, scale: int) -> list[Block]:
    small = _size(56, scale, 50)
    lines = []
    if "care" in shown:
        lines.append(label.care)
    ends = [text for text, name in ((label.origin, "origin"), (label.maker, "maker")) if name in shown]
    if ends:
        lines.append(". ".join(text.rstrip(".") for text in ends) + ".")
    return [block("small", line, width, small) for line in lines]


def _size(tenths: int, scale: int, least: int) -> int:
    return max(least, tenths * scale // 100)
