"""What is put on the yarn, checked against the rows of the project's table of check values."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from recipes.dyeing.laid_on import laid_on_per_100_g, powder_put_on
from recipes.dyeing.working import NothingToReckonWith


def test_1333_ml_on_a_kilogram_are_133_ml_on_100_g() -> None:
    """A published worked example (second-hand): 1,333 ml on 1,000 g, and 133 ml more for each 100 g more."""
    figure = laid_on_per_100_g(microlitres=1_333_000, dry_milligrams=1_000_000)

    assert round(figure.value / 1000) == 133


def test_what_is_laid_on_a_section_is_reckoned_on_its_share() -> None:
    """Arithmetic: 30 ml on a third of 100 g are 90 ml on 100 g."""
    figure = laid_on_per_100_g(microlitres=30_000, dry_milligrams=100_000, share=Fraction(1, 3))

    assert figure.value == 90_000
    assert "100 g × 1/3" in figure.working.substitution


@given(st.integers(1, 10**7), st.integers(1_000, 10**7), st.integers(1, 12))
def test_all_sections_alike_are_the_same_as_the_whole(microlitres: int, dry: int, sections: int) -> None:
    whole = laid_on_per_100_g(microlitres=microlitres * sections, dry_milligrams=dry)
    one = laid_on_per_100_g(microlitres=microlitres, dry_milligrams=dry, share=Fraction(1, sections))

    assert whole.value == one.value


def test_nothing_is_laid_on_nothing() -> None:
    with pytest.raises(NothingToReckonWith):
        laid_on_per_100_g(microlitres=1, dry_milligrams=0)


def test_powder_by_difference_is_within_a_step_with_four_tenths_of_it_as_uncertainty() -> None:
    """Check value 33: 25.43 to 25.06 g, 100 g of fibre, a 0.01 g balance: 0.37 g, 0.37 %, ± 0.01 g, u = 0.0041 g."""
    put_on = powder_put_on(
        milligrams=370,
        step_milligrams=10,
        dry_milligrams=100_000,
        jar_before_milligrams=25_430,
        jar_after_milligrams=25_060,
    ).value

    assert (put_on.milligrams, put_on.worst_milligrams) == (370, 10)
    assert put_on.depth_percent == Fraction(37, 100)
    assert put_on.uncertainty_milligrams.quantize(Decimal("0.1")) == Decimal("4.1")


@pytest.mark.parametrize(("milligrams", "percent"), [(50, 20), (500, 2)])
def test_small_amounts_are_known_badly(milligrams: int, percent: int) -> None:
    """Worked out in the same table: on a 0.01 g balance 0.05 g is ± 20 %, 0.50 g ± 2 %."""
    put_on = powder_put_on(milligrams=milligrams, step_milligrams=10).value

    assert put_on.worst_percent == percent
    assert bool(put_on.sentence) == (milligrams < 500)


def test_below_half_a_gram_on_a_hundredth_scale_a_stock_is_named() -> None:
    assert "Below 0.5 g dose from a stock" in powder_put_on(milligrams=370, step_milligrams=10).value.sentence
