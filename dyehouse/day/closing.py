"""What the page that closes the day shows: each pot to go to, what stays on, what dries and what waits."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.utils import timezone

from dyehouse.day.queries import LotLine, on_the_rack
from dyehouse.studio.models import User
from recipes.lots.board import BoardPot, pots_on_board
from recipes.lots.closing import last_closing
from recipes.lots.models import DayClosed
from recipes.lots.queries import PotLine, pots_page


@dataclass(frozen=True, slots=True)
class ClosingPage:
    """The pots at work by what was last recorded of their heat, and what is under way beside them."""

    to_look_at: list[BoardPot]
    staying_on: list[BoardPot]
    off: list[BoardPot]
    planned: list[PotLine]
    drying: list[LotLine]
    to_judge: list[LotLine]
    closed: DayClosed | None


def closing_page(*, user: User, us: bool = False, now: datetime | None = None) -> ClosingPage:
    """Everything to go through before the lights go out, in a fixed number of queries."""
    at = now or timezone.now()
    pots = pots_page(user=user, with_out=False)
    at_work = pots_on_board(pots.in_work, now=at, us=us)
    drying, to_judge = on_the_rack(user=user, now=at)
    return ClosingPage(
        to_look_at=[each for each in at_work if each.heat_on and each.stays is None],
        staying_on=[each for each in at_work if each.heat_on and each.stays is not None],
        off=[each for each in at_work if not each.heat_on],
        planned=pots.planned,
        drying=drying,
        to_judge=to_judge,
        closed=last_closing(),
    )
