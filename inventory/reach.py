"""How far a number of pieces reaches: day by day what comes in and what is promised, and the first promise that breaks.

Pieces are whole. What is in work is counted apart from what is here, since nobody knows yet how it comes out.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass, field

from inventory.spoken_for import SpokenFor
from recipes.dyeing.working import Figure, Source, Standing, Working

THE_BOOK = Source("what is written in the house's own book", Standing.DERIVED)


@dataclass(frozen=True, slots=True)
class Coming:
    """Pieces that are on order: the day they should be here, of whom they are, and the order's page."""

    due: dt.date
    pieces: int
    what: str
    address: str


@dataclass(frozen=True, slots=True)
class Change:
    """One day on which what is free changes, and what is left after it: of what is here, and with what is in work.

    `pieces` is above zero for what comes in and below for what a promise takes.
    """

    on: dt.date | None
    pieces: int
    what: str
    address: str
    left: int
    left_with_work: int

    @property
    def is_promise(self) -> bool:
        return self.pieces < 0

    @property
    def breaks(self) -> bool:
        """Whether it is a promise that even what is in work does not reach."""
        return self.is_promise and self.left_with_work < 0

    @property
    def rests_on_work(self) -> bool:
        """Whether it is a promise that only what is in work reaches."""
        return self.is_promise and self.left < 0 <= self.left_with_work

    @property
    def short(self) -> int:
        """So many of its pieces are not there: all of them where an earlier promise had taken what there was."""
        return min(-self.pieces, -self.left_with_work) if self.breaks else 0


@dataclass(frozen=True, slots=True)
class Reach:
    """What is free now, and all that changes it day by day."""

    start: int
    in_work: int
    changes: list[Change] = field(default_factory=list)

    @property
    def first_broken(self) -> Change | None:
        return next((change for change in self.changes if change.breaks), None)

    @property
    def first_resting(self) -> Change | None:
        return next((change for change in self.changes if change.rests_on_work), None)

    @property
    def promised(self) -> int:
        return sum(-change.pieces for change in self.changes if change.is_promise)

    @property
    def coming(self) -> int:
        return sum(change.pieces for change in self.changes if not change.is_promise)

    @property
    def free(self) -> int:
        """Of what is here, once every promise had its own; below zero is what is lacking."""
        return self.start - self.promised

    @property
    def is_short(self) -> bool:
        """Whether a promise breaks, or there is less than nothing before any promise."""
        return self.first_broken is not None or self.start + self.in_work < 0

    def free_figure(self, *, here: int, taken: int, taken_words: str) -> Figure[int]:
        """What is free now as a figure: of `here` pieces `taken` are not free; the promises take theirs after it."""
        return Figure(
            self.free,
            Working(
                title="free",
                formula=f"here − {taken_words} − promised and still to find",
                substitution=f"{here} − {taken} − {self.promised}",
                result=pieces_words(self.free),
                source=THE_BOOK,
            ),
        )


def pieces_words(pieces: int) -> str:
    """A count of pieces with its sign in print: 1 piece, −3 pieces."""
    return f"{pieces} piece{'' if abs(pieces) == 1 else 's'}".replace("-", "−")


def reach(
    *, start: int, promises: Iterable[SpokenFor], coming: Iterable[Coming] = (), in_work: int = 0
) -> Reach:
    """Walk through the days: what comes in on a day is there before a promise of that day takes its own.

    Promises without a day come last.
    """
    rows = sorted(
        [
            *((each.due, 0, each.pieces, each.what, each.address) for each in coming),
            *(
                (each.due or dt.date.max, 1, -each.to_find, each.what, each.address)
                for each in promises
                if each.to_find
            ),
        ],
        key=lambda row: row[:2],
    )
    left, changes = start, []
    for on, _, pieces, what, address in rows:
        left += pieces
        day = None if on == dt.date.max else on
        changes.append(Change(day, pieces, what, address, left, left + in_work))
    return Reach(start, in_work, changes)


@dataclass(frozen=True, slots=True)
class ToDye:
    """So many pieces of a promise that neither lie here nor are in work."""

    promise: SpokenFor
    pieces: int


def still_to_dye(*, there: int, promises: Iterable[SpokenFor]) -> list[ToDye]:
    """What of some promises must still be dyed when `there` pieces lie here or are in work, the soonest served first."""
    left = max(0, there)
    lacking = []
    for promise in promises:
        served = min(left, promise.to_find)
        left -= served
        if promise.to_find > served:
            lacking.append(ToDye(promise, promise.to_find - served))
    return lacking
