"""Code 128 bar codes for hand scanners, drawn without a library: sets B and C, check character, quiet zones.

Source: the symbology's published table of 107 patterns; width 11 modules a character and 13 for the stop, ten modules of
quiet zone on each side.
"""

from __future__ import annotations

import io
import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

START_B, START_C, TO_C, TO_B, STOP = 104, 105, 99, 100, 106
QUIET_MODULES = 10
#: 3 dots of a 300 dpi printer: 0.254 mm a module, above the 0.25 mm that scanners read well.
DOTS, DOTS_PER_INCH = 3, 300
HEIGHT_UM = 8_000
PRINTABLE = re.compile(r"[ -~]+")

# Widths of bar, space, bar, space, bar, space; the stop has one bar more.
# fmt: off
_PATTERNS = (
    "212222", "222122", "222221", "121223", "121322", "131222", "122213", "122312", "132212", "221213", "221312", "231212",
    "112232", "122132", "122231", "113222", "123122", "123221", "223211", "221132", "221231", "213212", "223112", "312131",
    "311222", "321122", "321221", "312212", "322112", "322211", "212123", "212321", "232121", "111323", "131123", "131321",
    "112313", "132113", "132311", "211313", "231113", "231311", "112133", "112331", "132131", "113123", "113321", "133121",
    "313121", "211331", "231131", "213113", "213311", "213131", "311123", "311321", "331121", "312113", "312311", "332111",
    "314111", "221411", "431111", "111224", "111422", "121124", "121421", "141122", "141221", "112214", "112412", "122114",
    "122411", "142112", "142211", "241211", "221114", "413111", "241112", "134111", "111242", "121142", "121241", "114212",
    "124112", "124211", "411212", "421112", "421211", "212141", "214121", "412121", "111143", "111341", "131141", "114113",
    "114311", "411113", "411311", "113141", "114131", "311141", "411131", "211412", "211214", "211232", "2331112",
)
# fmt: on


class NotPrintableInCode128(ValueError):
    """A text with characters that are not in set B."""


@dataclass(frozen=True, slots=True)
class BarPicture:
    """A bar code as a PNG of one pixel a printer dot across, its quiet zones included."""

    payload: str
    png: bytes
    modules: int
    module_um: int
    height_um: int = HEIGHT_UM

    @property
    def name(self) -> str:
        """What its picture is called on a page that may have other codes of the same text."""
        return f"bar-{self.payload.encode().hex()}"

    @property
    def width_um(self) -> int:
        return self.modules * self.module_um


def code_values(text: str) -> list[int]:
    """The code's values from the start character to the last one before the check.

    Digits go in pairs where that is shorter: a run of four at an end, of six in the middle. Raises NotPrintableInCode128.
    """
    if not PRINTABLE.fullmatch(text):
        raise NotPrintableInCode128("A bar code holds plain letters, digits and signs, and at least one.")
    values: list[int] = []
    in_pairs = False
    at = 0
    while at < len(text):
        run = len(re.match(r"\d*", text[at:])[0])  # type: ignore[index]
        ends = at == 0 or at + run == len(text)
        if not in_pairs and run >= (4 if ends else 6):
            if run % 2 and at:
                # An odd run keeps its first digit in set B.
                values.append(ord(text[at]) - 32)
                at, run = at + 1, run - 1
            values.append(TO_C if values else START_C)
            in_pairs = True
        elif in_pairs and run < 2:
            values.append(TO_B)
            in_pairs = False
        elif not values:
            values.append(START_B)
        if in_pairs:
            values.append(int(text[at : at + 2]))
            at += 2
        else:
            values.append(ord(text[at]) - 32)
            at += 1
    return values


def check_value(values: Sequence[int]) -> int:
    """The check: the start value and each value times its place, modulo 103."""
    return (values[0] + sum(place * value for place, value in enumerate(values[1:], start=1))) % 103


def modules_of(text: str) -> str:
    """The code from the first bar to the last as 1 for dark and 0 for light. Raises NotPrintableInCode128."""
    values = code_values(text)
    drawn = []
    for value in (*values, check_value(values), STOP):
        for number, width in enumerate(_PATTERNS[value]):
            drawn.append(("0" if number % 2 else "1") * int(width))
    return "".join(drawn)


@lru_cache(maxsize=512)
def make_code128(text: str, *, dots: int = DOTS, dots_per_inch: int = DOTS_PER_INCH) -> BarPicture:
    """The bar code of a text, a module as wide as whole dots of a printer. Raises NotPrintableInCode128."""
    from PIL import Image

    quiet = "0" * QUIET_MODULES
    modules = f"{quiet}{modules_of(text)}{quiet}"
    row = bytes(0 if module == "1" else 255 for module in modules for _ in range(dots))
    picture = Image.frombytes("L", (len(row), 1), row).resize((len(row), 40), Image.Resampling.NEAREST)
    written = io.BytesIO()
    picture.convert("1").save(written, "PNG")
    return BarPicture(text, written.getvalue(), len(modules), round(dots * 25_400 / dots_per_inch))
