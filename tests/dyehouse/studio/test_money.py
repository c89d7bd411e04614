"""Money as people type and read it."""

from __future__ import annotations

from fractions import Fraction

import pytest
from django.core.exceptions import ValidationError
from hypothesis import given, settings
from hypothesis import strategies as st

from dyehouse.studio.money import MoneyField, format_money, in_currency, places_of


def test_money_is_read_with_comma_or_point_to_the_smallest_unit_of_its_currency():
    assert MoneyField(currency="EUR").clean("12,50") == 1250
    assert MoneyField(currency="EUR").clean("12.5 EUR") == 1250
    assert MoneyField(currency="JPY").clean("1200") == 1200
    assert MoneyField(currency="EUR", required=False).clean("") is None
    with pytest.raises(ValidationError, match="EUR has 2 decimals"):
        MoneyField(currency="EUR").clean("1.005")
    with pytest.raises(ValidationError, match="JPY has no decimals"):
        MoneyField(currency="JPY").clean("1.5")
    with pytest.raises(ValidationError, match="This must be at least"):
        MoneyField(currency="EUR").clean("-1")


@settings(deadline=None)
@given(st.integers(0, 10**9), st.sampled_from(["EUR", "JPY", "KWD"]))
def test_what_is_shown_is_read_back_the_same(minor, currency):
    field = MoneyField(currency=currency)
    assert field.clean(format_money(minor, currency)) == minor
    assert field.clean(field.prepare_value(minor)) == minor


def test_another_currency_is_reckoned_through_the_places_of_both():
    # 100.00 EUR at 160.5 yen to the euro is 16,050 yen, and back: worked by hand.
    assert in_currency(100_00, of="EUR", to="JPY", rate=Fraction("160.5")) == 16_050
    assert in_currency(16_050, of="JPY", to="EUR", rate=1 / Fraction("160.5")) == 100_00
    assert (places_of("USD"), places_of("KRW")) == (2, 0)
