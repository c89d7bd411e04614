"""The end of a dye day: every pot whose heat was last recorded on is gone to, and what was found there is written down."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from dyehouse.studio.models import User
from dyehouse.studio.refusals import Refused
from recipes.lots.log import add_entry
from recipes.lots.models import DayClosed, LogEntry, Pot

Kind = LogEntry.Kind

#: How the log says that somebody looked and meant the heat to stay on; their own words follow.
STAYS_ON = "Heat stays on overnight"
#: Whoever looked in the evening looked for that night, and not for the next.
HOLDS_FOR = timedelta(hours=12)
EVENING_FROM_HOUR = 17
LONGEST_WORDS = 200


class NotLookedAt(Refused):
    """The heat of a pot was last recorded on, and nobody has said yet what it is to be."""


def is_evening(at: datetime) -> bool:
    """Whether it is time to think of closing the day: by the studio's clock, or past midnight of a long one."""
    return timezone.localtime(at).hour >= EVENING_FROM_HOUR or timezone.localtime(at).hour < 4


def last_closing() -> DayClosed | None:
    """When the day was closed last, and by whom."""
    return DayClosed.objects.select_related("by").order_by("-closed_at", "-id").first()


def stays_overnight(kept: Sequence[LogEntry], *, now: datetime) -> LogEntry | None:
    """The entry that says that a pot's heat stays on for this night; None once the heat was recorded anew."""
    for entry in reversed(kept):
        if entry.kind == Kind.HEAT and entry.heat_on is not None:
            return None
        if entry.kind == Kind.NOTE and entry.text.startswith(STAYS_ON):
            return entry if now - entry.happened_at <= HOLDS_FOR else None
    return None


def heat_is_off(*, pot: Pot, key: UUID, who: User, now: datetime | None = None) -> LogEntry:
    """Somebody stood at the pot and its heat is off. The same key again returns the first entry."""
    return add_entry(
        pot=pot, key=key, kind=Kind.HEAT, who=who, happened_at=now or timezone.now(), heat_on=False
    )


def leave_on_overnight(
    *, pot: Pot, key: UUID, who: User, words: str = "", now: datetime | None = None
) -> LogEntry:
    """Somebody stood at the pot and its heat stays on for the night. The same key again returns the first entry."""
    said = " ".join(words.split())[:LONGEST_WORDS]
    text = f"{STAYS_ON}: {said}" if said else STAYS_ON
    return add_entry(pot=pot, key=key, kind=Kind.NOTE, who=who, happened_at=now or timezone.now(), text=text)


def pots_to_look_at(*, now: datetime) -> list[Pot]:
    """The pots at work whose heat was last recorded on and of which nobody has said that it stays on tonight."""
    found = []
    entries: dict[int, list[LogEntry]] = {}
    told = LogEntry.objects.filter(
        pot__out_at__isnull=True,
        pot__loaded_at__isnull=False,
        kind__in=[Kind.HEAT, Kind.NOTE],
        struck_by__isnull=True,
    )
    for entry in told.select_related("pot").order_by("happened_at", "id"):
        entries.setdefault(entry.pot_id, []).append(entry)
    for kept in entries.values():
        heat = next((each for each in reversed(kept) if each.heat_on is not None), None)
        if heat is not None and heat.heat_on and stays_overnight(kept, now=now) is None:
            found.append(kept[0].pot)
    return sorted(found, key=lambda pot: (pot.loaded_at or now, pot.pk))


@transaction.atomic
def close_day(*, key: UUID, who: User, now: datetime | None = None) -> DayClosed:
    """Close the day once every pot whose heat was last recorded on was gone to.

    The same key again returns the first closing. Raises NotLookedAt with the pots that still wait.
    """
    first = DayClosed.objects.filter(key=key).first()
    if first is not None:
        return first
    at = now or timezone.now()
    waiting = [pot.code for pot in pots_to_look_at(now=at)]
    if waiting:
        listed = waiting[0] if len(waiting) == 1 else f"{', '.join(waiting[:-1])} and {waiting[-1]}"
        raise NotLookedAt(
            f"The heat of {listed} was last recorded on. Go there, then say that it is off now or that it stays on."
        )
    return DayClosed.objects.create(key=key, closed_at=at, by=who)
