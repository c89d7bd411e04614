"""The label as a band around a skein: the name on the front, the rest on the back, a flap to glue where there is room."""

from __future__ import annotations

from dyehouse.paper.label_said import Code, YarnLabel, code_of, safe_um, size
from dyehouse.paper.label_tag import amounts
from dyehouse.paper.placed import Block, Page, Picture, Stroke, block, place_code, shrunk_block
from dyehouse.paper.sheets import Sheet

MAY_GO = ("qr", "studio", "origin", "maker", "care", "picture")
LEAST_WIDTH_UM = 90_000
FLAP_FROM_UM = 150_000
FLAP_UM = 15_000
LEAST_PICTURE_UM = 12_000
TICK_UM = 2_000


def band(label: YarnLabel, sheet: Sheet, shown: frozenset[str], picture_name: str) -> Page | None:
    """The largest type at which these parts fit on the two sides; None where even the smallest does not hold them.

    The front is the left side. Origin stands there: 16 CFR 300.5(b).
    """
    if sheet.label_width_um < LEAST_WIDTH_UM:
        return None
    safe = safe_um(sheet)
    flap = FLAP_UM if sheet.label_width_um >= FLAP_FROM_UM else 0
    side = (sheet.label_width_um - flap) // 2
    inner = (side - 2 * safe, sheet.label_height_um - 2 * safe)
    code = code_of(label, sheet, most_dots=7) if "qr" in shown else None
    most = min(190, inner[0] * 100 // 52_000, inner[1] * 100 // 30_000)
    for scale in range(max(most, 76), 50, -3):
        page = Page()
        for fold in (side, 2 * side) if flap else (side,):
            page.strokes.append(Stroke(fold, 0, 0, height=TICK_UM))
            page.strokes.append(Stroke(fold, sheet.label_height_um - TICK_UM, 0, height=TICK_UM))
        if _front(page, label, shown, inner, safe, scale, picture_name) and _back(
            page, label, shown, inner, (side + safe, safe), scale, code
        ):
            return page
    return None


def _front(
    page: Page,
    label: YarnLabel,
    shown: frozenset[str],
    inner: tuple[int, int],
    safe: int,
    scale: int,
    picture_name: str,
) -> bool:
    """The studio above, the name in the middle of what is left, fibres, amounts and origin below a line."""
    width, height = inner
    small = size(66, scale, 52)
    top = safe
    if "studio" in shown:
        top = page.stack(
            shrunk_block("studio", label.studio, width, most=size(70, scale, 52), least=50),
            safe,
            top,
            "center",
        )
    below: list[tuple[Block, int]] = []
    if label.fibres:
        below.append((block("body", label.fibres, width, small), 0))
    below += amounts(label, width, small)
    if "origin" in shown:
        below.append((block("small", label.origin, width, size(58, scale, 50)), 100))
    base = f"{label.base}, {label.remark.lower()}" if label.remark else label.base
    middle = [
        shrunk_block("name", label.colourway, width, most=size(175, scale, 70), least=70),
        shrunk_block("base", base, width, most=size(92, scale, 54), least=54),
    ]
    below_height = sum(words.height + gap for words, gap in below) + (900 if below else 0)
    middle_height = sum(words.height for words in middle) + 250
    room = safe + height - below_height - top
    if middle_height + 500 > room:
        return False
    picture = room - middle_height - 2_500 if "picture" in shown else 0
    if "picture" in shown:
        if picture < LEAST_PICTURE_UM:
            return False
        page.pictures.append(Picture(picture_name, safe, top + 1_000, width, picture))
        top += picture + 2_000
    else:
        top += (room - middle_height) * 2 // 5
    for words in middle:
        top = page.stack(words, safe, top, "center") + 250
    top = safe + height - below_height
    if below:
        third = width // 3
        page.strokes.append(Stroke(safe + third, top, width - 2 * third))
        top += 900
    for words, gap in below:
        top = page.stack(words, safe, top + gap, "center")
    return True


def _back(
    page: Page,
    label: YarnLabel,
    shown: frozenset[str],
    inner: tuple[int, int],
    corner: tuple[int, int],
    scale: int,
    code: Code | None,
) -> bool:
    """The dye lot with its code above, care below it, the maker at the foot."""
    width, height = inner
    left, safe = corner
    side = bottom = 0
    if code is not None:
        side, code_height = place_code(page, code, left + width, safe, safe)
        bottom = safe + code_height
    column = width - side - (800 if side else 0)
    if column < 12_000:
        return False
    top = page.stack(block("small", "Dye lot", column, size(60, scale, 50)), left, safe)
    top = page.stack(shrunk_block("code", label.lot, column, most=size(150, scale, 70), least=55), left, top)
    care = block("small", label.care, width, size(62, scale, 50)) if "care" in shown else None
    maker = block("small", label.maker, width, size(58, scale, 50)) if "maker" in shown else None
    foot = maker.height + 700 if maker is not None else 0
    top = max(top, bottom) + 800
    if top + (care.height if care is not None else 0) + foot > safe + height:
        return False
    if care is not None:
        page.stack(care, left, top)
    if maker is not None:
        page.stack(maker, left, safe + height - maker.height)
        page.strokes.append(Stroke(left, safe + height - foot, width))
    return True
