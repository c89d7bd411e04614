"""How wide text is in our fonts, and how it breaks into lines: what lets a long name shrink and wrap but never vanish.

Lengths are micrometres, type sizes are tenths of a point. Kerning only ever makes text narrower than reckoned here.
"""

from __future__ import annotations

import unicodedata
from functools import lru_cache

from dyehouse.paper.faces import measures, right_to_left_fonts_wanted

#: A tenth of a point in micrometres, times 100 to stay whole: 25,400 / 72 / 10.
_CENTI_UM_A_TENTH = 3_528

SERIF, SANS, SEMIBOLD, BOLD = (
    "SourceSerifPro-Semibold.ttf",
    "SourceSansPro-Regular.ttf",
    "SourceSansPro-Semibold.ttf",
    "SourceSansPro-Bold.ttf",
)
#: What draws the letters that a font lacks, in the order in which the stylesheet names them.
_AFTER = {
    SERIF: ("Assistant-600.ttf", "Arabic-600.ttf"),
    SANS: ("Assistant-400.ttf", "Arabic-400.ttf"),
    SEMIBOLD: ("Assistant-600.ttf", "Arabic-600.ttf"),
    BOLD: ("Assistant-700.ttf", "Arabic-700.ttf"),
}
#: Arabic letters take other shapes beside each other; none of these is so much wider than the letter alone.
_SHAPED_PERCENT = 115
#: How scripts are called on the screen, by how Unicode begins the names of their characters.
_SCRIPTS = {
    "CJK": "Chinese characters",
    "HIRAGANA": "Japanese kana",
    "KATAKANA": "Japanese kana",
    "HANGUL": "Korean",
    "DEVANAGARI": "Devanagari",
    "BENGALI": "Bengali",
    "TAMIL": "Tamil",
    "TELUGU": "Telugu",
    "THAI": "Thai",
    "KHMER": "Khmer",
    "GEORGIAN": "Georgian",
    "ARMENIAN": "Armenian",
    "ETHIOPIC": "Ethiopic",
    "SYRIAC": "Syriac",
}


def text_um(text: str, font: str, tenths: int) -> int:
    """How wide a text is at a size, rounded up. A character that no font of ours has counts as a full em."""
    return -(-_thousandths(text, font) * tenths * _CENTI_UM_A_TENTH // 100_000)


@lru_cache(maxsize=20_000)
def _thousandths(text: str, font: str) -> int:
    """The width in thousandths of the type size."""
    first = measures(font)
    others = [measures(name) for name in _AFTER[font]] if right_to_left_fonts_wanted(text) else []
    found = 0
    for character in text:
        if ord(character) in first.advances:
            found += -(-first.advances[ord(character)] * 1000 // first.units_per_em)
            continue
        other = next((each for each in others if ord(character) in each.advances), None)
        if other is not None:
            found += -(-other.advances[ord(character)] * 10 * _SHAPED_PERCENT // other.units_per_em)
        elif not unicodedata.combining(character):
            # A mark above or below a letter takes no room of its own; everything else at most an em.
            found += 1000
    return found


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
    known = measures(SANS).advances.keys() & measures(SERIF).advances.keys()
    if right_to_left_fonts_wanted(text):
        known |= measures("Assistant-600.ttf").advances.keys()
        known |= measures("Arabic-600.ttf").advances.keys()
    composed = unicodedata.normalize("NFC", text)
    return "".join(
        dict.fromkeys(
            character for character in composed if not character.isspace() and ord(character) not in known
        )
    )


def unprintable(text: str) -> str:
    """A sentence that names the scripts and characters our fonts lack; empty where all can be printed."""
    missing = missing_glyphs(text)
    if not missing:
        return ""
    scripts: dict[str, str] = {}
    for character in missing:
        name = unicodedata.name(character, "")
        script = next((words for begins, words in _SCRIPTS.items() if name.startswith(begins)), "")
        scripts[script] = scripts.get(script, "") + character
    found = " and ".join(
        f"{script} ({' '.join(characters[:12])})" if script else " ".join(characters[:12])
        for script, characters in scripts.items()
    )
    return (
        f"The fonts of paper have no {found}. Unless this machine has a font for them, boxes stand in their place: "
        "try one first, or write it in another script."
    )
