"""Every published check value that touches the dye room stands in a test, with its source beside it.

The rows are numbered as in the collection of published facts that the tests name; the fastness scale is not among them, since
the house grades no fastness.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest

ROWS = (
    *(1, 2, 3, 4, 5, 8, 9, 10, 11, 12, 13, 14, 15, 17, 18, 19, 20, 21, 22, 24, 25, 26, 28, 29),
    *(30, 31, 32, 33, 34, 35, 36, 37, 39, 40, 41, 42, 43, 46, 47, 48, 50, 53, 54, 55),
)
TESTS = Path(__file__).parent
TEXT = "\n".join(
    path.read_text() for path in sorted(TESTS.glob("test_*.py")) if path.name != Path(__file__).name
)
# Row 13: … or an id such as "row 13: supplier's sheet …": a number with words after it.
NAMED = {int(number) for number in re.findall(r"\b[Rr]ow (\d+)[:;,]? (?=\w)", TEXT)}


@pytest.mark.parametrize("row", ROWS)
def test_a_published_check_value_is_in_a_test(row):
    assert row in NAMED


@pytest.mark.parametrize(
    "published",
    [
        pytest.param("a dye formula page prints 50 g", id="half the fibre at a tenth of strength"),
        pytest.param('prints "5 mg"', id="a sample in milligrams"),
        pytest.param('"g/l" for 5 g', id="millilitres labelled grams a litre"),
        pytest.param("misprints 160 °F as 171 °C", id="a bath above boiling"),
        pytest.param("about 7.55 g/L", id="an ounce a gallon"),
        pytest.param('"13 oz/gal (1 g/L)"', id="thirteen ounces"),
        pytest.param("not_a_printed_column", id="moisture content"),
        pytest.param("An examination key says 25", id="forty to one"),
        pytest.param("p. 246 says never", id="Glauber's salt with milling dyes"),
        pytest.param("a teaspoon a gallon", id="ammonium sulphate on two bases"),
        pytest.param("two_regains", id="wool's two regains"),
        pytest.param("a_cup_of_soda_ash", id="a cup of soda ash"),
        pytest.param("no_verdict", id="limits of hardness"),
    ],
)
def test_a_published_error_or_quarrel_is_in_a_test(published):
    assert published in TEXT
