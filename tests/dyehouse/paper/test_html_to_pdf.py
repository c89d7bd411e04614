"""The one door to WeasyPrint: our own names, and nothing else."""

from __future__ import annotations

import builtins
import io
import sys

import pikepdf
import pytest
from django.template import engines

from dyehouse.paper import html_to_pdf
from dyehouse.paper.codes import make_qr
from dyehouse.paper.html_to_pdf import AddressRefused, PaperUnavailable, pdf_from_template
from dyehouse.paper.sheets import sheet_named
from dyehouse.paper.yarn_label import yarn_labels
from tests.dyehouse.paper.making import label


@pytest.fixture
def print_body(monkeypatch):
    """Print a body of one's own with the label's stylesheet."""

    def printed(body: str, pictures: dict[str, bytes] | None = None) -> bytes:
        monkeypatch.setattr(
            html_to_pdf,
            "render_to_string",
            lambda template, context: engines["django"].from_string(body).render({}),
        )
        return pdf_from_template(
            "any",
            {"width_um": 60_000, "height_um": 30_000, "pages": []},
            stylesheet="placed.css",
            pictures=pictures,
        )

    return printed


@pytest.mark.parametrize(
    "address",
    [
        "https://example.org/a.png",
        "http://127.0.0.1/a.png",
        "file:///etc/hostname",
        "ftp://example.org/a",
        "a.png",
        "house://fonts/../../../etc/hostname",
        "house://pictures/somebody-elses",
        "HOUSE://pictures/code",
    ],
)
def test_any_address_but_our_own_stops_the_printing(print_body, address):
    with pytest.raises(AddressRefused):
        print_body(f'<p>x</p><img src="{address}">', {"code": make_qr("K7M2X").png})


def test_our_pictures_fonts_and_data_are_served(print_body):
    png = "iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAAAAAA6fptVAAAACklEQVR4nGNgAAAAAgABSK+kcQAAAABJRU5ErkJggg=="

    pdf = print_body(
        f'<p class="line">Low Tide</p><img src="house://pictures/code"><img src="data:image/png;base64,{png}">',
        {"code": make_qr("K7M2X").png},
    )

    with pikepdf.open(io.BytesIO(pdf)) as document:
        assert len(document.pages[0].get_images()) == 2


def test_only_the_packaged_fonts_are_in_the_file():
    pdf = yarn_labels([label()], sheet_named("a4-3x8"))

    with pikepdf.open(io.BytesIO(pdf)) as document:
        names = {
            str(thing.BaseFont)
            for thing in document.objects
            if isinstance(thing, pikepdf.Dictionary)
            and thing.get("/Type") == "/Font"
            and "/BaseFont" in thing
        }
    assert names
    assert all("Source-S" in name or "SourceS" in name for name in names)


def test_a_machine_without_pango_says_what_to_install(monkeypatch):
    imported = builtins.__import__

    def without_pango(name, *rest, **named):
        if name == "weasyprint":
            raise OSError("cannot load library 'libpango-1.0-0'")
        return imported(name, *rest, **named)

    monkeypatch.setattr(builtins, "__import__", without_pango)
    monkeypatch.delitem(sys.modules, "weasyprint", raising=False)
    for missing, words in (([], "brew install pango"), (["libpango-1.0-0"], "Pango is missing")):
        monkeypatch.setattr(html_to_pdf, "missing_for_pdfs", lambda missing=missing: missing)
        with pytest.raises(PaperUnavailable, match=words):
            html_to_pdf._weasyprint()
