"""Two boxes that exchange what is in them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from inventory.allocation.rules import breaches
from inventory.allocation.wants import AllocationError, Month, Piece, Pin


class CannotSwap(AllocationError):
    """An exchange that a hard rule does not allow."""


def swap(month: Month, pieces: Sequence[Piece], *, one: str, other: str) -> tuple[Piece, ...]:
    """The pieces with those of two boxes exchanged, slot by slot.

    Pins on the two boxes do not stand in the way: who exchanges them wants it so. Raises CannotSwap with the sentence.
    """
    for key in (one, other):
        if key not in month.box:
            raise CannotSwap(f"There is no box {month.name(key)} in this month. Choose one of its boxes.")
    if one == other:
        raise CannotSwap("A box cannot be exchanged with itself. Choose another one.")
    becomes = {one: other, other: one}
    for key in becomes:
        if not any(piece.box == key for piece in pieces):
            raise CannotSwap(f"Box {month.name(key)} is empty. Choose two boxes that are filled.")
    exchanged = tuple(
        sorted(replace(piece, box=becomes[piece.box]) if piece.box in becomes else piece for piece in pieces)
    )
    without_pins = replace(month, pins=tuple(pin for pin in month.pins if pin.box not in becomes))
    before = set(breaches(without_pins, pieces))
    if wrong := [each for each in breaches(without_pins, exchanged) if each not in before]:
        raise CannotSwap(f"These two cannot be exchanged. {wrong[0]}")
    return exchanged


def pins_of(pieces: Sequence[Piece], *boxes: str) -> tuple[Pin, ...]:
    """Pins that keep these boxes as they are, for slots that are of one lot."""
    lots: dict[tuple[str, int], set[str]] = {}
    for piece in pieces:
        if piece.box in boxes:
            lots.setdefault((piece.box, piece.slot), set()).add(piece.lot)
    return tuple(Pin(box=box, slot=slot, lot=min(of)) for (box, slot), of in lots.items() if len(of) == 1)
