"""What must be dyed, in pot loads, against the trade's own numbers and against trying everything."""

from __future__ import annotations

import datetime as dt
from fractions import Fraction
from itertools import product
from math import ceil

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inventory.allocation.dye_list import days_needed, make_dye_list, share_of_good
from inventory.allocation.packing import pack_whole
from inventory.allocation.pot_loads import Pot, pieces_to_dye
from inventory.allocation.wanted import Kind, PartOfKit, Spares, There, Want, explode
from recipes.dyeing.loads import pieces_a_pot, split_loads
from recipes.dyeing.working import Source, Standing, Working

ALL_GOOD = share_of_good(good=0, judged=0)
BY_HAND = Working("Pot", "as told", "", "", Source("as told", Standing.TOLD))
ADVENT = dt.date(2026, 11, 20)
FULL, MINI = 100, 20


def pot_of(pieces: int) -> Pot:
    return Pot("Pot 1", pieces, BY_HAND)


def advent(*, boxes: int, pot_grams: int, spares: Spares | None = None):
    """24 minis of 20 g and one skein of 100 g, each in a colourway of its own, in pots of so many grams."""
    minis = [PartOfKit(Kind(day, MINI)) for day in range(1, 25)]
    wants = explode([*minis, PartOfKit(Kind(25, FULL))], kits=boxes, due=ADVENT, what="the advent boxes")
    return make_dye_list(
        wants=wants,
        shelf=[],
        in_work=[],
        pots={want.kind: pot_of(pot_grams // want.kind.put_up) for want in wants},
        share=ALL_GOOD,
        spares=spares,
    )


def loads_of(listed, put_up: int) -> int:
    return sum(1 for load in listed.loads if load.kind.put_up == put_up)


def test_the_advent_of_fifty_boxes_takes_the_loads_that_the_trade_counts():
    """Source: shared facts of the trade (common practice, no source): 48 or 72 loads of minis, 10-13 of full skeins.

    With 5 % spares 83-86 loads and 17-21 dye days of 4-5 loads. The trade counts 86 loads at 4 a day as 21 days; that is
    21 full days and two loads more.
    """
    large, small = (advent(boxes=50, pot_grams=grams) for grams in (500, 400))

    assert (loads_of(large, MINI), loads_of(small, MINI)) == (48, 72)
    assert (loads_of(large, FULL), loads_of(small, FULL)) == (10, 13)
    assert large.pieces == 24 * 50 + 50

    with_spares = [advent(boxes=50, pot_grams=grams, spares=Spares(percent=5)) for grams in (500, 400)]

    assert {(row.wanted, row.spares, row.pieces) for row in with_spares[0].rows} == {(50, 3, 53)}
    assert [loads_of(listed, MINI) for listed in with_spares] == [72, 72]
    assert [len(listed.loads) for listed in with_spares] == [83, 86]
    assert days_needed(loads=83, loads_a_session=5).value == 17
    assert days_needed(loads=83, loads_a_session=4).value == 21
    assert divmod(86, 4) == (21, 2)
    assert days_needed(loads=86, loads_a_session=4).value == 22


def test_one_more_mini_can_mean_twenty_four_more_loads_and_it_is_said_which_piece():
    listed = advent(boxes=50, pot_grams=500)

    dearest = listed.one_more[0]
    assert (dearest.put_up, dearest.nth, dearest.more, dearest.loads) == (MINI, 51, 1, 24)
    assert len(advent(boxes=51, pot_grams=500).loads) - len(listed.loads) == 24 + 1

    # Pots of 53 minis: the 54th starts another in each colour.
    just_full = advent(boxes=50, pot_grams=1060, spares=Spares(percent=5))
    assert (just_full.one_more[0].nth, just_full.one_more[0].loads) == (54, 24)


def test_what_goes_wrong_is_dyed_on_top_and_the_share_is_exact():
    share = share_of_good(good=93, judged=100)

    assert share.value == Fraction(93, 100)
    assert [pieces_to_dye(good=good, share=share.value) for good in (93, 94, 50, 1)] == [100, 102, 54, 2]
    assert share_of_good(good=0, judged=5).value == 1
    # A third is no decimal fraction: 2 of 3 good make 4 good ones of exactly 6.
    assert pieces_to_dye(good=4, share=share_of_good(good=2, judged=3).value) == 6


def test_what_is_free_and_in_work_counts_first_and_a_set_is_served_by_one_lot():
    kind = Kind(1, FULL)
    early, late = dt.date(2026, 3, 1), dt.date(2026, 4, 1)
    listed = make_dye_list(
        wants=[
            Want(kind, 3, late, sets=(3,), what="Ada's set"),
            Want(kind, 5, early, what="the club"),
        ],
        shelf=[There(kind, 2, "K7M2X"), There(kind, 4, "P3RTA")],
        in_work=[There(kind, 5, "QZ4WN"), There(kind, 5, "QZ4WP")],
        pots={kind: pot_of(5)},
        share=share_of_good(good=9, judged=10),
    )
    # The club takes the small lot whole and 3 of the other; of ten in work nine are expected, and one pot has the set.
    assert listed.rows == ()
    assert {(each.there.code, *(want.what for want in each.wants)) for each in listed.served} == {
        ("K7M2X", "the club"),
        ("P3RTA", "the club"),
        ("QZ4WN", "Ada's set"),
    }

    lone = make_dye_list(
        wants=[Want(kind, 3, late, sets=(3,))],
        shelf=[There(kind, 2, "K7M2X"), There(kind, 2, "P3RTA")],
        in_work=[],
        pots={kind: pot_of(5)},
        share=ALL_GOOD,
    )
    assert (lone.rows[0].from_shelf, lone.rows[0].pieces, lone.rows[0].loads[0].sets) == (0, 3, (3,))


def test_sets_stay_whole_and_what_no_pot_takes_is_named():
    kind = Kind(1, FULL)
    wants = [Want(kind, 9, sets=(3, 3, 3), what="three people"), Want(kind, 7, sets=(7,), what="a sweater")]
    listed = make_dye_list(wants=wants, shelf=[], in_work=[], pots={kind: pot_of(5)}, share=ALL_GOOD).rows[0]

    # 16 pieces fit into 4 pots of 5, and three sets of 3 in pots of 5 need one each.
    assert listed.too_large == (7,)
    assert sorted(load.sets for load in listed.loads) == [(3,), (3,), (3, 2), (5,)]
    assert [load.pieces for load in listed.loads] == [5, 5, 3, 3]


def test_the_liquor_ratio_decides_what_a_vessel_takes():
    """20 L at 40:1 is the 500 g of dry yarn of the trade's pot, 25 minis of 20 g; source: definition of the ratio."""
    assert pieces_a_pot(piece_dry_milligrams=20_000, vessel_millilitres=20_000, liquor_ratio=40).value == 25


@settings(max_examples=100, deadline=None)
@given(
    st.integers(1, 60),
    st.integers(1, 12),
    st.integers(5, 20),
    st.integers(0, 3),
    st.lists(st.integers(1, 6), max_size=4),
    st.integers(0, 20),
)
def test_every_piece_stands_in_one_load_and_no_load_is_more_than_a_pot(
    singles, most, good_of_20, in_work, sets, percent
):
    kind = Kind(1, FULL)
    share = share_of_good(good=good_of_20, judged=20)
    wants = [
        Want(kind, singles, dt.date(2026, 5, 1), what="later"),
        Want(kind, sum(sets), dt.date(2026, 4, 1), sets=tuple(sets), what="sooner"),
    ]
    listed = make_dye_list(
        wants=wants,
        shelf=[],
        in_work=[There(kind, in_work, "QZ4WN")],
        pots={kind: pot_of(most)},
        share=share,
        spares=Spares(percent=percent),
    )
    row = listed.rows[0] if listed.rows else None
    wanted = singles + sum(sets)
    spares = ceil(Fraction(wanted * percent, 100))
    if row is None:
        assert in_work >= wanted + spares
        return

    assert row.good == wanted + spares - row.from_work
    assert row.pieces == ceil(row.good / share.value) == sum(load.pieces for load in row.loads)
    assert all(load.pieces <= most for load in row.loads)
    kept = sorted(size for load in row.loads for size in load.sets)
    if not row.from_work:
        assert kept == sorted(
            part
            for size in sets
            for part in [most] * (size // most) + ([size % most] if size % most else [])
            if part > 1
        )
    if not kept:
        assert len(row.loads) == len(
            split_loads(
                pieces=row.pieces, piece_dry_milligrams=100_000, vessel_millilitres=most * 100, liquor_ratio=1
            ).loads
        )
        counts = [load.pieces for load in row.loads]
        assert max(counts) - min(counts) <= 1
        # The next good piece after the last that these pots give starts another.
        assert ceil(row.most_good / share.value) <= most * len(row.loads)
        assert ceil((row.most_good + 1) / share.value) > most * len(row.loads)
    dues = [load.due for load in row.loads]
    assert dues == sorted(dues)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.integers(1, 6), min_size=1, max_size=6), st.integers(6, 9))
def test_sets_are_packed_into_as_few_pots_as_trying_everything_finds(sizes, most):
    packed = pack_whole(sizes, most=most)

    assert sorted(at for pot in packed for at in pot) == list(range(len(sizes)))
    assert all(sum(sizes[at] for at in pot) <= most for pot in packed)

    def fits(pots: int) -> bool:
        return any(
            all(sum(s for s, p in zip(sizes, where, strict=True) if p == pot) <= most for pot in range(pots))
            for where in product(range(pots), repeat=len(sizes))
        )

    assert not fits(len(packed) - 1) if len(packed) > 1 else True


def test_a_kind_that_no_vessel_is_known_for_is_an_error():
    with pytest.raises(KeyError):
        make_dye_list(wants=[Want(Kind(1, FULL), 1)], shelf=[], in_work=[], pots={}, share=ALL_GOOD)
