"""What each box may have of what is there, and how boxes draw on lots in a sheet."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from inventory.allocation.sheet import Sheet
from inventory.allocation.wants import Box, Kind, Lot, Month

Pot = tuple[str, str]
Lots = frozenset[int]
"""Lots by their number in the month."""


@dataclass(frozen=True, slots=True)
class Need:
    """One slot of a box with the lots that may go into it."""

    box: Box
    slot: int
    pieces: int
    lots: Lots

    @property
    def same_pot(self) -> bool:
        return self.box.same_pot and self.pieces > 1


class Stock:
    """The month's lots by number, and which of them each slot may have."""

    def __init__(self, month: Month) -> None:
        self.month = month
        self.lots: tuple[Lot, ...] = month.lots
        self.number = {lot.id: at for at, lot in enumerate(month.lots)}
        self.can_give = [min(lot.can_give, month.can_use[lot.kind]) for lot in month.lots]
        kinds: defaultdict[Kind, set[int]] = defaultdict(set)
        pots: defaultdict[Pot, set[int]] = defaultdict(set)
        by_put_up: defaultdict[str, set[int]] = defaultdict(set)
        for at, lot in enumerate(month.lots):
            kinds[lot.kind].add(at)
            pots[lot.pot_or_own].add(at)
            by_put_up[lot.put_up].add(at)
        self.kinds: dict[Kind, Lots] = {kind: frozenset(at) for kind, at in kinds.items()}
        self.pots: dict[Pot, Lots] = {pot: frozenset(at) for pot, at in pots.items()}
        self._by_put_up = by_put_up
        self._forbidden: defaultdict[str, set[int]] = defaultdict(set)
        for box, key in month.forbidden:
            self._forbidden[box].add(self.number[key])
        self._parted: dict[tuple[Lots, bool], list[tuple[Kind, Pot | None, Lots]]] = {}

    def needs(self, box: Box) -> list[Need]:
        return [
            Need(box, number, slot.pieces, frozenset(self._may_have(box, number)))
            for number, slot in enumerate(box.slots)
        ]

    def _may_have(self, box: Box, slot: int) -> Iterable[int]:
        want = box.slots[slot]
        pinned = self.month.pinned.get((box.id, slot))
        forbidden = self._forbidden.get(box.id, ())
        for at in self._by_put_up.get(want.put_up, ()):
            lot = self.lots[at]
            if (
                self.can_give[at]
                and (want.colourways is None or lot.colourway in want.colourways)
                and lot.colourway not in box.had
                and at not in forbidden
                and not box.avoids_families & lot.families
                and not box.avoids_fibres & lot.fibres
                and (pinned is None or pinned == lot.id)
            ):
                yield at

    def parts(self, lots: Lots, *, by_pot: bool) -> list[tuple[Kind, Pot | None, Lots]]:
        """Lots parted by colourway and put-up, and by pot too if asked; in the order of the lots."""
        known = self._parted.get((lots, by_pot))
        if known is None:
            parted: defaultdict[tuple[Kind, Pot | None], set[int]] = defaultdict(set)
            for at in sorted(lots):
                lot = self.lots[at]
                parted[lot.kind, lot.pot_or_own if by_pot else None].add(at)
            known = [(kind, pot, frozenset(part)) for (kind, pot), part in parted.items()]
            self._parted[lots, by_pot] = known
        return known

    def fits_times(self, lots: Lots, pieces: int) -> int:
        """How often so many pieces of one kind can come from these lots, were nobody else there."""
        if not lots:
            return 0
        kind = self.lots[next(iter(lots))].kind
        return min(sum(self.can_give[at] for at in lots), self.month.can_use[kind]) // pieces


class Drawing:
    """Pieces drawn from lots in a sheet: who may have the same lots draws on them together."""

    def __init__(self, stock: Stock, sheet: Sheet) -> None:
        self.stock = stock
        self.sheet = sheet
        self.flows: dict[Lots, dict[int, int]] = {}
        self._rows: dict[Lots, int] = {}
        self._lot_rows = {at: sheet.row({}, high=free) for at, free in enumerate(stock.can_give)}
        self._kind_rows = {
            kind: sheet.row({}, high=stock.month.can_use[kind])
            for kind, lots in stock.kinds.items()
            if sum(stock.can_give[at] for at in lots) > stock.month.can_use[kind]
        }
        self._chunk_rows: dict[tuple[Lots, int], int] = {}

    def draw(self, column: int, lots: Lots, pieces: int) -> None:
        """Each one in the column takes so many pieces of these lots, which are of one kind."""
        row = self._rows.get(lots)
        if row is None:
            row = self._rows[lots] = self.sheet.row({}, 0, 0)
            self.flows[lots] = {}
            for at in sorted(lots):
                flow = self.sheet.column(0, self.stock.can_give[at], follows=True)
                self.sheet.add(row, flow, -1)
                self._take(flow, at)
                self.flows[lots][at] = flow
        self.sheet.add(row, column, pieces)

    def draw_lot(self, column: int, at: int) -> None:
        """Each one in the column takes a piece of this very lot."""
        self._take(column, at)

    def whole_parts(self, column: int, lots: Lots, pieces: int) -> None:
        """Each one in the column is so many pieces that stay together: of what is there, only so many wholes fit.

        It follows from the rest, and says it without fractions.
        """
        kind = self.stock.lots[next(iter(lots))].kind
        pots = {self.stock.lots[at].pot_or_own for at in lots}
        scope = self.stock.kinds[kind]
        if len(pots) == 1:
            scope &= self.stock.pots[pots.pop()]
        for size in range(2, pieces + 1):
            row = self._chunk_rows.get((scope, size))
            if row is None:
                row = self.sheet.row({}, high=self.stock.fits_times(scope, size))
                self._chunk_rows[scope, size] = row
            self.sheet.add(row, column, 1)

    def only_if_opened(self, at: int, opened: int, pieces: int) -> None:
        """This lot has so many pieces for each time it is opened, and none before."""
        row = self._lot_rows[at]
        self.sheet.add(row, opened, -pieces)
        self.sheet.row_high[row] = 0

    def given_of(self, kind: Kind) -> dict[int, int]:
        """The columns that sum up to all that is drawn of a kind in groups."""
        return {
            column: 1
            for flows in self.flows.values()
            for at, column in flows.items()
            if self.stock.lots[at].kind == kind
        }

    def _take(self, column: int, at: int) -> None:
        self.sheet.add(self._lot_rows[at], column, 1)
        if (row := self._kind_rows.get(self.stock.lots[at].kind)) is not None:
            self.sheet.add(row, column, 1)


class Left:
    """What the flows of a solved sheet hold, to be handed out piece by piece."""

    def __init__(self, drawing: Drawing, values: list[int]) -> None:
        self._left = {
            lots: {at: values[column] for at, column in flows.items() if values[column]}
            for lots, flows in drawing.flows.items()
        }

    def has(self, lots: Lots, at: int) -> bool:
        return self._left[lots].get(at, 0) > 0

    def take(self, lots: Lots, pieces: int, first: int | None = None) -> dict[int, int]:
        """So many pieces of these lots: of `first` as far as it goes, then of what has most left."""
        left, taken = self._left[lots], dict[int, int]()
        while pieces:
            at = first if first in left else max(left, key=lambda each: (left[each], -each))
            took = min(pieces, left[at])
            taken[at] = taken.get(at, 0) + took
            pieces -= took
            left[at] -= took
            if not left[at]:
                del left[at]
        return taken


def coupled(needs: list[Need], stock: Stock) -> bool:
    """Whether one slot of a person's says what another may have: different colourways, or one pot for both."""
    if any(need.box.different and len(need.box.slots) > 1 for need in needs):
        return True
    seen: set[Kind] = set()
    for need in needs:
        if need.box.same_pot:
            kinds = {stock.lots[at].kind for at in need.lots}
            if kinds & seen:
                return True
            seen |= kinds
    return False
