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
        fewer = without(left.sessions, lost)
        if fewer == left.sessions:
            continue
        left = Weeks(left.today, fewer, left.house, left.hanging)
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
        as_it_is = {
            key: max(latest.get(key, NO_DAY), day) for key, day in weeks.ready(standing, jobs).items()
        }
        put_first(weeks, jobs, standing, job, as_it_is)
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
    """By when each must be ready: what a fresh plan needs, and never sooner than what stays gives it anyway.

    Loads that are due on one day may change their days among them: one of them waits, whichever has to move.
    """
    fresh = pinned_days(jobs)
    for job in jobs.values():
        if job.key not in fresh and job.due is not None:
            put_first(weeks, jobs, fresh, job)
    latest = deadlines(weeks, jobs, fresh)
    stays = weeks.ready(standing, jobs)
    for key, day in stays.items():
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
    longest = _longest(jobs, latest)
    seen = {first.key}
    queue: deque[tuple[Job, dict[str, dt.date]]] = deque([(first, {})])
    looks = 0
    while queue:
        job, moves = queue.popleft()
        days = [
            day
            for day in _in_order(weeks.days_for(job), job)
            if weeks.loads_on(day) and day != standing.get(job.key) and weeks.dry_on(day) <= longest[job.key]
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


def _in_order(days: Sequence[dt.date], job: Job) -> Iterable[dt.date]:
    """The last day first for what is due on a day, the first for what is only to be dyed when there is room."""
    return days if job.due is None else reversed(days)


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
    return _in_time(weeks, jobs, standing, latest)


def _longest(jobs: Mapping[str, Job], latest: Mapping[str, dt.date]) -> dict[str, dt.date]:
    """The latest deadline that a load may take over from one that is due on the same day."""
    most: dict[dt.date, dt.date] = {}
    for key, job in jobs.items():
        if _waits_alike(job) and job.due is not None:
            most[job.due] = max(most.get(job.due, latest[key]), latest[key])
    return {
        key: most.get(job.due, latest[key]) if _waits_alike(job) and job.due is not None else latest[key]
        for key, job in jobs.items()
    }


def _waits_alike(job: Job) -> bool:
    return job.due is not None and job.pinned is None


def _in_time(
    weeks: Weeks, jobs: Mapping[str, Job], standing: Mapping[str, dt.date], latest: Mapping[str, dt.date]
) -> bool:
    """Whether everything is ready by its deadline, or by that of another load that is due on the same day."""
    allowed: dict[dt.date, list[dt.date]] = {}
    for key, job in jobs.items():
        if _waits_alike(job) and job.due is not None:
            allowed.setdefault(job.due, []).append(latest[key])
    found: dict[dt.date, list[dt.date]] = {}
    for key, day in weeks.ready(standing, jobs).items():
        one = jobs.get(key)
        if one is not None and _waits_alike(one) and one.due is not None:
            found.setdefault(one.due, []).append(day)
        elif day > latest.get(key, NO_DAY):
            return False
    return all(
        ready <= by
        for due, days in found.items()
        for ready, by in zip(sorted(days), sorted(allowed[due])[-len(days) :], strict=True)
    )


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
