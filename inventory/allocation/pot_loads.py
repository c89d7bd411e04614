"""Pieces of one colourway on one put-up, put into as few pots as can be."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from heapq import heapify, heapreplace
from math import ceil

from inventory.allocation.packing import pack_whole
from inventory.allocation.wanted import Kind, Want
from recipes.dyeing.working import Working

NO_DAY = dt.date.max


@dataclass(frozen=True, slots=True)
class Pot:
    """What a vessel takes at once: pieces of a put-up, with how that was reckoned."""

    vessel: str
    pieces: int
    working: Working


@dataclass(frozen=True, slots=True)
class Load:
    """One pot load: pieces that go in, the sets that it keeps whole, by when its good pieces are wanted, and for what."""

    kind: Kind
    number: int
    pieces: int
    sets: tuple[int, ...]
    due: dt.date | None
    wants: tuple[Want, ...]

    @property
    def key(self) -> str:
        """Names the load as long as the list is the same."""
        return f"{self.kind.colourway}-{self.kind.put_up}-{self.number}"


@dataclass(slots=True)
class Line:
    """A want that is being served: what is left of it, and which of its sets."""

    want: Want
    left: int
    sets: list[int]

    @property
    def singles(self) -> int:
        return self.left - sum(self.sets)


def pieces_to_dye(*, good: int, share: Fraction) -> int:
    """How many go into pots for so many good ones: of 100 of which 93 come out good, ⌈good ÷ 0.93⌉."""
    return ceil(good / share)


@dataclass(slots=True)
class _Filling:
    pieces: int
    sets: list[int]
    due: dt.date | None
    wants: list[Want]

    def add(self, want: Want, pieces: int, *, a_set: bool) -> None:
        self.pieces += pieces
        if a_set:
            self.sets.append(pieces)
        self.due = min(self.due or NO_DAY, want.due or NO_DAY)
        if want not in self.wants:
            self.wants.append(want)


def fill_pots(
    kind: Kind, lines: Sequence[Line], pieces: int, most: int, share: Fraction
) -> tuple[tuple[Load, ...], tuple[int, ...]]:
    """As few loads as possible that keep every set whole that fits, as alike as they can be, the soonest due in front."""
    sets = [(size, line.want) for line in lines for size in line.sets]
    too_large = tuple(size for size, _ in sets if size > most)
    # A set that no pot takes whole fills pots of its own, and what is left of it stays together.
    whole: list[tuple[int, Want]] = []
    for size, want in sets:
        while size > most:
            whole.append((most, want))
            size -= most
        if size:
            whole.append((size, want))
    bins = pack_whole([size for size, _ in whole], most=most)
    count = max(-(-pieces // most), len(bins))
    fillings = [_Filling(0, [], None, []) for _ in range(count)]
    for at, each in enumerate(bins):
        for index in each:
            size, want = whole[index]
            fillings[at].add(want, size, a_set=size > 1)
    fillings.sort(key=lambda filling: (filling.due or NO_DAY, -filling.pieces))
    room = _evened([filling.pieces for filling in fillings], pieces)
    at = 0
    for want, singles in _singles(lines, share):
        while singles:
            while not room[at]:
                at += 1
            put = min(singles, room[at])
            fillings[at].add(want, put, a_set=False)
            room[at] -= put
            singles -= put
    fillings.sort(key=lambda filling: (filling.due or NO_DAY, -filling.pieces))
    return (
        tuple(
            Load(
                kind,
                number,
                each.pieces,
                tuple(sorted(each.sets, reverse=True)),
                None if each.due == NO_DAY else each.due,
                tuple(each.wants),
            )
            for number, each in enumerate(fillings, start=1)
        ),
        too_large,
    )


def _evened(there: Sequence[int], pieces: int) -> list[int]:
    """How many pieces more go into each filling, so that all hold `pieces` together and are as alike as they can be."""
    levels = [(pieces_in, at) for at, pieces_in in enumerate(there)]
    heapify(levels)
    more = [0] * len(there)
    for _ in range(pieces - sum(there)):
        level, at = levels[0]
        more[at] += 1
        heapreplace(levels, (level + 1, at))
    return more


def _singles(lines: Sequence[Line], share: Fraction) -> list[tuple[Want, int]]:
    """The pieces beside the sets in the order of their days, each want with those that make up for what goes wrong."""
    singles: list[tuple[Want, int]] = []
    good = dyed = 0
    for line in lines:
        if not line.left:
            continue
        good += line.left
        so_far = pieces_to_dye(good=good, share=share)
        singles.append((line.want, so_far - dyed - sum(line.sets)))
        dyed = so_far
    return singles
