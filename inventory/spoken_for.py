"""What is spoken for: everything promised to somebody that is not on its way yet.

The shelf does not know who promises what; the rooms above it tell of their promises here, once, when the house opens
(`tell_of` in an app's `ready`), and whoever reckons with promises asks `spoken_for`.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class SpokenFor:
    """Pieces that somebody is to get: of a put-up, in a colourway or (while that is open) in any.

    `due` is the day they must be ready to leave, None where no day was said. `held` of the `pieces` are held already by
    claims of the ledger, so `pieces - held` are still to be found, or dyed. `what` and `address` are for the screen: whose
    promise it is in the house's words, and the page that shows it. What one kit wants stands here part by part. `sets` are
    the sizes of those among the pieces that must be from one pot: two people with three matching skeins each are (3, 3).
    """

    due: dt.date | None
    put_up_id: int
    colourway_id: int | None
    pieces: int
    held: int
    what: str
    address: str
    sets: tuple[int, ...] = ()

    @property
    def to_find(self) -> int:
        return max(0, self.pieces - self.held)


Source = Callable[[], Iterable[SpokenFor]]

_sources: list[Source] = []


def tell_of(source: Source) -> None:
    """Have a room's promises counted with all others. Told twice, it counts once."""
    if source not in _sources:
        _sources.append(source)


def spoken_for() -> list[SpokenFor]:
    """All promises of all rooms, the soonest first, those without a day last. As many queries as the rooms need."""
    everything = [promise for source in _sources for promise in source()]
    return sorted(everything, key=lambda promise: (promise.due is None, promise.due or dt.date.max))
