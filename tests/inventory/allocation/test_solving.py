"""Who gets which skein: as good as trying everything, as the plain model, and never against a rule."""

from __future__ import annotations

from hypothesis import given, settings

from inventory.allocation.rules import breaches
from inventory.allocation.solving import allocate, steps
from inventory.allocation.wants import Month
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
