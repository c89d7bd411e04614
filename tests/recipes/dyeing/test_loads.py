"""Whole pieces in pots: equal, fitting, and never one lost."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from recipes.dyeing.loads import NoLoadFits, pieces_a_pot, plan_loads, split_loads

SKEIN, MINI = 100_000, 20_000


@pytest.mark.parametrize(
    ("pieces", "piece", "vessel", "ratio", "loads"),
    [
        (10, SKEIN, 12_000, 30, [4, 3, 3]),
        (10, SKEIN, 10_000, 20, [5, 5]),
        (1, SKEIN, 10_000, 20, [1]),
        (11, SKEIN, 10_000, 20, [4, 4, 3]),
        # Common practice, no source: 50 minis of 20 g are 1,000 g, two loads of 500 g or three of 400 g; 53 need three.
        (50, MINI, 10_000, 20, [25, 25]),
        (50, MINI, 8_000, 20, [17, 17, 16]),
        (53, MINI, 10_000, 20, [18, 18, 17]),
        # Common practice, no source: six half skeins of 50 g are the yarn of three full skeins.
        (6, 50_000, 10_000, 20, [6]),
        (3, SKEIN, 10_000, 20, [3]),
    ],
)
def test_pieces_are_shared_out_evenly(pieces, piece, vessel, ratio, loads):
    assert plan_loads(pieces, piece, vessel, ratio) == loads


def test_each_load_has_the_bath_of_its_own_dry_weight():
    plan = split_loads(pieces=10, piece_dry_milligrams=SKEIN, vessel_millilitres=12_000, liquor_ratio=30)

    assert [load.bath.value for load in plan.loads] == [12_000_000, 9_000_000, 9_000_000]
    assert plan.loads[0].bath.working.result == "12 litres"


def test_one_more_piece_starts_another_pot_when_all_are_full():
    full = split_loads(pieces=50, piece_dry_milligrams=MINI, vessel_millilitres=10_000, liquor_ratio=20)
    roomy = split_loads(pieces=48, piece_dry_milligrams=MINI, vessel_millilitres=10_000, liquor_ratio=20)

    assert full.room_left == 0
    assert full.one_more == "One more piece starts another pot."
    assert roomy.room_left == 2
    assert roomy.one_more == "Up to 2 more pieces fit in these pots."


def test_the_dyer_may_put_fewer_in_a_pot_than_fit():
    assert plan_loads(10, SKEIN, 30_000, 20, most_pieces=3) == [3, 3, 2, 2]


def test_a_piece_that_does_not_fit_is_told_which_ratio_would_do():
    with pytest.raises(NoLoadFits) as refused:
        plan_loads(10, SKEIN, 2_000, 30)

    assert str(refused.value) == (
        "One piece of 100 g at 30:1 needs 3 litres, and this vessel takes 2 litres. "
        "Take a larger vessel, or a liquor ratio of at most 20:1."
    )


@pytest.mark.parametrize(
    ("pieces", "piece", "vessel", "ratio", "most"),
    [
        (0, SKEIN, 10_000, 20, None),
        (1, 0, 10_000, 20, None),
        (1, SKEIN, 0, 20, None),
        (1, SKEIN, 10_000, 0, None),
        (1, SKEIN, 10_000, -1, None),
        (1, SKEIN, 10_000, 20, 0),
    ],
)
def test_nothing_to_plan_is_a_sentence(pieces, piece, vessel, ratio, most):
    with pytest.raises(NoLoadFits) as refused:
        plan_loads(pieces, piece, vessel, ratio, most)

    assert str(refused.value).endswith(".")


@given(
    pieces=st.integers(min_value=1, max_value=2000),
    piece=st.integers(min_value=1_000, max_value=500_000),
    vessel=st.integers(min_value=500, max_value=100_000),
    ratio=st.decimals(min_value=Decimal("3"), max_value=Decimal("60"), places=1),
    most=st.none() | st.integers(min_value=1, max_value=50),
)
def test_loads_sum_differ_by_at_most_one_and_fit(pieces, piece, vessel, ratio, most):
    try:
        plan = split_loads(
            pieces=pieces,
            piece_dry_milligrams=piece,
            vessel_millilitres=vessel,
            liquor_ratio=ratio,
            most_pieces=most,
        )
    except NoLoadFits:
        assert piece * Fraction(ratio) > vessel * 1000
        return

    counts = [load.pieces for load in plan.loads]
    assert sum(counts) == pieces
    assert max(counts) - min(counts) <= 1
    assert counts == sorted(counts, reverse=True)
    assert all(load.bath.value <= vessel * 1000 for load in plan.loads)
    assert most is None or max(counts) <= most


@given(
    pieces=st.integers(min_value=1, max_value=500),
    piece=st.integers(min_value=10_000, max_value=200_000),
    vessel=st.integers(min_value=6_000, max_value=50_000),
)
def test_no_fewer_pots_would_do_and_the_room_left_is_true(pieces, piece, vessel):
    arguments = {"piece_dry_milligrams": piece, "vessel_millilitres": vessel, "liquor_ratio": 30}
    plan = split_loads(pieces=pieces, **arguments)
    most = pieces_a_pot(**arguments).value

    assert (len(plan.loads) - 1) * most < pieces
    assert len(plan_loads(pieces + plan.room_left, piece, vessel, 30)) == len(plan.loads)
    assert len(plan_loads(pieces + plan.room_left + 1, piece, vessel, 30)) == len(plan.loads) + 1
