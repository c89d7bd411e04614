"""How wide text is in our fonts, and how it breaks into lines: what lets a long name shrink and wrap but never vanish.

Lengths are micrometres, type sizes are tenths of a point. Kerning only ever makes text narrower than reckoned here.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

from dyehouse.studio.fonts import font_files

#: A tenth of a point in micrometres, times 100 to stay whole: 25,400 / 72 / 10.
_CENTI_UM_A_TENTH = 3_528

SERIF, SANS, SEMIBOLD, BOLD = (
    "SourceSerifPro-Semibold.ttf",
    "SourceSansPro-Regular.ttf",
    "SourceSansPro-Semibold.ttf",
    "SourceSansPro-Bold.ttf",
)


@dataclass(frozen=True, slots=True)
class Face:
    """What a font file says of its characters: advance widths in font units."""

    units_per_em: int
    advances: Mapping[int, int]


@cache
def face(name: str) -> Face:
    """The measures of one of our font files."""
    from fontTools.ttLib import TTFont

    with TTFont(font_files()[name], lazy=True) as font:
        widths = {glyph: font["hmtx"][glyph][0] for glyph in font.getGlyphOrder()}
        advances = {character: widths[glyph] for character, glyph in font.getBestCmap().items()}
        return Face(font["head"].unitsPerEm, advances)


def text_um(text: str, font: str, tenths: int) -> int:
    """How wide a text is at a size, rounded up. A character that the font lacks counts as a full em."""
    measures = face(font)
    units = sum(measures.advances.get(ord(character), measures.units_per_em) for character in text)
    return -(-units * tenths * _CENTI_UM_A_TENTH // (measures.units_per_em * 100))


def lines_of(text: str, font: str, tenths: int, width_um: int) -> list[str]:
    """The text broken into lines no wider than `width_um`: at spaces, and inside a word only when it is too long."""
    lines: list[str] = []
    line = ""
    for word in text.split():
        wider = f"{line} {word}" if line else word
        if text_um(wider, font, tenths) <= width_um:
            line = wider
            continue
        if line:
            lines.append(line)
        while text_um(word, font, tenths) > width_um and len(word) > 1:
            keep = len(word) - 1
            while keep > 1 and text_um(word[:keep], font, tenths) > width_um:
                keep -= 1
            lines.append(word[:keep])
            word = word[keep:]
        line = word
    if line:
        lines.append(line)
    return lines


def missing_glyphs(text: str) -> str:
    """The characters of a text that our fonts cannot draw, each once and in order; empty where all can be printed."""
    known = face(SANS).advances.keys() & face(SERIF).advances.keys()
    composed = unicodedata.normalize("NFC", text)
    return "".join(
        dict.fromkeys(
            character for character in composed if not character.isspace() and ord(character) not in known
        )
    )
