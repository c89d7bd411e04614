"""A bath that is used again: the published ranges as information, and what was told as what it is."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from recipes.dyeing.bath import dye_left_in_bath, refill_milligrams
from recipes.dyeing.reuse import said_to_be_left, share_of_taken_micrograms, usual_fixation
from recipes.dyeing.working import Standing


@pytest.mark.parametrize(
    ("dye_class", "least", "most"),
    # EPA, table of fixation, 1995, second-hand: acid 80-93 %, direct 70-95 %, reactive 60-90 %.
    [("acid_unknown", 80, 93), ("milling", 80, 93), ("direct", 70, 95), ("cold_reactive", 60, 90)],
)
def test_the_usual_range_is_that_of_the_published_table(dye_class, least, most):
    usual = usual_fixation(dye_class)

    assert (usual.least, usual.most) == (least, most)
    assert usual.source.standing is Standing.SECOND_HAND


def test_a_class_of_which_nothing_was_published_has_no_range():
    assert usual_fixation("premetallised_1_2") is None
    assert usual_fixation("other") is None


def test_two_grams_at_80_and_93_percent_leave_four_and_one_and_a_half_tenths():
    # Facts, check 31: 2 g, fixation 80 % and 93 %: 0.40 and 0.14 g.
    assert dye_left_in_bath(dye_milligrams=2_000, taken_up_percent=80).value == 400
    assert dye_left_in_bath(dye_milligrams=2_000, taken_up_percent=93).value == 140
    words = usual_fixation("acid_unknown").sentence(2_000)
    assert "0.14 g to 0.4 g of 2 g" in words
    assert "not reckoned with" in words


def test_a_kept_bath_is_filled_up_to_what_is_wanted():
    # Facts, check 32: target 2 g, left 0.2 g: add 1.8 g.
    assert refill_milligrams(target_milligrams=2_000, left_milligrams=200).value == 1_800


def test_what_was_told_says_who_told_it_and_that_nobody_measured():
    figure = said_to_be_left(name="Red", micrograms=200_500, by="Jo", at="14:20")

    assert figure.value == Fraction(401, 2)
    assert figure.working.substitution == "told by Jo at 14:20"
    assert figure.working.source.standing is Standing.TOLD


@given(milligrams=st.integers(1, 10**7), percent=st.decimals(0, 100, places=2))
def test_a_share_is_within_half_a_microgram_of_what_was_typed(milligrams, percent):
    micrograms = share_of_taken_micrograms(taken_milligrams=milligrams, percent=percent)

    assert abs(Decimal(micrograms) - milligrams * percent * 10) <= Decimal("0.5")
