"""Reading PDFs back: pages as pictures, their text, and where forms were placed."""

from __future__ import annotations

import io
import re
import shutil
import subprocess
from dataclasses import dataclass
from decimal import Decimal

import pikepdf
import pytest
from PIL import Image

NO_READER = "no reader of PDFs: neither pypdfium2 nor poppler's pdftoppm and pdftotext are here"


def pages_as_pictures(pdf: bytes, dpi: int = 300) -> list[Image.Image]:
    """Every page as a grey picture."""
    try:
        import pypdfium2
    except ImportError:
        return _by_poppler(pdf, dpi)
    document = pypdfium2.PdfDocument(pdf)
    return [page.render(scale=dpi / 72).to_pil().convert("L") for page in document]


def text_of(pdf: bytes) -> str:
    """The text of all pages, its runs of white space as one space."""
    try:
        import pypdfium2
    except ImportError:
        if shutil.which("pdftotext") is None:
            pytest.skip(NO_READER)
        found = subprocess.run(["pdftotext", "-raw", "-", "-"], input=pdf, capture_output=True, check=True)
        return " ".join(found.stdout.decode().split())
    document = pypdfium2.PdfDocument(pdf)
    return " ".join(" ".join(page.get_textpage().get_text_range() for page in document).split())


def _by_poppler(pdf: bytes, dpi: int) -> list[Image.Image]:
    if shutil.which("pdftoppm") is None:
        pytest.skip(NO_READER)
    found = subprocess.run(
        ["pdftoppm", "-r", str(dpi), "-gray", "-"], input=pdf, capture_output=True, check=True
    )
    pictures, rest = [], found.stdout
    while rest:
        start = re.match(rb"P5\s+(\d+)\s+(\d+)\s+255\s", rest)
        width, height, head = int(start[1]), int(start[2]), start.end()
        pictures.append(Image.frombytes("L", (width, height), rest[head : head + width * height]))
        rest = rest[head + width * height :]
    return pictures


@dataclass(frozen=True)
class Placed:
    """A form on a page: its number and its corners in millimetres from the page's top left."""

    page: int
    name: str
    left: Decimal
    top: Decimal
    right: Decimal
    bottom: Decimal


def placed_forms(pdf: bytes) -> list[Placed]:
    """Where each form lies, from the page's own instructions."""
    found = []
    with pikepdf.open(io.BytesIO(pdf)) as document:
        for number, page in enumerate(document.pages):
            height = Decimal(str(page.mediabox[3]))
            at = (Decimal(0), Decimal(0))
            for instruction in pikepdf.parse_content_stream(page):
                if str(instruction.operator) == "cm":
                    at = tuple(Decimal(str(part)) for part in instruction.operands[4:])
                if str(instruction.operator) == "Do":
                    name = str(instruction.operands[0])
                    box = [Decimal(str(part)) for part in page.Resources.XObject[name].BBox]
                    corners = (at[0], height - at[1] - box[3], at[0] + box[2], height - at[1])
                    found.append(Placed(number, name, *(part * Decimal("25.4") / 72 for part in corners)))
    return found


def page_sizes(pdf: bytes) -> list[tuple[float, float]]:
    """Width and height of every page in points."""
    with pikepdf.open(io.BytesIO(pdf)) as document:
        return [(float(page.mediabox[2]), float(page.mediabox[3])) for page in document.pages]
