"""The three shapes: all on its place in any script, nothing in a label's margin, codes that read, text that can be picked."""

from __future__ import annotations

import io

import pytest
import zxingcpp
from PIL import Image

from dyehouse.paper.fitting import missing_glyphs, text_um, unprintable
from dyehouse.paper.placed import FONT_OF, LabelTooSmall
from dyehouse.paper.sheets import positions, sheet_named
from dyehouse.paper.yarn_label import lay_out, left_out, yarn_labels
from tests.dyehouse.paper.making import LONG_NAME, label
from tests.dyehouse.paper.reading import pages_as_pictures, text_of

HEBREW = "ים כחול בלילה ארוך מאוד מעל ההרים הגבוהים"
ARABIC = "بحر أزرق في الليل الطويل فوق الجبال العالية"
NAMES = {
    "short": "Fog",
    "long": LONG_NAME,
    "one word": "Donaudampfschifffahrtsgesellschaft",
    "wide": "WWWWWWWWWWWWWWWWWWWW",
    "Hebrew": HEBREW,
    "Arabic": ARABIC,
    "Han": "深海の夜明けに光る青い波",
    "Thai": "ทะเลสีน้ำเงินยามค่ำคืน",
    "marks": "Ǘñḯćọ̈ḍé Žlúťoučký kůň",
}
SHAPES = [
    ("tag", "a4-3x8"),
    ("tag", "a4-2x4"),
    ("tag", "letter-3x10"),
    ("band", "a4-1x6-cut"),
    ("band", "letter-2x5"),
    ("mini", "a4-5x13"),
    ("mini", "letter-4x20"),
]
DPI = 300


def cell(page: Image.Image, sheet, number: int) -> Image.Image:
    """One label of a printed sheet."""
    place = positions(sheet, number, 1)[0]
    sides = (
        place.left_um,
        place.top_um,
        place.left_um + sheet.label_width_um,
        place.top_um + sheet.label_height_um,
    )
    return page.crop(tuple(round(um / 25_400 * DPI) for um in sides))


def margin_has_ink(one: Image.Image, um: int) -> bool:
    """Whether anything is printed within so much of the label's edge."""
    ring = round(um / 25_400 * DPI)
    dark = one.point(lambda value: 255 if value < 170 else 0)
    # Where a band is folded is marked at its edges.
    strips = [
        dark.crop((0, 0, ring, dark.height)),
        dark.crop((dark.width - ring, 0, dark.width, dark.height)),
    ]
    return any(strip.crop((0, ring, ring, strip.height - ring)).getbbox() for strip in strips)


@pytest.mark.parametrize(("shape", "slug"), SHAPES)
@pytest.mark.parametrize("name", NAMES.values(), ids=NAMES.keys())
def test_nothing_lies_outside_a_label_and_no_word_is_lost(shape, slug, name):
    sheet = sheet_named(slug)
    try:
        page = lay_out(label(shape=shape, colourway=name), sheet).page
    except LabelTooSmall:
        pytest.skip("named before printing")

    printed = "".join(line.text for line in page.lines if line.kind in ("name", "tall"))
    assert printed.replace(" ", "") == name.replace(" ", "")
    for line in page.lines:
        assert text_um(line.text, FONT_OF[line.kind], line.tenths) <= line.width
        assert line.left >= 0
        assert line.left + line.width <= sheet.label_width_um
        assert line.top >= 0
        assert line.top + line.height <= sheet.label_height_um


@pytest.mark.parametrize(("shape", "slug"), SHAPES)
def test_on_the_printed_sheet_every_script_keeps_to_its_label(shape, slug):
    sheet = sheet_named(slug)
    labels = []
    for name in NAMES.values():
        one = label(shape=shape, colourway=name, base="Harbour Sock with a very long name indeed")
        try:
            left_out(one, sheet)
        except LabelTooSmall:
            continue
        labels.append(one)

    pdf = yarn_labels(labels, sheet)

    pages = pages_as_pictures(pdf, DPI)
    for index in range(len(labels)):
        page, number = divmod(index, sheet.labels)
        assert not margin_has_ink(cell(pages[page], sheet, number + 1), 500), labels[index].colourway
    # Between and beside the labels there is only what is cut along.
    if not sheet.to_cut:
        blank = pages[0].copy()
        for number in range(1, sheet.labels + 1):
            place = positions(sheet, number, 1)[0]
            sides = [
                place.left_um,
                place.top_um,
                place.left_um + sheet.label_width_um,
                place.top_um + sheet.label_height_um,
            ]
            left, top, right, bottom = (round(um / 25_400 * DPI) for um in sides)
            blank.paste(255, (left - 1, top - 1, right + 1, bottom + 1))
        assert blank.point(lambda value: 255 if value < 170 else 0).getbbox() is None


@pytest.mark.parametrize("shape", ["tag", "band", "mini"])
@pytest.mark.parametrize("name", [LONG_NAME, HEBREW, ARABIC], ids=["Latin", "Hebrew", "Arabic"])
def test_the_text_can_be_picked_from_the_pdf(shape, name):
    slug = "a4-2x4" if shape != "mini" else "a4-4x12"

    text = text_of(yarn_labels([label(shape=shape, colourway=name)], sheet_named(slug)))

    assert "Harbour Sock" in text
    assert "K7M2X" in text
    # Readers differ in the order of words that are read from the right; the letters are all there.
    assert set(name.replace(" ", "")) <= set(text)


@pytest.mark.parametrize("name", [HEBREW, ARABIC], ids=["Hebrew", "Arabic"])
def test_a_name_read_from_the_right_lays_the_label_out_from_the_right(name):
    sheet = sheet_named("a4-3x8")

    latin, other = lay_out(label(), sheet).page, lay_out(label(colourway=name), sheet).page

    def code(page):
        return next(each for each in page.pictures if each.kind == "code")

    assert code(latin).left > sheet.label_width_um // 2
    assert code(other).left + code(other).width < sheet.label_width_um // 2
    assert {line.align for line in other.lines if line.kind in ("name", "tall", "base")} == {"right"}


def test_scripts_that_the_fonts_lack_are_named():
    assert missing_glyphs(f"{HEBREW} {ARABIC}") == ""
    said = unprintable("Sea 海 and เล ☃")
    assert "Chinese characters (海)" in said
    assert "Thai" in said
    assert "☃" in said
    assert unprintable("Über Żółć Ωκεανός Прибой") == ""


@pytest.mark.parametrize(
    ("shape", "slug", "kind"),
    [
        ("tag", "a4-3x8", "qr"),
        ("tag", "a4-2x4", "code128"),
        ("tag", "a4-3x8", "code128"),
        ("band", "a4-1x6-cut", "qr"),
        ("band", "a4-1x6-cut", "code128"),
        ("mini", "a4-5x13", "qr"),
        ("mini", "letter-4x20", "qr"),
        ("tag", "roll-100x150", "code128"),
    ],
)
def test_the_code_reads_as_its_lot_whatever_the_shape(shape, slug, kind):
    pdf = yarn_labels([label(shape=shape, lot="Q9RTH", qr="Q9RTH", code_kind=kind)], sheet_named(slug))

    found = zxingcpp.read_barcodes(pages_as_pictures(pdf, DPI)[0])

    expected = zxingcpp.BarcodeFormat.QRCode if kind == "qr" else zxingcpp.BarcodeFormat.Code128
    assert [(code.text, code.format) for code in found] == [("Q9RTH", expected)]


def test_both_kinds_of_code_of_one_lot_stand_in_one_document():
    labels = [label(), label(code_kind="code128")]

    found = zxingcpp.read_barcodes(pages_as_pictures(yarn_labels(labels, sheet_named("a4-2x4")), DPI)[0])

    assert {code.format for code in found} == {zxingcpp.BarcodeFormat.QRCode, zxingcpp.BarcodeFormat.Code128}


def test_a_band_shows_its_picture_and_what_the_front_must_say():
    written = io.BytesIO()
    Image.new("RGB", (480, 320), "#3d5a73").save(written, "JPEG")
    one = label(shape="band", picture=written.getvalue(), photo="x.jpg")

    assert left_out(one, sheet_named("a4-1x6-cut")) == ()
    text = text_of(yarn_labels([one], sheet_named("a4-1x6-cut")))
    for words in (
        "Low Tide at Dusk",
        "75 % wool, 25 % nylon",
        "100 g (3.52 oz)",
        "Yarn made in Peru",
        "4 Quay Street",
    ):
        assert words in text


def test_no_full_stop_follows_the_e_mail_address():
    text = text_of(yarn_labels([label(maker="2 Weir Lane, post@weir.example")], sheet_named("a4-2x4")))

    assert "Yarn made in Peru, dyed in Ireland. 2 Weir Lane, post@weir.example" in text
    assert "example." not in text


def test_a_band_needs_a_wide_label():
    with pytest.raises(LabelTooSmall):
        lay_out(label(shape="band"), sheet_named("a4-3x8"))


def test_what_a_design_leaves_out_does_not_stand_on_the_label():
    bare = label(nominal_milligrams=0, metres=None, fibres="", care="", origin="", maker="", studio="", qr="")

    for shape, slug in SHAPES:
        text = text_of(yarn_labels([label(shape=shape)], sheet_named("a4-2x4" if shape == "tag" else slug)))
        plain = text_of(yarn_labels([_of_shape(bare, shape)], sheet_named(slug)))
        assert "Low Tide at Dusk" in plain
        assert "K7M2X" in plain
        assert " g (" not in plain
        assert len(plain) < len(text)


def _of_shape(one, shape):
    from dataclasses import replace

    return replace(one, shape=shape)
