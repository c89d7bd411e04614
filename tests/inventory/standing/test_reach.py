"""How far pieces reach, day by day, against a plain reckoning of the same days."""

from __future__ import annotations

import datetime as dt

from hypothesis import given, settings
from hypothesis import strategies as st

from inventory.reach import Coming, reach, still_to_dye
from inventory.spoken_for import SpokenFor

DAY = dt.date(2026, 12, 1)


def promise(due: int | None, pieces: int, held: int = 0, what: str = "a box") -> SpokenFor:
    day = None if due is None else DAY + dt.timedelta(days=due)
    return SpokenFor(due=day, put_up_id=1, colourway_id=1, pieces=pieces, held=held, what=what, address="/a/")


def coming(due: int, pieces: int) -> Coming:
    return Coming(DAY + dt.timedelta(days=due), pieces, "order 3", "/o/")


def test_the_first_promise_that_breaks_is_named_with_what_it_lacks():
    there = reach(
        start=10,
        promises=[promise(1, 6, what="first"), promise(3, 6, what="second"), promise(9, 1, what="third")],
    )

    assert there.first_broken is not None
    assert (there.first_broken.what, there.first_broken.short) == ("second", 2)
    assert [change.left for change in there.changes] == [4, -2, -3]
    assert there.changes[2].short == 1
    assert there.free == -3


def test_yarn_that_comes_in_time_saves_it_and_too_late_does_not():
    promises = [promise(5, 8)]

    assert reach(start=3, promises=promises, coming=[coming(5, 5)]).first_broken is None
    assert reach(start=3, promises=promises, coming=[coming(6, 5)]).first_broken is not None


def test_what_rests_on_the_pots_is_not_broken():
    there = reach(start=2, promises=[promise(1, 5)], in_work=3)

    assert there.first_broken is None
    assert there.first_resting is not None
    assert not there.is_short


def test_held_pieces_are_not_wanted_twice_and_an_open_day_comes_last():
    there = reach(start=4, promises=[promise(None, 2), promise(2, 6, held=3)])

    assert [change.pieces for change in there.changes] == [-3, -2]
    assert there.changes[-1].on is None


@settings(max_examples=60, deadline=None)
@given(
    start=st.integers(-5, 20),
    work=st.integers(0, 10),
    promised=st.lists(st.tuples(st.one_of(st.none(), st.integers(0, 6)), st.integers(1, 8)), max_size=6),
    arriving=st.lists(st.tuples(st.integers(0, 6), st.integers(1, 8)), max_size=4),
)
def test_every_day_is_the_sum_of_what_happened_until_then(start, work, promised, arriving):
    there = reach(
        start=start,
        in_work=work,
        promises=[promise(due, pieces) for due, pieces in promised],
        coming=[coming(due, pieces) for due, pieces in arriving],
    )

    last = there.changes[-1].left if there.changes else start
    assert last == start + sum(pieces for _, pieces in arriving) - sum(pieces for _, pieces in promised)
    broken = there.first_broken
    if broken is not None and broken.on is not None:
        day = (broken.on - DAY).days
        by_then = start + work + sum(pieces for due, pieces in arriving if due <= day)
        assert by_then < sum(pieces for due, pieces in promised if due is not None and due <= day)
    # What is still to dye is what the pieces that are there do not reach.
    there_now = max(0, start + work)
    lacking = still_to_dye(there=there_now, promises=[promise(due, pieces) for due, pieces in promised])
    assert sum(each.pieces for each in lacking) == max(0, sum(p for _, p in promised) - there_now)
