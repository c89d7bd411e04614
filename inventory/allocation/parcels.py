"""Orders for pieces of listings that lie in several lots: who gets them of which lot.

It is the same question as a club's month where each line has its one colourway, and is answered by the same reckoning.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from inventory.allocation.answers import Answer
from inventory.allocation.solving import allocate
from inventory.allocation.wants import AllocationError, Box, Kind, Lot, Month, Slot


class NothingOrdered(AllocationError):
    """An order without a line, or a line of no pieces."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """What one buyer bought at once. `lines` are pieces by colourway and put-up; `order` is the place in the queue."""

    id: str
    buyer: str
    order: int
    lines: Mapping[Kind, int]
    same_pot: bool = False


def give_orders(
    *,
    orders: Sequence[Order],
    lots: Sequence[Lot],
    spares: Mapping[Kind, int] | None = None,
    names: Mapping[str, str] | None = None,
    seconds: float | None = None,
) -> Answer:
    """Most orders whole, the oldest first where it is short; then fewest pots over all buyers.

    Where somebody has to have two pots, of those who want the same the later one has. A piece of the answer speaks of
    an order as its box, and of a line by its place in `lines`. Raises NothingOrdered and NotClear.
    """
    for order in orders:
        if not order.lines or min(order.lines.values()) < 1:
            raise NothingOrdered(f"Order {order.id} has a line of no pieces. Write how many were bought.")
    boxes = tuple(
        Box(
            id=order.id,
            member=order.buyer,
            order=order.order,
            slots=tuple(
                Slot(put_up=put_up, pieces=pieces, colourways=frozenset({colourway}))
                for (colourway, put_up), pieces in order.lines.items()
            ),
            same_pot=order.same_pot,
        )
        for order in orders
    )
    month = Month(boxes=boxes, lots=tuple(lots), spares=spares or {}, names=names or {})
    return allocate(month, seconds=seconds)
