"""Giving out as it is done by hand: one box after the other, each from the pot that suits it.

Quick, and in the plain month already the best there is: `cannot_be_better` tells when, by arithmetic alone. Otherwise
it is what there is to show when time runs out.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from enum import Enum

from inventory.allocation.answers import Aim
from inventory.allocation.rules import liking, reckon
from inventory.allocation.stock import Lots, Need, Pot, Stock
from inventory.allocation.wants import Box, Kind, Piece


class _Hand:
    """What is left while giving, and what each person has so far."""

    def __init__(self, stock: Stock) -> None:
        self.stock = stock
        self.left = list(stock.can_give)
        self.left_of = dict(stock.month.can_use)
        self.pots: defaultdict[str, set[Pot]] = defaultdict(set)
        self.one_pot: dict[tuple[str, Kind], Pot] = {}
        self.wanted: Counter[str] = Counter()
        for box in stock.month.boxes:
            self.wanted[box.member] += box.pieces
        self.before: defaultdict[tuple[str, int], set[int]] = defaultdict(set)
        for piece in stock.month.earlier:
            if piece.lot in stock.number:
                self.before[piece.box, piece.slot].add(stock.number[piece.lot])

    def give(self, box: Box) -> list[Piece] | None:
        """The box's pieces, taken from what is left; None, and nothing taken, where it cannot be filled."""
        given: list[tuple[Need, dict[int, int]]] = []
        colourways: set[str] = set()
        bound: list[Kind] = []
        for need in sorted(self.stock.needs(box), key=lambda need: len(need.lots)):
            lots = need.lots
            if box.different:
                lots = frozenset(at for at in lots if self.stock.lots[at].colourway not in colourways)
            taken = self._suited(need, lots)
            if taken is None:
                for _, back in given:
                    for at, pieces in back.items():
                        self._move(at, -pieces)
                for kind in bound:
                    del self.one_pot[box.member, kind]
                return None
            for at, pieces in taken.items():
                lot = self.stock.lots[at]
                self._move(at, pieces)
                colourways.add(lot.colourway)
                if box.same_pot and (box.member, lot.kind) not in self.one_pot:
                    self.one_pot[box.member, lot.kind] = lot.pot_or_own
                    bound.append(lot.kind)
            given.append((need, taken))
        for _, taken in given:
            self.pots[box.member] |= {self.stock.lots[at].pot_or_own for at in taken}
        return [
            Piece(box.id, need.slot, self.stock.lots[at].id, pieces)
            for need, taken in given
            for at, pieces in taken.items()
        ]

    def _move(self, at: int, pieces: int) -> None:
        self.left[at] -= pieces
        self.left_of[self.stock.lots[at].kind] -= pieces

    def _suited(self, need: Need, lots: Lots) -> dict[int, int] | None:
        """Lots and pieces for one need: all of one pot if that can be, else of as few as can be."""
        box, best = need.box, None
        before = self.before.get((box.id, need.slot), frozenset[int]())
        for kind, pot, of_pot in self.stock.parts(lots, by_pot=True):
            there = min(sum(self.left[at] for at in of_pot), self.left_of[kind])
            if there < need.pieces or (
                box.same_pot and self.one_pot.get((box.member, kind), pot) not in (pot, None)
            ):
                continue
            points = liking(box, self.stock.lots[next(iter(of_pot))])
            rank = (
                pot not in self.pots[box.member],
                there < self.wanted[box.member],
                -points,
                not before & of_pot,
                there,
            )
            if best is None or rank < best[0]:
                best = (rank, of_pot)
        if best is not None:
            return self._taken(best[1], need.pieces, before)
        if box.same_pot:
            return None
        for _, _, of_kind in self.stock.parts(lots, by_pot=False):
            kind = self.stock.lots[next(iter(of_kind))].kind
            if min(sum(self.left[at] for at in of_kind), self.left_of[kind]) >= need.pieces:
                return self._taken(of_kind, need.pieces, before)
        return None

    def _taken(self, lots: Lots, pieces: int, before: Iterable[int]) -> dict[int, int]:
        taken: dict[int, int] = {}
        for at in sorted(lots, key=lambda each: (each not in before, -self.left[each], each)):
            if took := min(pieces, self.left[at]):
                taken[at] = took
                pieces -= took
        return taken


class First(Enum):
    """Whose turn it is after the pinned boxes; of equals the older."""

    OLDEST = 0
    MOST = -1
    FEWEST = 1


def by_hand(stock: Stock, first: First = First.OLDEST) -> tuple[Piece, ...]:
    """Box after box: the oldest first, or who wants most or fewest. A box that cannot be filled is left."""
    hand = _Hand(stock)
    pinned = {box for box, _ in stock.month.pinned}

    def turn(box: Box) -> tuple[bool, int]:
        return (box.id not in pinned, first.value * hand.wanted[box.member])

    return tuple(
        sorted(piece for box in sorted(stock.month.in_order, key=turn) for piece in hand.give(box) or ())
    )


def cannot_be_better(stock: Stock, pieces: Sequence[Piece]) -> bool:
    """Whether every aim is at a bound that needs no search: all filled, and nobody could have it better alone."""
    month = stock.month
    got = reckon(month, pieces)
    if got[Aim.FILLED] < len(month.boxes):
        return False
    by_member: defaultdict[str, list[Need]] = defaultdict(list)
    for box in month.boxes:
        by_member[box.member] += stock.needs(box)
    pots = sum(_fewest_pots(stock, needs) for needs in by_member.values())
    liked = luck = kept = 0
    before: defaultdict[tuple[str, int], Counter[str]] = defaultdict(Counter)
    for piece in month.earlier:
        before[piece.box, piece.slot][piece.lot] += piece.pieces
    for need in (need for needs in by_member.values() for need in needs):
        most = max(liking(need.box, stock.lots[at]) for at in need.lots) * need.pieces
        liked += most
        luck += most * need.box.luck
        may_keep = sum(
            times
            for key, times in before[need.box.id, need.slot].items()
            if stock.number.get(key) in need.lots
        )
        kept += min(need.pieces, may_keep)
    return (got[Aim.POTS], got[Aim.LIKED], got[Aim.LUCK], got[Aim.KEPT]) == (pots, liked, luck, kept)


def _fewest_pots(stock: Stock, needs: Sequence[Need]) -> int:
    """A number of pots that no choice goes below: one where one pot could do for all slots, else two."""
    common = frozenset.intersection(
        *(frozenset(stock.lots[at].pot_or_own for at in need.lots) for need in needs)
    )
    return 1 if common else 2
