"""Boxes of many days: counting by properties, and the leftovers of a packing with two days mixed up."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inventory.allocation.advents import Day, NotAtHand, boxes_standing, check_leftovers, lay_out, runs

DAYS = st.lists(st.tuples(st.integers(0, 30), st.integers(0, 30), st.integers(1, 3)), min_size=1, max_size=8)


@given(boxes=st.integers(0, 20), counts=DAYS)
@settings(max_examples=100)
def test_as_many_boxes_as_can_be_made_one_after_the_other(boxes: int, counts: list[tuple[int, int, int]]):
    days = [
        Day(number=at, dyed=good, good=good, wrapped=wrapped, each=each)
        for at, (good, wrapped, each) in enumerate(counts, 1)
    ]
    left, made = [day.good for day in days], 0
    while made < boxes and all(free >= day.each for free, day in zip(left, days, strict=True)):
        left = [free - day.each for free, day in zip(left, days, strict=True)]
        made += 1

    told = boxes_standing(boxes=boxes, days=days)

    assert told.completable == made
    assert told.wrapped <= told.completable
    stops = {day.number for free, day in zip(left, days, strict=True) if free < day.each}
    assert set(told.scarcest) == (stops if made < boxes else set())
    assert [each.missing for each in told.days] == [max(0, boxes * day.each - day.good) for day in days]


def test_the_advent_of_fifty_boxes_waits_for_its_scarcest_day():
    """24 minis and a full skein; 47 of day 9 are good (sizes: the job's own, common practice, no source)."""
    days = [Day(number=at, dyed=53, good=47 if at == 9 else 52, wrapped=40) for at in range(1, 26)]

    told = boxes_standing(boxes=50, days=days)

    assert (told.completable, told.wrapped, told.scarcest) == (47, 40, (9,))
    assert told.words == "47 of 50 boxes can be completed now; day 9 is scarcest."


class TestLayingOut:
    @given(boxes=st.integers(1, 60), data=st.data())
    @settings(max_examples=100)
    def test_it_is_complete_when_every_box_has_it(self, boxes: int, data):
        first = data.draw(st.integers(1, boxes))
        last = data.draw(st.integers(first, boxes))
        but_not = data.draw(st.sets(st.integers(first, last)))

        told = lay_out(day=7, boxes=boxes, first=first, last=last, but_not=sorted(but_not))
        then = lay_out(day=7, boxes=boxes, first=1, last=boxes, before=told.inside, pieces=boxes)

        assert len(told.inside) == last - first + 1 - len(but_not)
        assert told.inside | set(told.without) == set(range(1, boxes + 1))
        assert told.complete == (told.without == ())
        assert then.complete

    def test_is_said_with_its_exceptions(self):
        told = lay_out(day=7, boxes=60, first=1, last=60, but_not=[13])

        assert told.words == "Day 7 is in boxes 1-12, 14-60: 59 of 60."
        assert told.without == (13,)
        assert runs(frozenset({1, 2, 3, 7, 9, 10})) == "1-3, 7, 9-10"

    @pytest.mark.parametrize(
        ("asked", "said"),
        [
            ({"first": 0, "last": 3}, "numbered from 1 to 10"),
            ({"first": 4, "last": 3}, "numbered from 1 to 10"),
            ({"first": 1, "last": 3, "but_not": [5]}, "Box 5 is not between 1 and 3"),
            ({"first": 1, "last": 10, "pieces": 17, "each": 2}, "takes 20 pieces; 17 are good. Leave 2 out."),
        ],
    )
    def test_what_cannot_be_is_refused(self, asked: dict, said: str):
        with pytest.raises(NotAtHand, match=said):
            lay_out(day=7, boxes=10, **asked)


class TestLeftovers:
    @given(
        good=st.dictionaries(st.integers(1, 24), st.integers(60, 66), min_size=2),
        data=st.data(),
        packed=st.integers(0, 60),
    )
    @settings(max_examples=100)
    def test_one_wrong_mini_in_one_box_names_the_two_days(self, good: dict[int, int], data, packed: int):
        put_in, belongs = data.draw(
            st.lists(st.sampled_from(sorted(good)), min_size=2, max_size=2, unique=True)
        )
        told = dict.fromkeys(good, packed)
        right = {day: good[day] - packed for day in good}
        wrong = {**right, put_in: right[put_in] - 1, belongs: right[belongs] + 1}

        assert check_leftovers(good=good, packed=told, counted=right).right
        found = check_leftovers(good=good, packed=told, counted=wrong)
        assert found.swapped == (belongs, put_in)
        assert f"one box has day {put_in} where day {belongs} belongs" in found.words

    def test_more_than_that_lists_the_days(self):
        found = check_leftovers(
            good={1: 10, 2: 10, 3: 10}, packed={1: 9, 2: 9, 3: 9}, counted={1: 3, 2: 0, 3: 0}
        )

        assert found.swapped is None
        assert found.words == (
            "These leave more or less than they should: day 1 +2, day 2 −1, day 3 −1. "
            "Count them again before opening boxes."
        )
