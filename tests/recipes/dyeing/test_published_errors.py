"""Errors and contradictions in print that must not be copied; the right value is worked out beside each."""

from __future__ import annotations

from dataclasses import fields
from decimal import Decimal

import pytest

from recipes.dyeing.basis_proposal import propose_basis
from recipes.dyeing.bath import liquor_ratio_for_shade
from recipes.dyeing.classes import CLASSES
from recipes.dyeing.depth import stock_for_depth
from recipes.dyeing.regain import Table, allowance, content_percent
from recipes.dyeing.scaling import Basis, RuleAmount, Unit, scale
from recipes.dyeing.temperatures import default_programme
from recipes.dyeing.units import (
    NotAMass,
    ounces_per_us_gallon_to_grams_per_litre,
    to_microlitres,
    to_milligrams,
)
from recipes.dyeing.water import hardness_class
from tests.recipes.dyeing.near import near


def test_half_the_fibre_from_a_tenth_strength_is_five_times_the_fibre():
    # Row 12: a dye formula page prints 50 g for 100 g × 50 % ÷ 10 %; it is 500.
    stock = stock_for_depth(dry_milligrams=100_000, depth_percent=50, strength_mg_per_litre=100_000)

    assert stock.value == 500_000
    assert stock.value != 50_000


def test_a_sample_printed_in_milligrams_was_grams():
    # A mill training note prints "5 mg": its own 2.5 ml only follow from 5 g.
    grams = stock_for_depth(dry_milligrams=5_000, depth_percent=Decimal("0.5"), strength_mg_per_litre=10_000)

    assert grams.value == 2_500


@pytest.mark.parametrize(("depth", "millilitres"), [("1.122", "5.61"), ("2.014", "10.07"), ("1.486", "7.43")])
def test_millilitres_that_a_note_labels_grams_a_litre(depth, millilitres):
    # A training note on recipes prints 5.61, 10.07 and 7.43 "g/l" for 5 g and a 1 % stock: they are millilitres.
    stock = stock_for_depth(dry_milligrams=5_000, depth_percent=Decimal(depth), strength_mg_per_litre=10_000)

    assert near(stock.value / 1000, millilitres, "0.005")


def test_two_percent_at_half_exhaustion_and_a_gram_a_litre_is_forty_to_one():
    # An examination key says 25; with 2 % wanted on the fibre, half taken up, 1 g/L, it is 40:1 (M:L 0.025).
    ratio = liquor_ratio_for_shade(on_fibre_percent=2, taken_up_percent=50, bath_grams_per_litre=1)

    assert ratio.value == 40
    assert 1 / ratio.value == Decimal("0.025")


def test_a_bath_is_not_cooled_to_more_than_boiling():
    # A dye maker's bulletin misprints 160 °F as 171 °C; it is 71.1 °C.
    cool = default_programme("milling", "wool", False).steps[-1]

    assert near(cool.to_centi_celsius, "7110", "5")


@pytest.mark.parametrize(("ounces", "printed"), [(5, 38), (7, 53), (9, 68), (12, 91), (13, 98)])
def test_an_ounce_a_gallon_is_not_the_rounded_figure_of_a_chart(ounces, printed):
    # A dye maker's chart rounds as if an ounce a gallon were about 7.55 g/L; it is 7.48915.
    exact = ounces_per_us_gallon_to_grams_per_litre(ounces)

    assert exact < printed
    assert near(exact, str(ounces * Decimal("7.48915")), "0.001")


def test_thirteen_ounces_a_gallon_are_nowhere_near_a_gram_a_litre():
    # A bulletin prints "13 oz/gal (1 g/L)"; a gram a litre is 0.133 oz/gal.
    assert near(ounces_per_us_gallon_to_grams_per_litre(Decimal("0.1335")), "1", "0.001")
    assert ounces_per_us_gallon_to_grams_per_litre(13) > 97


@pytest.mark.parametrize(
    ("regain", "content", "printed"),
    [("8.5", "7.83", "7.34"), ("12.4", "11.03", "10.4"), ("4.0", "3.85", "3.1")],
)
def test_moisture_content_follows_its_formula_and_not_a_printed_column(regain, content, printed):
    found = content_percent(Decimal(regain)).value

    assert near(found, content, "0.01")
    assert not near(found, printed, "0.1")


def test_the_quarrel_over_salt_with_milling_dyes_is_shown():
    # Broadbent p. 246 says never, a maker's bulletin 5 %.
    note = CLASSES["milling"].note

    assert "never" in note
    assert "5 %" in note
    assert "follow the maker" in note


def test_ammonium_sulphate_by_the_litre_and_by_the_fibre_part_at_another_liquor_ratio():
    # P. E. Burch gives 13.6 g a pound and a teaspoon a gallon; a level teaspoon of about 5 g is from memory.
    by_fibre = RuleAmount.share(3)
    by_bath = RuleAmount(Basis.BATH, Unit.MG, 5_000_000_000 / to_microlitres(1, "us_gal"))

    def gap(liquor_ratio: int):
        pot = {"dry_milligrams": 500_000, "bath_microlitres": 500_000 * liquor_ratio}
        return abs(scale(by_fibre, **pot).value / scale(by_bath, **pot).value - 1)

    assert gap(21) < Decimal("0.15")
    assert gap(40) > Decimal("0.4")
    assert propose_basis("auxiliary", "acid_donor", "milling", "wool").question


def test_wool_has_two_regains_and_neither_is_taken_for_the_other():
    assert allowance("wool", form="combed", table=Table.EU).percent == Decimal("18.25")
    assert allowance("wool", form="carded", table=Table.EU).percent == Decimal("17.00")
    assert allowance("wool", table=Table.US).percent == Decimal("13.6")


def test_a_cup_of_soda_ash_is_never_weighed_by_a_constant():
    # Published weights run from about 76 g to 450 g.
    with pytest.raises(NotAMass):
        to_milligrams(1, "us_cup")
    with pytest.raises(NotAMass):
        to_milligrams(1, "cup")


def test_hardness_has_a_name_and_no_verdict():
    # Limits of 25, 50, 200 and 500 mg/L are all published.
    words = hardness_class(300)

    assert words.name == "very hard"
    assert [field.name for field in fields(words)] == ["name", "source"]
