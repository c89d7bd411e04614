"""Wet tags: the code twice, large, and who hangs on it."""

from __future__ import annotations

import pytest

from dyehouse.paper.placed import LabelTooSmall
from dyehouse.paper.sheets import sheet_named
from dyehouse.paper.wet_tag import lay_out_tag, wet_tags
from tests.dyehouse.paper.making import LONG_NAME, tag
from tests.dyehouse.paper.reading import placed_forms, text_of


def test_a_tag_says_the_code_twice_and_what_hangs_on_it():
    text = text_of(wet_tags([tag()], sheet_named("a4-2x4")))

    # The large code is set apart, so that some readers see spaces in it.
    assert text.replace(" ", "").count("K7M2X") == 2
    for words in ("Low Tide at Dusk on Harbour Sock", "5 pieces, Big pot", "25 November 2026"):
        assert words in text


def test_the_large_code_is_the_largest_thing_on_the_tag():
    page = lay_out_tag(tag(), sheet_named("a4-2x4"))

    huge = [line for line in page.lines if line.kind == "huge"]
    assert [line.text for line in huge] == ["K7M2X"]
    # Read at arm's length and further: 2 cm and more on a tag of 99 x 68 mm.
    assert huge[0].tenths > 600


@pytest.mark.parametrize("slug", ["a4-3x8", "a4-2x7", "a4-2x4", "letter-2x5", "roll-100x150", "roll-4x6in"])
def test_nothing_lies_over_the_edge_even_with_a_long_name(slug):
    sheet = sheet_named(slug)

    page = lay_out_tag(tag(colourway=LONG_NAME, vessel="The old enamel jam pan"), sheet)

    assert all(line.left + line.width <= sheet.label_width_um for line in page.lines)
    assert all(line.top + line.height <= sheet.label_height_um for line in page.lines)
    assert LONG_NAME.split()[-1] in " ".join(line.text for line in page.lines)


def test_a_label_too_small_to_be_read_across_the_room_is_refused():
    with pytest.raises(LabelTooSmall, match="60 × 33 mm"):
        wet_tags([tag()], sheet_named("a4-5x13"))


def test_one_tag_for_each_asked_for():
    pdf = wet_tags([tag(), tag(), tag(code="Q9RTH", pieces=1)], sheet_named("a4-3x8"), start_at=2)

    assert [form.name for form in placed_forms(pdf)] == ["/L0", "/L0", "/L1"]
    assert "1 piece" in text_of(pdf)
