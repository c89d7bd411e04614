"""What goes into giving out skeins: boxes that want pieces, lots that have them, and what the dyer decided by hand.

Ids are the caller's own words; they are compared and nothing else. What reaches a sentence is looked up in
`Month.names` (a secret colourway's code name goes in there for who may not know), and is the id where no name is given.
Quantities are whole pieces.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import cached_property

NOTHING: frozenset[str] = frozenset()
MOST_PIECES_IN_A_SLOT = 60


class AllocationError(ValueError):
    """Something about the boxes, lots or decisions is amiss. Its text is a sentence for the screen."""


class NotClear(AllocationError):
    """The same thing is said twice in different ways, or something is spoken of that is not there."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Slot:
    """So many pieces of one colourway at one put-up of one base.

    `put_up` names the base at its put-up, as in "Harbour Sock, 100 g". `colourways` are the ones that will do, `None`
    is any. Several colourways in a box are several slots.
    """

    put_up: str
    pieces: int = 1
    colourways: frozenset[str] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Box:
    """One box of one person's. It is filled whole or not at all.

    `order` is the place in the sign-up, smaller came first; where two are alike the higher `luck` goes first, then the
    box that is listed first. `had` are the colourways of the last months that may not come again. `same_pot` asks that
    all pieces of one colourway at one put-up come from one pot, in all of this person's boxes that ask it; lots that
    match by eye are one pot. `different` asks for another colourway in each slot. `likes` are points by colourway and
    `liked_families` a point each, both by piece. `luck` says how much worse than could be this person came off before
    (0 is not at all; `luck_next` of the answer gives the next). `ship_together` changes nothing in who gets what: an
    unfilled box then says which of the person's boxes wait for it.
    """

    id: str
    member: str
    order: int
    slots: tuple[Slot, ...]
    avoids_fibres: frozenset[str] = NOTHING
    avoids_families: frozenset[str] = NOTHING
    had: frozenset[str] = NOTHING
    same_pot: bool = False
    different: bool = False
    ship_together: bool = True
    likes: Mapping[str, int] = field(default_factory=dict, hash=False)
    liked_families: frozenset[str] = NOTHING
    luck: int = 0

    @property
    def pieces(self) -> int:
        return sum(slot.pieces for slot in self.slots)


@dataclass(frozen=True, slots=True, kw_only=True)
class Lot:
    """Free pieces of one lot. What an earlier answer gave to these boxes counts as free.

    A dye lot on two bases is two of these, with one `pot`. `pot` is the same for lots that match by eye; empty is a pot
    of its own. A one-off is given once, however many pieces are said to be free.
    """

    id: str
    colourway: str
    put_up: str
    free: int
    pot: str = ""
    families: frozenset[str] = NOTHING
    fibres: frozenset[str] = NOTHING
    one_off: bool = False

    @property
    def pot_or_own(self) -> tuple[str, str]:
        """The pot, never taken for a lot's id."""
        return ("pot", self.pot) if self.pot else ("lot", self.id)

    @property
    def kind(self) -> Kind:
        return (self.colourway, self.put_up)

    @property
    def can_give(self) -> int:
        return min(self.free, 1) if self.one_off else self.free


Kind = tuple[str, str]
"""A colourway at a put-up."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pin:
    """This slot of the box has all its pieces from this lot, and the box is filled."""

    box: str
    slot: int
    lot: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Forbid:
    """Nothing of this lot goes into this box."""

    box: str
    lot: str


@dataclass(frozen=True, slots=True, order=True)
class Piece:
    """So many pieces of a lot for a slot (counted from 0) of a box."""

    box: str
    slot: int
    lot: str
    pieces: int = 1


@dataclass(frozen=True, kw_only=True)
class Month:
    """Everything that one giving out looks at. Making one refuses what is not clear, with a sentence.

    `spares` are the pieces to keep by colourway and put-up, over all lots together. `earlier` is what was given or held
    before: among answers that are equally good, the one that moves least is taken.
    """

    boxes: tuple[Box, ...]
    lots: tuple[Lot, ...]
    spares: Mapping[Kind, int] = field(default_factory=dict)
    pins: tuple[Pin, ...] = ()
    forbids: tuple[Forbid, ...] = ()
    earlier: tuple[Piece, ...] = ()
    months: int = 6
    names: Mapping[str, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        _refuse_twice((box.id for box in self.boxes), "box", self)
        _refuse_twice((lot.id for lot in self.lots), "lot", self)
        for box in self.boxes:
            if not box.slots:
                raise NotClear(f"Box {self.name(box.id)} wants nothing. Say what goes into it.")
            for slot in box.slots:
                if not 1 <= slot.pieces <= MOST_PIECES_IN_A_SLOT:
                    raise NotClear(
                        f"Box {self.name(box.id)} wants {slot.pieces} pieces of one colourway. "
                        f"From 1 to {MOST_PIECES_IN_A_SLOT} can be given."
                    )
            if box.luck < 0:
                raise NotClear(f"The luck of box {self.name(box.id)} is below 0. The least is 0.")
        families: dict[str, frozenset[str]] = {}
        fibres: dict[str, frozenset[str]] = {}
        for lot in self.lots:
            if lot.free < 0:
                raise NotClear(f"Lot {self.name(lot.id)} has {lot.free} pieces free. The least is 0.")
            if families.setdefault(lot.colourway, lot.families) != lot.families:
                raise NotClear(f"{self.name(lot.colourway)} is said to be of two sets of colour families.")
            if fibres.setdefault(lot.put_up, lot.fibres) != lot.fibres:
                raise NotClear(f"{self.name(lot.put_up)} is said to be of two sets of fibres.")
        for kept, pieces in self.spares.items():
            if pieces < 0:
                raise NotClear(f"{pieces} spares of {self.kind(kept)} cannot be kept. The least is 0.")
        pinned: set[tuple[str, int]] = set()
        for pin in self.pins:
            box = self._known_box(pin.box)
            self._known_lot(pin.lot)
            if not 0 <= pin.slot < len(box.slots):
                raise NotClear(f"Box {self.name(pin.box)} has no slot {pin.slot + 1}.")
            if (pin.box, pin.slot) in pinned:
                raise NotClear(f"A slot of box {self.name(pin.box)} is pinned twice. Take one pin out.")
            pinned.add((pin.box, pin.slot))
        for forbid in self.forbids:
            self._known_box(forbid.box)
            self._known_lot(forbid.lot)

    @cached_property
    def box(self) -> dict[str, Box]:
        return {box.id: box for box in self.boxes}

    @cached_property
    def lot(self) -> dict[str, Lot]:
        return {lot.id: lot for lot in self.lots}

    @cached_property
    def forbidden(self) -> frozenset[tuple[str, str]]:
        return frozenset((forbid.box, forbid.lot) for forbid in self.forbids)

    @cached_property
    def pinned(self) -> dict[tuple[str, int], str]:
        return {(pin.box, pin.slot): pin.lot for pin in self.pins}

    @cached_property
    def in_order(self) -> tuple[Box, ...]:
        """Boxes as they come first: by sign-up, then who came off worse before, then as listed."""
        return tuple(sorted(self.boxes, key=lambda box: (box.order, -box.luck)))

    @cached_property
    def can_use(self) -> dict[Kind, int]:
        """Pieces that may be given by colourway and put-up: what is free less the spares."""
        free: Counter[Kind] = Counter()
        for lot in self.lots:
            free[lot.kind] += lot.can_give
        return {kind: max(0, pieces - self.spares.get(kind, 0)) for kind, pieces in free.items()}

    def name(self, key: str) -> str:
        return self.names.get(key, key)

    def kind(self, kind: Kind) -> str:
        """A colourway at a put-up, in words."""
        return f"{self.name(kind[0])} on {self.name(kind[1])}"

    def _known_box(self, key: str) -> Box:
        if key not in self.box:
            raise NotClear(f"There is no box {self.name(key)} in this month. Choose one of its boxes.")
        return self.box[key]

    def _known_lot(self, key: str) -> Lot:
        if key not in self.lot:
            raise NotClear(f"There is no lot {self.name(key)} in this month. Choose one of its lots.")
        return self.lot[key]


def _refuse_twice(keys: Iterable[str], word: str, month: Month) -> None:
    for key, times in Counter(keys).items():
        if times > 1:
            raise NotClear(f"There are {times} of one {word}, {month.name(key)}. Each is said once.")
