"""The weeks ahead as a calendar: each day with its places, what hangs wet, and what is to be ready."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

from inventory.allocation.calendar import Placed
from inventory.weeks.ahead import Ahead, LoadSeen
from inventory.weeks.models import LostDay

LEAST_WEEKS, MOST_WEEKS = 6, 20
ONE_DAY = dt.timedelta(days=1)


@dataclass(frozen=True, slots=True)
class LoadOnDay:
    """One load on its session, with what it is."""

    placed: Placed
    seen: LoadSeen


@dataclass(frozen=True, slots=True)
class LoadsAlike:
    """Loads of one session that differ in nothing but their pieces; a planned pot stands by itself."""

    loads: tuple[LoadOnDay, ...]

    @property
    def first(self) -> LoadOnDay:
        return self.loads[0]

    @property
    def pieces(self) -> str:
        """6 pieces; or 5 loads of 6, 6, 6, 5 and 5 pieces."""
        counts = [str(each.seen.pieces) for each in self.loads]
        if len(counts) == 1:
            return f"{counts[0]} piece" if counts == ["1"] else f"{counts[0]} pieces"
        return f"{len(counts)} loads of {', '.join(counts[:-1])} and {counts[-1]} pieces"


@dataclass(frozen=True, slots=True)
class DaySeen:
    """One day of the calendar."""

    day: dt.date
    past: bool
    today: bool
    places: int | None
    loads: tuple[LoadOnDay, ...]
    wet: int
    over_rack: bool
    due: int
    late: int
    lost: LostDay | None

    @property
    def is_session(self) -> bool:
        return self.places is not None or bool(self.loads)

    @property
    def free(self) -> int:
        return max(0, (self.places or 0) - len(self.loads))

    @property
    def alike(self) -> list[LoadsAlike]:
        """The loads of the day, those that are alike as one."""
        found: dict[object, list[LoadOnDay]] = {}
        for each in self.loads:
            at = each.placed
            same = (each.seen.kind, each.seen.pot, at.job.due, at.ready_on, at.soak_on)
            found.setdefault(same, []).append(each)
        return [LoadsAlike(tuple(loads)) for loads in found.values()]

    @property
    def picture(self) -> SafeString:
        """The places as small squares: full for a planned pot, half for a load to plan, empty for one that is free."""
        marks = [(_mark(each), each.placed.late_days > 0) for each in self.loads]
        marks += [("free", False)] * self.free
        return places_svg(marks)

    @property
    def words(self) -> str:
        """The same for whoever cannot see the squares."""
        parts = []
        if self.lost is not None and not self.lost.loads_left:
            parts.append("lost")
        elif self.is_session:
            parts.append(f"{len(self.loads)} of {self.places or 0} loads")
        if self.wet:
            parts.append(f"{self.wet} pieces wet")
        if self.due:
            parts.append(f"{self.due} loads due")
        return ", ".join(parts)


def _mark(load: LoadOnDay) -> str:
    return "pot" if load.seen.pot is not None else "load"


def calendar(ahead: Ahead) -> list[list[DaySeen]]:
    """Whole weeks from Monday on, until the last load is ready, at most so many."""
    today = ahead.weeks.today
    start = today - today.weekday() * ONE_DAY
    ends = [each.ready_on or each.day for each in ahead.plan.placed]
    ends += [each.job.due for each in ahead.plan.placed if each.job.due is not None]
    last = max(ends, default=today)
    weeks = min(MOST_WEEKS, max(LEAST_WEEKS, (last - start).days // 7 + 1))
    jobs = {each.key: each for each in ahead.jobs}
    wet = ahead.weeks.wet(ahead.plan.standing, jobs)
    due: dict[dt.date, int] = {}
    for job in ahead.jobs:
        if job.due is not None:
            due[job.due] = due.get(job.due, 0) + 1
    on: dict[dt.date, list[LoadOnDay]] = {}
    for each in ahead.plan.placed:
        on.setdefault(each.day, []).append(LoadOnDay(each, ahead.seen[each.job.key]))
    lost = {each.day: each for each in ahead.lost}
    places = {each.day: each.loads for each in ahead.weeks.sessions}
    rack = ahead.weeks.house.rack_pieces
    return [
        [
            DaySeen(
                day=day,
                past=day < today,
                today=day == today,
                places=places.get(day),
                loads=tuple(on.get(day, ())),
                wet=wet.get(day, 0),
                over_rack=rack is not None and wet.get(day, 0) > rack,
                due=due.get(day, 0),
                late=sum(1 for each in on.get(day, ()) if each.placed.late_days),
                lost=lost.get(day),
            )
            for day in (start + (7 * week + number) * ONE_DAY for number in range(7))
        ]
        for week in range(weeks)
    ]


def places_svg(marks: list[tuple[str, bool]]) -> SafeString:
    """Small squares in rows of three; a late one has a stroke through it. Hidden from screen readers: words go beside it."""
    size, gap, across = 10, 3, max(1, min(3, len(marks)))
    rows = max(1, -(-len(marks) // across))
    parts = []
    for at, (mark, late) in enumerate(marks):
        x, y = 1 + at % across * (size + gap), 1 + at // across * (size + gap)
        if mark == "pot":
            parts.append(
                format_html('<rect x="{}" y="{}" width="10" height="10" fill="currentColor"/>', x, y)
            )
        elif mark == "load":
            parts.append(format_html('<path d="M{} {}v10h10z" fill="currentColor"/>', x, y))
        dash = ' stroke-dasharray="2 1.5"' if mark == "free" else ""
        parts.append(
            format_html(
                '<rect x="{}" y="{}" width="10" height="10" fill="none" stroke="currentColor"{}/>',
                x,
                y,
                SafeString(dash),
            )
        )
        if late:
            parts.append(
                format_html('<path d="M{} {}l12 -12" stroke="#93291e" stroke-width="2"/>', x - 1, y + 11)
            )
    return format_html(
        '<svg class="places" viewBox="-1 -1 {} {}" width="{}" height="{}" aria-hidden="true">{}</svg>',
        across * (size + gap) + 2,
        rows * (size + gap) + 2,
        across * (size + gap) + 2,
        rows * (size + gap) + 2,
        format_html_join("", "{}", ((part,) for part in parts)),
    )
