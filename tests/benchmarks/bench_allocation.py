"""Who gets which skein, in clubs with doubles, three memberships, avoided families and months had."""

from __future__ import annotations

import time
from decimal import Decimal

from tests.benchmarks.harness import benchmark
from tests.inventory.allocation.months import large_month


def solved(*, boxes: int, lots: int, share_there: float, again: bool = False) -> Decimal:
    """Processor seconds until all aims are proved best; without what the first reckoning of a day loads.

    The reckoning keeps one processor busy from beginning to end, so on a machine with nothing else to do it is the time
    it takes, and on a busy one the figure is of the reckoning alone.
    """
    from inventory.allocation.answers import Answer
    from inventory.allocation.rules import breaches
    from inventory.allocation.solving import allocate, steps
    from inventory.allocation.wants import Month

    *_, _ = steps(large_month(boxes=20, lots=6, share_there=0.8), by_search=True)
    month = large_month(boxes=boxes, lots=lots, share_there=share_there)
    if again:
        month = Month(boxes=month.boxes, lots=month.lots[1:], earlier=allocate(month).pieces)
        month = Month(
            boxes=month.boxes,
            lots=month.lots,
            earlier=tuple(piece for piece in month.earlier if piece.lot in month.lot),
        )
    began = time.process_time()
    *_, answer = steps(month, by_search=True)
    took = time.process_time() - began
    assert isinstance(answer, Answer)
    if not answer.proven or breaches(month, answer.pieces):
        raise RuntimeError(answer.standing)
    return Decimal(took)


@benchmark("allocate_300_boxes_20_lots", bar=1, unit="s", database=False)
def allocate_300_boxes_20_lots() -> Decimal:
    """Three hundred boxes, a tenth more there than wanted; some colourways run short all the same."""
    return solved(boxes=300, lots=20, share_there=1.1)


@benchmark("allocate_1000_boxes_40_lots", bar=5, unit="s", database=False)
def allocate_1000_boxes_40_lots() -> Decimal:
    """A thousand boxes, a tenth more there than wanted: seven stay empty, and that is proved box by box."""
    return solved(boxes=1000, lots=40, share_there=1.1)


@benchmark("allocate_1000_boxes_short", bar=5, unit="s", database=False)
def allocate_1000_boxes_short() -> Decimal:
    """A thousand boxes and a tenth fewer pieces than they want."""
    return solved(boxes=1000, lots=40, share_there=0.9)


@benchmark("allocate_1000_boxes_again", bar=5, unit="s", database=False)
def allocate_1000_boxes_again() -> Decimal:
    """Solved again after a whole lot of a thousand boxes' forty turned out not to be there."""
    return solved(boxes=1000, lots=40, share_there=1.1, again=True)
