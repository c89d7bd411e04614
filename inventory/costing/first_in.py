"""First in, first out, for yarn whose mill lot nobody knows: what is still there came in last."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, slots=True)
class CameIn:
    """Pieces that came in together: when, from where, by which movement, and what one costs in nano."""

    at: dt.datetime
    movement: int
    source: str
    line: int
    pieces: int
    nano: int
    guesses: tuple[str, ...]
    lacking: tuple[str, ...]

    def kept(self) -> list[Any]:
        """As plain JSON."""
        return [
            self.at.isoformat(),
            self.movement,
            self.source,
            self.line,
            self.pieces,
            self.nano,
            list(self.guesses),
            list(self.lacking),
        ]

    @classmethod
    def of(cls, row: Sequence[Any]) -> CameIn:
        at, movement, source, line, pieces, nano, guesses, lacking = row
        return cls(
            dt.datetime.fromisoformat(at),
            movement,
            source,
            line,
            pieces,
            nano,
            tuple(guesses),
            tuple(lacking),
        )


@dataclass(frozen=True, slots=True)
class FirstIn:
    """All that came in of one item of an unknown mill lot, the oldest first by when it came."""

    layers: tuple[CameIn, ...]

    @classmethod
    def of(cls, rows: Iterable[Sequence[Any]]) -> FirstIn:
        """From what was kept as plain JSON."""
        return cls(tuple(sorted(map(CameIn.of, rows), key=lambda layer: (layer.at, layer.line))))

    def worth(
        self, pieces: int, *, until: dt.datetime, last_movement: int | None = None
    ) -> tuple[int, tuple[str, ...], tuple[str, ...]]:
        """Nano of so many pieces that are left at a moment: those that came last until then. Guesses and lacks with it.

        Where more is left than came in by the books, the oldest price stands for the rest.
        """
        there = [
            layer
            for layer in self.layers
            if layer.at <= until and (last_movement is None or layer.movement <= last_movement)
        ] or list(self.layers[:1])
        nano, left = 0, pieces
        guesses: set[str] = {"mill lot"}
        lacking: set[str] = set()
        for layer in reversed(there):
            took = min(left, layer.pieces)
            if took <= 0:
                break
            nano, left = nano + took * layer.nano, left - took
            guesses |= set(layer.guesses)
            lacking |= set(layer.lacking)
        if left and there:
            nano += left * there[0].nano
            guesses.add("yarn")
        if not there:
            lacking.add("yarn")
        return nano, tuple(sorted(guesses)), tuple(sorted(lacking))
