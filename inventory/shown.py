"""What is shown: how many pieces of a colourway on a put-up are offered outside the house, as somebody said.

It is a count of its own and never reckoned from the others. The rooms that offer something tell it here once, when the house
opens (`tell_of` in an app's `ready`), as promises are told in `inventory.spoken_for`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Shown:
    """So many pieces of a colourway on a put-up stand in an offer, `what` in the house's words, on its page `address`."""

    colourway_id: int
    put_up_id: int
    pieces: int
    what: str
    address: str


Source = Callable[[], Iterable[Shown]]

_sources: list[Source] = []


def tell_of(source: Source) -> None:
    """Have what a room offers counted with all else that is shown. Told twice, it counts once."""
    if source not in _sources:
        _sources.append(source)


def shown() -> list[Shown]:
    """All that is shown, in the order it was told."""
    return [each for source in _sources for each in source()]
