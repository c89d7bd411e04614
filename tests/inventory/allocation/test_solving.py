"""Who gets which skein: as good as trying everything, as the plain model, and never against a rule."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st

from inventory.allocation.rules import breaches
from inventory.allocation.solving import allocate, steps
from inventory.allocation.swapping import pins_of
from inventory.allocation.wants import Forbid, Month, Pin
from tests.inventory.allocation.months import months
from tests.inventory.allocation.other_ways import by_trying, plainly, worth


class TestAsGoodAs:
    @given(month=months(most_boxes=3, most_lots=4, most_free=3, most_pieces=2))
    @settings(max_examples=100, deadline=None)
    def test_trying_everything(self, month: Month):
        answer = allocate(month)

        assert breaches(month, answer.pieces) == []
        assert answer.proven
        assert worth(month, answer.pieces) == by_trying(month)

    @given(month=months(most_boxes=9, most_lots=7, most_free=5, most_pieces=4))
    @settings(max_examples=40, deadline=None)
    def test_the_plain_model(self, month: Month):
        *_, answer = steps(month, by_search=True)

        assert breaches(month, answer.pieces) == []
        assert answer.proven
        assert worth(month, answer.pieces) == plainly(month)

    @given(month=months(most_boxes=8, most_lots=7, most_free=5, most_pieces=3), data=st.data())
    @settings(max_examples=25, deadline=None)
    def test_the_plain_model_with_a_pin_a_forbid_and_something_given_before(self, month: Month, data):
        *_, first = steps(month)
        pins: tuple[Pin, ...] = ()
        forbids = month.forbids
        of_one_lot = pins_of(first.pieces, *first.filled)
        if of_one_lot:
            pins = (data.draw(st.sampled_from(of_one_lot)),)
        if others := [piece for piece in first.pieces if piece.box not in {pin.box for pin in pins}]:
            gone = data.draw(st.sampled_from(others))
            forbids += (Forbid(box=gone.box, lot=gone.lot),)
        again = replace(month, pins=pins, forbids=forbids, earlier=first.pieces)

        *_, answer = steps(again, by_search=True)

        assert breaches(again, answer.pieces) == []
        assert worth(again, answer.pieces) == plainly(again)
