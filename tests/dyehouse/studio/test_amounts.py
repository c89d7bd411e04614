"""Amounts as people type them."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from hypothesis import given
from hypothesis import strategies as st

from dyehouse.studio.amounts import (
    CentimetresField,
    GramsField,
    LitresField,
    MetresField,
    MillilitresField,
    ScaledField,
)


@pytest.mark.parametrize(
    ("typed", "milligrams"),
    [
        ("12.5", 12_500),
        ("12,5", 12_500),
        ("12,5 g", 12_500),
        ("0.005", 5),
        ("750 mg", 750),
        ("1.2kg", 1_200_000),
        # NIST Handbook 44, Appendix C: 1 oz avdp = 28.349523125 g, 1 lb = 453.59237 g.
        ("8 oz", 226_796),
        ("1 lb", 453_592),
        ("1 lb 4 oz", 566_990),
        ("2 lbs.", 907_185),
        ("1'250 g", 1_250_000),
    ],
)
def test_a_weight_is_read_to_the_milligram(typed, milligrams):
    assert GramsField().clean(typed) == milligrams


@pytest.mark.parametrize(
    ("typed", "microlitres"),
    # NIST Handbook 44, Appendix C: 1 US fl oz = 29.5735295625 ml, 1 US gal = 3.785411784 l.
    [("250", 250_000), ("0,5 l", 500_000), ("8 oz", 236_588), ("8 fl. oz", 236_588), ("1 gal", 3_785_412)],
)
def test_a_liquid_is_read_to_the_microlitre(typed, microlitres):
    assert MillilitresField().clean(typed) == microlitres


def test_a_vessel_is_read_in_litres_or_gallons():
    assert LitresField().clean("12") == 12_000
    assert LitresField().clean("3 gal") == 11_356


def test_lengths_are_read_in_metres_and_yards_centimetres_and_inches():
    # NIST Handbook 44, Appendix C: 1 yd = 0.9144 m, 1 in = 25.4 mm.
    assert MetresField().clean("437 yd") == 400
    assert CentimetresField().clean("150") == 1500
    assert CentimetresField().clean("60 in") == 1524


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ("some", "not an amount"),
        ("1,250", "read in two ways"),
        ("5 spoons", "not a unit"),
        ("1 lb 4", "without its unit"),
        ("0", "more than nothing"),
        ("-3", "more than nothing"),
        ("5½", "not plain digits"),
        ("5 g or 6 g", "not a unit"),
        ("12.5.1", "not a number"),
        ("9" * 40, "too long"),
    ],
)
def test_what_is_not_clear_is_asked_back_in_a_sentence(typed, says):
    with pytest.raises(ValidationError) as refused:
        GramsField().clean(typed)

    assert says in refused.value.messages[0]


def test_an_amount_above_the_most_is_asked_back():
    with pytest.raises(ValidationError, match="more than 5000 g"):
        GramsField(most=5_000_000).clean("5001")


def test_nothing_typed_is_nothing_or_asked_for():
    assert GramsField(required=False).clean("  ") is None
    with pytest.raises(ValidationError, match="Write an amount"):
        GramsField().clean("")


def test_what_was_typed_is_shown_again_and_what_is_kept_is_shown_in_the_fields_unit():
    field = GramsField()

    assert field.prepare_value("12,5 gg") == "12,5 gg"
    assert field.prepare_value(12_500) == "12.5"
    assert field.shown(250) == "0.25 g"


def test_a_scaled_number_keeps_its_digits():
    ph = ScaledField(places=2, most=Decimal(14))

    assert ph.clean("7,2") == 720
    assert ph.prepare_value(720) == "7.2"
    with pytest.raises(ValidationError, match="from 0 to 14"):
        ph.clean("15")
    with pytest.raises(ValidationError, match="at most 2 decimals"):
        ph.clean("7.123")


@given(st.integers(min_value=1, max_value=10**9))
def test_a_kept_weight_comes_back_as_itself(milligrams):
    field = GramsField()

    assert field.clean(field.prepare_value(milligrams)) == milligrams


@given(st.text(max_size=40))
def test_no_typed_text_is_more_than_refused(typed):
    field = GramsField(required=False)
    try:
        amount = field.clean(typed)
    except ValidationError:
        return
    assert amount is None or amount >= 1
