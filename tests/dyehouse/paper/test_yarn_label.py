"""Labels: nothing is lost, nothing sticks out, and equal ones are drawn once."""

from __future__ import annotations

import io

import pikepdf
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from dyehouse.paper.fitting import lines_of, missing_glyphs, text_um
from dyehouse.paper.placed import FONT_OF, LabelTooSmall
from dyehouse.paper.sheets import SHEETS, sheet_named
from dyehouse.paper.yarn_label import lay_out, left_out, yarn_labels
from tests.dyehouse.paper.making import LONG_NAME, label
from tests.dyehouse.paper.reading import pages_as_pictures, placed_forms, text_of


def photo() -> bytes:
    written = io.BytesIO()
    Image.new("RGB", (400, 300), "#3d5a73").save(written, "JPEG")
    return written.getvalue()


def test_a_label_says_all_that_is_on_it():
    text = text_of(yarn_labels([label()], sheet_named("a4-3x8")))

    for words in (
        "Tern & Tansy Yarns",
        "Low Tide at Dusk",
        "Harbour Sock",
        "75 % wool, 25 % nylon",
        "100 g (3.52 oz)",
        "400 m (437 yd)",
        "K7M2X",
        "Machine wash cool",
        "Yarn made in Peru, dyed in Ireland",
        "4 Quay Street",
    ):
        assert words in text


def test_a_second_says_so():
    assert "Harbour Sock, second" in text_of(yarn_labels([label(remark="Second")], sheet_named("a4-3x8")))


def test_as_many_labels_as_pieces_and_each_distinct_one_once_in_the_file():
    labels = [label()] * 5 + [label(lot="Q9RTH", qr="Q9RTH")] * 3

    pdf = yarn_labels(labels, sheet_named("a4-3x8"), start_at=3)

    assert [form.name for form in placed_forms(pdf)] == ["/L0"] * 5 + ["/L1"] * 3
    with pikepdf.open(io.BytesIO(pdf)) as document:
        assert len(document.pages[0].Resources.XObject) == 2


@pytest.mark.parametrize(
    "slug", ["a4-3x8", "a4-3x7", "a4-2x7", "a4-2x4", "letter-2x5", "letter-2x3", "roll-100x150"]
)
def test_labels_of_common_size_hold_everything(slug):
    assert left_out(label(), sheet_named(slug)) == ()


def test_a_mini_tag_says_what_it_has_no_room_for():
    gone = left_out(label(), sheet_named("a4-5x13"))

    assert "the care words" in gone
    assert "the QR code" not in gone


def test_a_label_too_small_for_what_must_be_there_is_refused():
    with pytest.raises(LabelTooSmall, match="Choose a sheet with larger labels"):
        yarn_labels([label(colourway=LONG_NAME, base=LONG_NAME)], sheet_named("letter-4x20"))


@pytest.mark.parametrize("slug", ["a4-3x8", "a4-2x7", "letter-3x10", "a4-4x12"])
@pytest.mark.parametrize(
    "name", [LONG_NAME, "Donaudampfschifffahrtsgesellschaft", "WWWWWWWWWWWWWWWWWWWWWWWWWWWWWW", "Å"]
)
def test_no_ink_lies_in_the_margin_of_a_label_and_no_word_is_lost(slug, name):
    sheet = sheet_named(slug)

    pdf = yarn_labels([label(colourway=name, care="", qr="")], sheet)

    dpi = 300
    page = pages_as_pictures(pdf, dpi)[0]
    ink = page.point(lambda value: 255 if value < 200 else 0).getbbox()
    left, top, right, bottom = (edge / dpi * 25_400 for edge in ink)
    assert left >= sheet.left_um + 900
    assert top >= sheet.top_um + 900
    assert right <= sheet.left_um + sheet.label_width_um - 900
    assert bottom <= sheet.top_um + sheet.label_height_um - 900
    assert name.replace(" ", "") in text_of(pdf).replace(" ", "")


@settings(max_examples=60, deadline=None)
@given(
    name=st.text(
        st.characters(codec="latin-1", categories=("Lu", "Ll", "Nd", "Zs")), min_size=1, max_size=80
    ),
    sheet=st.sampled_from(SHEETS),
)
def test_any_name_fits_line_by_line_or_is_refused(name, sheet):
    try:
        page = lay_out(label(colourway=name), sheet).page
    except LabelTooSmall:
        return

    printed = "".join(line.text for line in page.lines if line.kind == "name").replace(" ", "")
    assert printed == "".join(name.split())
    for line in page.lines:
        assert text_um(line.text, FONT_OF[line.kind], line.tenths) <= line.width
        assert line.left >= 0
        assert line.left + line.width <= sheet.label_width_um
        assert line.top >= 0
        assert line.top + line.height <= sheet.label_height_um


def test_a_picture_is_printed_where_there_is_room_and_named_where_there_is_none():
    with_picture = label(picture=photo())

    assert left_out(with_picture, sheet_named("a4-2x4")) == ()
    assert left_out(with_picture, sheet_named("a4-3x8")) == ("the picture",)
    assert yarn_labels([with_picture], sheet_named("a4-2x4")).startswith(b"%PDF")


def test_letters_that_the_fonts_lack_are_found_before_printing():
    # Source Sans and Source Serif cover Latin, Greek and Cyrillic; neither has Han or Hebrew.
    assert missing_glyphs("Über Żółć Ωκεανός Прибой") == ""
    assert missing_glyphs("Sea 海, wave 海波") == "海波"


def test_a_composed_and_a_decomposed_letter_count_alike():
    assert missing_glyphs("u\u0308ber") == ""


def test_lines_break_at_spaces_and_inside_a_word_only_when_it_is_too_long():
    font = FONT_OF["body"]

    assert lines_of("one two three", font, 100, text_um("one two", font, 100)) == ["one two", "three"]
    assert "".join(lines_of("extraordinarily", font, 100, text_um("extra", font, 100))) == "extraordinarily"
    assert lines_of("", font, 100, 1_000) == []


def test_the_file_grows_with_the_labels_and_not_with_their_square():
    def size(count: int) -> int:
        return len(
            yarn_labels(
                [label(qr=f"K7M{number}") for number in range(100, 100 + count)], sheet_named("a4-3x8")
            )
        )

    few, some, many = size(8), size(16), size(32)

    # Sixteen more labels cost twice what eight more do, give or take the file's own tables.
    assert many - some < 2.5 * (some - few)
