"""The fonts of paper: the house's own for Latin, Greek and Cyrillic, and packaged ones for Hebrew and Arabic.

A character that none of them has is named before it is printed (`fitting.unprintable`).
"""

from __future__ import annotations

import importlib
import io
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from dyehouse.studio.fonts import font_files


@dataclass(frozen=True, slots=True)
class FontFace:
    """A face as a stylesheet names it, and the file it is drawn with."""

    family: str
    weight: int
    style: str
    file: str


FACES = (
    FontFace("Source Sans Pro", 400, "normal", "SourceSansPro-Regular.ttf"),
    FontFace("Source Sans Pro", 400, "italic", "SourceSansPro-It.ttf"),
    FontFace("Source Sans Pro", 600, "normal", "SourceSansPro-Semibold.ttf"),
    FontFace("Source Sans Pro", 700, "normal", "SourceSansPro-Bold.ttf"),
    FontFace("Source Serif Pro", 400, "normal", "SourceSerifPro-Regular.ttf"),
    FontFace("Source Serif Pro", 600, "normal", "SourceSerifPro-Semibold.ttf"),
)
RIGHT_TO_LEFT_FACES = tuple(
    FontFace(family, weight, "normal", f"{stem}-{weight}.ttf")
    for family, stem in (("Assistant", "Assistant"), ("IBM Plex Sans Arabic", "Arabic"))
    for weight in (400, 600, 700)
)

#: Package and file of each of these: one whose weight can be chosen, and one with a file for each weight. Letters of the
#: Arabic one are a glyph each: where they are put together from parts, text cannot be picked from the PDF.
_HEBREW = ("fontpkg_assistant", "Assistant[wght].ttf")
_ARABIC_PACKAGE = "fontpkg_ibm_plex_sans_arabic"
_ARABIC = {
    400: "IBMPlexSansArabic-Regular.ttf",
    600: "IBMPlexSansArabic-SemiBold.ttf",
    700: "IBMPlexSansArabic-Bold.ttf",
}
_ARABIC_LETTERS = re.compile("[\u0600-\u06ff\u0750-\u077f\u08a0-\u08ff\ufb50-\ufdff\ufe70-\ufeff]")
#: Hebrew and Arabic with their presentation forms.
_RIGHT_TO_LEFT = re.compile(
    "[\u0590-\u05ff\u0600-\u06ff\u0750-\u077f\u08a0-\u08ff\ufb1d-\ufdff\ufe70-\ufeff]"
)


@dataclass(frozen=True, slots=True)
class Measures:
    """What a font file says of its characters: advance widths in font units."""

    units_per_em: int
    advances: Mapping[int, int]


def right_to_left_fonts_wanted(text: str) -> bool:
    """Whether a text has characters that only these fonts draw."""
    return _RIGHT_TO_LEFT.search(text) is not None


def reaches_far(text: str) -> bool:
    """Whether a text has Arabic letters, which reach further above and below the line than others."""
    return _ARABIC_LETTERS.search(text) is not None


def reads_right_to_left(text: str) -> bool:
    """Whether a text begins in a script that is read from right to left: its first letter decides."""
    first = next((character for character in text if character.isalpha()), "")
    return bool(first) and _RIGHT_TO_LEFT.match(first) is not None


@cache
def font_bytes(file: str) -> bytes | None:
    """The content of one of our font files; None for a name that is none of ours."""
    if file in font_files():
        return font_files()[file].read_bytes()
    stem, _, weight = file.removesuffix(".ttf").rpartition("-")
    if all(face.file != file for face in RIGHT_TO_LEFT_FACES):
        return None
    if stem == "Arabic":
        return _packaged(_ARABIC_PACKAGE, _ARABIC[int(weight)]).read_bytes()
    return _at_weight(_packaged(*_HEBREW), int(weight))


def _packaged(package: str, name: str) -> Path:
    return Path(importlib.import_module(package).__path__[0]) / "files" / name


def _at_weight(file: Path, weight: int) -> bytes:
    """A font of one weight, cut from a file that has them all: WeasyPrint would draw the lightest."""
    from fontTools.ttLib import TTFont
    from fontTools.varLib.instancer import instantiateVariableFont

    with TTFont(file) as font:
        fixed = instantiateVariableFont(font, {"wght": weight}, inplace=True)
        written = io.BytesIO()
        fixed.save(written)
    return written.getvalue()


@cache
def measures(file: str) -> Measures:
    """The measures of one of our font files."""
    from fontTools.ttLib import TTFont

    content = font_bytes(file)
    assert content is not None, file
    with TTFont(io.BytesIO(content), lazy=True) as font:
        widths = {glyph: font["hmtx"][glyph][0] for glyph in font.getGlyphOrder()}
        advances = {character: widths[glyph] for character, glyph in font.getBestCmap().items()}
        return Measures(font["head"].unitsPerEm, advances)
