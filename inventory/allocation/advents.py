"""Boxes of many days: which are complete, what holds the rest up, who has which lot, and what the leftovers tell.

All of it is counting; whole pieces throughout.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from inventory.allocation.wants import AllocationError


class NotAtHand(AllocationError):
    """More boxes are laid out than there are, or than there are good pieces for."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Day:
    """One day of the boxes, or one colour of a kit. `each` pieces of it go into a box.

    `dyed` counts all that came out of the pots, `good` what of it may go into boxes, `wrapped` what of the good is
    wrapped (those in boxes included).
    """

    number: int
    dyed: int = 0
    good: int = 0
    wrapped: int = 0
    each: int = 1


@dataclass(frozen=True, slots=True)
class DayStanding:
    """How a day stands: pieces needed for all boxes, pieces missing, boxes it is enough for."""

    day: Day
    needed: int
    missing: int
    enough_for: int
    wrapped_for: int


@dataclass(frozen=True, kw_only=True)
class BoxesStanding:
    """`completable` boxes can be made of what is good, `wrapped` of them of what is wrapped already.

    `scarcest` are the days that are enough for fewest boxes, where that is fewer than all; the next box waits for them.
    """

    days: tuple[DayStanding, ...]
    boxes: int
    completable: int
    wrapped: int
    scarcest: tuple[int, ...]

    @property
    def words(self) -> str:
        if self.completable == self.boxes:
            return f"All {self.boxes} boxes can be completed now."
        lacking = ", ".join(str(number) for number in self.scarcest)
        days = f"day {lacking} is" if len(self.scarcest) == 1 else f"days {lacking} are"
        return f"{self.completable} of {self.boxes} boxes can be completed now; {days} scarcest."


def boxes_standing(*, boxes: int, days: Sequence[Day]) -> BoxesStanding:
    """How many boxes can be completed now, and which days hold the others up."""
    standings = []
    for day in days:
        if day.each < 1 or min(day.dyed, day.good, day.wrapped) < 0:
            raise NotAtHand(f"Day {day.number} has a count below nothing. Count it again.")
        needed = boxes * day.each
        standings.append(
            DayStanding(
                day,
                needed,
                max(0, needed - day.good),
                min(boxes, day.good // day.each),
                min(boxes, day.wrapped // day.each, day.good // day.each),
            )
        )
    completable = min((each.enough_for for each in standings), default=boxes)
    return BoxesStanding(
        days=tuple(standings),
        boxes=boxes,
        completable=completable,
        wrapped=min((each.wrapped_for for each in standings), default=boxes),
        scarcest=tuple(
            each.day.number for each in standings if each.enough_for == completable and completable < boxes
        ),
    )


@dataclass(frozen=True, kw_only=True)
class LaidOut:
    """One day laid out over the numbered boxes. `without` are the boxes that still lack it."""

    day: int
    boxes: int
    inside: frozenset[int]
    without: tuple[int, ...]

    @property
    def complete(self) -> bool:
        return not self.without

    @property
    def words(self) -> str:
        """ "Day 7 is in boxes 1-12, 14-60: 59 of 60." """
        if not self.inside:
            return f"Day {self.day} is in no box yet: 0 of {self.boxes}."
        one = "box" if len(self.inside) == 1 else "boxes"
        return f"Day {self.day} is in {one} {runs(self.inside)}: {len(self.inside)} of {self.boxes}."


def lay_out(
    *,
    day: int,
    boxes: int,
    first: int,
    last: int,
    but_not: Sequence[int] = (),
    before: frozenset[int] = frozenset(),
    pieces: int | None = None,
    each: int = 1,
) -> LaidOut:
    """A day is in the boxes from `first` to `last` but not in some; `before` are boxes it was in already.

    `pieces` is what there is of it for boxes, those laid out before included; without it that is not asked. Raises
    NotAtHand for boxes that are not there and for more boxes than there are pieces.
    """
    if not 1 <= first <= last <= boxes:
        raise NotAtHand(
            f"The boxes are numbered from 1 to {boxes}. Write the first and the last of them in order."
        )
    if outside := sorted(number for number in but_not if not first <= number <= last):
        raise NotAtHand(f"Box {outside[0]} is not between {first} and {last}, so it need not be left out.")
    inside = before | (frozenset(range(first, last + 1)) - frozenset(but_not))
    if pieces is not None and len(inside) * each > pieces:
        raise NotAtHand(
            f"Day {day} would be in {len(inside)} boxes and takes {len(inside) * each} pieces; {pieces} are good. "
            f"Leave {-(-(len(inside) * each - pieces) // each)} out."
        )
    return LaidOut(
        day=day,
        boxes=boxes,
        inside=inside,
        without=tuple(number for number in range(1, boxes + 1) if number not in inside),
    )


def runs(numbers: frozenset[int]) -> str:
    """Numbers as one says them: 1-3, 7, 9-10."""
    parts: list[tuple[int, int]] = []
    for number in sorted(numbers):
        if parts and parts[-1][1] == number - 1:
            parts[-1] = (parts[-1][0], number)
        else:
            parts.append((number, number))
    return ", ".join(str(low) if low == high else f"{low}-{high}" for low, high in parts)


@dataclass(frozen=True, kw_only=True)
class Leftovers:
    """What counting after packing tells. `off` is by day counted minus (good minus packed), days that are 0 left out."""

    off: Mapping[int, int] = field(default_factory=dict)
    swapped: tuple[int, int] | None = None

    @property
    def right(self) -> bool:
        return not self.off

    @property
    def words(self) -> str:
        if self.right:
            return "Every day leaves what it should: all boxes are right."
        if self.swapped is not None:
            left_over, short = self.swapped
            return (
                f"Day {left_over} leaves one more than it should and day {short} one less: one box has day {short} "
                f"where day {left_over} belongs."
            )
        listed = ", ".join(f"day {day} {_signed(off)}" for day, off in sorted(self.off.items()))
        return f"These leave more or less than they should: {listed}. Count them again before opening boxes."


def check_leftovers(
    *, good: Mapping[int, int], packed: Mapping[int, int], counted: Mapping[int, int]
) -> Leftovers:
    """Whether what lies there after packing is what has to. By day; a day that is not counted is taken as 0.

    Exactly one day with one too many and one with one too few names the pair that was swapped.
    """
    days = good.keys() | packed.keys() | counted.keys()
    off = {
        day: difference
        for day in sorted(days)
        if (difference := counted.get(day, 0) - (good.get(day, 0) - packed.get(day, 0)))
    }
    swapped = None
    if sorted(off.values()) == [-1, 1]:
        more = next(day for day, difference in off.items() if difference == 1)
        less = next(day for day, difference in off.items() if difference == -1)
        swapped = (more, less)
    return Leftovers(off=off, swapped=swapped)


def _signed(number: int) -> str:
    return f"+{number}" if number > 0 else f"−{-number}"
