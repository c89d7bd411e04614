"""The dye card: one page to dye from."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
import zxingcpp

from dyehouse.paper.card_drawings import programme_svg
from dyehouse.paper.dye_card import (
    CardAddition,
    HeatPoint,
    clock,
    dye_card,
    dye_cards,
    heat_steps,
    working_lines,
)
from dyehouse.studio.lay_drawing import StripPart, strip_svg
from recipes.dyeing.working import Source, Standing, Working
from tests.dyehouse.paper.making import LONG_NAME, card
from tests.dyehouse.paper.reading import page_sizes, pages_as_pictures, text_of


def test_a_card_has_all_that_is_needed_at_the_pot():
    text = text_of(dye_card(card()))

    for words in (
        "Low Tide at Dusk",
        "on Harbour Sock, way 3",
        "487.5 g",
        "Big pot",
        "10 litres",
        "20.5:1",
        "Slate blue",
        "292.5 ml",
        "of the 1 % stock",
        "0:05",
        "9.75 g",
        "2 pinches",
        "What was really done",
        "What differs today from lot B3DAC",
        "Another mill lot.",
        "Mix 200 ml.",
        "Heat to 85 °C in 1 h 5 min.",
        "As the log of lot B3DAC shows.",
        "How it lies, folded",
        "40 %, left undyed",
        "Weigh powder with a mask on.",
        "Slate blue: dry weight × depth / strength.",
        "K7M2X",
    ):
        assert words in text


def test_a_card_is_one_page_and_its_code_can_be_scanned():
    pdf = dye_card(card())

    assert len(page_sizes(pdf)) == 1
    assert [code.text for code in zxingcpp.read_barcodes(pages_as_pictures(pdf, 200)[0])] == ["K7M2X"]


def test_much_to_do_goes_in_smaller_type_before_it_goes_over_two_pages():
    twelve = [CardAddition(what=f"Dye {number}", minute=number, milligrams=1_000) for number in range(12)]
    sixty = [CardAddition(what=f"Dye {number}", minute=number, milligrams=1_000) for number in range(60)]

    assert len(page_sizes(dye_card(card(additions=twelve)))) == 1
    many = dye_card(card(additions=sixty))
    assert len(page_sizes(many)) > 1
    assert "Dye 59" in text_of(many)


def test_a_long_name_is_whole_on_the_card():
    assert LONG_NAME in text_of(dye_card(card(colourway=LONG_NAME)))


def test_us_units_stand_beside_the_metric_ones():
    text = text_of(dye_card(card(us_units=True)))

    assert "9.75 g (0.344 oz)" in text
    assert "85 °C (185 °F)" in text


@pytest.mark.parametrize(("paper", "size"), [("A4", (595.28, 841.89)), ("Letter", (612, 792))])
def test_a_card_is_printed_on_the_paper_asked_for(paper, size):
    assert page_sizes(dye_card(card(paper=paper)))[0] == pytest.approx(size, abs=0.05)


def test_a_card_without_anything_to_compare_says_so():
    text = text_of(
        dye_card(
            card(
                reference="",
                differences=(),
                stocks=(),
                heat=(),
                lay=(),
                lay_words="",
                cautions=(),
                workings=(),
            )
        )
    )

    assert "There is no lot to compare with yet." in text
    assert "No stock solution is used in this pot." in text
    assert "How it lies" not in text


def test_several_cards_make_one_file():
    assert len(page_sizes(dye_cards([card(), card(code="Q9RTH", liquor_ratio=Decimal(20))]))) == 2


def test_what_people_wrote_is_text_and_never_markup():
    text = text_of(dye_card(card(colourway="Salt <b>&</b> Pepper")))

    assert "Salt <b>&</b> Pepper" in text


def test_the_programme_is_told_step_by_step():
    points = [HeatPoint(0, 2_000), HeatPoint(30, 8_500), HeatPoint(60, 8_500), HeatPoint(120, 4_000)]

    assert heat_steps(points, us=False) == [
        ("0:00", "Start at 20 °C."),
        ("0:00", "Heat to 85 °C in 30 min."),
        ("0:30", "Hold 85 °C for 30 min."),
        ("1:00", "Let it cool to 40 °C, about 1 h."),
    ]
    assert heat_steps([], us=False) == []


def test_the_clock_counts_from_the_start():
    assert [clock(5), clock(80), clock(None)] == ["0:05", "1:20", "–"]


def test_drawings_need_something_to_draw():
    assert programme_svg([(0, 2_000)]) == ""
    assert strip_svg([], folded=False) == ""


@pytest.mark.parametrize(
    "points", [[(0, 2_000), (0, 2_000)], [(0, 9_500), (300, 9_500)], [(0, -500), (5, 10_000)]]
)
def test_any_programme_can_be_drawn(points):
    assert programme_svg(points).startswith("<svg")


def test_a_colour_that_is_none_is_drawn_undyed_and_cannot_break_out():
    parts = [StripPart(Fraction(1, 2), '"><script>', "<b>"), StripPart(Fraction(1, 2), "#3d5a73", "B")]
    drawing = strip_svg(parts, folded=True)

    assert "script" not in drawing
    assert "<b>" not in drawing
    assert drawing.count("#3d5a73") == 2


def test_a_folded_hank_shows_every_section_on_both_legs():
    parts = [StripPart(Fraction(1, 3), mark="A"), StripPart(Fraction(2, 3), mark="B")]

    assert strip_svg(parts, folded=False).count(">A<") == 1
    assert strip_svg(parts, folded=True).count(">A<") == 2


def test_workings_are_listed_by_what_they_are_of_and_each_source_once():
    source = Source("a page on dye quantities", Standing.READ)
    working = Working("Amount", "weight × depth", "500 g × 0.6 %", "3 g", source)

    assert working_lines([("Slate blue", [working]), ("Rust", [working, working])]) == (
        "Slate blue: 500 g × 0.6 % = 3 g.",
        "Rust: 500 g × 0.6 % = 3 g; 500 g × 0.6 % = 3 g.",
        "Rules from: a page on dye quantities (read in the original).",
    )
    assert working_lines([]) == ()


def test_a_crowded_card_leaves_out_the_small_print_before_it_takes_a_second_page():
    twenty = [
        CardAddition(what=f"Dye {number}", minute=number, milligrams=1_000, note="0.5 % deep.")
        for number in range(20)
    ]
    cautions = [f"Mind this, number {number}, while it is hot and while it is wet." for number in range(14)]
    workings = ["Dye: 1 % × 400 g = 4 g; 4 g ÷ 1 % × 100 ml = 400 ml." for _ in range(20)]

    pdf = dye_card(card(additions=twenty, cautions=cautions, workings=workings))

    assert len(page_sizes(pdf)) == 1
    text = text_of(pdf)
    assert "Dye 19" in text
    assert "number 13" in text


def test_a_card_says_which_of_several_pots_it_is_and_what_to_look_for():
    text = text_of(dye_card(card(number="pot 2 of 3", look_for=["The bath was clear at the end."])))

    assert "pot 2 of 3" in text
    assert "What to look for" in text
    assert "The bath was clear at the end." in text
