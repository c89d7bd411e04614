"""Amounts as they stand in notebooks. Sizes of measures are those of recipes.dyeing.units; a spoon has none."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from recipes.dyeing.noted import (
    AmountNotClear,
    NotedAmount,
    grams_words,
    millilitres_words,
    read_noted_amount,
)
from recipes.dyeing.scaling import Basis


@pytest.mark.parametrize(
    ("typed", "read"),
    [
        ("1.5 g", NotedAmount(milligrams=Fraction(1500))),
        ("1,5g", NotedAmount(milligrams=Fraction(1500))),
        ("about 2 g", NotedAmount(milligrams=Fraction(2000), about=True)),
        ("~2 g", NotedAmount(milligrams=Fraction(2000), about=True)),
        ("5 ml", NotedAmount(microlitres=Fraction(5000))),
        ("5 ml 1 %", NotedAmount(microlitres=Fraction(5000), strength_percent=Decimal(1))),
        ("5 ml of a 0.1% stock", NotedAmount(microlitres=Fraction(5000), strength_percent=Decimal("0.1"))),
        ("0.5 %", NotedAmount(percent=Fraction(1, 2))),
        ("0,5 % of dry fibre", NotedAmount(percent=Fraction(1, 2))),
        ("1 g/l", NotedAmount(milligrams=Fraction(1000), basis=Basis.BATH)),
        ("2 g per litre", NotedAmount(milligrams=Fraction(2000), basis=Basis.BATH)),
        ("3 ml per skein", NotedAmount(microlitres=Fraction(3000), basis=Basis.PIECE)),
        ("10 g per pot", NotedAmount(milligrams=Fraction(10_000), basis=Basis.POT)),
        ("to pH 4.5", NotedAmount(basis=Basis.READING, ph_hundredths=450)),
        (
            "20 ml, until pH 5",
            NotedAmount(microlitres=Fraction(20_000), basis=Basis.READING, ph_hundredths=500),
        ),
        ("7.5 l", NotedAmount(microlitres=Fraction(7_500_000))),
        ("25:1", NotedAmount(ratio=Fraction(25))),
        # Exact by the avoirdupois ounce: 28.349523125 g.
        ("1 oz", NotedAmount(milligrams=Fraction("28349.523125"))),
        ("2 fl oz", NotedAmount(microlitres=2 * Fraction("29573.5295625"))),
    ],
)
def test_what_is_weighed_or_measured_is_read_exactly(typed, read):
    assert read_noted_amount(typed) == read


@pytest.mark.parametrize(
    "typed",
    [
        "3 drops",
        "1/2 tsp",
        "½ tsp",
        "a pinch",
        "2 glugs",
        "1 tbsp heaped",
        "1 cup",
        "a good squirt",
        "1/4tsp",
    ],
)
def test_a_kitchen_measure_stays_in_its_words(typed):
    assert read_noted_amount(typed) == NotedAmount(as_typed=typed)


def test_drops_of_a_stock_keep_its_strength():
    assert read_noted_amount("3 drops of 1 %") == NotedAmount(as_typed="3 drops", strength_percent=Decimal(1))


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ("", "There is no amount."),
        ("5", "The measure is missing."),
        ("5 mgl", "“mgl” is not a measure"),
        ("some", "“some” is not an amount."),
        ("1,250 g", "can be read in two ways"),
        ("5 gr", "Grams or grains?"),
        ("1 pint", "Pints are two sizes."),
        ("0 g", "more than nothing"),
        ("5 g 1 %", "A weight has no strength."),
        ("to pH 45", "A pH is from 0 to 14."),
        ("5 g red", "“g red” is not a measure"),
    ],
)
def test_what_is_in_doubt_is_asked_back(typed, sentence):
    with pytest.raises(AmountNotClear, match=sentence.replace("?", r"\?")):
        read_noted_amount(typed)


@given(milligrams=st.integers(1, 10**9))
def test_grams_are_written_as_they_are_read(milligrams):
    assert read_noted_amount(grams_words(milligrams)).milligrams == milligrams


@given(microlitres=st.integers(1, 10**9))
def test_millilitres_are_written_as_they_are_read(microlitres):
    assert read_noted_amount(millilitres_words(microlitres)).microlitres == microlitres


@given(typed=st.text(max_size=40))
def test_anything_typed_is_read_or_asked_back(typed):
    try:
        read = read_noted_amount(typed)
    except AmountNotClear:
        return
    sizes = [read.milligrams, read.microlitres, read.percent, read.ratio, read.as_typed or None]
    assert sum(size is not None for size in sizes) <= 1
