"""Who gets which skein: the answer, and the steps to it.

One aim after the other, each held exactly while the next is looked for, rather than one sum of weights: what is held
is a whole number, so nothing more important is ever given up for something less, and no weight has to be large enough.

1. FILLED: most boxes, each whole or not at all.
2. OLDEST: strictly by sign-up among those.
3. POTS: fewest pots, summed over people; lots that match by eye are one.
4. LIKED: most points of liking.
5. LUCK: the same points, each worth the person's luck.
6. KEPT: most pieces where they were before.

The hard rules are in `rules`. Every answer is checked against them, and every aim is counted anew, in whole numbers.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence

from inventory.allocation.answers import Aim, Answer, Progress, Term
from inventory.allocation.filling import CannotPin, Filling, fill
from inventory.allocation.giving import Giving, give
from inventory.allocation.greedy import First, by_hand, cannot_be_better
from inventory.allocation.rules import breaches, liking, reckon, why_not
from inventory.allocation.sheet import Clock
from inventory.allocation.stock import Stock
from inventory.allocation.wants import Month, Piece


def allocate(month: Month, *, seconds: float | None = None) -> Answer:
    """Who gets what. With `seconds` it stops about then with the best found, and says how far that may be off.

    Raises CannotPin where the pins cannot all hold.
    """
    *_, answer = steps(month, seconds=seconds)
    assert isinstance(answer, Answer)
    return answer


def steps(
    month: Month, *, seconds: float | None = None, by_search: bool = False
) -> Iterator[Progress | Answer]:
    """As `allocate`, telling between the steps how far it is; the last one told is the answer.

    To give it up, take no further step. `by_search` leaves the quick way out.
    """
    clock = Clock(seconds)
    stock = Stock(month)
    refuse_bad_pins(month)
    if not by_search:
        for first in (First.MOST, First.OLDEST):
            pieces = by_hand(stock, first)
            if cannot_be_better(stock, pieces) and not breaches(month, pieces):
                yield _answer(month, pieces, {})
                return
    filling: Filling | None = None
    # Half of the time at most goes into which boxes: without the other half none of them would get anything.
    for told in fill(stock, Clock(None if seconds is None else seconds / 2)):
        if isinstance(told, Filling):
            filling = told
        else:
            yield told
    assert filling is not None
    giving: Giving | None = None
    if filling.boxes is not None:
        for step in give(stock, filling.boxes, clock):
            if isinstance(step, Giving):
                giving = step
            else:
                yield step
    if giving is None or giving.pieces is None or breaches(month, giving.pieces):
        yield _by_hand_in_the_end(stock, filling)
        return
    off = {**giving.short_of_best, Aim.FILLED: filling.most - len(filling.boxes or ())}
    yield _answer(month, giving.pieces, off, oldest_proven=filling.oldest_proven)


def refuse_bad_pins(month: Month) -> None:
    """Raises CannotPin, with a sentence, for pins that a rule or a single lot does not allow."""
    bare = Month(
        boxes=month.boxes, lots=month.lots, forbids=month.forbids, months=month.months, names=month.names
    )
    wanted: defaultdict[str, int] = defaultdict(int)
    for pin in month.pins:
        box, lot = month.box[pin.box], month.lot[pin.lot]
        why = why_not(bare, box, pin.slot, lot)
        if why is not None:
            raise CannotPin(
                f"Lot {month.name(lot.id)} cannot be pinned to box {month.name(box.id)}: it {why}."
            )
        wanted[lot.id] += box.slots[pin.slot].pieces
        if wanted[lot.id] > lot.can_give:
            raise CannotPin(
                f"{wanted[lot.id]} pieces of lot {month.name(lot.id)} are pinned and it has {lot.can_give} to give."
            )


def _by_hand_in_the_end(stock: Stock, filling: Filling) -> Answer:
    """Time ran out before anything better was found; what is given then keeps every rule all the same."""
    month = stock.month
    tried = [by_hand(stock, first) for first in (First.OLDEST, First.FEWEST)]
    pieces = max(tried, key=lambda each: (not breaches(month, each), reckon(month, each)[Aim.FILLED]))
    if wrong := breaches(month, pieces):
        raise CannotPin(f"Time ran out before the pins could be held. {wrong[0]}")
    filled = {piece.box for piece in pieces}
    most_points = {
        box.id: sum(
            max((liking(box, stock.lots[at]) for at in need.lots), default=0) * need.pieces
            for need in stock.needs(box)
        )
        for box in month.boxes
        if box.id in filled
    }
    got = reckon(month, pieces)
    people = {month.box[box].member for box in filled}
    off = {
        Aim.FILLED: filling.most - len(filled),
        Aim.POTS: got[Aim.POTS] - len(people),
        Aim.LIKED: sum(most_points.values()) - got[Aim.LIKED],
        Aim.LUCK: sum(month.box[box].luck * most for box, most in most_points.items()) - got[Aim.LUCK],
        Aim.KEPT: sum(piece.pieces for piece in month.earlier if piece.box in filled) - got[Aim.KEPT],
    }
    return _answer(month, pieces, off, oldest_proven=len(filled) == len(month.boxes))


def _answer(
    month: Month, pieces: Sequence[Piece], off: dict[Aim, int], *, oldest_proven: bool = True
) -> Answer:
    got = reckon(month, pieces)
    terms = []
    for aim in Aim:
        short = max(0, off.get(aim, 0))
        best = got[aim] - short if aim is Aim.POTS else got[aim] + short
        proven = oldest_proven if aim is Aim.OLDEST else not short
        terms.append(Term(aim=aim, value=got[aim], best=best, proven=proven))
    filled = frozenset(piece.box for piece in pieces)
    return Answer(
        pieces=tuple(sorted(pieces)), filled=filled, terms=tuple(terms), luck_next=_luck_next(month, pieces)
    )


def _luck_next(month: Month, pieces: Sequence[Piece]) -> dict[str, int]:
    got: defaultdict[str, int] = defaultdict(int)
    for piece in pieces:
        got[piece.box] += liking(month.box[piece.box], month.lot[piece.lot]) * piece.pieces
    stock = Stock(month)
    missed: defaultdict[str, int] = defaultdict(int)
    luck: dict[str, int] = {}
    for box in month.boxes:
        best = sum(
            max((liking(box, stock.lots[at]) for at in need.lots), default=0) * need.pieces
            for need in stock.needs(box)
        )
        # A box left empty is worse than any that was filled.
        missed[box.member] += best - got[box.id] if box.id in got else best + 1
        luck[box.member] = max(luck.get(box.member, 0), box.luck)
    return {member: luck[member] + missed[member] if missed[member] else 0 for member in luck}
