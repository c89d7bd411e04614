"""The weeks ahead: the loads of the dye list and the planned pots on their sessions, from what the house knows today."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction

from django.utils import timezone

from dyehouse.ledger.places import FIXED_PLACES
from dyehouse.studio.models import User
from inventory.allocation.calendar import NeededByDay, Plan, needed_against_there
from inventory.allocation.lost_day import Change, LaterNow, Lost, plan_with_losses, weeks_left, what_changes
from inventory.allocation.sessions import (
    Hanging,
    House,
    Job,
    Session,
    Weeks,
    backlog_weeks,
    loads_a_session,
    sessions_between,
)
from inventory.allocation.wanted import Kind, Want
from inventory.weeks.models import LostDay, WeekHabits
from inventory.weeks.reckoning import FINISHED_FROM, PotInHand, Reckoned, reckon
from recipes.dyeing.working import Figure
from recipes.lots.models import Pot

LOOK_AHEAD_DAYS = 371
LOOK_BACK_WEEKS = 8
LAST_DYE_DAYS = 12
# Where no pot came out here yet: common practice, no source, is 4 pots on a dye day.
USUAL_LOADS = 4
# A pre-soak of so many minutes is one overnight.
OVERNIGHT_MINUTES = 360


@dataclass(frozen=True, slots=True)
class LoadSeen:
    """What a job of the plan stands for: a planned pot by its code, or loads of the dye list still to be planned."""

    key: str
    kind: Kind
    name: str
    yarn: str
    pieces: int
    wants: tuple[Want, ...]
    pot: Pot | None = None
    pinned: bool = False

    @property
    def code(self) -> str:
        return self.pot.code if self.pot is not None else ""


@dataclass(frozen=True, slots=True)
class Pace:
    """What really came out: pots by dye day, the loads that a session takes by it, and pots in the last weeks."""

    a_session: int
    working: Figure[int] | None
    said: bool
    pots_out: int
    out_today: int


@dataclass(slots=True)
class Ahead:
    """Everything the page of the weeks shows."""

    reckoned: Reckoned
    weeks: Weeks
    plan: Plan
    seen: Mapping[str, LoadSeen]
    pace: Pace
    lost: list[LostDay]
    needed: list[NeededByDay]
    jobs: list[Job] = field(default_factory=list)

    @property
    def backlog(self) -> Figure[Fraction] | None:
        return backlog_weeks(loads=len(self.jobs), pots_out=self.pace.pots_out, weeks=LOOK_BACK_WEEKS)

    @property
    def last_day(self) -> dt.date | None:
        """The session on which the last load stands."""
        return max((each.day for each in self.plan.placed), default=None)


def weeks_ahead(*, user: User, today: dt.date | None = None, reckoned: Reckoned | None = None) -> Ahead:
    """The plan as it stands. Two queries more than the dye list."""
    now = reckoned or reckon(user=user, today=today)
    lost = lost_days(now.today)
    pace = recent_pace(now.habits, today=now.today)
    before = Weeks(now.today, tuple(_sessions(now, pace)), _house(now.habits), ())
    weeks = Weeks(before.today, before.sessions, before.house, tuple(_hanging(now, before)))
    seen, jobs = _jobs(now)
    losses = [Lost(each.day, each.loads_left) for each in lost]
    plan = plan_with_losses(weeks=weeks, loads=jobs, losses=losses)
    left = weeks_left(weeks, losses)
    return Ahead(now, left, plan, seen, pace, lost, needed_against_there(weeks=left, loads=jobs), jobs)


@dataclass(frozen=True, slots=True)
class ToTell:
    """Whom a late load keeps waiting: the promise, when it will be ready, and words to send where somebody waits."""

    what: str
    address: str
    due: dt.date
    ready_on: dt.date | None
    days: int | None
    text: str


@dataclass(frozen=True, slots=True)
class MoveSeen:
    """Loads of one colourway that go from one day to another together; a planned pot by its code."""

    name: str
    code: str
    loads: int
    pieces: int
    before: dt.date | None
    to: dt.date | None


@dataclass(frozen=True, slots=True)
class LostPreview:
    """What losing a day changes, before it is kept: the session, the plan without it, what moves, whom to tell."""

    day: dt.date
    loads_left: int
    session: Session | None
    now: Plan
    change: Change
    seen: Mapping[str, LoadSeen]
    tell: list[ToTell]

    @property
    def moves(self) -> list[MoveSeen]:
        """What moves, loads that go the same way as one."""
        found: dict[object, MoveSeen] = {}
        for each in self.change.moved:
            load = self.seen[each.job.key]
            same = (load.kind, load.code, each.before, each.to)
            before = found.get(same)
            found[same] = MoveSeen(
                load.name,
                load.code,
                1 + (before.loads if before else 0),
                load.pieces + (before.pieces if before else 0),
                each.before,
                each.to,
            )
        return list(found.values())


def preview_lost(*, ahead: Ahead, day: dt.date, loads_left: int, studio_name: str) -> LostPreview:
    """What moves and what is late, and by how much, when a session is lost or takes fewer loads. No query."""
    session = next((each for each in ahead.weeks.sessions if each.day == day), None)
    losses = [Lost(each.day, each.loads_left) for each in ahead.lost if each.day != day]
    whole = Weeks(
        ahead.weeks.today,
        tuple(_sessions(ahead.reckoned, ahead.pace)),
        ahead.weeks.house,
        ahead.weeks.hanging,
    )
    plan = plan_with_losses(weeks=whole, loads=ahead.jobs, losses=[*losses, Lost(day, loads_left)])
    change = what_changes(ahead.plan, plan)
    return LostPreview(
        day, loads_left, session, plan, change, ahead.seen, whom_to_tell(change.late, ahead.seen, studio_name)
    )


def whom_to_tell(
    late: Iterable[LaterNow], seen: Mapping[str, LoadSeen], studio_name: str, *, day_lost: bool = True
) -> list[ToTell]:
    """Each promise once, with the latest day of what it waits for, and a message ready to copy.

    `day_lost` says in the message that a dye day fell through, else that there is more to dye than the days take.
    """
    worst: dict[tuple[str, dt.date], tuple[Want, LaterNow]] = {}
    for each in late:
        for want in seen[each.key].wants:
            if (
                want.due is None
                or want.is_spares
                or (each.ready_on is not None and each.ready_on <= want.due)
            ):
                continue
            before = worst.get((want.what, want.due))
            if before is None or (each.ready_on or dt.date.max) > (before[1].ready_on or dt.date.max):
                worst[want.what, want.due] = (want, each)
    found = []
    for (what, due), (want, each) in sorted(worst.items(), key=lambda row: (row[0][1], row[0][0])):
        days = (each.ready_on - due).days if each.ready_on is not None else None
        text = _message(due, each.ready_on, studio_name, day_lost=day_lost) if want.address else ""
        found.append(ToTell(what, want.address, due, each.ready_on, days, text))
    return found


def late_now(ahead: Ahead) -> list[LaterNow]:
    """What is late by the plan as it stands, whatever made it so."""
    return [
        LaterNow(each.job.key, each.job.due, 0, each.late_days, each.ready_on)
        for each in ahead.plan.late
        if each.job.due is not None
    ] + [
        LaterNow(each.job.key, each.job.due, 0, None, None)
        for each in ahead.plan.not_placed
        if each.job.due is not None
    ]


def _message(due: dt.date, ready_on: dt.date | None, studio_name: str, *, day_lost: bool) -> str:
    when = (
        f"about {say_day(ready_on)}"
        if ready_on is not None
        else "later; I will write as soon as I know the day"
    )
    why = "A dye day fell through here" if day_lost else "There is more to dye here than the days take"
    return (
        f"Hello, your yarn was to be ready on {say_day(due)}. {why}, and it will now be ready "
        f"{when}. I am sorry for the wait. {studio_name or 'The studio'}"
    )


def say_day(day: dt.date) -> str:
    """A day as it is written in a message: Saturday 5 December 2026."""
    return f"{day:%A} {day.day} {day:%B %Y}"


def lost_days(today: dt.date) -> list[LostDay]:
    """The lost days from today on that were not taken back. One query."""
    return list(
        LostDay.objects.filter(day__gte=today, taken_back_at__isnull=True)
        .select_related("by")
        .order_by("day")
    )


def recent_pace(habits: WeekHabits, *, today: dt.date) -> Pace:
    """Pots that came out by day in the last weeks. One query."""
    since = today - dt.timedelta(weeks=LOOK_BACK_WEEKS)
    start = timezone.make_aware(dt.datetime.combine(since, dt.time()))
    by_day: dict[dt.date, int] = {}
    for loaded_at in Pot.objects.filter(out_at__gte=start, sample=False).values_list("loaded_at", flat=True):
        if loaded_at is not None:
            day = timezone.localdate(loaded_at)
            by_day[day] = by_day.get(day, 0) + 1
    # Today is not over, so that it says nothing of what a day takes.
    last = [by_day[day] for day in sorted(by_day) if day < today][-LAST_DYE_DAYS:]
    by_record = loads_a_session(last)
    said = habits.loads_a_session
    return Pace(
        a_session=said or (by_record.value if by_record is not None else USUAL_LOADS),
        working=by_record,
        said=said is not None,
        pots_out=sum(by_day.values()),
        out_today=by_day.get(today, 0),
    )


def own_days(habits: WeekHabits) -> dict[dt.date, int]:
    """The days of their own with their loads."""
    return {dt.date.fromisoformat(day): int(loads) for day, loads in habits.own_days.items()}


def _sessions(now: Reckoned, pace: Pace) -> list[Session]:
    """The sessions of a year; of today's what its pots in work have left."""
    sessions = sessions_between(
        first=now.today,
        last=now.today + dt.timedelta(days=LOOK_AHEAD_DAYS),
        weekdays=now.habits.weekdays,
        loads=pace.a_session,
        own=own_days(now.habits),
    )
    begun = pace.out_today + len(
        {
            each.pot.pk
            for each in now.pots
            if each.pot.loaded_at and timezone.localdate(each.pot.loaded_at) == now.today
        }
    )
    return [
        replace(each, loads=max(0, each.loads - begun)) if each.day == now.today else each
        for each in sessions
    ]


def _house(habits: WeekHabits) -> House:
    return House(tuple(habits.drying_days), habits.rack_pieces, habits.finishing_pieces)


def _hanging(now: Reckoned, weeks: Weeks) -> list[Hanging]:
    """What is dyed and not finished yet: pots in work, which come out today, and lots on their way to the labels."""
    due = {each.there.code: each.due for each in now.listed.served}
    found = [
        Hanging(
            f"pot {each.pot.code} {each.kind.put_up}",
            each.pieces,
            weeks.dry_on(now.today),
            due.get(each.pot.code),
        )
        for each in now.pots
        if each.started
    ]
    for lot in now.lying:
        if lot.on_shelf or lot.order >= FINISHED_FROM:
            continue
        out_on = timezone.localdate(lot.out_at)
        dry = weeks.dry_on(out_on) if lot.order < FIXED_PLACES["dry"].order else now.today
        found.append(
            Hanging(
                f"lot {lot.code} {lot.kind.put_up} {lot.order} {lot.judged}",
                lot.on_hand,
                max(dry, now.today),
                due.get(lot.code),
            )
        )
    return found


def _soak_days(habits: WeekHabits, presoak_minutes: int | None) -> int:
    if presoak_minutes is None:
        return int(habits.soaks_overnight)
    return int(presoak_minutes >= OVERNIGHT_MINUTES)


def _jobs(now: Reckoned) -> tuple[dict[str, LoadSeen], list[Job]]:
    """The planned pots and the loads of the dye list as jobs, and what each of them is."""
    seen: dict[str, LoadSeen] = {}
    jobs: list[Job] = []
    served = {each.there.code: each for each in now.listed.served}
    for pot in _whole_pots(now.pots):
        serves = served.get(pot.pot.code)
        wants = serves.wants if serves is not None else ()
        due = (serves.due if serves is not None else None) or pot.due
        key = f"pot {pot.pot.code}"
        way = pot.pot.way
        soak = _soak_days(now.habits, way.presoak_minutes if way is not None else None)
        pinned = pot.pinned if pot.pinned is not None and pot.pinned >= now.today else None
        put_up = now.put_ups[pot.kind.put_up]
        seen[key] = LoadSeen(
            key, pot.kind, now.name_of(pot.kind), str(put_up), pot.pieces, wants, pot.pot, pinned is not None
        )
        jobs.append(Job(key, pot.pieces, due, soak, pinned))
    for row in now.rows:
        soak = _soak_days(now.habits, row.by.way.presoak_minutes if row.by is not None else None)
        for load in row.to_dye.loads:
            key = f"load {load.kind.colourway}-{load.kind.put_up}-{load.number:04}"
            seen[key] = LoadSeen(key, load.kind, row.name, str(row.put_up), load.pieces, load.wants)
            jobs.append(Job(key, load.pieces, load.due, soak))
    return seen, jobs


def _whole_pots(pots: Sequence[PotInHand]) -> list[PotInHand]:
    """Planned pots, each once: what lies in one on several put-ups dries as one load."""
    found: dict[int, PotInHand] = {}
    for each in pots:
        if each.started:
            continue
        before = found.get(each.pot.pk)
        found[each.pot.pk] = replace(before, pieces=before.pieces + each.pieces) if before else each
    return list(found.values())
