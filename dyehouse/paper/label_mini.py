"""The label as a small sticker for minis and the inside of a parcel: code, name and lot, and whatever else has room."""

from __future__ import annotations

from dyehouse.paper.codes import QrPicture
from dyehouse.paper.label_said import Code, YarnLabel, code_of, safe_um, size
from dyehouse.paper.label_tag import amounts
from dyehouse.paper.placed import Block, Page, Picture, block, shrunk_block
from dyehouse.paper.sheets import Sheet

MAY_GO = ("qr", "nominal_milligrams", "fibres", "studio", "metres", "origin", "maker", "care")


def mini(label: YarnLabel, sheet: Sheet, shown: frozenset[str], picture_name: str) -> Page | None:
    """The largest type at which these parts fit; None where even the smallest does not hold them.

    The code stands at the right, and all words beside it.
    """
    safe = safe_um(sheet)
    width, height = sheet.label_width_um - 2 * safe, sheet.label_height_um - 2 * safe
    # 100 is the type of a sticker of 38.1 x 21.2 mm.
    most = min(170, width * 100 // 35_100, height * 100 // 18_200)
    for scale in range(max(most, 76), 55, -3):
        page = Page()
        words_end = safe + width
        if "qr" in shown:
            left = _place_code(page, code_of(label, sheet, most_dots=6), sheet)
            if left is None:
                return None
            words_end = left
        column = words_end - safe
        if column < 9_000:
            return None
        blocks = _words(label, shown, column, scale)
        needed = sum(words.height + gap for words, gap in blocks)
        if needed > height:
            continue
        top = safe + (height - needed) // 2
        for words, gap in blocks:
            top = page.stack(words, safe, top + gap)
        return page
    return None


def _place_code(page: Page, code: Code, sheet: Sheet) -> int | None:
    """The code at the right in the middle, its quiet zone up to the edge. Says where the words must end."""
    wide, high = (
        (code.side_um, code.side_um) if isinstance(code, QrPicture) else (code.width_um, code.height_um)
    )
    if high > sheet.label_height_um:
        return None
    left = sheet.label_width_um - wide
    page.pictures.append(Picture(code.name, left, (sheet.label_height_um - high) // 2, wide, high, "code"))
    return left


def _words(label: YarnLabel, shown: frozenset[str], width: int, scale: int) -> list[tuple[Block, int]]:
    """From the top down, each block with the gap above it."""
    found: list[tuple[Block, int]] = []
    little = size(56, scale, 48)
    if "studio" in shown:
        found.append((shrunk_block("studio", label.studio, width, most=little, least=46), 0))
    found.append((shrunk_block("name", label.colourway, width, most=size(100, scale, 62), least=62), 0))
    base = f"{label.base}, {label.remark.lower()}" if label.remark else label.base
    found.append((shrunk_block("base", base, width, most=size(62, scale, 48), least=48), 100))
    if "fibres" in shown:
        found.append((block("body", label.fibres, width, little), 0))
    if "nominal_milligrams" in shown and ("metres" in shown or not label.metres):
        found += amounts(label, width, little)
    elif "nominal_milligrams" in shown:
        found.append((block("body", label.amounts[0], width, little), 0))
    for part in ("origin", "maker", "care"):
        if part in shown:
            found.append((block("small", getattr(label, part), width, little), 100))
    found.append((shrunk_block("code", label.lot, width, most=size(80, scale, 55), least=50), 150))
    return found
