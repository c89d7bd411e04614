"""Depth, dye and stock against published worked examples; each row names its source, and its check row where it has one."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from recipes.dyeing.depth import (
    at_strength_of_type,
    depth_percent,
    depth_word,
    dilution,
    dye_in_stock,
    dye_milligrams,
    powder_for_stock,
    stock_for_depth,
    stock_microlitres,
    strength_mg_per_litre,
    strength_percent,
)
from recipes.dyeing.working import NothingToReckonWith

ONE_PERCENT = 10_000

dry_weights = st.integers(min_value=20_000, max_value=5_000_000)
depths = st.decimals(min_value=Decimal("0.001"), max_value=Decimal(12), places=4)
strengths = st.sampled_from([1_000, 5_000, 10_000, 15_000, 20_000, 50_000])


@pytest.mark.parametrize(
    ("grams", "percent", "dye_grams"),
    [
        pytest.param(125, "2", "2.5", id="row 1: dye maker's page on calculating dye quantities"),
        pytest.param(300, "3", "9", id="row 2: dye maker's page on calculating dye quantities"),
        pytest.param(100, "1", "1", id="row 3: same page, and P. E. Burch on what a depth means"),
    ],
)
def test_dye_for_a_depth_is_the_published_weight(grams, percent, dye_grams):
    dye = dye_milligrams(dry_milligrams=grams * 1000, depth_percent=Decimal(percent))

    assert dye.value == Decimal(dye_grams) * 1000


@pytest.mark.parametrize(
    ("grams", "percent", "stock_percent", "millilitres"),
    [
        pytest.param(5, "1.5", "1", "7.5", id="row 4: mill training note on lab dips"),
        pytest.param(5, "1.122", "1", "5.61", id="row 5: training note on recipes, first dye"),
        pytest.param(5, "2.014", "1", "10.07", id="row 5: training note on recipes, second dye"),
        pytest.param(5, "1.486", "1", "7.43", id="row 5: training note on recipes, third dye"),
        pytest.param(5, "0.5", "1", "2.5", id="row 11: second mill training note"),
        pytest.param(100, "50", "10", "500", id="row 12: a dye formula page misprints 50 ml"),
    ],
)
def test_stock_for_a_depth_is_the_published_volume(grams, percent, stock_percent, millilitres):
    stock = stock_for_depth(
        dry_milligrams=grams * 1000,
        depth_percent=Decimal(percent),
        strength_mg_per_litre=strength_mg_per_litre(Decimal(stock_percent)),
    )

    assert stock.value == Decimal(millilitres) * 1000


def test_a_weaker_stock_gives_the_published_extra_for_more_yarn():
    # A dyer's published sums with a 1.5 % stock: 1,333 ml for 1,000 g at 2 %, and 1,466 ml for 1,100 g (cut, not rounded).
    first = stock_for_depth(dry_milligrams=1_000_000, depth_percent=2, strength_mg_per_litre=15_000)
    second = stock_for_depth(dry_milligrams=1_100_000, depth_percent=2, strength_mg_per_litre=15_000)

    assert int(first.value / 1000) == 1333
    assert int(second.value / 1000) == 1466


def test_dye_sold_at_twice_the_type_strength_is_taken_at_half_the_depth():
    # Row 53; source: definition of the strength of type.
    changed = at_strength_of_type(depth_percent=Decimal(1), from_type_percent=100, to_type_percent=200)

    assert changed.value == Fraction(1, 2)


def test_one_percent_is_ten_grams_in_a_litre_of_finished_solution():
    # Dye maker's page; an artist's published method, 10 g to 1,000 ml.
    assert strength_mg_per_litre(1) == ONE_PERCENT
    assert strength_percent(ONE_PERCENT) == 1
    assert powder_for_stock(make_microlitres=1_000_000, strength_mg_per_litre=ONE_PERCENT).value == 10_000


def test_thinning_keeps_the_dye():
    # Source: C1 V1 = C2 V2.
    thinned = dilution(from_mg_per_litre=10_000, to_mg_per_litre=1_000, make_microlitres=500_000)

    assert thinned.value.stock_microlitres == 50_000
    assert thinned.value.water_microlitres == 450_000


def test_a_stock_cannot_be_thinned_to_a_greater_strength():
    with pytest.raises(NothingToReckonWith, match="Make that one from powder"):
        dilution(from_mg_per_litre=1_000, to_mg_per_litre=10_000, make_microlitres=1_000)


@pytest.mark.parametrize("dry", [0, -1])
def test_no_depth_without_a_dry_weight(dry):
    with pytest.raises(NothingToReckonWith, match="dry weight"):
        depth_percent(dye_milligrams=100, dry_milligrams=dry)


@pytest.mark.parametrize("percent", ["0", "-1", "0.00001"])
def test_a_strength_that_is_none_is_refused(percent):
    with pytest.raises(NothingToReckonWith):
        strength_mg_per_litre(Decimal(percent))


@pytest.mark.parametrize(
    ("percent", "dye_class", "word"),
    [
        # Dye maker's page, acid: 0.5 "lighter", 1 medium, 2 to 4 dark.
        ("0.5", "acid_unknown", "pale"),
        ("1", "levelling", "medium"),
        ("2", "milling", "deep"),
        ("4", "fast_acid", "deep"),
        ("5", "fast_acid", "very deep"),
        # Supplier's sheet, reactive on cotton: 0.5, 1 to 2, 3 and over.
        ("0.5", "cold_reactive", "pale"),
        ("2", "cold_reactive", "medium"),
        ("3", "other_reactive", "deep"),
    ],
)
def test_a_depth_has_the_word_that_its_class_gives_it(percent, dye_class, word):
    assert depth_word(Decimal(percent), dye_class=dye_class).word == word


@given(dry=dry_weights, depth=depths, strength=strengths)
def test_depth_to_stock_and_back_loses_nothing(dry, depth, strength):
    stock = stock_for_depth(dry_milligrams=dry, depth_percent=depth, strength_mg_per_litre=strength)
    dye = dye_in_stock(stock_microlitres=stock.value, strength_mg_per_litre=strength)

    assert depth_percent(dye_milligrams=dye.value, dry_milligrams=dry).value == Fraction(depth)


@given(dry=dry_weights, depth=depths, strength=strengths, times=st.integers(min_value=1, max_value=20))
def test_stock_grows_with_the_fibre_and_shrinks_with_its_strength(dry, depth, strength, times):
    once = stock_for_depth(dry_milligrams=dry, depth_percent=depth, strength_mg_per_litre=strength).value
    more = stock_for_depth(
        dry_milligrams=dry * times, depth_percent=depth, strength_mg_per_litre=strength
    ).value
    stronger = stock_for_depth(
        dry_milligrams=dry, depth_percent=depth, strength_mg_per_litre=strength * times
    ).value

    assert more == once * times
    assert stronger * times == once


def test_floats_are_refused():
    with pytest.raises(TypeError):
        stock_microlitres(dye_milligrams=0.1, strength_mg_per_litre=10_000)
