"""The fewest pots whose dyeing would fill every box."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace

from inventory.allocation.filling import every_box, group_boxes
from inventory.allocation.greedy import First, by_hand
from inventory.allocation.rules import breaches
from inventory.allocation.sheet import Clock, Found, Impossible
from inventory.allocation.stock import Drawing, Stock
from inventory.allocation.wants import NOTHING, AllocationError, Kind, Lot, Month


class NotALoad(AllocationError):
    """A pot load that gives nothing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PotLoad:
    """A pot that could be dyed: so many good pieces of a colourway at a put-up, all of one pot."""

    id: str
    colourway: str
    put_up: str
    pieces: int
    families: frozenset[str] = NOTHING
    fibres: frozenset[str] = NOTHING


@dataclass(frozen=True, kw_only=True)
class PotsToDye:
    """Which loads to dye and how often. `at_least` bounds from below how few pots could do; `left_out` no load helps."""

    loads: tuple[tuple[PotLoad, int], ...]
    at_least: int
    left_out: tuple[str, ...]
    found: bool = True

    @property
    def pots(self) -> int:
        return sum(times for _, times in self.loads)

    @property
    def proven(self) -> bool:
        return self.found and self.at_least == self.pots

    def words(self, month: Month) -> str:
        """What to dye, as a sentence or two."""
        if not self.found:
            return "Time ran out before pots that fill every box were found."
        left = ""
        if self.left_out:
            boxes = "box" if len(self.left_out) == 1 else "boxes"
            left = f" No pot given here helps {boxes} {', '.join(month.name(box) for box in self.left_out)}."
        if not self.pots:
            return ("Nothing more need be dyed." if not self.left_out else "") + left
        listed = "; ".join(
            f"{times} {'pot' if times == 1 else 'pots'} of {month.kind((load.colourway, load.put_up))}, "
            f"{load.pieces} {'piece' if load.pieces == 1 else 'pieces'} each"
            for load, times in self.loads
        )
        what = "fill every box" if not self.left_out else "fill the others"
        sure = "Fewer do not." if self.proven else f"It may be that {self.at_least} would do; time ran out."
        return f"Dyed, these {what}: {listed}. {sure}{left}"


def fewest_pots(month: Month, loads: Sequence[PotLoad], *, seconds: float | None = None) -> PotsToDye:
    """The fewest pots of these loads, each as often as need be, with which every box can be filled.

    What is there may go to other boxes than it does now; pins and forbids hold, spares stay. Raises NotALoad.
    """
    for load in loads:
        if load.pieces < 1:
            raise NotALoad(f"A pot of {month.name(load.colourway)} has to give at least one piece.")
    clock = Clock(seconds)
    wanted = sum(box.pieces for box in month.boxes)
    enough = [
        -(-(wanted + month.spares.get((load.colourway, load.put_up), 0)) // load.pieces) for load in loads
    ]
    together = _Question(month, loads, clock, [1] * len(loads), enough)
    answer = together.answer()
    if not loads or not answer.found or not any(box.same_pot for box in month.boxes):
        return answer
    if answer.proven and _holds_pot_by_pot(month, answer):
        return answer
    # Seen as one pot however often it is dyed, a load is too good for who asked for one pot; then pot by pot. As long
    # as there are as many of each as come out in all, more of one would not make it fewer.
    most = max(1, answer.pots)
    while True:
        one_by_one = _Question(month, loads, clock, [most] * len(loads), [1] * len(loads))
        parted = one_by_one.answer()
        if not parted.found or not parted.proven:
            return replace(parted, at_least=min(answer.at_least, parted.at_least))
        if parted.pots <= most and (one_by_one.serves_all_it_can(parted) or most >= max(enough)):
            return parted
        most = min(max(parted.pots, most * 2), max(enough))


def _holds_pot_by_pot(month: Month, answer: PotsToDye) -> bool:
    """Whether the quick way already fills as many boxes from these very pots, each a pot of its own."""
    pots = tuple(
        Lot(
            id=f"to dye {number} {copy} {load.id}",
            colourway=load.colourway,
            put_up=load.put_up,
            free=load.pieces,
            families=load.families,
            fibres=load.fibres,
        )
        for number, (load, times) in enumerate(answer.loads)
        for copy in range(times)
    )
    dyed = replace(month, lots=month.lots + pots, earlier=())
    for first in (First.MOST, First.OLDEST):
        pieces = by_hand(Stock(dyed), first)
        filled = {piece.box for piece in pieces}
        if len(filled) == len(month.boxes) - len(answer.left_out) and not breaches(dyed, pieces):
            return True
    return False


class _Question:
    """One sheet: what is there, and loads as lots that have pieces once they are opened."""

    def __init__(
        self,
        month: Month,
        loads: Sequence[PotLoad],
        clock: Clock,
        copies: Sequence[int],
        times: Sequence[int],
    ) -> None:
        self.month, self.loads, self.clock = month, loads, clock
        more: list[Lot] = []
        self._load_of: list[int] = []
        for number, load in enumerate(loads):
            for copy in range(copies[number]):
                more.append(
                    Lot(
                        id=f"to dye {number} {copy} {load.id}",
                        colourway=load.colourway,
                        put_up=load.put_up,
                        free=load.pieces * times[number],
                        families=load.families,
                        fibres=load.fibres,
                    )
                )
                self._load_of.append(number)
        # The pieces to come are not there yet to be spares; `_spares` sees to those.
        self.stock = Stock(replace(month, lots=month.lots + tuple(more), spares={}, earlier=()))
        self.groups = group_boxes(self.stock)
        self.sheet, drawing = every_box(self.stock, self.groups)
        self.opened = [
            self._open(drawing, len(month.lots) + at, times[number], loads[number].pieces)
            for at, number in enumerate(self._load_of)
        ]
        for at in range(1, len(self.opened)):
            if self._load_of[at] == self._load_of[at - 1]:
                self.sheet.row({self.opened[at]: 1, self.opened[at - 1]: -1}, high=0)
        self._spares(drawing)

    def _open(self, drawing: Drawing, at: int, times: int, pieces: int) -> int:
        opened = self.sheet.column(0, times)
        drawing.only_if_opened(at, opened, pieces)
        return opened

    def _spares(self, drawing: Drawing) -> None:
        """What is given of a kind is what is there and opened, less the spares; nothing given needs no spares."""
        there: defaultdict[Kind, int] = defaultdict(int)
        for lot in self.month.lots:
            there[lot.kind] += lot.can_give
        for kind, spares in self.month.spares.items():
            if kind not in self.stock.kinds or not spares:
                continue
            given = drawing.given_of(kind)
            opened = {
                column: -self.loads[number].pieces
                for column, number in zip(self.opened, self._load_of, strict=True)
                if (self.loads[number].colourway, self.loads[number].put_up) == kind
            }
            none = self.sheet.column(0, 1)
            room = there[kind] - spares
            self.sheet.row({**given, **opened, none: min(0, room)}, high=room)
            most = sum(self.stock.can_give[at] for at in self.stock.kinds[kind])
            self.sheet.row({**given, none: most}, high=most)

    def answer(self) -> PotsToDye:
        boxes = {group.column: 1 for group in self.groups}
        try:
            filled = self.sheet.best(boxes, self.clock)
            if filled.values is None or not filled.proven:
                return PotsToDye(loads=(), at_least=0, left_out=(), found=False)
            self.sheet.row(boxes, filled.worth, filled.worth)
            found = self.sheet.best(dict.fromkeys(self.opened, -1), self.clock, filled.values)
        except Impossible:
            return PotsToDye(loads=(), at_least=0, left_out=(), found=False)
        assert found.values is not None
        return self._said(found)

    def serves_all_it_can(self, answer: PotsToDye) -> bool:
        """Whether only boxes are left out that no number of pots would fill."""
        return len(answer.left_out) == len(self.month.boxes) - sum(len(group.boxes) for group in self.groups)

    def _said(self, found: Found) -> PotsToDye:
        values = found.values or []
        often: defaultdict[int, int] = defaultdict(int)
        for column, number in zip(self.opened, self._load_of, strict=True):
            often[number] += values[column]
        filled = {box.id for group in self.groups for box in group.boxes[: values[group.column]]}
        return PotsToDye(
            loads=tuple((self.loads[number], times) for number, times in sorted(often.items()) if times),
            at_least=-found.most,
            left_out=tuple(box.id for box in self.month.in_order if box.id not in filled),
        )
