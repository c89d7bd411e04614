"""“I lost Saturday”: what moves, what stays, and what becomes late, by how much.

What is pinned stays, and nothing moves that need not: the loads of the lost day look for other places, and only where there
is none in time does another load make room, by the shortest chain of moves. How late each may become is what a fresh plan
on the days that are left needs (see `calendar`). It is worked out anew from the losses each time, so that taking one back
gives the very plan from before.
"""

from __future__ import annotations

import datetime as dt
from collections import deque
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from inventory.allocation.calendar import (
    Placed,
    Plan,
    as_plan,
    deadlines,
    in_time,
    pinned_days,
    places_taken,
    plan_weeks,
    put_first,
)
from inventory.allocation.sessions import NO_DAY, Job, Session, Weeks

# A chain that has looked at so many places without finding one that the racks and the finishing allow is given up.
MOST_LOOKS = 400


@dataclass(frozen=True, slots=True, order=True)
class Lost:
    """A session that does not take place, or takes only so many loads."""

    day: dt.date
    loads_left: int = 0


@dataclass(frozen=True, slots=True)
class Moved:
    """A load that is dyed on another day. `to` None is on no day any more."""

    job: Job
    before: dt.date | None
    to: dt.date | None


@dataclass(frozen=True, slots=True)
class LaterNow:
    """What is ready later than before, and after its due day. Days late, before and now; None is on no session at all."""

    key: str
    due: dt.date
    days_before: int
    days_now: int | None
    ready_on: dt.date | None


@dataclass(frozen=True, slots=True)
class Change:
    """What a lost day changes."""

    moved: tuple[Moved, ...]
    late: tuple[LaterNow, ...]
    stays: tuple[Placed, ...]


def without(sessions: Iterable[Session], lost: Lost) -> tuple[Session, ...]:
    """The sessions when a day is lost, or has room for fewer loads."""
    return tuple(
        replace(each, loads=min(each.loads, lost.loads_left)) if each.day == lost.day else each
        for each in sessions
        if each.day != lost.day or lost.loads_left
    )


def plan_with_losses(*, weeks: Weeks, loads: Iterable[Job], losses: Sequence[Lost]) -> Plan:
    """The plan after every lost day, in the order of the days. Without any it is `plan_weeks`."""
    every = tuple(loads)
    plan = plan_weeks(weeks=weeks, loads=every)
    left = weeks
    for lost in sorted(losses):
        left = Weeks(left.today, without(left.sessions, lost), left.house, left.hanging)
        plan = _lose(weeks=left, loads=every, before=plan)
    return plan


def weeks_left(weeks: Weeks, losses: Iterable[Lost]) -> Weeks:
    """The weeks with the lost days taken out."""
    sessions = weeks.sessions
    for lost in losses:
        sessions = without(sessions, lost)
    return Weeks(weeks.today, sessions, weeks.house, weeks.hanging)


def what_changes(before: Plan, now: Plan) -> Change:
    """The loads that move, what becomes late or later, and what stays on a day that does not take it any more."""
    jobs = {each.job.key: each.job for each in before.placed} | {
        each.job.key: each.job for each in now.placed
    }
    jobs |= {each.job.key: each.job for each in (*before.not_placed, *now.not_placed)}
    stood, stands = before.standing, now.standing
    moved = [
        Moved(job, stood.get(key), stands.get(key))
        for key, job in jobs.items()
        if stood.get(key) != stands.get(key)
    ]
    then, today = ({each.job.key: each for each in plan.placed} for plan in (before, now))
    late = []
    for key, job in jobs.items():
        if job.due is None:
            continue
        was = then[key].late_days if key in then else 0
        here = today.get(key)
        if here is None and key in then:
            late.append(LaterNow(key, job.due, was, None, None))
        elif here is not None and here.late_days > was:
            late.append(LaterNow(key, job.due, was, here.late_days, here.ready_on))
    return Change(
        moved=tuple(sorted(moved, key=lambda each: (each.before or NO_DAY, each.job.urgency))),
        late=tuple(sorted(late, key=lambda each: (each.due, each.key))),
        stays=tuple(each for day in now.overfull for each in now.on(day) if each.job.pinned),
    )


def _lose(*, weeks: Weeks, loads: Iterable[Job], before: Plan) -> Plan:
    jobs = {job.key: job for job in sorted(loads, key=lambda job: job.urgency)}
    stood = before.standing
    standing, displaced = _kept(weeks, jobs, stood)
    latest = _latest(weeks, jobs, standing, before)
    waiting = []
    for job in displaced:
        chain = _chain(weeks, jobs, standing, job, latest, stood)
        if chain is None:
            waiting.append(job)
            continue
        standing.update(chain)
    for job in waiting:
        put_first(weeks, jobs, standing, job, {**latest, job.key: NO_DAY})
    _put_back(weeks, jobs, standing, latest, stood)
    return as_plan(weeks, jobs, standing)


def _kept(
    weeks: Weeks, jobs: Mapping[str, Job], stood: Mapping[str, dt.date]
) -> tuple[dict[str, dt.date], list[Job]]:
    """What stays where it stood, and the loads that a day has no room for any more: the latest due give way."""
    standing = pinned_days(jobs)
    taken = places_taken(standing)
    displaced = []
    for key, job in jobs.items():
        if key in standing:
            continue
        day = stood.get(key)
        if day is not None and taken.get(day, 0) < weeks.loads_on(day):
            standing[key] = day
            taken[day] = taken.get(day, 0) + 1
        else:
            displaced.append(job)
    return standing, displaced


def _latest(
    weeks: Weeks, jobs: Mapping[str, Job], standing: Mapping[str, dt.date], before: Plan
) -> dict[str, dt.date]:
    """By when each must be ready: what a fresh plan needs, and never sooner than what stays gives it anyway."""
    fresh = pinned_days(jobs)
    for job in jobs.values():
        if job.key not in fresh and job.due is not None:
            put_first(weeks, jobs, fresh, job)
    latest = deadlines(weeks, jobs, fresh)
    for key, day in weeks.ready(standing, jobs).items():
        latest[key] = max(latest[key], day)
    for each in before.placed:
        if each.late_days and each.ready_on is not None:
            latest[each.job.key] = max(latest[each.job.key], each.ready_on)
    return latest


def _chain(
    weeks: Weeks,
    jobs: Mapping[str, Job],
    standing: Mapping[str, dt.date],
    first: Job,
    latest: Mapping[str, dt.date],
    stood: Mapping[str, dt.date],
) -> dict[str, dt.date] | None:
    """New days for a load and for as few others as make room for it; None where nothing keeps every deadline."""
    taken = places_taken(standing)
    here: dict[dt.date, list[Job]] = {}
    for key, day in standing.items():
        here.setdefault(day, []).append(jobs[key])
    seen = {first.key}
    queue: deque[tuple[Job, dict[str, dt.date]]] = deque([(first, {})])
    looks = 0
    while queue:
        job, moves = queue.popleft()
        days = [
            day
            for day in reversed(weeks.days_for(job))
            if weeks.loads_on(day) and day != standing.get(job.key) and weeks.dry_on(day) <= latest[job.key]
        ]
        for day in days:
            if taken.get(day, 0) < weeks.loads_on(day):
                looks += 1
                found = {**moves, job.key: day}
                if _holds(weeks, jobs, {**standing, **found}, found, latest):
                    return found
        if looks > MOST_LOOKS:
            return None
        for day in days:
            if taken.get(day, 0) < weeks.loads_on(day):
                continue
            for other in sorted(here[day], key=lambda each: each.urgency, reverse=True):
                if other.pinned is None and other.key not in seen:
                    seen.add(other.key)
                    # A load that has moved already moves once more for nothing.
                    step = (other, {**moves, job.key: day})
                    if standing[other.key] != stood.get(other.key):
                        queue.appendleft(step)
                    else:
                        queue.append(step)
    return None


def _holds(
    weeks: Weeks,
    jobs: Mapping[str, Job],
    standing: Mapping[str, dt.date],
    changed: Iterable[str],
    latest: Mapping[str, dt.date],
) -> bool:
    most = weeks.house.rack_pieces
    if most is not None:
        wet = weeks.wet(standing, jobs)
        for key in changed:
            day = standing[key]
            while day < weeks.dry_on(standing[key]):
                if wet[day] > most:
                    return False
                day += dt.timedelta(days=1)
    return in_time(weeks, jobs, standing, latest)


def _put_back(
    weeks: Weeks,
    jobs: Mapping[str, Job],
    standing: dict[str, dt.date],
    latest: Mapping[str, dt.date],
    stood: Mapping[str, dt.date],
) -> None:
    """Let every load that moved and could as well have stayed stand where it stood."""
    for key, day in stood.items():
        if key not in standing or standing[key] == day:
            continue
        if places_taken(standing).get(day, 0) < weeks.loads_on(day):
            tried = {**standing, key: day}
            if _holds(weeks, jobs, tried, [key], latest):
                standing[key] = day
