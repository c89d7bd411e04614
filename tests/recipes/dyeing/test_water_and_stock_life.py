"""Names for water, and how long stocks keep where somebody has published it."""

from __future__ import annotations

from datetime import date

import pytest

from recipes.dyeing.classes import CLASSES
from recipes.dyeing.stock_life import best_before, powder_life, stock_life, with_alkali
from recipes.dyeing.water import hardness_class


@pytest.mark.parametrize(
    ("mg_per_litre", "name"),
    [
        (59, "soft"),
        (62, "moderately hard"),
        (119, "moderately hard"),
        (122, "hard"),
        (179, "hard"),
        (182, "very hard"),
    ],
)
def test_hardness_has_its_usual_name(mg_per_litre, name):
    # Row 41; classes after USGS, whose printed bands overlap at the edges.
    assert hardness_class(mg_per_litre).name == name


def test_a_cold_reactive_stock_is_warned_of():
    # Row 55: the maker's 4 to 5 days at room temperature; in the fridge the earliest weakening seen, a dyer's test of 2011.
    made = date(2026, 3, 1)

    assert best_before("cold_reactive", made) == date(2026, 3, 6)
    assert best_before("cold_reactive", made, in_fridge=True) == date(2026, 4, 5)


def test_an_acid_stock_keeps_three_months_by_its_maker():
    # Dye maker's page: most 3 to 6 months away from light, some only 1 to 2 weeks.
    life = stock_life("levelling")

    assert life.warn_after_days == 91
    assert "1 to 2 weeks" in life.words


@pytest.mark.parametrize(
    "dye_class", ["premetallised_1_2", "mixed_1_2_reactive", "other_reactive", "direct", "other"]
)
def test_where_no_life_is_published_the_dyer_is_asked(dye_class):
    assert stock_life(dye_class) is None
    assert best_before(dye_class, date(2026, 3, 1)) is None


def test_every_life_names_its_source():
    for dye_class in CLASSES:
        for life in (stock_life(dye_class), stock_life(dye_class, in_fridge=True), powder_life(dye_class)):
            assert life is None or str(life.source)


def test_alkali_spoils_a_cold_reactive_stock_within_hours():
    assert "hour" in with_alkali("cold_reactive")
    assert with_alkali("levelling") == ""
