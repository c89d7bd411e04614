"""Dye sessions, racks and finishing as plain facts, and what follows from them for one day.

Days are whole days in the studio's zone. A load is dyed on the day of a session, hangs wet from that day on, is dry some
days later and is then finished (twisted, labelled) on a session. What is `due` on a day is to be finished on it or before.
"""

from __future__ import annotations

import datetime as dt
from bisect import bisect_left
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from heapq import heappop, heappush
from statistics import median

from recipes.dyeing.units import format_number
from recipes.dyeing.working import Figure, Source, Standing, Working

ONE_DAY = dt.timedelta(days=1)
NO_DAY = dt.date.max
FROM_LOG = Source("pots that came out here", Standing.DERIVED)


@dataclass(frozen=True, slots=True, order=True)
class Session:
    """A day on which so many loads can be dyed; 0 is a day for finishing only."""

    day: dt.date
    loads: int


@dataclass(frozen=True, slots=True)
class Job:
    """A load to be dyed. `soak_days` is 1 where it must soak from the day before; `pinned` is the day it must stay on."""

    key: str
    pieces: int
    due: dt.date | None = None
    soak_days: int = 0
    pinned: dt.date | None = None

    @property
    def urgency(self) -> tuple[dt.date, int, str]:
        """Earliest due first; of two that are due on one day the one that can begin sooner."""
        return (self.due or NO_DAY, self.soak_days, self.key)


@dataclass(frozen=True, slots=True)
class Hanging:
    """Pieces that are dyed already, dry from a day on, and still to be finished."""

    key: str
    pieces: int
    dry_on: dt.date
    due: dt.date | None = None


@dataclass(frozen=True, slots=True)
class House:
    """What limits the weeks: days to dry by month from January on, pieces that hang wet at once, pieces finished a session.

    None is no limit that is known.
    """

    drying_days: tuple[int, ...] = (2,) * 12
    rack_pieces: int | None = None
    finishing_pieces: int | None = None


Standing_ = Mapping[str, dt.date]


@dataclass(slots=True)
class Weeks:
    """The sessions from today on with the house's limits: what a plan is checked against."""

    today: dt.date
    sessions: tuple[Session, ...]
    house: House
    hanging: tuple[Hanging, ...] = ()
    _dry: dict[dt.date, dt.date] = field(default_factory=dict)
    _days: list[dt.date] = field(default_factory=list)
    _loads: dict[dt.date, int] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.sessions = tuple(sorted(each for each in self.sessions if each.day >= self.today))
        self._days = [each.day for each in self.sessions]
        self._loads = {each.day: each.loads for each in self.sessions}

    @property
    def days(self) -> Sequence[dt.date]:
        return self._days

    def loads_on(self, day: dt.date) -> int:
        return self._loads.get(day, 0)

    def dry_on(self, day: dt.date) -> dt.date:
        """The day on which what is dyed on `day` is dry.

        Each day dries its month's share: a day of a month of three drying days a third. So what is hung later is never dry
        sooner, also where one month ends and a warmer one begins.
        """
        if day not in self._dry:
            done, on = Fraction(0), day
            while done < 1:
                done += Fraction(1, max(1, self.house.drying_days[on.month - 1]))
                on += ONE_DAY
            self._dry[day] = on
        return self._dry[day]

    def first_day(self, job: Job) -> dt.date:
        """The first day on which a load may be dyed: it soaks from today on at the earliest."""
        return self.today + job.soak_days * ONE_DAY

    def days_for(self, job: Job) -> Sequence[dt.date]:
        """The days of sessions on which a load may be dyed, in order."""
        return self._days[bisect_left(self._days, self.first_day(job)) :]

    def wet(self, standing: Standing_, jobs: Mapping[str, Job]) -> dict[dt.date, int]:
        """Pieces that hang wet on each day, where any do."""
        hang: dict[dt.date, int] = {}
        for each in self.hanging:
            _hang(hang, self.today, each.dry_on, each.pieces)
        for key, day in standing.items():
            _hang(hang, day, self.dry_on(day), jobs[key].pieces)
        return hang

    def has_rack_for(self, job: Job, day: dt.date, wet: Mapping[dt.date, int]) -> bool:
        """Whether the racks take a load that is dyed on a day beside what hangs there, on every day until it is dry."""
        most = self.house.rack_pieces
        if most is None:
            return True
        on, dry = day, self.dry_on(day)
        while on < dry:
            if wet.get(on, 0) + job.pieces > most:
                return False
            on += ONE_DAY
        return True

    def ready(self, standing: Standing_, jobs: Mapping[str, Job]) -> dict[str, dt.date]:
        """When each load and each lot that hangs already is finished, at the finishing rate, the earliest due first.

        What no session here finishes is ready on no day (`NO_DAY`). This order lets the greatest lateness be as small as
        it can be for days on which they are dry (earliest due date with interruptions; Jackson 1955 for one date).
        """
        dry = [
            (max(each.dry_on, self.today), each.due or NO_DAY, each.key, each.pieces) for each in self.hanging
        ]
        dry += [
            (self.dry_on(day), jobs[key].due or NO_DAY, key, jobs[key].pieces)
            for key, day in standing.items()
        ]
        return self.finished(dry)

    def finished(self, dry: Iterable[tuple[dt.date, dt.date, str, int]]) -> dict[str, dt.date]:
        """When what is dry on a day, due on a day, under a key and so many pieces, is finished."""
        rows = sorted(dry)
        rate = self.house.finishing_pieces
        if rate is None:
            return {key: day for day, _, key, _ in rows}
        done = {key: NO_DAY for _, _, key, _ in rows}
        waiting: list[tuple[dt.date, str, int]] = []
        at = 0
        for day in self._days:
            if at == len(rows) and not waiting:
                break
            while at < len(rows) and rows[at][0] <= day:
                _, due, key, pieces = rows[at]
                heappush(waiting, (due, key, pieces))
                at += 1
            left = rate
            while waiting and left:
                due, key, pieces = heappop(waiting)
                took = min(left, pieces)
                left -= took
                if took == pieces:
                    done[key] = day
                else:
                    heappush(waiting, (due, key, pieces - took))
        return done


def _hang(hang: dict[dt.date, int], start: dt.date, dry: dt.date, pieces: int) -> None:
    while start < dry:
        hang[start] = hang.get(start, 0) + pieces
        start += ONE_DAY


def sessions_between(
    *,
    first: dt.date,
    last: dt.date,
    weekdays: Iterable[int],
    loads: int,
    own: Mapping[dt.date, int] | None = None,
) -> list[Session]:
    """The sessions from one day to another: on weekdays (Monday is 0), and on days of their own with their own loads."""
    usual, own = set(weekdays), own or {}
    found = []
    day = first
    while day <= last:
        if day in own:
            found.append(Session(day, own[day]))
        elif day.weekday() in usual:
            found.append(Session(day, loads))
        day += ONE_DAY
    return found


def loads_a_session(pots_a_day: Sequence[int]) -> Figure[int] | None:
    """How many loads a session takes, by the pots that came out on the last dye days: their median, rounded down.

    None where no pot came out yet.
    """
    if not pots_a_day:
        return None
    middle = Fraction(median(Fraction(count) for count in pots_a_day))
    days = "1 dye day" if len(pots_a_day) == 1 else f"{len(pots_a_day)} dye days"
    return Figure(
        max(1, int(middle)),
        Working(
            title="Loads a session",
            formula="median of the pots that came out on a dye day, rounded down",
            substitution=f"median of {', '.join(str(count) for count in sorted(pots_a_day))} ({days})",
            result=str(max(1, int(middle))),
            source=FROM_LOG,
        ),
    )


def backlog_weeks(*, loads: int, pots_out: int, weeks: int) -> Figure[Fraction] | None:
    """How many weeks of work so many loads are, at what really came out in the last weeks, the idle ones counted too.

    None where nothing came out, so that nothing can be said.
    """
    if not pots_out or weeks < 1:
        return None
    a_week = Fraction(pots_out, weeks)
    value = loads / a_week
    return Figure(
        value,
        Working(
            title="Weeks of work",
            formula="loads to dye ÷ (pots that came out ÷ weeks)",
            substitution=f"{loads} ÷ ({pots_out} ÷ {weeks})",
            result=f"{format_number(value, 1)} weeks",
            source=FROM_LOG,
        ),
    )
