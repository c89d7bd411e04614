"""What comes out of giving out skeins: who gets which, how good it is term by term, and how far it may be off."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from inventory.allocation.wants import Piece


class Aim(StrEnum):
    """What is wanted, the most important first."""

    FILLED = "boxes filled"
    OLDEST = "oldest sign-up first"
    POTS = "fewest pots a person"
    LIKED = "what people like"
    LUCK = "who came off worse before"
    KEPT = "as given before"


@dataclass(frozen=True, slots=True, kw_only=True)
class Term:
    """One aim and how it came out.

    `value` counts boxes filled (FILLED), boxes filled in a row from the first (OLDEST), pots over all people (POTS),
    points (LIKED, LUCK) or pieces (KEPT). `best` is the best it could possibly be as far as is known, given the aims
    before it: the same as `value` where that was proved. For OLDEST the row is told, not the proof: `proven` has it.
    """

    aim: Aim
    value: int
    best: int
    proven: bool

    @property
    def words(self) -> str:
        """How it came out and how far it may be off, as a sentence."""
        how = _HOW[self.aim](self.value)
        if self.proven:
            return f"{how}."
        if self.aim is Aim.OLDEST:
            return f"{how}. Time ran out: somebody who signed up earlier may be left out for a later one."
        off = abs(self.best - self.value)
        return f"{how}. Time ran out: it may be {_OFF[self.aim](off)}."


def _many(number: int, one: str, more: str = "") -> str:
    return f"{number} {one if number == 1 else more or one + 's'}"


_HOW = {
    Aim.FILLED: lambda value: f"{_many(value, 'box', 'boxes')} filled",
    Aim.OLDEST: lambda value: (
        f"The first {value} sign-ups all have theirs" if value else "The oldest sign-up has nothing"
    ),
    Aim.POTS: lambda value: f"{_many(value, 'pot')} in all, counted person by person",
    Aim.LIKED: lambda value: f"{_many(value, 'point')} of liking",
    Aim.LUCK: lambda value: f"{_many(value, 'point')} for who came off worse before",
    Aim.KEPT: lambda value: f"{_many(value, 'piece')} as given before",
}
_OFF = {
    Aim.FILLED: lambda off: f"up to {_many(off, 'box', 'boxes')} short of the most",
    Aim.POTS: lambda off: f"up to {_many(off, 'pot')} more than need be",
    Aim.LIKED: lambda off: f"up to {_many(off, 'point')} below the best",
    Aim.LUCK: lambda off: f"up to {_many(off, 'point')} below the best",
    Aim.KEPT: lambda off: f"up to {_many(off, 'piece')} could have stayed that moved",
}


@dataclass(frozen=True, kw_only=True)
class Answer:
    """Who gets what. `pieces` are sorted; `terms` stand in the order of `Aim`."""

    pieces: tuple[Piece, ...]
    filled: frozenset[str]
    terms: tuple[Term, ...]
    luck_next: Mapping[str, int]
    """By member: the luck to bring next time, which is this time's with what was missed of their liking on top; it is
    0 again for who got the best there was for them."""

    @property
    def proven(self) -> bool:
        return all(term.proven for term in self.terms)

    @property
    def standing(self) -> str:
        """Whether it is as good as can be, or what is open, in plain words."""
        if self.proven:
            return "It cannot be done better: each aim is as good as it can be, the more important first."
        return " ".join(term.words for term in self.terms if not term.proven)

    def term(self, aim: Aim) -> Term:
        return next(term for term in self.terms if term.aim is aim)

    def of_box(self, box: str) -> tuple[Piece, ...]:
        return tuple(piece for piece in self.pieces if piece.box == box)

    def of_lot(self, lot: str) -> tuple[Piece, ...]:
        return tuple(piece for piece in self.pieces if piece.lot == lot)


@dataclass(frozen=True, slots=True)
class Progress:
    """How far it is, told between two steps. `words` say what is done next."""

    done: int
    of: int
    words: str
