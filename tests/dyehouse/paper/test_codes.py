"""QR codes, read back from the printed page by zxing-cpp, which knows nothing of how they were made."""

from __future__ import annotations

import io

import pytest
import zxingcpp
from PIL import Image

from dyehouse.paper.codes import CodeNotPlain, make_qr
from dyehouse.paper.sheets import sheet_named
from dyehouse.paper.wet_tag import wet_tags
from dyehouse.paper.yarn_label import yarn_labels
from tests.dyehouse.paper.making import label, tag
from tests.dyehouse.paper.reading import pages_as_pictures


def test_a_short_code_makes_the_smallest_full_symbol_and_never_a_micro_one():
    code = make_qr("K7M2X", error="Q")

    # ISO/IEC 18004: side = 4 x version + 17 modules; version 1 holds 16 letters and digits at level Q.
    assert code.side_modules - 2 * 4 == 21
    found = zxingcpp.read_barcode(Image.open(io.BytesIO(code.png)))
    assert found.format == zxingcpp.BarcodeFormat.QRCode
    assert found.text == "K7M2X"


@pytest.mark.parametrize("level", ["L", "M", "Q", "H"])
def test_the_error_level_is_kept_as_asked(level):
    found = zxingcpp.read_barcode(Image.open(io.BytesIO(make_qr("K7M2X", error=level).png)))

    assert found.ec_level == level


def test_a_module_is_a_whole_number_of_printer_dots_and_large_enough_for_a_phone():
    code = make_qr("K7M2X", dots=5, dots_per_inch=300)

    # 300 dpi dots are 0.0847 mm: five make 0.423 mm, above the practical floor of 0.4 mm.
    assert code.module_um == 423
    assert Image.open(io.BytesIO(code.png)).width == code.side_modules * 5


def test_the_quiet_zone_of_four_modules_is_white():
    code = make_qr("K7M2X", dots=5)

    picture = Image.open(io.BytesIO(code.png)).convert("L")
    dark = picture.point(lambda value: 255 - value).getbbox()
    assert dark == (20, 20, picture.width - 20, picture.height - 20)


@pytest.mark.parametrize("payload", ["k7m2x", "", "K7 M2X", "Ö"])
def test_anything_but_a_bare_upper_case_code_is_refused(payload):
    with pytest.raises(CodeNotPlain):
        make_qr(payload)


@pytest.mark.parametrize("slug", ["a4-3x8", "a4-5x13", "a4-2x4", "letter-3x10", "roll-100x150"])
def test_the_code_on_a_printed_label_reads_as_its_lot(slug):
    pdf = yarn_labels([label(lot="Q9RTH", qr="Q9RTH")], sheet_named(slug))

    found = zxingcpp.read_barcodes(pages_as_pictures(pdf)[0])

    assert [code.text for code in found] == ["Q9RTH"]


@pytest.mark.parametrize("slug", ["a4-3x8", "a4-2x4", "roll-100x150"])
def test_the_code_on_a_wet_tag_reads_as_its_pot(slug):
    found = zxingcpp.read_barcodes(pages_as_pictures(wet_tags([tag(code="Q9RTH")], sheet_named(slug)))[0])

    assert [code.text for code in found] == ["Q9RTH"]


@pytest.mark.parametrize(
    ("payload", "error", "version"),
    [
        # Measured with segno, the letters-and-digits row also in ISO/IEC 18004: version 1 holds 20 at M and 16 at Q,
        # version 2 38 and 29, version 3 61 and 47, version 4 90 and 67.
        ("A" * 20, "M", 1),
        ("A" * 21, "M", 2),
        ("A" * 38, "M", 2),
        ("A" * 61, "M", 3),
        ("A" * 62, "M", 4),
        ("A" * 16, "Q", 1),
        ("A" * 17, "Q", 2),
        ("A" * 47, "Q", 3),
        ("A" * 67, "Q", 4),
        # An address of 27 letters in capitals fits version 2 at level M, not raised by the library.
        ("HTTPS://EXAMPLE.ORG/S/7F3K2", "M", 2),
    ],
)
def test_a_symbol_is_as_large_as_its_text_needs_and_no_larger(payload, error, version):
    code = make_qr(payload, error=error)

    # ISO/IEC 18004: side = 4 x version + 17 modules, and a quiet zone of 4 all round.
    assert code.side_modules == 4 * version + 17 + 8


def test_a_symbol_of_version_3_at_four_tenths_of_a_millimetre_is_14_8_mm_wide():
    # 29 modules and 4 of quiet zone on each side; 8 dots of 508 to the inch are 0.4 mm.
    code = make_qr("A" * 61, dots=8, dots_per_inch=508)

    assert code.side_um == 14_800
