"""Which load on which session: backward from the days on which things ship, within sessions, racks and finishing.

First the earliest due goes first, each on the first session that takes it: for loads that each take one place of a session
this makes the greatest lateness as small as it can be (J. R. Jackson, Scheduling a production line to minimize maximum
tardiness, UCLA, 1955; from memory). That says what can be in time and how late the rest must be. Then every load goes back
to the last session on which nothing becomes later than that, so that the weeks before stay open. Racks and finishing can
make the first answer less than the best; `Plan.least_late` is a bound that no plan beats, and says how far off it may be.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from inventory.allocation.sessions import NO_DAY, ONE_DAY, Job, Weeks


@dataclass(frozen=True, slots=True)
class Placed:
    """A load on its session: when it soaks, is dyed, is dry and is finished. `ready_on` None is on none of the sessions."""

    job: Job
    day: dt.date
    soak_on: dt.date
    dry_on: dt.date
    ready_on: dt.date | None

    @property
    def late_days(self) -> int:
        """Days after its due day; 0 in time or without one."""
        return _late(self.ready_on or NO_DAY, self.job.due)


@dataclass(frozen=True, slots=True)
class NotPlaced:
    """A load that stands on no session, and why."""

    job: Job
    why: str


@dataclass(frozen=True, slots=True)
class Plan:
    """The weeks ahead: every load once, on a session or named as not placed.

    `hanging_late` are days late of what is dyed already, by key. `least_late` is the greatest lateness that no plan on
    these sessions avoids; `overfull` are days on which more is pinned than they take.
    """

    placed: tuple[Placed, ...]
    not_placed: tuple[NotPlaced, ...]
    hanging_late: Mapping[str, int]
    least_late: int
    overfull: tuple[dt.date, ...]

    @property
    def standing(self) -> dict[str, dt.date]:
        return {each.job.key: each.day for each in self.placed}

    @property
    def late(self) -> list[Placed]:
        """What cannot be in time, the latest first."""
        return sorted(
            (each for each in self.placed if each.late_days),
            key=lambda each: (-each.late_days, each.job.urgency),
        )

    @property
    def most_late(self) -> int:
        return max([each.late_days for each in self.placed] + list(self.hanging_late.values()), default=0)

    @property
    def as_good_as_can_be(self) -> bool:
        """Whether it is shown that no plan makes the greatest lateness smaller."""
        return self.most_late <= self.least_late and not self.not_placed

    def on(self, day: dt.date) -> list[Placed]:
        return [each for each in self.placed if each.day == day]


def plan_weeks(*, weeks: Weeks, loads: Iterable[Job]) -> Plan:
    """Every load on the last session on which all stays as timely as it can be. The same input gives the same plan."""
    jobs = {job.key: job for job in sorted(loads, key=lambda job: job.urgency)}
    standing = pinned_days(jobs)
    first_to_last = [job for job in jobs.values() if job.key not in standing]
    with_day = [job for job in first_to_last if job.due is not None]
    for job in with_day:
        put_first(weeks, jobs, standing, job)
    latest = deadlines(weeks, jobs, standing)
    while _push_back(weeks, jobs, standing, latest, with_day):
        pass
    for job in first_to_last:
        if job.due is None:
            put_first(weeks, jobs, standing, job, latest)
    return as_plan(weeks, jobs, standing)


def pinned_days(jobs: Mapping[str, Job]) -> dict[str, dt.date]:
    """Where the loads stand that must not be moved."""
    return {job.key: job.pinned for job in jobs.values() if job.pinned is not None}


def put_first(
    weeks: Weeks,
    jobs: Mapping[str, Job],
    standing: dict[str, dt.date],
    job: Job,
    latest: Mapping[str, dt.date] | None = None,
) -> None:
    """Put a load on the first session that takes it; with `latest`, on the first that makes nothing else later than that."""
    wet, taken = weeks.wet(standing, jobs), places_taken(standing)
    for day in weeks.days_for(job):
        if taken.get(day, 0) >= weeks.loads_on(day) or not weeks.has_rack_for(job, day, wet):
            continue
        if latest is None or in_time(weeks, jobs, {**standing, job.key: day}, latest):
            standing[job.key] = day
            return


def places_taken(standing: Mapping[str, dt.date]) -> dict[dt.date, int]:
    """How many loads stand on each day."""
    taken: dict[dt.date, int] = {}
    for day in standing.values():
        taken[day] = taken.get(day, 0) + 1
    return taken


def deadlines(weeks: Weeks, jobs: Mapping[str, Job], standing: Mapping[str, dt.date]) -> dict[str, dt.date]:
    """By when each must be ready: on its due day, or where that cannot be, when it is ready as they stand now."""
    ready = weeks.ready(standing, jobs)
    due = {key: job.due for key, job in jobs.items()} | {each.key: each.due for each in weeks.hanging}
    return {key: max(day or NO_DAY, ready.get(key, NO_DAY)) for key, day in due.items()}


def in_time(
    weeks: Weeks, jobs: Mapping[str, Job], standing: Mapping[str, dt.date], latest: Mapping[str, dt.date]
) -> bool:
    """Whether everything that stands somewhere is ready by its deadline."""
    return all(day <= latest.get(key, NO_DAY) for key, day in weeks.ready(standing, jobs).items())


def _push_back(
    weeks: Weeks,
    jobs: Mapping[str, Job],
    standing: dict[str, dt.date],
    latest: Mapping[str, dt.date],
    order: Sequence[Job],
) -> bool:
    """Move each load, the latest due in front, to the last session that keeps every deadline. Whether any moved."""
    moved = False
    for job in reversed(order):
        here = standing.pop(job.key, None)
        if here is None:
            continue
        wet, taken = weeks.wet(standing, jobs), places_taken(standing)
        standing[job.key] = here
        for day in reversed(weeks.days_for(job)):
            if day <= here:
                break
            if weeks.dry_on(day) > latest[job.key] or taken.get(day, 0) >= weeks.loads_on(day):
                continue
            if weeks.has_rack_for(job, day, wet) and in_time(weeks, jobs, {**standing, job.key: day}, latest):
                standing[job.key] = day
                moved = True
                break
    return moved


def as_plan(weeks: Weeks, jobs: Mapping[str, Job], standing: Mapping[str, dt.date]) -> Plan:
    """What stands where, with the days that follow from it and what cannot be placed."""
    ready = weeks.ready(standing, jobs)
    placed = [
        Placed(
            job=jobs[key],
            day=day,
            soak_on=day - jobs[key].soak_days * ONE_DAY,
            dry_on=weeks.dry_on(day),
            ready_on=None if ready[key] == NO_DAY else ready[key],
        )
        for key, day in standing.items()
    ]
    placed.sort(key=lambda each: (each.day, each.job.urgency))
    taken = places_taken(standing)
    return Plan(
        placed=tuple(placed),
        not_placed=tuple(
            NotPlaced(job, _why_not(weeks, job)) for key, job in jobs.items() if key not in standing
        ),
        hanging_late={each.key: late for each in weeks.hanging if (late := _late(ready[each.key], each.due))},
        least_late=least_late(weeks, jobs),
        overfull=tuple(sorted(day for day, count in taken.items() if count > weeks.loads_on(day))),
    )


def _late(ready: dt.date, due: dt.date | None) -> int:
    return 0 if due is None else max(0, (ready - due).days)


def _why_not(weeks: Weeks, job: Job) -> str:
    most = weeks.house.rack_pieces
    if most is not None and job.pieces > most:
        return f"The racks take {most} pieces at once, and this load has {job.pieces}."
    if not any(weeks.loads_on(day) for day in weeks.days_for(job)):
        return "There is no session to dye it on."
    return "No session that is planned has room for it."


def least_late(weeks: Weeks, jobs: Mapping[str, Job]) -> int:
    """A greatest lateness that no plan on these sessions avoids, in days; the largest of three bounds.

    The sessions alone, with endless racks and finishing; finishing alone, with each load dry as soon as could be; the racks
    alone, which dry so much a day and no more.
    """
    most = weeks.house.rack_pieces
    with_day = [
        job
        for job in jobs.values()
        if job.due is not None and (job.pinned is not None or most is None or job.pieces <= most)
    ]
    bounds = [0]
    standing = pinned_days(jobs)
    taken = places_taken(standing)
    for job in sorted(with_day, key=lambda job: job.urgency):
        day = standing.get(job.key)
        if day is None:
            days = weeks.days_for(job)
            day = next((day for day in days if taken.get(day, 0) < weeks.loads_on(day)), None)
            if day is None:
                continue
            taken[day] = taken.get(day, 0) + 1
        bounds.append(_late(weeks.dry_on(day), job.due))
    soonest = [
        (weeks.dry_on(job.pinned or days[0]), job.due or NO_DAY, job.key, job.pieces)
        for job in with_day
        if (days := [day for day in weeks.days_for(job) if weeks.loads_on(day)]) or job.pinned
    ]
    soonest += [
        (max(each.dry_on, weeks.today), each.due or NO_DAY, each.key, each.pieces) for each in weeks.hanging
    ]
    due = {key: day for _, day, key, _ in soonest}
    finished = weeks.finished(soonest)
    bounds += [_late(day, due[key]) for key, day in finished.items() if day != NO_DAY and due[key] != NO_DAY]
    if most is not None:
        bounds += _by_racks(weeks, [job for job in with_day if job.pinned is None], most)
    return max(bounds)


def _by_racks(weeks: Weeks, with_day: Sequence[Job], most: int) -> list[int]:
    """How late the racks alone make each: so many pieces and all that are due before them are not dry before this day.

    Of loads of more than half the racks no two hang together.
    """
    bounds, pieces, alone, racks, on = [], 0, 0, Fraction(0), weeks.today
    for job in sorted(with_day, key=lambda job: job.urgency):
        pieces += job.pieces
        alone += job.pieces * 2 > most
        while racks * most < pieces or racks < alone:
            racks += Fraction(1, max(1, weeks.house.drying_days[on.month - 1]))
            on += ONE_DAY
        bounds.append(_late(on, job.due))
    return bounds


@dataclass(frozen=True, slots=True)
class NeededByDay:
    """Loads that are due by a day with all before it, the places there are on sessions that still dry in time."""

    due: dt.date
    loads: int
    loads_so_far: int
    sessions: int
    places: int

    @property
    def short(self) -> int:
        return max(0, self.loads_so_far - self.places)


def needed_against_there(*, weeks: Weeks, loads: Iterable[Job]) -> list[NeededByDay]:
    """For each due day: the loads by then against the sessions on which what is dyed is dry in time."""
    by_due: dict[dt.date, int] = {}
    for job in loads:
        if job.due is not None:
            by_due[job.due] = by_due.get(job.due, 0) + 1
    found, so_far = [], 0
    for due, count in sorted(by_due.items()):
        so_far += count
        there = [each for each in weeks.sessions if each.loads and weeks.dry_on(each.day) <= due]
        found.append(NeededByDay(due, count, so_far, len(there), sum(each.loads for each in there)))
    return found
