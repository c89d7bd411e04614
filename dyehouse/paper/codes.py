"""QR pictures of the house's short codes."""

from __future__ import annotations

import io
import re
from dataclasses import dataclass
from functools import lru_cache

import segno

QUIET_MODULES = 4
#: 5 dots of a 300 dpi printer: 0.423 mm a module, above the 0.4 mm that phones read well.
DOTS, DOTS_PER_INCH = 5, 300
# ISO/IEC 18004's alphanumeric set without the space: what fits the smallest symbols.
PLAIN = re.compile(r"[0-9A-Z$%*+\-./:]+")


class CodeNotPlain(ValueError):
    """A payload that is not a bare upper-case code."""


@dataclass(frozen=True, slots=True)
class QrPicture:
    """A QR code as a PNG of one pixel a printer dot, its quiet zone of 4 modules included."""

    payload: str
    png: bytes
    side_modules: int
    module_um: int

    @property
    def name(self) -> str:
        """What its picture is called on a page."""
        return self.payload

    @property
    def side_um(self) -> int:
        return self.side_modules * self.module_um


@lru_cache(maxsize=512)
def make_qr(
    payload: str, *, error: str = "M", dots: int = DOTS, dots_per_inch: int = DOTS_PER_INCH
) -> QrPicture:
    """The QR code of a bare upper-case code at an error level (L, M, Q, H) that is kept as asked.

    A module is `dots` whole dots of a printer with so many dots to the inch. Never a Micro QR, which many phones cannot
    read. Raises CodeNotPlain.
    """
    if not PLAIN.fullmatch(payload):
        raise CodeNotPlain("A printed code has only the digits 0 to 9 and the capitals A to Z.")
    code = segno.make_qr(payload, error=error, boost_error=False)
    written = io.BytesIO()
    code.save(written, kind="png", border=QUIET_MODULES, scale=dots)
    return QrPicture(
        payload=payload,
        png=written.getvalue(),
        side_modules=len(code.matrix) + 2 * QUIET_MODULES,
        module_um=round(dots * 25_400 / dots_per_inch),
    )
