"""Units against their definitions, numbers as people type them, and amounts as people read them."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from recipes.dyeing import units
from recipes.dyeing.units import NotAMass, NumberUnclear, UnitUnknown, parse_decimal
from tests.recipes.dyeing.near import near


@pytest.mark.parametrize(
    ("found", "expected"),
    [
        # Row 48; NIST Handbook 44, Appendix C.
        (units.to_microlitres(1, "us_tsp") / 1000, "4.92892"),
        (units.to_microlitres(1, "us_gal") / 1_000_000, "3.785412"),
        (units.to_milligrams(1, "oz") / 1000, "28.34952"),
        (units.to_milligrams(1, "lb") / 1000, "453.59237"),
    ],
)
def test_a_us_unit_has_its_published_size(found, expected):
    assert near(found, expected, "0.00001")


def test_the_parts_of_a_gallon_and_a_pound_close():
    # NIST Handbook 44: 1 gal = 4 qt = 8 pt = 128 fl oz, 1 cup = 8 fl oz, 3 tsp = 1 tbsp, 16 oz = 1 lb = 7000 grains.
    assert units.to_microlitres(4, "us_quart") == units.to_microlitres(1, "us_gal")
    assert units.to_microlitres(128, "us_fl_oz") == units.to_microlitres(1, "us_gal")
    assert units.to_microlitres(8, "us_pint") == units.to_microlitres(1, "us_gal")
    assert units.to_microlitres(8, "us_fl_oz") == units.to_microlitres(1, "us_cup")
    assert units.to_microlitres(3, "us_tsp") == units.to_microlitres(1, "us_tbsp")
    assert units.to_milligrams(16, "oz") == units.to_milligrams(1, "lb")
    assert units.to_milligrams(7000, "grain") == units.to_milligrams(1, "lb")


def test_an_imperial_gallon_is_larger_than_a_us_one():
    # 1.20095 US gallons; exact size from memory. "6 US = 5 imperial" is only approximate.
    ratio = units.to_microlitres(1, "imp_gal") / units.to_microlitres(1, "us_gal")

    assert near(ratio, "1.20095", "0.00001")
    assert ratio != Fraction(6, 5)


def test_ounces_per_gallon():
    # Row 29: 5 oz/US gal are 37.446 g/L; one is 7.48915.
    assert near(units.ounces_per_us_gallon_to_grams_per_litre(5), "37.446", "0.001")
    assert near(units.ounces_per_us_gallon_to_grams_per_litre(1), "7.48915", "0.00001")


@pytest.mark.parametrize(
    ("fahrenheit", "celsius"),
    [(110, "43.33"), (160, "71.11"), (185, "85.00"), (200, "93.33"), (205, "96.11"), (210, "98.89")],
)
def test_fahrenheit(fahrenheit, celsius):
    # Row 47; definition. A dye maker's bulletin misprints 160 °F as 171 °C.
    assert near(units.fahrenheit_to_celsius(fahrenheit), celsius, "0.01")
    assert units.centi_celsius(fahrenheit, fahrenheit=True) == Decimal(celsius) * 100


def test_hardness_in_german_degrees():
    # Row 39; 1 dH is 10 mg/L CaO.
    assert near(units.hardness(14, "german_degree"), "249.9", "0.1")


@pytest.mark.parametrize(
    ("unit", "value"),
    [("french_degree", "25.0"), ("us_grain_per_gallon", "14.60"), ("clark_degree", "17.54")],
)
def test_hardness_in_other_degrees(unit, value):
    # Row 40: 250 mg/L; definitions of the units.
    assert near(units.hardness(250, "mg_per_litre", unit), value, "0.01")


@pytest.mark.parametrize("unit", ["us_tsp", "us_cup", "tsp", "cup", "pinch", "ml"])
def test_a_spoon_of_powder_never_becomes_grams(unit):
    # Published weights of "a cup of soda ash" run from 76 g to 450 g.
    with pytest.raises(NotAMass, match="Weigh it"):
        units.to_milligrams(1, unit)


def test_an_unknown_unit_is_refused_with_what_would_be_right():
    with pytest.raises(UnitUnknown, match="Write mg, g, kg, oz or lb"):
        units.to_milligrams(1, "stone")
    with pytest.raises(UnitUnknown, match="Write ml"):
        units.to_microlitres(1, "g")
    with pytest.raises(UnitUnknown, match="Write m"):
        units.to_millimetres(1, "g")
    with pytest.raises(UnitUnknown):
        units.hardness(1, "g")


@pytest.mark.parametrize(
    ("typed", "number"),
    [
        ("12.5", "12.5"),
        ("12,5", "12.5"),
        (" 7 ", "7"),
        (".5", "0.5"),
        (",5", "0.5"),
        ("0,125", "0.125"),
        ("1.250", "1.250"),
        ("1.250,5", "1250.5"),
        ("1,250.5", "1250.5"),
        ("1,250,000", "1250000"),
        ("1 250", "1250"),
        ("1\u202f250,5", "1250.5"),
        ("1'250.5", "1250.5"),
        ("-3", "-3"),
        ("−3,5", "-3.5"),
        ("１２", "12"),
    ],
)
def test_a_typed_number_is_read_with_comma_or_point(typed, number):
    assert parse_decimal(typed) == Decimal(number)


@pytest.mark.parametrize(
    "typed",
    [
        "",
        "  ",
        "abc",
        "1e5",
        "NaN",
        "Infinity",
        "1.2.3",
        "1 2",
        "5²",
        "½",
        "5.",
        "5,",
        "1,2,3",
        "--1",
        "1.25,000,0",
    ],
)
def test_what_is_not_surely_one_number_is_refused(typed):
    with pytest.raises(NumberUnclear):
        parse_decimal(typed)


def test_a_comma_that_may_group_thousands_is_asked_about():
    with pytest.raises(NumberUnclear, match=r"Write 1250 .* or 1\.25 "):
        parse_decimal("1,250")


def test_a_very_long_number_is_refused():
    with pytest.raises(NumberUnclear, match="too long"):
        parse_decimal("1" * 1000)


@given(st.text(max_size=40))
def test_reading_a_number_never_breaks(typed):
    try:
        number = parse_decimal(typed)
    except NumberUnclear:
        return

    assert number.is_finite()


@given(st.decimals(min_value=-(10**9), max_value=10**9, places=2))
def test_a_number_is_read_the_same_with_comma_and_point(number):
    assert parse_decimal(f"{number:f}") == number
    assert parse_decimal(f"{number:f}".replace(".", ",")) == number


@pytest.mark.parametrize(
    ("milligrams", "shown"),
    [
        (25_430, "25.43 g"),
        (5, "0.005 g"),
        (500_000, "500 g"),
        (24_000_000, "24 kg"),
        (0, "0 g"),
        (Fraction(4000, 3), "1.333 g"),
        (Fraction(1, 7), "0.00014 g"),
        (Fraction(200_000, 3), "66.67 g"),
    ],
)
def test_grams_are_shown_without_noise(milligrams, shown):
    assert units.format_grams(milligrams) == shown


@pytest.mark.parametrize(
    ("shown", "expected"),
    [
        (units.format_grams(100_000, us=True), "100 g (3.53 oz)"),
        (units.format_grams(500_000, us=True), "500 g (1 lb 1.6 oz)"),
        (units.format_millilitres(7_500), "7.5 ml"),
        (units.format_millilitres(750_000, us=True), "750 ml (25.4 US fl oz)"),
        (units.format_millilitres(12_500_000), "12.5 litres"),
        (units.format_litres(10_000_000, us=True), "10 litres (2.64 US gal)"),
        (units.format_litres(1_000_000), "1 litre"),
        (units.format_celsius(8500, us=True), "85 °C (185 °F)"),
        (units.format_celsius(9611), "96.1 °C"),
        (units.format_metres(400_000, us=True), "400 m (437 yd)"),
        (units.format_percent(Decimal("1.50")), "1.5 %"),
        (units.format_percent(Decimal("0.0375")), "0.0375 %"),
        (units.format_percent(0), "0 %"),
        (units.format_ph(450), "4.5"),
        (units.format_ratio(Decimal("20.86")), "20.9:1"),
        (units.format_minutes(83), "1 h 23 min"),
        (units.format_minutes(60), "1 h"),
        (units.format_minutes(45), "45 min"),
    ],
)
def test_amounts_are_shown_as_people_read_them(shown, expected):
    assert shown == expected


@given(st.integers(min_value=0, max_value=9_999_999))
def test_a_whole_number_of_milligrams_is_shown_in_full(milligrams):
    shown = units.format_grams(milligrams).removesuffix(" g")

    assert Decimal(shown) * 1000 == milligrams


@given(st.integers(min_value=0, max_value=10**9), st.sampled_from(sorted(units.MASS_UNITS)))
def test_masses_convert_back_exactly(quantity, unit):
    assert units.from_milligrams(units.to_milligrams(quantity, unit), unit) == quantity


@given(st.decimals(min_value=-100, max_value=300, places=2))
def test_temperatures_convert_back_exactly(degrees):
    assert units.fahrenheit_to_celsius(units.celsius_to_fahrenheit(degrees)) == degrees
