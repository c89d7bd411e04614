"""Net quantity against the published tables: facts/labels_standards.md section 5 and CHECK VALUES 53 to 59."""

from __future__ import annotations

from fractions import Fraction

import pytest

from recipes.dyeing.net_quantity import (
    OutsideTheRule,
    most_short,
    most_short_length,
    tolerable_shortfall,
    weigh_up,
)


def test_the_tolerable_shortfall_is_that_of_the_directive():
    # Row 53 and the table beside it: Directive 76/211/EEC Annex I, percentages rounded up to 0.1 g
    grams = {10: 900, 20: 1_800, 25: 2_300, 50: 4_500, 100: 4_500, 113: 5_100, 115: 5_200, 125: 5_700, 150: 6_800,
             200: 9_000}  # fmt: skip
    assert {each: tolerable_shortfall(each * 1000) for each in grams} == grams
    # Row 57: not below 5 g, nor above 10 kg
    for outside in (4_000, 10_000_001):
        with pytest.raises(OutsideTheRule, match="5 g to 10 kg"):
            tolerable_shortfall(outside)


def test_a_piece_short_by_more_than_twice_of_it_is_told_from_one_that_is_just_short():
    # Row 55: Directive 76/211/EEC Annex I 1.3: a pack of 100 g at 91.0 g is allowed, at 90.9 g not
    weighed = weigh_up([91_000, 90_900, 95_500, 95_400], nominal_milligrams=100_000)

    assert weighed.far_short == [90_900]
    assert weighed.short == [91_000, 95_400]


def test_the_average_holds_or_does_not():
    # Row 56: Directive 76/211/EEC Annex I 1.1
    good, bad = (
        weigh_up([each * 1000 for each in grams], nominal_milligrams=100_000)
        for grams in ((99, 101, 100), (99, 99, 101))
    )
    assert good.average_holds
    assert good.holds
    assert not bad.average_holds
    assert bad.average.value == Fraction(299_000, 3)


def test_the_american_allowances():
    # Row 58: NIST Handbook 133 table 2-5, from memory; provisional
    assert [most_short(each * 1000) for each in (20, 50, 100, 150, 200)] == [
        2_000,
        3_600,
        7_200,
        9_000,
        10_800,
    ]
    with pytest.raises(OutsideTheRule, match="263 g"):
        most_short(264_000)
    # Row 59: table 2-8, from memory; provisional
    assert most_short_length(80_000) == 1_600
    assert most_short_length(400_000) == 16_000
