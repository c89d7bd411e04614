"""The label as a tag: name and code above, what the law and the washing want below a line."""

from __future__ import annotations

from dyehouse.paper.label_said import Code, YarnLabel, code_of, safe_um, size
from dyehouse.paper.placed import Block, Page, Picture, Stroke, block, place_code, shrunk_block
from dyehouse.paper.sheets import Sheet

MAY_GO = ("qr", "studio", "origin", "maker", "care", "picture")
LEAST_PICTURE_UM = 15_000


def tag(label: YarnLabel, sheet: Sheet, shown: frozenset[str], picture_name: str) -> Page | None:
    """The largest type at which these parts fit; None where even the smallest does not hold them."""
    safe = safe_um(sheet)
    inner = (sheet.label_width_um - 2 * safe, sheet.label_height_um - 2 * safe)
    # 100 is the type of a label of 63.5 x 33.9 mm.
    most = min(210, inner[0] * 100 // 59_500, inner[1] * 100 // 29_900)
    code = code_of(label, sheet) if "qr" in shown else None
    for scale in range(max(most, 76), 50, -3):
        for full_width in (True, False):
            page = _attempt(label, shown, inner, safe, scale, code, full_width, picture_name)
            if page is not None:
                return page
    return None


def _attempt(
    label: YarnLabel,
    shown: frozenset[str],
    inner: tuple[int, int],
    safe: int,
    scale: int,
    code: Code | None,
    full_width: bool,
    picture_name: str,
) -> Page | None:
    """The label at one scale, or None where it does not fit. `full_width`: the foot runs under the code too."""
    width, height = inner
    page = Page()
    side = bottom_of_side = 0
    if code is not None:
        side, code_height = place_code(page, code, safe + width, safe, safe)
        lot = shrunk_block("code", label.lot, side, most=size(95, scale, 70), least=size(60, scale, 55))
        word = block("small", "Dye lot", side, size(55, scale, 50))
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
    label: YarnLabel, shown: frozenset[str], width: int, scale: int, *, with_lot: bool
) -> list[tuple[Block, int]]:
    """The upper part from the top down, each block with the gap above it."""
    body = size(70, scale, 52)
    found: list[tuple[Block, int]] = []
    if "studio" in shown:
        found.append((shrunk_block("studio", label.studio, width, most=size(62, scale, 52), least=50), 0))
    found.append(
        (
            shrunk_block("name", label.colourway, width, most=size(135, scale, 66), least=66),
            200 if found else 0,
        )
    )
    base = f"{label.base}, {label.remark.lower()}" if label.remark else label.base
    if with_lot:
        base = f"{base} · Dye lot {label.lot}"
    found.append((shrunk_block("base", base, width, most=size(82, scale, 52), least=52), 150))
    if label.fibres:
        found.append((block("body", label.fibres, width, body), scale * scale // 12))
    return [*found, *amounts(label, width, body)]


def amounts(label: YarnLabel, width: int, tenths: int) -> list[tuple[Block, int]]:
    """Weight and length on one line, or on one each where they do not fit beside each other."""
    together = block("body", " · ".join(label.amounts), width, tenths)
    if len(together.lines) <= 1:
        return [(together, 150)] if label.amounts else []
    return [
        (block("body", amount, width, tenths), 150 if not at else 0)
        for at, amount in enumerate(label.amounts)
    ]


def _foot(label: YarnLabel, shown: frozenset[str], width: int, scale: int) -> list[Block]:
    small = size(56, scale, 50)
    lines = []
    if "care" in shown:
        lines.append(label.care)
    # The maker's line ends with an e-mail address, which no full stop may follow.
    ends = [f"{label.origin.rstrip('.')}."] if "origin" in shown else []
    ends += [label.maker] if "maker" in shown else []
    if ends:
        lines.append(" ".join(ends))
    return [block("small", line, width, small) for line in lines]
