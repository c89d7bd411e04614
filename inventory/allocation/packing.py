"""Sets that must stay whole, packed into as few pots as possible.

This is bin packing. First fit in falling order is tried first; where it may not be the best, a search over the sizes finds
the fewest pots, or gives up after so many steps and keeps what was found.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

MOST_STEPS = 20_000


def pack_whole(sizes: Sequence[int], *, most: int) -> list[list[int]]:
    """Places of `sizes` by pot, each pot with at most `most` pieces. Every size is from 1 to `most`."""
    order = sorted(range(len(sizes)), key=lambda at: (-sizes[at], at))
    found = _first_fit([sizes[at] for at in order], most)
    if len(found) > at_least(sizes, most=most):
        found = _fewest([sizes[at] for at in order], most, found)
    return [[order[at] for at in pot] for pot in found]


def at_least(sizes: Sequence[int], *, most: int) -> int:
    """Pots that no packing does without: for all the pieces, and one for each set of more than half a pot."""
    halves = sum(1 for size in sizes if size * 2 > most)
    return max(-(-sum(sizes) // most), halves)


def _first_fit(sizes: Sequence[int], most: int) -> list[list[int]]:
    pots: list[list[int]] = []
    room: list[int] = []
    for at, size in enumerate(sizes):
        fits = next((pot for pot, left in enumerate(room) if left >= size), None)
        if fits is None:
            pots.append([at])
            room.append(most - size)
        else:
            pots[fits].append(at)
            room[fits] -= size
    return pots


@dataclass(slots=True)
class _Search:
    steps: int = 0


def _fewest(sizes: Sequence[int], most: int, found: list[list[int]]) -> list[list[int]]:
    """Try one pot fewer, again and again, until that is shown to be impossible or the steps are used up."""
    search = _Search()
    while len(found) > at_least(sizes, most=most):
        room = [most] * (len(found) - 1)
        pots: list[list[int]] = [[] for _ in room]
        if not _place(0, sizes, room, pots, search):
            break
        found = pots
    return found


def _place(at: int, sizes: Sequence[int], room: list[int], pots: list[list[int]], search: _Search) -> bool:
    if at == len(sizes):
        return True
    tried = set()
    for pot, left in enumerate(room):
        if left < sizes[at] or left in tried:
            continue
        tried.add(left)
        search.steps += 1
        if search.steps > MOST_STEPS:
            return False
        room[pot] -= sizes[at]
        pots[pot].append(at)
        if _place(at + 1, sizes, room, pots, search):
            return True
        room[pot] += sizes[at]
        pots[pot].pop()
    return False
