"""What is wanted and what is there: the words in which promises, lots and pots come to the dye list."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

#: How what is put by behind a promise is named; the promise's name follows.
SPARES = "spares"


@dataclass(frozen=True, slots=True, order=True)
class Kind:
    """What one pot is dyed to: a colourway on a put-up, by their ids. Colourway 0 is not chosen yet."""

    colourway: int
    put_up: int


@dataclass(frozen=True, slots=True)
class Want:
    """Good pieces that somebody is to get by a day, still to be found.

    `sets` are the sizes of those among the pieces that must be from one pot: a person's 3 skeins are (3,). `what` and
    `address` name the promise on the screen. `spares_percent` None takes what is usual.
    """

    kind: Kind
    pieces: int
    due: dt.date | None = None
    sets: tuple[int, ...] = ()
    what: str = ""
    address: str = ""
    spares_percent: int | None = None

    @property
    def is_spares(self) -> bool:
        """Whether nobody waits for it: it stands behind a promise."""
        return self.what.startswith(SPARES)


@dataclass(frozen=True, slots=True)
class PartOfKit:
    """One place in the order of a kit."""

    kind: Kind
    pieces: int = 1


@dataclass(frozen=True, slots=True)
class There:
    """Pieces that are there, or in work: `pieces` of one lot or pot, of a kind, by its code."""

    kind: Kind
    pieces: int
    code: str


@dataclass(frozen=True, slots=True)
class Spares:
    """What is dyed beyond the promises: a percent of them, rounded up, or a count for each colourway and put-up."""

    percent: int = 0
    pieces: int = 0


def explode(
    parts: Sequence[PartOfKit],
    *,
    kits: int,
    due: dt.date | None,
    what: str = "",
    address: str = "",
    spares_percent: int | None = None,
) -> list[Want]:
    """What so many of a kit want, part by part; parts of the same colourway and put-up are one want."""
    pieces: dict[Kind, int] = {}
    for part in parts:
        pieces[part.kind] = pieces.get(part.kind, 0) + part.pieces * kits
    return [
        Want(kind, count, due, what=what, address=address, spares_percent=spares_percent)
        for kind, count in pieces.items()
        if count
    ]
