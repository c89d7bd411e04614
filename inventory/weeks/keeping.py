"""What the dyer says of the weeks: what is wanted by hand, days that are lost, pots that stay on a day, how weeks go."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from dyehouse.studio.models import User, Vessel
from dyehouse.studio.refusals import Refused
from inventory.models import Kit
from inventory.weeks.models import LostDay, PotDay, VesselHolds, Wanted, WeekHabits
from recipes.lots.models import Pot
from recipes.models import Colourway, PutUp
from recipes.words import one_line

LONGEST_WORDS = 120


class NotWanted(Refused):
    """Nothing is named, or sets that do not go into the pieces."""


class DayGoneBy(Refused):
    """A day before today can be neither lost nor planned on."""


class NotPlanned(Refused):
    """Only a pot that is planned and not loaded can be kept on a day."""


@transaction.atomic
def want_by_hand(
    *,
    key: UUID,
    count: int,
    who: User,
    colourway: Colourway | None = None,
    put_up: PutUp | None = None,
    kit: Kit | None = None,
    due: dt.date | None = None,
    set_of: int | None = None,
    what_for: str = "",
    now: dt.datetime | None = None,
) -> Wanted:
    """Put so many pieces of a colourway, or so many kits, on the dye list. The same key again gives the first.

    Raises NotWanted, and DayGoneBy for a day before today.
    """
    first = Wanted.objects.filter(key=key).first()
    if first is not None:
        return first
    if count < 1:
        raise NotWanted("Write how many you want, at least one.")
    if kit is None and (colourway is None or put_up is None):
        raise NotWanted("Choose a colourway and its yarn, or a kit.")
    if set_of is not None and (kit is not None or not 2 <= set_of <= count):
        raise NotWanted("A set from one pot is of 2 pieces or more, and of no more than are wanted.")
    at = now or timezone.now()
    if due is not None and due < timezone.localdate(at):
        raise DayGoneBy("This day has gone by. Choose today or a later day, or leave it empty.")
    return Wanted.objects.create(
        key=key,
        colourway=None if kit is not None else colourway,
        put_up=None if kit is not None else put_up,
        kit=kit,
        count=count,
        set_of=set_of,
        due=due,
        what_for=one_line(what_for)[:LONGEST_WORDS],
        made_at=at,
        made_by=who,
    )


@transaction.atomic
def want_no_more(*, wanted: Wanted, who: User) -> Wanted:
    """Take what was wanted by hand off the dye list; it stays readable. Doing it again changes nothing."""
    locked = Wanted.objects.select_for_update().get(pk=wanted.pk)
    if locked.ended_at is None:
        locked.ended_at, locked.ended_by = timezone.now(), who
        locked.save(update_fields=["ended_at", "ended_by"])
    return locked


@transaction.atomic
def lose_day(*, day: dt.date, loads_left: int, who: User, why: str = "") -> LostDay:
    """A session does not take place, or takes only so many loads. Said again of the same day, the newest holds.

    Raises DayGoneBy for a day before today.
    """
    if day < timezone.localdate():
        raise DayGoneBy("This day has gone by. What was not dyed on it stands on later days already.")
    words = one_line(why)[:LONGEST_WORDS]
    before = LostDay.objects.select_for_update().filter(day=day, taken_back_at__isnull=True).first()
    if before is not None:
        if before.loads_left == loads_left:
            return before
        before.taken_back_at = timezone.now()
        before.save(update_fields=["taken_back_at"])
    return LostDay.objects.create(day=day, loads_left=loads_left, why=words, said_at=timezone.now(), by=who)


@transaction.atomic
def take_back_lost_day(*, lost: LostDay) -> LostDay:
    """The session takes place after all: the plan is the one from before. Doing it again changes nothing."""
    locked = LostDay.objects.select_for_update().get(pk=lost.pk)
    if locked.taken_back_at is None:
        locked.taken_back_at = timezone.now()
        locked.save(update_fields=["taken_back_at"])
    return locked


@transaction.atomic
def keep_on_day(*, pot: Pot, day: dt.date | None, who: User) -> Pot:
    """A planned pot stays on this day, whatever moves; None lets it move again. Raises NotPlanned and DayGoneBy."""
    locked = Pot.objects.select_for_update().get(pk=pot.pk)
    if day is None:
        PotDay.objects.filter(pot=locked).delete()
        return locked
    if locked.state != "planned":
        raise NotPlanned(f"Pot {locked.code} is {locked.state}; only a planned pot is kept on a day.")
    if day < timezone.localdate():
        raise DayGoneBy("This day has gone by. Choose today or a later day.")
    PotDay.objects.update_or_create(
        pot=locked, defaults={"day": day, "made_at": timezone.now(), "made_by": who}
    )
    return locked


@dataclass(frozen=True, slots=True)
class Holding:
    """The most pieces and dry milligrams of one vessel; None is by its litres."""

    most_pieces: int | None
    most_milligrams: int | None


@transaction.atomic
def keep_habits(
    *,
    weekdays: Sequence[int],
    own_days: Mapping[dt.date, int],
    drying_days: Sequence[int],
    holds: Mapping[int, Holding],
    loads_a_session: int | None,
    soaks_overnight: bool,
    rack_pieces: int | None,
    finishing_pieces: int | None,
    spares_percent: int,
    spares_pieces: int,
    vessel: Vessel | None,
) -> WeekHabits:
    """Keep how the weeks are reckoned. `holds` is by vessel id; a vessel that is not named stays as it is."""
    habits = WeekHabits.current()
    habits.weekdays = sorted(set(weekdays))
    habits.own_days = {day.isoformat(): loads for day, loads in sorted(own_days.items())}
    habits.drying_days = list(drying_days)
    habits.loads_a_session = loads_a_session
    habits.soaks_overnight = soaks_overnight
    habits.rack_pieces = rack_pieces
    habits.finishing_pieces = finishing_pieces
    habits.spares_percent = spares_percent
    habits.spares_pieces = spares_pieces
    habits.vessel = vessel
    habits.save()
    for vessel_id, said in holds.items():
        if said.most_pieces is None and said.most_milligrams is None:
            VesselHolds.objects.filter(vessel=vessel_id).delete()
        else:
            VesselHolds.objects.update_or_create(
                vessel_id=vessel_id,
                defaults={"most_pieces": said.most_pieces, "most_milligrams": said.most_milligrams},
            )
    return habits
