"""Hanks in and out of a bath; arithmetic throughout."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from recipes.dyeing.gradient import Addition, Moved, hanks_in_bath, spread_hanks

RED, ACID = Addition(60, "5 ml red"), Addition(1260, "20 ml acid")


def test_hanks_that_enter_at_intervals_see_what_goes_in_while_they_are_in() -> None:
    first, second, third = hanks_in_bath(
        pieces=3,
        moves=[Moved(0, True, 1), Moved(600, True, 1), Moved(1200, True)],
        additions=[RED, ACID],
        start=0,
        end=3000,
    )

    assert [hank.minutes for hank in (first, second, third)] == [50, 40, 30]
    assert (first.found, first.saw) == ((), (RED, ACID))
    assert (second.found, second.saw) == ((RED,), (ACID,))
    assert (third.entered_at, third.found, third.saw) == (1200, (RED,), (ACID,))


def test_hanks_lifted_one_after_the_other_leave_in_the_order_they_came() -> None:
    hanks = hanks_in_bath(
        pieces=2,
        moves=[Moved(600, False, 1), Moved(1200, False, 1)],
        additions=[RED, ACID],
        start=0,
        end=3000,
    )

    assert [(hank.minutes, hank.left_at) for hank in hanks] == [(10, 600), (20, 1200)]
    assert [hank.saw for hank in hanks] == [(RED,), (RED,)]


def test_a_hank_that_is_named_is_the_one_that_moves() -> None:
    hanks = hanks_in_bath(pieces=3, moves=[Moved(600, False, numbers=(3,))], additions=[], start=0, end=1200)

    assert [hank.minutes for hank in hanks] == [20, 20, 10]


def test_a_hank_that_never_went_in_saw_nothing() -> None:
    first, second = hanks_in_bath(pieces=2, moves=[Moved(0, True, 1)], additions=[RED], start=0, end=600)

    assert first.saw == (RED,)
    assert (second.entered_at, second.seconds, second.saw, second.found) == (None, 0, (), ())


def test_a_hank_that_goes_in_twice_is_in_for_both_times() -> None:
    (hank,) = hanks_in_bath(
        pieces=1,
        moves=[Moved(0, True, 1), Moved(300, False, 1), Moved(900, True, 1)],
        additions=[Addition(600, "between")],
        start=0,
        end=1200,
    )

    assert (hank.minutes, hank.left_at, hank.saw) == (10, None, ())


moves = st.lists(
    st.builds(Moved, st.integers(0, 5000), st.booleans(), st.one_of(st.none(), st.integers(1, 5))), max_size=8
)


@given(st.integers(1, 8), moves, st.integers(0, 6000))
def test_no_hank_is_in_longer_than_the_bath_lasted_and_none_is_lost(
    pieces: int, moved: list[Moved], end: int
) -> None:
    hanks = hanks_in_bath(pieces=pieces, moves=moved, additions=[RED, ACID], start=0, end=end)

    assert [hank.number for hank in hanks] == list(range(1, pieces + 1))
    for hank in hanks:
        assert 0 <= hank.seconds <= max(end, 0)
        assert not set(hank.found) & set(hank.saw)


def test_hanks_scale_with_the_load_and_add_up() -> None:
    assert [figure.value for figure in spread_hanks([1, 2, 2], of_pieces=5, pieces=10)] == [2, 4, 4]
    assert [figure.value for figure in spread_hanks([1, 2, 2], of_pieces=5, pieces=3)] == [1, 1, 1]
    assert [figure.value for figure in spread_hanks([1] * 5, of_pieces=5, pieces=2)] == [0, 1, 0, 1, 0]
    assert "2 × 3 ÷ 5 = 1.2" in spread_hanks([1, 2, 2], of_pieces=5, pieces=3)[1].working.substitution


@given(st.lists(st.integers(1, 9), min_size=1, max_size=8), st.integers(1, 60))
def test_what_entered_whole_enters_whole(counts: list[int], pieces: int) -> None:
    scaled = spread_hanks(counts, of_pieces=sum(counts), pieces=pieces)

    assert sum(figure.value for figure in scaled) == pieces
    assert all(figure.value >= 0 for figure in scaled)
