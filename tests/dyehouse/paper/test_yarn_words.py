"""The words beside the fibres: weights and lengths, care, origin and names that promise a fibre."""

from __future__ import annotations

from fractions import Fraction

import pytest

from dyehouse.paper.composition import Market
from dyehouse.paper.countries import COUNTRIES
from dyehouse.paper.yarn_words import (
    care_words,
    implied_fibres,
    length_line,
    name_warnings,
    origin_notice,
    origin_words,
    round_down_to_three_digits,
    weight_line,
)


@pytest.mark.parametrize(
    ("milligrams", "line"),
    [
        # Exact at 1 oz = 28.349523125 g: 3.5274, 1.7637, 0.7055, 4.0565 oz. Rounding down: US Uniform Packaging and
        # Labeling Regulation 6.13, from memory.
        (100_000, "100 g (3.52 oz)"),
        (50_000, "50 g (1.76 oz)"),
        (20_000, "20 g (0.705 oz)"),
        (115_000, "115 g (4.05 oz)"),
        (12_500, "12.5 g (0.440 oz)"),
    ],
)
def test_grams_stand_with_ounces_rounded_down(milligrams, line):
    assert weight_line(milligrams) == line


@pytest.mark.parametrize(
    ("metres", "line"),
    [
        # Exact at 1 yd = 0.9144 m: 437.445 and 399.169 yd; rounding down from memory, as above.
        (400, "400 m (437 yd)"),
        (365, "365 m (399 yd)"),
        (80, "80 m (87.4 yd)"),
        (1200, "1200 m (1310 yd)"),
    ],
)
def test_metres_stand_with_yards_rounded_down(metres, line):
    assert length_line(metres) == line


@pytest.mark.parametrize(
    ("number", "text"),
    [
        (Fraction("0.088184"), "0.0881"),
        (Fraction("9.999"), "9.99"),
        (Fraction(1000), "1000"),
        (Fraction("1009.9"), "1000"),
        (Fraction(0), "0"),
    ],
)
def test_digits_beyond_the_third_are_dropped_and_never_rounded_up(number, text):
    assert round_down_to_three_digits(number) == text


@pytest.mark.parametrize(
    ("shares", "superwash", "begins"),
    [
        # Common practice, no source.
        ({"wool": 750, "nylon": 250}, True, "Machine wash cool"),
        ({"wool": 750, "nylon": 250}, False, "Hand wash cool, do not rub"),
        ({"wool": 750, "nylon": 250}, None, "Hand wash cool, do not rub"),
        ({"wool": 800, "cashmere": 100, "nylon": 100}, True, "Hand wash cool, do not rub"),
        ({"wool": 700, "silk": 300}, True, "Hand wash cool with mild soap"),
        ({"cotton": 600, "linen": 400}, None, "Machine wash at 30"),
        ({"cotton": 500, "wool": 500}, True, "Hand wash cool"),
        ({"viscose": 1000}, None, "Hand wash cool"),
        ({}, None, "Hand wash cool"),
    ],
)
def test_care_follows_the_most_delicate_fibre(shares, superwash, begins):
    words = care_words(shares, superwash=superwash)

    assert words.startswith(begins)
    assert words.endswith("colour may release.")


def test_dyed_yarn_names_where_it_was_made_and_where_it_was_dyed():
    # 16 CFR 303.33(a)(4): not a bare "Made in USA"
    assert origin_words(spun_in="PE", dyed_in="US") == "Yarn made in Peru, dyed in USA"
    assert origin_words(spun_in="PE", dyed_in="NL") == "Yarn made in Peru, dyed in the Netherlands"
    assert origin_words(spun_in="IE", dyed_in="IE") == "Yarn made and dyed in Ireland"
    assert origin_words(spun_in="", dyed_in="IE") == "Dyed in Ireland"
    assert origin_words(spun_in="", dyed_in="") == ""


def test_a_us_label_without_the_yarns_country_is_called_incomplete():
    assert "16 CFR 303.33" in origin_notice(spun_in="", market=Market.US)
    assert origin_notice(spun_in="PE", market=Market.US) == ""
    assert origin_notice(spun_in="", market=Market.EU) == ""


def test_a_fibre_in_a_name_that_is_not_in_the_yarn_is_warned_of():
    # 16 CFR 300.24(a); Regulation (EU) No 1007/2011 Art. 16(2)
    warnings = name_warnings(["Silk Moth"], {"wool": 1000})

    assert len(warnings) == 1
    assert "silk" in warnings[0]


def test_a_fibre_in_a_name_that_is_in_the_yarn_is_no_fault():
    # 16 CFR 300.24(b)
    assert name_warnings(["Silk Moth", "Merino Mist"], {"wool": 700, "silk": 300}) == []


def test_a_blend_whose_name_says_that_it_is_all_of_one_fibre_is_warned_of():
    # 16 CFR 300.17; Regulation (EU) No 1007/2011 Art. 7
    assert "all of one fibre" in name_warnings(["100% Wool Sock"], {"wool": 980, "nylon": 20})[0]
    assert "all of one fibre" in name_warnings(["Pure Fell"], {"wool": 980, "nylon": 20})[0]
    assert name_warnings(["100% Wool Sock", "Pure Fell"], {"wool": 1000}) == []


def test_only_whole_words_promise_a_fibre():
    assert implied_fibres("Woolwich Camellia") == {}
    assert implied_fibres("CASHMERE cloud") == {"cashmere": frozenset({"cashmere"})}


def test_every_country_has_two_letters_and_a_name():
    # ISO 3166-1 has 249 entries.
    assert len(COUNTRIES) == 249
    assert all(len(code) == 2 and code.isupper() and name for code, name in COUNTRIES.items())
    assert "UK" not in COUNTRIES
