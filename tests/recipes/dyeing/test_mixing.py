"""The strength of a dye in a mix and what a pour brings, against published definitions."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from recipes.dyeing.mixing import dye_from_mix, strength_in_mix
from recipes.dyeing.working import NothingToReckonWith


def test_ten_grams_in_a_litre_are_one_per_cent():
    # 10 g to 1,000 ml is 1 % w/v (J. Cowern, artist's acid-dye method).
    strength = strength_in_mix(dye="Red", dye_milligrams=10_000, made_microlitres=1_000_000)

    assert strength.value == 10_000
    assert strength.working.result == "1 %"


def test_a_pour_brings_its_share_of_each_dye():
    # By the definition of % w/v: 50 ml of 0.3 % hold 0.15 g.
    share = dye_from_mix(
        dye="Red", poured_microlitres=50_000, dye_milligrams=3_000, made_microlitres=1_000_000
    )

    assert share.value == 150
    assert share.working.substitution == "3 g × 50 ml ÷ 1000 ml"


def test_a_third_stays_a_third():
    share = dye_from_mix(dye="Red", poured_microlitres=100, dye_milligrams=1_000, made_microlitres=300)

    assert share.value == Fraction(1000, 3)


def test_a_mix_without_a_volume_says_what_is_missing():
    with pytest.raises(NothingToReckonWith, match="how many millilitres"):
        strength_in_mix(dye="Red", dye_milligrams=1, made_microlitres=0)


@given(
    milligrams=st.integers(1, 10**6),
    made=st.integers(1, 10**7),
    pours=st.lists(st.integers(0, 10**6), max_size=6),
)
def test_all_pours_together_hold_what_their_sum_holds(milligrams, made, pours):
    def poured(microlitres):
        return dye_from_mix(
            dye="Red", poured_microlitres=microlitres, dye_milligrams=milligrams, made_microlitres=made
        ).value

    assert sum(map(poured, pours)) == poured(sum(pours))
    assert poured(made) == milligrams
