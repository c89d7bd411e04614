"""Moisture against the published allowances; every commercial mass names its table."""

from __future__ import annotations

from decimal import Decimal

import pytest

from recipes.dyeing.regain import (
    RegainUnknown,
    Table,
    allowance,
    blend_percent,
    commercial_milligrams,
    content_percent,
    dry_milligrams,
)
from tests.recipes.dyeing.near import near


@pytest.mark.parametrize(("regain", "content"), [("16", "13.79"), ("11", "9.91"), ("13.75", "12.09")])
def test_content_from_regain(regain, content):
    # Row 34; the first two agree with a published table.
    assert near(content_percent(Decimal(regain)).value, content, "0.01")


@pytest.mark.parametrize(
    ("fibre", "form", "grams"),
    [("wool", "combed", "118.25"), ("cotton", "", "108.50"), ("silk", "", "111"), ("linen", "", "112")],
)
def test_commercial_mass_of_a_hundred_dry_grams(fibre, form, grams):
    # Row 35; Regulation (EU) No 1007/2011, Annex IX.
    mass = commercial_milligrams(milligrams=100_000, fibre=fibre, form=form)

    assert mass.value == Decimal(grams) * 1000


def test_commercial_mass_from_a_mass_as_weighed():
    # Row 36: 100 g at 14 %, combed wool; Annex IX.
    mass = commercial_milligrams(milligrams=100_000, fibre="wool", form="combed", observed_regain_percent=14)

    assert near(mass.value / 1000, "103.73", "0.01")
    assert near(dry_milligrams(observed_milligrams=100_000, regain_percent=14).value / 1000, "87.72", "0.01")


def test_a_blend_with_its_allowances():
    # Row 37: 75 combed wool, 25 nylon staple; Annex IX.
    shares = blend_percent({("wool", "combed"): 75, ("nylon", "staple"): 25}).value

    assert near(shares["wool", "combed"], "76.95", "0.01")
    assert near(shares["nylon", "staple"], "23.05", "0.01")
    assert sum(shares.values()) == 100


def test_wool_differs_by_table_and_the_table_is_named():
    # Annex IX 18.25 combed; ASTM D1909-13 13.6.
    european = commercial_milligrams(milligrams=100_000, fibre="wool", form="combed", table=Table.EU)
    american = commercial_milligrams(milligrams=100_000, fibre="wool", table=Table.US)

    assert european.value - american.value == 4_650
    assert "1007/2011" in european.working.title
    assert "D1909" in american.working.title


def test_wool_of_unknown_spinning_has_the_lower_european_figure():
    # Footnote 1 of the annex, from memory.
    assert allowance("wool").percent == 17


def test_a_figure_from_memory_says_so():
    assert "from memory" in str(allowance("nylon", table=Table.US).source)


@pytest.mark.parametrize(
    ("fibre", "form", "table"),
    [("mohair", "", Table.US), ("glass", "", Table.EU), ("wool", "filament", Table.EU)],
)
def test_a_missing_figure_is_a_sentence_and_no_guess(fibre, form, table):
    with pytest.raises(RegainUnknown):
        allowance(fibre, form=form, table=table)


def test_a_blend_that_was_weighed_dry_in_the_laboratory():
    # Dry 80 g of combed wool and 20 g of nylon filament: 94.60 + 21.15 = 115.75 g; Annex IX, Art. 19(3).
    shares = blend_percent({("wool", "combed"): 80, ("nylon", "filament"): 20}).value

    assert near(shares["wool", "combed"], "81.73", "0.005")
    assert near(shares["nylon", "filament"], "18.27", "0.005")


@pytest.mark.parametrize(
    ("fibre", "form", "grams"), [("wool", "combed", "84.57"), ("silk", "", "90.09"), ("cotton", "", "92.17")]
)
def test_a_hundred_grams_as_sold_are_less_bone_dry(fibre, form, grams):
    # 100 g by the allowances of Annex IX: 18.25, 11 and 8.5 %.
    percent = allowance(fibre, form=form).percent

    dry = dry_milligrams(observed_milligrams=100_000, regain_percent=percent).value
    assert near(dry / 1000, grams, "0.005")
