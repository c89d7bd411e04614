"""Pieces for one person that belong together: of one lot, else of lots that match by eye, else of as few as can be."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Generic, TypeVar

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Lying(Generic[T]):
    """So many free pieces of a lot in one place. `group` is the same for lots that match by eye; `what` is the caller's."""

    what: T
    lot: int
    place: int
    free: int
    group: int


Taken = list[tuple[Lying[T], int]]
"""Where pieces are taken from, and how many."""


def leaders(lots: Iterable[int], matches: Iterable[tuple[int, int]]) -> dict[int, int]:
    """By lot, one lot that stands for all of its group: whatever matches something matches all of its group."""
    leader = {lot: lot for lot in lots}

    def lead(lot: int) -> int:
        while leader[lot] != lot:
            lot = leader[lot]
        return lot

    for first, second in matches:
        leader.setdefault(first, first)
        leader.setdefault(second, second)
        leader[lead(first)] = lead(second)
    return {lot: lead(lot) for lot in leader}


def sets(rows: Sequence[Lying[T]], pieces: int) -> list[Taken[T]]:
    """Ways to take so many pieces, the best first; empty where fewer are free.

    One lot that is just enough comes first, larger ones after it, then lots that match by eye, then as few groups as can
    be. Each choice of lots comes once.
    """
    by_lot: dict[int, list[Lying[T]]] = {}
    by_group: dict[int, list[Lying[T]]] = {}
    for row in rows:
        by_lot.setdefault(row.lot, []).append(row)
        by_group.setdefault(row.group, []).append(row)
    found = [
        *_of_one(by_lot.values(), pieces),
        *_of_one(by_group.values(), pieces),
        *_of_few(by_group.values(), pieces),
    ]
    # The first set of each choice of lots; a dictionary keeps their order.
    first: dict[frozenset[int], Taken[T]] = {}
    for each in found:
        first.setdefault(frozenset(row.lot for row, _ in each), each)
    return list(first.values())


def _of_one(parts: Iterable[list[Lying[T]]], pieces: int) -> list[Taken[T]]:
    enough = [part for part in parts if _free(part) >= pieces]
    return [_take([part], pieces) for part in sorted(enough, key=lambda part: (_free(part), part[0].lot))]


def _of_few(groups: Iterable[list[Lying[T]]], pieces: int) -> list[Taken[T]]:
    """From the largest on, which takes the fewest; each next one leaves the largest so far out."""
    ordered = sorted(groups, key=lambda group: (-_free(group), group[0].lot))
    found = []
    for start in range(len(ordered)):
        rest = ordered[start:]
        if sum(_free(group) for group in rest) < pieces:
            break
        found.append(_take(rest, pieces))
    return found


def _take(groups: Iterable[list[Lying[T]]], pieces: int) -> Taken[T]:
    taken: Taken[T] = []
    for group in groups:
        # The largest lot of a group first, so that a set is of few lots.
        sizes: dict[int, int] = {}
        for row in group:
            sizes[row.lot] = sizes.get(row.lot, 0) + row.free
        for row in sorted(group, key=lambda row: (-sizes[row.lot], row.lot, row.place)):
            took = min(pieces, row.free)
            if took:
                taken.append((row, took))
                pieces -= took
    return taken


def _free(rows: Iterable[Lying[T]]) -> int:
    return sum(row.free for row in rows)
