"""Things of the weeks: what is wanted by hand, a lost day, a promise that a room tells of."""

from __future__ import annotations

import datetime as dt
import uuid
from typing import Any

from django.utils import timezone

from inventory import spoken_for as told
from inventory.spoken_for import SpokenFor
from inventory.weeks import keeping
from inventory.weeks.models import LostDay, Wanted
from recipes.models import WayOfDyeing
from tests import factories


def in_days(days: int) -> dt.date:
    return timezone.localdate() + dt.timedelta(days=days)


def wanted(*, of: WayOfDyeing | None = None, count: int = 20, **facts: Any) -> Wanted:
    """Twenty of a colourway on the put-up of its way, in thirty days."""
    way = of or factories.way()
    return keeping.want_by_hand(
        key=uuid.uuid4(),
        put_up=way.base.put_ups.get(),
        count=count,
        who=factories.OwnerFactory(),
        **{"colourway": way.colourway, "due": in_days(30), **facts},
    )


def lost_day(*, day: dt.date | None = None, loads_left: int = 0) -> LostDay:
    """A week from now no session takes place."""
    return keeping.lose_day(day=day or in_days(7), loads_left=loads_left, who=factories.OwnerFactory())


def promise(monkeypatch, *, of: WayOfDyeing, pieces: int, due: dt.date | None, **facts: Any) -> SpokenFor:
    """A room that promises pieces of a colourway; it is told beside whatever others promise."""
    made = SpokenFor(
        due=due,
        put_up_id=of.base.put_ups.get().pk,
        colourway_id=facts.pop("colourway_id", of.colourway_id),
        pieces=pieces,
        held=facts.pop("held", 0),
        what=facts.pop("what", "the harbour club, March"),
        address=facts.pop("address", "/"),
        **facts,
    )
    monkeypatch.setattr(told, "_sources", [*told._sources, lambda: [made]])
    return made
