"""Which lots the filled boxes get: fewest pots a person, then liking, then luck, then what they had before.

People who want the same are counted together. A person's pieces come in parts, each of one pot: a part of one piece
may come from any pot, a larger one is drawn from its own. A person with parts of 2 and 1 has two pots, or one if both
turn out to be of the same, which costs nothing to allow since one part of 3 is there to be chosen.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from functools import cache

from inventory.allocation.answers import Aim, Progress
from inventory.allocation.rules import liking
from inventory.allocation.sheet import Clock, Sheet
from inventory.allocation.stock import Drawing, Left, Lots, Need, Pot, Stock, coupled
from inventory.allocation.wants import Box, Kind, Piece

# A dozen pieces fall into parts in 77 ways; from there on a person is reckoned alone.
MOST_IN_PARTS = 12
AIMS = (Aim.POTS, Aim.LIKED, Aim.LUCK, Aim.KEPT)
NEXT = {
    Aim.POTS: "How few pots a person",
    Aim.LIKED: "What people like",
    Aim.LUCK: "Who came off worse before",
    Aim.KEPT: "What can stay as it was",
}


Hand = Callable[[Need, dict[int, int]], None]


@dataclass(frozen=True, kw_only=True)
class Giving:
    """Pieces for the filled boxes; `short_of_best` has by aim how far it may be off. `pieces` None: none found in time."""

    pieces: tuple[Piece, ...] | None
    short_of_best: dict[Aim, int]


@dataclass(eq=False)
class _Alike:
    """People who want the same with the same likes: the needs of each, and the columns of their sheet."""

    people: list[list[Need]] = field(default_factory=list)
    earlier: int | None = None
    parts: dict[tuple[Kind, tuple[int, ...]], int] = field(default_factory=dict)
    chunks: dict[tuple[Kind, int], list[tuple[int, Lots]]] = field(default_factory=dict)
    pairs: list[tuple[int, Lots, Lots]] = field(default_factory=list)
    singles: tuple[list[tuple[int, Lots]], list[tuple[int, Lots]]] = field(default_factory=lambda: ([], []))
    lots: dict[tuple[int, int], int] = field(default_factory=dict)


@cache
def _partitions(pieces: int, most: int | None = None) -> tuple[tuple[int, ...], ...]:
    """The ways to part so many pieces, largest part first: 3 is (3,), (2, 1) and (1, 1, 1)."""
    if not pieces:
        return ((),)
    return tuple(
        (first, *rest)
        for first in range(min(pieces, most or pieces), 0, -1)
        for rest in _partitions(pieces - first, first)
    )


class _Desk:
    """The sheet with everybody's columns, and the aims over them."""

    def __init__(self, stock: Stock, boxes: Iterable[Box]) -> None:
        self.stock = stock
        self.sheet = Sheet(on_the_face=True)
        self.drawing = Drawing(stock, self.sheet)
        self.aims: dict[Aim, Counter[int]] = {aim: Counter() for aim in AIMS}
        self.before: defaultdict[tuple[str, int], Counter[int]] = defaultdict(Counter)
        for piece in stock.month.earlier:
            if piece.lot in stock.number:
                self.before[piece.box, piece.slot][stock.number[piece.lot]] += piece.pieces
        self._kept: defaultdict[tuple[Lots, int], dict[int, int]] = defaultdict(dict)
        self.one: list[_Alike] = []
        self.several: list[_Alike] = []
        self.two: list[_Alike] = []
        self.alone: list[_Alike] = []
        self._sort_out(boxes)
        for alike in self.one:
            self._one_piece(alike)
        for alike in self.several:
            self._several_pieces(alike)
        for alike in self.two:
            self._two_pieces(alike)
        for alike in self.alone:
            self._alone(alike)
        for (lots, at), kept in self._kept.items():
            self.sheet.row({**kept, self.drawing.flows[lots][at]: -1}, high=0)

    def _sort_out(self, boxes: Iterable[Box]) -> None:
        by_member: defaultdict[str, list[Need]] = defaultdict(list)
        for box in boxes:
            by_member[box.member] += self.stock.needs(box)
        known: dict[object, _Alike] = {}
        for needs in by_member.values():
            pieces = [need.pieces for need in needs]
            had = [
                at
                for need in needs
                for at in self.before.get((need.box.id, need.slot), ())
                if at in need.lots
            ]
            if pieces == [1] and len(had) < 2:
                earlier = next(iter(had), None)
                key: object = (earlier, self._taste(needs[0]))
                pile = self.one
            elif had or coupled(needs, self.stock):
                earlier, key, pile = None, needs[0].box.member, self.alone
            elif pieces == [1, 1]:
                earlier, key, pile = None, tuple(self._taste(need) for need in needs), self.two
            elif len(pieces) == 1 and (pieces[0] <= MOST_IN_PARTS or needs[0].same_pot):
                earlier, key, pile = None, (pieces[0], needs[0].same_pot, self._taste(needs[0])), self.several
            else:
                earlier, key, pile = None, needs[0].box.member, self.alone
            # The piles ask different things of a key, so it is told which it belongs to.
            alike = known.get((id(pile), key))
            if alike is None:
                alike = known[id(pile), key] = _Alike(earlier=earlier)
                pile.append(alike)
            alike.people.append(needs)

    def _taste(self, need: Need) -> object:
        """What tells one who may have the same lots from another: points, and luck where points differ."""
        points = tuple(self._points(need, kind) for kind, _, _ in self.stock.parts(need.lots, by_pot=False))
        plain = len(set(points)) < 2
        return need.lots, None if plain else points, None if plain else need.box.luck

    def _points(self, need: Need, kind: Kind) -> int:
        return liking(need.box, self.stock.lots[next(iter(self.stock.kinds[kind]))])

    def _like(self, column: int, need: Need, kind: Kind, pieces: int) -> None:
        points = self._points(need, kind) * pieces
        if points:
            self.aims[Aim.LIKED][column] += points
            if need.box.luck:
                self.aims[Aim.LUCK][column] += points * need.box.luck

    def _one_piece(self, alike: _Alike) -> None:
        times, need = len(alike.people), alike.people[0][0]
        whole = self.sheet.row({}, times, times)
        for kind, _, lots in self.stock.parts(need.lots, by_pot=False):
            column = self.sheet.column(0, times, follows=True)
            self.sheet.add(whole, column, 1)
            self.drawing.draw(column, lots, 1)
            self._like(column, need, kind, 1)
            alike.singles[0].append((column, lots))
            if alike.earlier is not None and alike.earlier in lots:
                kept = self.sheet.column(0, times, follows=True)
                self.sheet.row({kept: 1, column: -1}, high=0)
                self._kept[lots, alike.earlier][kept] = 1
                self.aims[Aim.KEPT][kept] = 1

    def _several_pieces(self, alike: _Alike) -> None:
        times, need = len(alike.people), alike.people[0][0]
        whole = self.sheet.row({}, times, times)
        for kind, _, lots in self.stock.parts(need.lots, by_pot=False):
            pots = self.stock.parts(lots, by_pot=True)
            sizes: dict[int, int] = {}
            for size in range(2, need.pieces + 1):
                if need.same_pot and size != need.pieces:
                    continue
                chunks = []
                for _, _, of_pot in pots:
                    if fits := min(times * (need.pieces // size), self.stock.fits_times(of_pot, size)):
                        chunk = self.sheet.column(0, fits)
                        self.drawing.draw(chunk, of_pot, size)
                        self.drawing.whole_parts(chunk, of_pot, size)
                        chunks.append((chunk, of_pot))
                if chunks:
                    alike.chunks[kind, size] = chunks
                    sizes[size] = self.sheet.row({chunk: -1 for chunk, _ in chunks}, 0, 0)
            for parts in [(need.pieces,)] if need.same_pot else _partitions(need.pieces):
                if any(size > 1 and size not in sizes for size in parts):
                    continue
                column = self.sheet.column(0, times)
                self.sheet.add(whole, column, 1)
                for size, often in Counter(parts).items():
                    if size > 1:
                        self.sheet.add(sizes[size], column, often)
                    else:
                        self.drawing.draw(column, lots, often)
                if len(parts) > 1:
                    self.aims[Aim.POTS][column] = 1 - len(parts)
                self._like(column, need, kind, need.pieces)
                alike.parts[kind, parts] = column

    def _two_pieces(self, alike: _Alike) -> None:
        times, (one, other) = len(alike.people), alike.people[0]
        rows = [self.sheet.row({}, times, times) for _ in range(2)]
        of_pot: defaultdict[Pot | None, list[tuple[Kind, Lots]]] = defaultdict(list)
        for kind, pot, lots in self.stock.parts(other.lots, by_pot=True):
            of_pot[pot].append((kind, lots))
        for kind, pot, lots in self.stock.parts(one.lots, by_pot=True):
            for other_kind, other_lots in of_pot[pot]:
                fits = times
                if kind == other_kind:
                    fits = min(times, self.stock.fits_times(lots | other_lots, 2))
                if not fits:
                    continue
                column = self.sheet.column(0, fits)
                for row in rows:
                    self.sheet.add(row, column, 1)
                self.drawing.draw(column, lots, 1)
                self.drawing.draw(column, other_lots, 1)
                if kind == other_kind:
                    self.drawing.whole_parts(column, lots | other_lots, 2)
                self.aims[Aim.POTS][column] = 1
                self._like(column, one, kind, 1)
                self._like(column, other, other_kind, 1)
                alike.pairs.append((column, lots, other_lots))
        for need, row, singles in zip((one, other), rows, alike.singles, strict=True):
            for kind, _, lots in self.stock.parts(need.lots, by_pot=False):
                column = self.sheet.column(0, times, follows=True)
                self.sheet.add(row, column, 1)
                self.drawing.draw(column, lots, 1)
                self._like(column, need, kind, 1)
                singles.append((column, lots))

    def _alone(self, alike: _Alike) -> None:
        """A person whose slots hang together: lot by lot."""
        needs = alike.people[0]
        pots: dict[Pot, int] = {}
        one_pot: defaultdict[Kind, dict[Pot, int]] = defaultdict(dict)
        different: defaultdict[tuple[str, str], dict[int, int]] = defaultdict(dict)
        for number, need in enumerate(needs):
            whole = self.sheet.row({}, 1, 1)
            before = self.before.get((need.box.id, need.slot), Counter())
            uses_of: dict[Pot, int] = {}
            for kind, _, lots in self.stock.parts(need.lots, by_pot=False):
                chosen = self.sheet.column(0, 1)
                self.sheet.add(whole, chosen, 1)
                self._like(chosen, need, kind, need.pieces)
                if need.box.different:
                    different[need.box.id, kind[0]][chosen] = 1
                taken = self.sheet.row({chosen: -need.pieces}, 0, 0)
                for _, pot, of_pot in self.stock.parts(lots, by_pot=True):
                    assert pot is not None
                    used = pots.get(pot)
                    if used is None:
                        used = pots[pot] = self.sheet.column(0, 1)
                        self.aims[Aim.POTS][used] = -1
                    uses = uses_of.get(pot)
                    if uses is None:
                        uses = uses_of[pot] = self.sheet.row({used: -need.pieces}, high=0)
                    if need.box.same_pot:
                        only = one_pot[kind].get(pot)
                        if only is None:
                            only = one_pot[kind][pot] = self.sheet.column(0, 1)
                        uses_only = self.sheet.row({only: -need.pieces}, high=0)
                    for at in sorted(of_pot):
                        column = self.sheet.column(0, min(need.pieces, self.stock.can_give[at]), follows=True)
                        alike.lots[number, at] = column
                        self.sheet.add(taken, column, 1)
                        self.sheet.add(uses, column, 1)
                        if need.box.same_pot:
                            self.sheet.add(uses_only, column, 1)
                        self.drawing.draw_lot(column, at)
                        if before.get(at):
                            kept = self.sheet.column(0, before[at], follows=True)
                            self.sheet.row({kept: 1, column: -1}, high=0)
                            self.aims[Aim.KEPT][kept] = 1
        for only_one in one_pot.values():
            self.sheet.row(dict.fromkeys(only_one.values(), 1), high=1)
        for ways in different.values():
            self.sheet.row(ways, high=1)

    def pieces(self, values: list[int]) -> tuple[Piece, ...]:
        """Who gets which piece, person by person."""
        left = Left(self.drawing, values)
        given: list[Piece] = []

        def hand(need: Need, taken: dict[int, int]) -> None:
            given.extend(
                Piece(need.box.id, need.slot, self.stock.lots[at].id, pieces) for at, pieces in taken.items()
            )

        self._hand_out_singles(values, left, hand)
        for alike in self.several:
            self._hand_out_several(alike, values, left, hand)
        for alike in self.two:
            self._hand_out_two(alike, values, left, hand)
        for alike in self.alone:
            for (number, at), column in alike.lots.items():
                if values[column]:
                    hand(alike.people[0][number], {at: values[column]})
        return tuple(sorted(given))

    def _hand_out_singles(self, values: list[int], left: Left, hand: Hand) -> None:
        """To those with one piece; who can keep what they had before comes first."""
        others: list[tuple[Need, Lots]] = []
        for alike in self.one:
            pools = [lots for column, lots in alike.singles[0] for _ in range(values[column])]
            if alike.earlier is not None:
                pools.sort(key=lambda lots: alike.earlier not in lots)
            for (need,), lots in zip(alike.people, pools, strict=True):
                if alike.earlier is not None and left.has(lots, alike.earlier):
                    hand(need, left.take(lots, 1, alike.earlier))
                else:
                    others.append((need, lots))
        for need, lots in others:
            hand(need, left.take(lots, 1))

    def _hand_out_two(self, alike: _Alike, values: list[int], left: Left, hand: Hand) -> None:
        people = iter(alike.people)
        for column, lots, other_lots in alike.pairs:
            for _ in range(values[column]):
                one, other = next(people)
                hand(one, left.take(lots, 1))
                hand(other, left.take(other_lots, 1))
        for turn, needs in enumerate(zip(*people, strict=True)):
            pools = [lots for column, lots in alike.singles[turn] for _ in range(values[column])]
            for need, lots in zip(needs, pools, strict=True):
                hand(need, left.take(lots, 1))

    def _hand_out_several(self, alike: _Alike, values: list[int], left: Left, hand: Hand) -> None:
        people = iter(alike.people)
        chunks = {
            key: iter([lots for column, lots in columns for _ in range(values[column])])
            for key, columns in alike.chunks.items()
        }
        # People stand in the order of their sign-up: who came first has the fewest pots.
        for (kind, parts), column in sorted(alike.parts.items(), key=lambda each: len(each[0][1])):
            for _ in range(values[column]):
                (need,) = next(people)
                for size in parts:
                    lots = next(chunks[kind, size]) if size > 1 else need.lots & self.stock.kinds[kind]
                    hand(need, left.take(lots, size))


def give(stock: Stock, boxes: Iterable[Box], clock: Clock) -> Iterator[Progress | Giving]:
    """Tells how far it is, and at last who gets what. All of the boxes must be fillable together."""
    desk = _Desk(stock, boxes)
    values: list[int] | None = None
    short: dict[Aim, int] = {}
    for step, aim in enumerate(AIMS, start=2):
        yield Progress(step, 6, NEXT[aim])
        if not desk.aims[aim] and values is not None:
            short[aim] = 0
            continue
        found = desk.sheet.best_and_hold(desk.aims[aim], clock, values)
        values = found.values
        if values is None:
            break
        short[aim] = found.most - found.worth
    yield Giving(pieces=None if values is None else desk.pieces(values), short_of_best=short)
