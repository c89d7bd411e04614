"""Acids, salts and alkalis against published doses and stoichiometry."""

from __future__ import annotations

from decimal import Decimal

import pytest

from recipes.dyeing.auxiliaries import (
    ACID_RANGE_DOSES,
    FormUnknown,
    acid_share_percent,
    other_form_milligrams,
    reactive_salt_milligrams,
    reactive_salt_ounces_per_gallon,
    share_of_fibre_percent,
    swap_acid,
)
from recipes.dyeing.scaling import Basis, RuleAmount, Unit, rule_from_amount, scale
from recipes.dyeing.units import to_milligrams
from recipes.dyeing.working import NothingToReckonWith
from tests.recipes.dyeing.near import near

POUND = to_milligrams(1, "lb")


@pytest.mark.parametrize(
    ("milligrams", "percent"),
    [
        pytest.param(13_600, "3.00", id="row 17: ammonium sulphate, P. E. Burch"),
        pytest.param(15_000, "3.31", id="row 18: citric acid, P. E. Burch"),
    ],
)
def test_a_dose_by_the_pound_as_a_share_of_fibre(milligrams, percent):
    share = share_of_fibre_percent(milligrams=milligrams, dry_milligrams=POUND)

    assert near(share.value, percent, "0.01")


def test_vinegar_as_acid_on_the_fibre():
    # Row 19: 330 ml of 5 % on 500 g; supplier's sheet on cold reactive dyes on wool.
    share = acid_share_percent(microlitres=330_000, acid_percent=5, dry_milligrams=500_000)

    assert share.value == Decimal("3.3")


def test_vinegar_by_the_pound_on_a_hundred_grams():
    # Row 20: 165 ml a pound; P. E. Burch.
    rule = rule_from_amount(165_000, basis=Basis.FIBRE, unit=Unit.UL, dry_milligrams=POUND).value

    assert near(scale(rule, dry_milligrams=100_000).value / 1000, "36.38", "0.02")


def test_strong_acetic_acid_as_vinegar():
    # Row 21: 10 ml of 56 % are 112 ml of 5 %; the supplier's sheet says eleven times, 110 ml, within 2 %.
    swapped = swap_acid(microlitres=10_000, from_percent=56, to_percent=5).value

    assert swapped.microlitres == 112_000
    assert swapped.less_water_microlitres == 102_000
    assert near(Decimal(110_000) / Decimal(112_000), "1", "0.02")


@pytest.mark.parametrize(
    ("auxiliary", "grams"), [("citric_acid", 6), ("glauber_crystals", 20), ("leveller", 6)]
)
def test_doses_of_an_acid_range_at_a_medium_depth(auxiliary, grams):
    # Row 22: 400 g at 1.5, 5 and 1.5 %; dye maker's page on calculating dye quantities.
    rule = RuleAmount.share(ACID_RANGE_DOSES[auxiliary].percent("medium"))

    assert scale(rule, dry_milligrams=400_000).value == grams * 1000


def test_an_unknown_depth_band_is_refused():
    with pytest.raises(NothingToReckonWith, match="light, medium or strong"):
        ACID_RANGE_DOSES["leveller"].percent("neon")


def test_salt_of_a_reactive_dyeing_by_its_band():
    # Row 26: 1.5 %, 20 L, 9 oz/gal: 1,348 g exactly, where the chart prints 68 g/L, 1,360 g, within 1 %.
    salt = reactive_salt_milligrams(depth_percent=Decimal("1.5"), bath_microlitres=20_000_000)

    assert near(salt.value / 1000, "1348", "1")
    assert near(salt.value / 1000 / 1360, "1", "0.01")


@pytest.mark.parametrize(
    ("depth", "ounces"), [("0.50", 5), ("0.51", 7), ("1.00", 7), ("1.01", 9), ("4.00", 12), ("4.01", 13)]
)
def test_the_edges_of_the_salt_bands(depth, ounces):
    # Row 28; dye maker's bulletin on reactive dyes on cotton.
    assert reactive_salt_ounces_per_gallon(Decimal(depth)) == ounces


def test_glauber_crystals_without_their_water():
    # Row 50; atomic masses.
    dry = other_form_milligrams(milligrams=100_000, have="glauber_crystals", want="glauber_anhydrous")

    assert near(dry.value / 1000, "44.09", "0.01")


def test_a_crystal_form_converts_back():
    crystals = other_form_milligrams(milligrams=10_000, have="soda_ash", want="washing_soda_crystals")
    ash = other_form_milligrams(milligrams=crystals.value, have="washing_soda_crystals", want="soda_ash")

    assert crystals.value == 26_997
    assert ash.value == 10_000


def test_two_different_things_are_not_forms_of_each_other():
    with pytest.raises(FormUnknown):
        other_form_milligrams(milligrams=1, have="soda_ash", want="citric_monohydrate")
