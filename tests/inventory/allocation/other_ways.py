"""The same question asked in other ways: every possibility tried, and a plain model box by box and lot by lot."""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Iterator

import numpy as np
from scipy.optimize import LinearConstraint, milp

from inventory.allocation.answers import Aim
from inventory.allocation.rules import breaches, does, liking, reckon
from inventory.allocation.wants import Box, Month, Piece

Worth = tuple[int, tuple[bool, ...], int, int, int, int]


def worth(month: Month, pieces: tuple[Piece, ...]) -> Worth:
    """What a giving out is worth, the more the better, the more important first."""
    got = reckon(month, pieces)
    filled = {piece.box for piece in pieces}
    row = tuple(box.id in filled for box in month.in_order)
    return got[Aim.FILLED], row, -got[Aim.POTS], got[Aim.LIKED], got[Aim.LUCK], got[Aim.KEPT]


def by_trying(month: Month) -> Worth | None:
    """The best of everything that is possible; None where nothing keeps the rules."""
    ways = [((), *_ways(month, box)) for box in month.boxes]
    free = {lot.id: lot.can_give for lot in month.lots}
    found: list[Worth] = []

    def go_on(at: int, given: tuple[Piece, ...]) -> None:
        if at == len(ways):
            if not breaches(month, given):
                found.append(worth(month, given))
            return
        for way in ways[at]:
            used = Counter[str]()
            for piece in way:
                used[piece.lot] += piece.pieces
            if all(free[lot] >= pieces for lot, pieces in used.items()):
                for lot, pieces in used.items():
                    free[lot] -= pieces
                go_on(at + 1, given + way)
                for lot, pieces in used.items():
                    free[lot] += pieces

    go_on(0, ())
    return max(found, default=None)


def _ways(month: Month, box: Box) -> Iterator[tuple[Piece, ...]]:
    slots = []
    for number, slot in enumerate(box.slots):
        lots = does(month, box, number)
        of_slot = []
        for several in itertools.combinations_with_replacement(lots, slot.pieces):
            if len({lot.colourway for lot in several}) == 1:
                counted = Counter(lot.id for lot in several)
                of_slot.append(tuple(Piece(box.id, number, lot, times) for lot, times in counted.items()))
        slots.append(of_slot)
    for chosen in itertools.product(*slots):
        yield tuple(itertools.chain.from_iterable(chosen))


def plainly(month: Month) -> Worth:
    """By one model without any grouping: a number for each slot and lot, each aim held by a row."""
    costs: list[Counter[str]] = []
    upper: list[int] = []
    rows: list[dict[int, int]] = []
    lows: list[float] = []
    highs: list[float] = []

    def column(most: int, **cost: int) -> int:
        upper.append(most)
        costs.append(Counter(cost))
        return len(upper) - 1

    def row(terms: dict[int, int], low: float = -np.inf, high: float = np.inf) -> None:
        rows.append(terms)
        lows.append(low)
        highs.append(high)

    filled = {box.id: column(1, filled=1) for box in month.boxes}
    lots: dict[str, dict[int, int]] = {lot.id: {} for lot in month.lots}
    kinds: dict[object, dict[int, int]] = {lot.kind: {} for lot in month.lots}
    pots: dict[object, int] = {}
    only: dict[object, dict[object, int]] = {}
    before = Counter[tuple[str, int, str]]()
    for piece in month.earlier:
        before[piece.box, piece.slot, piece.lot] += piece.pieces
    for box in month.boxes:
        colourways: dict[str, dict[int, int]] = {}
        for number, slot in enumerate(box.slots):
            chosen: dict[str, int] = {}
            taken: dict[str, dict[int, int]] = {}
            for lot in does(month, box, number):
                points = liking(box, lot)
                of = column(slot.pieces, liked=points, luck=points * box.luck)
                if lot.colourway not in chosen:
                    chosen[lot.colourway] = column(1)
                    taken[lot.colourway] = {chosen[lot.colourway]: -slot.pieces}
                    colourways.setdefault(lot.colourway, {})[chosen[lot.colourway]] = 1
                taken[lot.colourway][of] = 1
                lots[lot.id][of] = kinds[lot.kind][of] = 1
                pot = (box.member, lot.pot_or_own)
                if pot not in pots:
                    pots[pot] = column(1, pots=-1)
                row({of: 1, pots[pot]: -slot.pieces}, high=0)
                if box.same_pot:
                    ones = only.setdefault((box.member, lot.kind), {})
                    if lot.pot_or_own not in ones:
                        ones[lot.pot_or_own] = column(1)
                    row({of: 1, ones[lot.pot_or_own]: -slot.pieces}, high=0)
                if had := before[box.id, number, lot.id]:
                    row({column(had, kept=1): 1, of: -1}, high=0)
            for each in taken.values():
                row(each, 0, 0)
            row({**dict.fromkeys(chosen.values(), 1), filled[box.id]: -1}, 0, 0)
        if box.different:
            for each in colourways.values():
                row(each, high=1)
    for lot in month.lots:
        row(lots[lot.id], high=lot.can_give)
    for kind, each in kinds.items():
        row(each, high=month.can_use[kind])
    for each in only.values():
        row(dict.fromkeys(each.values(), 1), high=1)
    for key, _ in month.pinned:
        row({filled[key]: 1}, 1, 1)

    def best(aim: dict[int, int]) -> int:
        matrix = np.zeros((len(rows), len(upper)))
        for at, terms in enumerate(rows):
            for each, factor in terms.items():
                matrix[at, each] = factor
        objective = np.zeros(len(upper))
        for each, factor in aim.items():
            objective[each] = -factor
        result = milp(
            objective,
            integrality=np.ones(len(upper)),
            bounds=(0, np.array(upper)),
            constraints=LinearConstraint(matrix, lows, highs),
            options={"mip_rel_gap": 0},
        )
        assert result.status == 0
        value = round(-result.fun)
        row(aim, low=value)
        return value

    def of(aim: str) -> dict[int, int]:
        return {at: cost[aim] for at, cost in enumerate(costs) if cost[aim]}

    if not upper:
        return 0, (), 0, 0, 0, 0
    most = best(of("filled"))
    row_of = tuple(bool(best({filled[box.id]: 1})) for box in month.in_order)
    return most, row_of, best(of("pots")), best(of("liked")), best(of("luck")), best(of("kept"))
