"""What is said of a solution that is stronger than stays dissolved."""

from __future__ import annotations

from fractions import Fraction

import pytest

from recipes.dyeing.dissolving import beyond_dissolved


@pytest.mark.parametrize(("strength", "strongest"), [(20_000, None), (20_000, 20_000), (19_999, 20_000)])
def test_nothing_is_said_up_to_there_or_where_nobody_knows(strength, strongest):
    assert beyond_dissolved(dye="Red", strength_mg_per_litre=strength, strongest_mg_per_litre=strongest) == ""


def test_beyond_it_both_strengths_are_named():
    said = beyond_dissolved(
        dye="Red", strength_mg_per_litre=Fraction(50_001, 2), strongest_mg_per_litre=20_000
    )

    assert said.startswith("Red stays dissolved up to 2 % by what you wrote down, and this is 2.5001 %:")
