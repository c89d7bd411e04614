"""Which boxes are filled: as many as can be, and of those that is, the oldest sign-ups first.

Boxes that may have the same are counted together. "Oldest first" is meant strictly: a box is filled wherever that can
be done without taking one from an older box and without filling fewer in all.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field, replace

from inventory.allocation.answers import Progress
from inventory.allocation.greedy import by_hand
from inventory.allocation.rules import breaches
from inventory.allocation.sheet import Clock, Found, Impossible, Sheet
from inventory.allocation.stock import Drawing, Need, Pot, Stock, coupled
from inventory.allocation.wants import AllocationError, Box, Kind


class CannotPin(AllocationError):
    """Pins that a hard rule or the stock does not allow."""


@dataclass(frozen=True, kw_only=True)
class Filling:
    """Which boxes are filled; `most` bounds how many could be. `boxes` None: nothing was found in time."""

    boxes: tuple[Box, ...] | None
    most: int
    oldest_proven: bool


@dataclass(eq=False)
class _Group:
    """Boxes that may have the same. `coupled` ones stand alone."""

    needs: list[Need]
    coupled: bool
    boxes: list[Box] = field(default_factory=list)
    column: int = -1

    def asks_no_less_than(self, other: _Group) -> bool:
        """Whether whatever fills one of these would fill one of the others too."""
        if self is other:
            return not self.coupled
        if self.coupled or other.coupled or len(self.needs) > 1 or len(other.needs) > 1:
            return False
        (need,), (easier,) = self.needs, other.needs
        return (
            need.lots <= easier.lots
            and need.pieces >= easier.pieces
            and (need.same_pot or not easier.same_pot or easier.pieces == 1)
        )

    @property
    def one_piece(self) -> bool:
        """Whether a box is a single piece, and nobody's business but its own."""
        return not self.coupled and len(self.needs) == 1 and self.needs[0].pieces == 1


def fill(stock: Stock, clock: Clock) -> Iterator[Progress | Filling]:
    """Tells how far it is, and at last the filling. Raises CannotPin."""
    month = stock.month
    groups = group_boxes(stock)
    sheet, drawing = every_box(stock, groups)
    of_box = {box.id: group for group in groups for box in group.boxes}
    order = [box for box in month.in_order if box.id in of_box]
    if missing := {box for box, _ in month.pinned} - of_box.keys():
        raise CannotPin(
            f"Box {month.name(min(missing))} is pinned, and another of its slots cannot be filled."
        )
    all_of_them = {group.column: 1 for group in groups}
    yield Progress(0, 6, "How many boxes can be filled")
    given = by_hand(stock)
    if len({piece.box for piece in given}) == len(month.boxes) and not breaches(month, given):
        # There are no more than all.
        yield Filling(boxes=tuple(order), most=len(order), oldest_proven=True)
        return
    try:
        found = sheet.best(all_of_them, clock)
    except Impossible:
        raise CannotPin(_which_pins(stock)) from None
    if found.values is None:
        yield Filling(boxes=None, most=found.most, oldest_proven=False)
        return
    if found.worth == len(order):
        yield Filling(boxes=tuple(order), most=len(order), oldest_proven=True)
        return
    yield Progress(1, 6, "Who signed up first")
    for each in _oldest_first(sheet, drawing, groups, order, found, clock):
        if isinstance(each, Progress):
            yield each
        else:
            filled, proven = each
            yield Filling(boxes=tuple(filled), most=found.most, oldest_proven=proven)


def group_boxes(stock: Stock) -> list[_Group]:
    """Boxes that could be filled at all, those that may have the same together."""
    by_member: defaultdict[str, list[tuple[Box, list[Need]]]] = defaultdict(list)
    for box in stock.month.in_order:
        needs = stock.needs(box)
        if all(
            any(
                stock.fits_times(lots, need.pieces)
                for _, _, lots in stock.parts(need.lots, by_pot=need.same_pot)
            )
            for need in needs
        ):
            by_member[box.member].append((box, needs))
    pinned = {box for box, _ in stock.month.pinned}
    groups: dict[object, _Group] = {}
    for boxes in by_member.values():
        alone = coupled([need for _, needs in boxes for need in needs], stock)
        for box, needs in boxes:
            alike = tuple((need.pieces, need.same_pot, need.lots) for need in needs)
            key = (box.id,) if alone else (box.id in pinned, alike)
            groups.setdefault(key, _Group(needs, alone)).boxes.append(box)
    return list(groups.values())


def every_box(stock: Stock, groups: list[_Group], *, pinned: bool = True) -> tuple[Sheet, Drawing]:
    """A sheet where each group's column is how many of its boxes are filled, and how it draws on the lots."""
    sheet = Sheet()
    drawing = Drawing(stock, sheet)
    pins = {box for box, _ in stock.month.pinned} if pinned else set()
    # By person, colourway and put-up: the one pot of those who asked for one.
    one_pot: dict[tuple[str, Kind], dict[Pot, int]] = {}
    for group in groups:
        times = len(group.boxes)
        pinned_ones = sum(box.id in pins for box in group.boxes)
        group.column = sheet.column(pinned_ones, times, follows=group.one_piece)
        by_colourway: defaultdict[str, dict[int, int]] = defaultdict(dict)
        for need in group.needs:
            ways = sheet.row({group.column: -1}, 0, 0)
            together = need.same_pot or (group.coupled and need.box.same_pot)
            for kind, pot, lots in stock.parts(need.lots, by_pot=together):
                fits = min(times, stock.fits_times(lots, need.pieces))
                if not fits:
                    continue
                way = sheet.column(0, fits, follows=group.one_piece)
                sheet.add(ways, way, 1)
                drawing.draw(way, lots, need.pieces)
                drawing.whole_parts(way, lots, need.pieces)
                if group.coupled:
                    by_colourway[kind[0]][way] = 1
                    if pot is not None:
                        pots = one_pot.setdefault((need.box.member, kind), {})
                        chosen = pots.get(pot)
                        if chosen is None:
                            chosen = pots[pot] = sheet.column(0, 1)
                        sheet.row({way: 1, chosen: -1}, high=0)
        if group.coupled and group.boxes[0].different:
            for ways_of_it in by_colourway.values():
                sheet.row(ways_of_it, high=1)
    for pots in one_pot.values():
        sheet.row(dict.fromkeys(pots.values(), 1), high=1)
    return sheet, drawing


def _oldest_first(
    sheet: Sheet, drawing: Drawing, groups: list[_Group], order: list[Box], most: Found, clock: Clock
) -> Iterator[Progress | tuple[list[Box], bool]]:
    """The boxes that are filled, and whether nobody older could have been."""
    column: dict[str, int] = {}
    values = list(most.values or ())
    for group in groups:
        filled = values[group.column]
        row = sheet.row({group.column: -1}, 0, 0)
        for at, box in enumerate(group.boxes):
            column[box.id] = sheet.column(0, 1, follows=True)
            sheet.add(row, column[box.id], 1)
            values.append(1 if at < filled else 0)
    total = most.worth
    total_row = sheet.row({group.column: 1 for group in groups}, total, total)
    weights = {column[box.id]: len(order) - at for at, box in enumerate(order)}
    found = sheet.best(weights, clock, values)
    values = found.values or values
    if all(group.one_piece for group in groups):
        # One piece a box: what can be filled together is a matroid, where the heaviest set is the strictly oldest one.
        yield [box for box in order if values[column[box.id]]], found.proven
        return
    sheet.row_low[total_row] = 0
    walk = _Walk(sheet, drawing, groups, order, column, values)
    proven = True
    while proven and (open_one := walk.go_on()) is not None:
        yield Progress(1, 6, f"Who signed up first: {walk.at} of {len(order)} looked through")
        proven = not clock.up and walk.look_at(open_one, clock)
    yield [box for box in order if walk.values[column[box.id]]], proven


class _Walk:
    """From the oldest on: each box that is not filled is either proved to have to stay so, or filled after all."""

    def __init__(
        self,
        sheet: Sheet,
        drawing: Drawing,
        groups: list[_Group],
        order: list[Box],
        column: dict[str, int],
        values: list[int],
    ) -> None:
        self.drawing = drawing
        self._tried: set[tuple[str, int]] = set()
        self.sheet, self.order, self.column, self.values = sheet, order, column, values
        self._group_of = {box.id: group for group in groups for box in group.boxes}
        self._all_of_them = {group.column: 1 for group in groups}
        self.total = sum(values[group.column] for group in groups)
        self.at = self.given = 0
        self._hopeless: list[_Group] = []

    def go_on(self) -> Box | None:
        """Settle boxes up to the first open one, which is told; None where all are settled."""
        while self.at < len(self.order) and self.given < self.total:
            box = self.order[self.at]
            if self.values[self.column[box.id]]:
                self.sheet.lower[self.column[box.id]] = 1
                self.given += 1
            elif any(self._group_of[box.id].asks_no_less_than(other) for other in self._hopeless):
                self.sheet.upper[self.column[box.id]] = 0
            else:
                return box
            self.at += 1
        return None

    def look_at(self, box: Box, clock: Clock) -> bool:
        """Fill the box if that can be with all older ones as they are; False where time ran out first."""
        group = self._group_of[box.id]
        easier = self._easier_than_all_like(group)
        if easier is not None and self._most_with(easier.column, clock, easier.column).most < self.total:
            self._hopeless.append(easier)
            return True
        found = self._most_with(self.column[box.id], clock)
        if found.values is not None and found.worth == self.total:
            self.values = found.values
            return True
        if found.most >= self.total:
            return False
        self.sheet.upper[self.column[box.id]] = 0
        self._hopeless.append(group)
        self.at += 1
        return True

    def _most_with(self, column: int, clock: Clock, counts_too: int | None = None) -> Found:
        """The most boxes with this one among them.

        Whether there can be as many as before is the same question, and takes far longer to answer.
        """
        lower, upper = self.sheet.lower[column], self.sheet.upper[column]
        self.sheet.lower[column] = self.sheet.upper[column] = 1
        try:
            aim = self._all_of_them if counts_too is None else {**self._all_of_them, counts_too: 1}
            return self.sheet.best(aim, clock)
        except Impossible:
            return Found(None, 0, -1)
        finally:
            self.sheet.lower[column], self.sheet.upper[column] = lower, upper

    def _easier_than_all_like(self, group: _Group) -> _Group | None:
        """A box as none is, which any lot does that does for one of the open boxes that want at least as many pieces.

        If it cannot be filled, none of them can, and one search has told it of all.
        """
        if group.coupled or len(group.needs) > 1:
            return None
        (need,) = group.needs
        key = (need.box.slots[need.slot].put_up, need.pieces)
        if key in self._tried:
            return None
        self._tried.add(key)
        lots: set[int] = set()
        for box in self.order[self.at :]:
            other = self._group_of[box.id]
            if self.values[self.column[box.id]] or other.coupled or len(other.needs) > 1:
                continue
            if box.slots[0].put_up == key[0] and other.needs[0].pieces >= need.pieces:
                lots |= other.needs[0].lots
        if lots == need.lots:
            return None
        asks = Need(replace(need.box, same_pot=False), need.slot, need.pieces, frozenset(lots))
        easier = _Group([asks], coupled=False, column=self.sheet.column(0, 0))
        ways = self.sheet.row({easier.column: -1}, 0, 0)
        for _, _, of_kind in self.drawing.stock.parts(asks.lots, by_pot=False):
            way = self.sheet.column(0, 1)
            self.sheet.add(ways, way, 1)
            self.drawing.draw(way, of_kind, need.pieces)
            self.drawing.whole_parts(way, of_kind, need.pieces)
        return easier


def _which_pins(stock: Stock) -> str:
    """A sentence that names pinned boxes which cannot all be filled."""
    month = stock.month
    groups = group_boxes(stock)
    sheet, _ = every_box(stock, groups, pinned=False)
    pins = {box for box, _ in month.pinned}
    wanted = {group.column: 1 for group in groups if group.boxes[0].id in pins}
    found = sheet.best(wanted, Clock(None))
    left_out = [
        group.boxes[0].id
        for group in groups
        if group.column in wanted and (found.values is None or found.values[group.column] < len(group.boxes))
    ]
    named = " and ".join(month.name(each) for each in left_out[:3]) or "some of them"
    return f"The pins cannot all hold: with the others there is nothing that does for box {named}. Take a pin out."
