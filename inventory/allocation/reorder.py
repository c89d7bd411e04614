"""When undyed yarn or dye must be ordered, and how many packs: plain arithmetic over days.

Amounts are whole pieces, milligrams or microlitres; days are calendar days. Nothing here is from a publication: stock,
what is promised, usual use and lead time are put together as anybody does on paper.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from recipes.dyeing.units import format_grams, format_millilitres, format_number
from recipes.dyeing.working import Figure, Source, Standing, Working

PRACTICE = Source("lead time, stock and usual use put together", Standing.PRACTICE)
COUNTED = Source("counted in this house", Standing.DERIVED)
#: Nobody plans yarn further ahead than this.
LOOK_AHEAD_DAYS = 730
#: A supplier that opens on none of so many days is closed for good.
_NEVER_DAYS = 3 * 366
_DAY = dt.timedelta(days=1)


class AlwaysClosed(ValueError):
    """The closed weeks leave no day on which the supplier works."""


@dataclass(frozen=True, slots=True)
class Closed:
    """Days without work, first and last included; from the same month and day each year when it repeats."""

    first: dt.date
    last: dt.date
    every_year: bool = False

    def covers(self, day: dt.date) -> bool:
        """Whether the supplier does nothing on this day."""
        if not self.every_year:
            return self.first <= day <= self.last
        length = self.last - self.first
        return any(
            start <= day <= start + length
            for start in (_in_year(self.first, year) for year in (day.year - 1, day.year))
        )


def _in_year(day: dt.date, year: int) -> dt.date:
    """The same month and day in another year; the 29th of February becomes the 28th."""
    if (day.month, day.day) == (2, 29):
        return dt.date(year, 2, 28)
    return day.replace(year=year)


def works_on(day: dt.date, closed: Iterable[Closed]) -> bool:
    """Whether a supplier works on this day."""
    return not any(each.covers(day) for each in closed)


def arrives_on(*, ordered: dt.date, lead_days: int, closed: Sequence[Closed] = ()) -> Figure[dt.date]:
    """The day an order comes: its lead time counted in days on which the supplier works.

    Raises AlwaysClosed.
    """
    day, left, idle = ordered, lead_days, 0
    while left or not works_on(day, closed):
        day += _DAY
        if works_on(day, closed):
            left = max(0, left - 1)
        else:
            idle += 1
        if idle > _NEVER_DAYS:
            raise AlwaysClosed(
                "The closed weeks leave no day on which they work. Put the closed weeks right."
            )
    return Figure(
        day,
        Working(
            title="Expected",
            formula="ordered + lead time + closed days in between",
            substitution=f"{say_day(ordered)} + {_days(lead_days)} + {_days((day - ordered).days - lead_days)} closed",
            result=say_day(day),
            source=PRACTICE,
        ),
    )


def order_by(*, needed: dt.date, lead_days: int, closed: Sequence[Closed] = ()) -> Figure[dt.date]:
    """The last day to order so that it comes by the day it is needed; never later than that day less the lead time.

    Raises AlwaysClosed.
    """
    day = needed
    while not works_on(day, closed):
        day = _before(day, needed)
    for _ in range(lead_days):
        while not works_on(day, closed):
            day = _before(day, needed)
        day -= _DAY
    shut = (needed - day).days - lead_days
    return Figure(
        day,
        Working(
            title="Order by",
            formula="needed − lead time − closed days in between",
            substitution=f"{say_day(needed)} − {_days(lead_days)} − {_days(shut)} closed",
            result=say_day(day),
            source=PRACTICE,
        ),
    )


def _before(day: dt.date, needed: dt.date) -> dt.date:
    """The day before; AlwaysClosed when that is years before the day something is needed."""
    if (needed - day).days > _NEVER_DAYS:
        raise AlwaysClosed("The closed weeks leave no day on which they work. Put the closed weeks right.")
    return day - _DAY


@dataclass(frozen=True, slots=True)
class Coming:
    """So much that was ordered and comes on a day."""

    day: dt.date
    quantity: int


@dataclass(frozen=True, slots=True)
class Due:
    """So much that must be there on a day; None where no day was said, which counts from today."""

    day: dt.date | None
    quantity: int


@dataclass(frozen=True, slots=True)
class Supply:
    """How it can be had: the lead time in days, the closed weeks, and what is in a pack."""

    lead_days: int
    pack_quantity: int
    closed: tuple[Closed, ...] = ()


@dataclass(frozen=True, slots=True)
class Habits:
    """How the studio reckons.

    `used` of the item went in `look_back_weeks`; `safety_weeks` of that use are kept in reserve, and an order is to last
    `cover_weeks`. `promised_on_top`: what is promised is dyed beside what is usually used, rather than out of it.
    """

    used: int
    look_back_weeks: int
    safety_weeks: int = 0
    cover_weeks: int = 6
    promised_on_top: bool = True


@dataclass(frozen=True, slots=True)
class Gap:
    """Days on which there is too little and a new order could not come in time either."""

    first: dt.date
    until: dt.date


@dataclass(frozen=True, slots=True)
class Reorder:
    """What the arithmetic says of one item from one supplier.

    `runs_out` is the first day with less than the reserve that a new order could still help, None when there is enough
    as far ahead as is looked; `order_by` and `packs` go with it. `gap` names days of shortage that end by themselves
    when what is on order comes.
    """

    use_a_week: Figure[Fraction]
    runs_out: Figure[dt.date] | None
    order_by: Figure[dt.date] | None
    arrives: Figure[dt.date] | None
    needed: Figure[int] | None
    packs: Figure[int] | None
    gap: Gap | None

    def days_left(self, today: dt.date) -> int | None:
        """Days until the order must be out; below zero when that day is past."""
        return None if self.order_by is None else (self.order_by.value - today).days


def reorder(
    *,
    today: dt.date,
    on_hand: int,
    coming: Sequence[Coming],
    due: Sequence[Due],
    habits: Habits,
    supply: Supply,
    unit: str = "piece",
) -> Reorder:
    """Reckon one item: when it runs out, until when to order, how many packs. `unit`: piece, mg or ul.

    The amount is what keeps the reserve from when the order comes until it has lasted `cover_weeks`, rounded up to packs:
    less than a pack more than that. Raises AlwaysClosed.
    """
    book = _Book(today, on_hand, coming, due, habits, unit)
    soonest = arrives_on(ordered=today, lead_days=supply.lead_days, closed=supply.closed).value
    short = [day for day in book.days if book.short(day)]
    gap = _gap(short, soonest, book)
    # A spell of shortage that lasts until a new order could come, or begins after that.
    help_day = next((day for day in short if day >= soonest), None)
    if help_day is None:
        return Reorder(book.use_a_week, None, None, None, None, None, gap)
    runs_out = help_day
    while runs_out > today and book.short(runs_out - _DAY):
        runs_out -= _DAY
    last_day = order_by(needed=runs_out, lead_days=supply.lead_days, closed=supply.closed)
    comes = arrives_on(ordered=max(today, last_day.value), lead_days=supply.lead_days, closed=supply.closed)
    until = max(comes.value, runs_out) + dt.timedelta(weeks=habits.cover_weeks)
    needed = book.needed(comes.value, until)
    return Reorder(
        use_a_week=book.use_a_week,
        runs_out=book.runs_out(runs_out),
        order_by=Figure(
            last_day.value,
            _with_steps(last_day.working, book.use_a_week.working, book.runs_out(runs_out).working),
        ),
        arrives=comes,
        needed=needed,
        packs=in_packs(needed, supply.pack_quantity, unit),
        gap=gap,
    )


def in_packs(needed: Figure[int], pack_quantity: int, unit: str) -> Figure[int]:
    """Whole packs for what is needed, rounded up."""
    packs = -(-needed.value // pack_quantity)
    say = saying(unit)
    return Figure(
        packs,
        Working(
            title="Packs",
            formula="needed ÷ what is in a pack, rounded up",
            substitution=f"{say(needed.value)} ÷ {say(pack_quantity)}",
            result=f"{packs} {'pack' if packs == 1 else 'packs'}, {say(packs * pack_quantity)}",
            source=COUNTED,
            steps=(*needed.working.steps, needed.working),
        ),
    )


@dataclass(frozen=True, slots=True)
class PriceFrom:
    """From so many packs, a pack costs this in the smallest unit of its currency."""

    packs: int
    price_minor: int


@dataclass(frozen=True, slots=True)
class Cheaper:
    """A price break above what is wanted: so many packs more, and what everything would cost then."""

    more_packs: int
    packs: int
    price_minor: int
    total_minor: int
    total_now_minor: int

    @property
    def costs_less(self) -> bool:
        """Whether more packs cost less money altogether."""
        return self.total_minor < self.total_now_minor


def price_of_pack(packs: int, price_minor: int | None, breaks: Sequence[PriceFrom]) -> int | None:
    """What one pack costs when so many are ordered; None when no price is known."""
    reached = [each for each in breaks if each.packs <= packs]
    return max(reached, key=lambda each: each.packs).price_minor if reached else price_minor


def cheaper_above(packs: int, price_minor: int | None, breaks: Sequence[PriceFrom]) -> list[Cheaper]:
    """The price breaks that so many packs do not reach, the nearest first."""
    now = price_of_pack(packs, price_minor, breaks)
    if now is None:
        return []
    above = sorted((each for each in breaks if each.packs > packs), key=lambda each: each.packs)
    return [
        Cheaper(
            more_packs=each.packs - packs,
            packs=each.packs,
            price_minor=each.price_minor,
            total_minor=each.packs * each.price_minor,
            total_now_minor=packs * now,
        )
        for each in above
        if each.price_minor < now
    ]


class _Book:
    """What is there on each day ahead. Kept in whole numbers: everything times `scale`, days of the weeks looked back."""

    def __init__(
        self,
        today: dt.date,
        on_hand: int,
        coming: Sequence[Coming],
        due: Sequence[Due],
        habits: Habits,
        unit: str,
    ) -> None:
        self.today, self.on_hand, self.habits = today, on_hand, habits
        self.say = saying(unit)
        self.scale = 7 * habits.look_back_weeks
        self.reserve = 7 * habits.used * habits.safety_weeks
        self.days = [today + dt.timedelta(days=ahead) for ahead in range(LOOK_AHEAD_DAYS + 1)]
        self.coming = self._running((each.day, each.quantity) for each in coming)
        self.promised = self._running((each.day or today, each.quantity) for each in due)

    def _running(self, rows: Iterable[tuple[dt.date, int]]) -> list[int]:
        """How much by the end of each day ahead; what is overdue counts from today, what is beyond not at all."""
        on_day = [0] * len(self.days)
        for day, quantity in rows:
            ahead = max(0, (day - self.today).days)
            if ahead < len(on_day):
                on_day[ahead] += quantity
        total, sums = 0, []
        for quantity in on_day:
            total += quantity
            sums.append(total)
        return sums

    def _at(self, day: dt.date) -> int:
        return min((day - self.today).days, len(self.days) - 1)

    def used(self, day: dt.date) -> int:
        """What is usually used from today to a day, scaled."""
        return self.habits.used * self._at(day)

    def left(self, day: dt.date) -> int:
        """What is left at the end of a day, scaled; below zero when it is not enough."""
        at, promised = self._at(day), self.scale * self.promised[self._at(day)]
        used = self.used(day)
        wanted = promised + used if self.habits.promised_on_top else max(promised, used)
        return self.scale * (self.on_hand + self.coming[at]) - wanted

    def short(self, day: dt.date) -> bool:
        return self.left(day) < self.reserve

    @property
    def use_a_week(self) -> Figure[Fraction]:
        """What went in a usual week."""
        used, weeks = self.habits.used, self.habits.look_back_weeks
        a_week = Fraction(used, weeks)
        return Figure(
            a_week,
            Working(
                title="Usual use",
                formula="used ÷ weeks",
                substitution=f"{self.say(used)} ÷ {weeks}",
                result=f"{self.say(a_week)} a week",
                source=COUNTED,
            ),
        )

    def _sum_words(self, day: dt.date) -> tuple[str, str]:
        """What makes up what is left on a day: the formula and its numbers."""
        at = self._at(day)
        promised, used = self.say(self.promised[at]), self.say(Fraction(self.used(day), self.scale))
        there = f"{self.say(self.on_hand)} + {self.say(self.coming[at])}"
        if self.habits.promised_on_top:
            return "on hand + on order − promised − usual use", f"{there} − {promised} − {used}"
        return (
            "on hand + on order − the larger of promised and usual use",
            f"{there} − the larger of {promised} and {used}",
        )

    def runs_out(self, day: dt.date) -> Figure[dt.date]:
        """The day with its sum laid open."""
        formula, numbers = self._sum_words(day)
        left = self.say(Fraction(self.left(day), self.scale))
        reserve, weeks = self.say(Fraction(self.reserve, self.scale)), self.habits.safety_weeks
        return Figure(
            day,
            Working(
                title="Runs out",
                formula=f"the first day on which {formula} is below the reserve of {_weeks(weeks)}",
                substitution=f"{numbers} = {left}, below {reserve}",
                result=say_day(day),
                source=PRACTICE,
                steps=(self.use_a_week.working,),
            ),
        )

    def needed(self, first: dt.date, last: dt.date) -> Figure[int]:
        """The most that lacks on any day of a span, in whole units."""
        span = [first + dt.timedelta(days=ahead) for ahead in range((last - first).days + 1)]
        worst = min(span, key=lambda day: (self.left(day), day))
        lacks = -(-(self.reserve - self.left(worst)) // self.scale)
        formula, numbers = self._sum_words(worst)
        return Figure(
            max(1, lacks),
            Working(
                title="Needed",
                formula=f"reserve − ({formula}) until {say_day(worst)}",
                substitution=f"{self.say(Fraction(self.reserve, self.scale))} − ({numbers})",
                result=self.say(max(1, lacks)),
                source=PRACTICE,
                steps=(self.use_a_week.working,),
            ),
        )


def _gap(short: Sequence[dt.date], soonest: dt.date, book: _Book) -> Gap | None:
    """The first spell of shortage that is over before a new order could come."""
    if not short or short[0] >= soonest:
        return None
    until = short[0]
    while book.short(until) and until < book.days[-1]:
        until += _DAY
    return Gap(short[0], until) if until <= soonest and not book.short(until) else None


def _with_steps(working: Working, *steps: Working) -> Working:
    return Working(
        working.title,
        working.formula,
        working.substitution,
        working.result,
        working.source,
        (*working.steps, *steps),
    )


def saying(unit: str) -> Callable[[int | Fraction], str]:
    """How an amount of an item is said: pieces, grams of milligrams, millilitres of microlitres."""
    words = {"piece": _pieces, "mg": _grams, "ul": _millilitres}[unit]
    return lambda amount: words(amount).replace("-", "−")


def _grams(milligrams: int | Fraction) -> str:
    return format_grams(milligrams)


def _millilitres(microlitres: int | Fraction) -> str:
    return format_millilitres(microlitres)


def _pieces(count: int | Fraction) -> str:
    words = format_number(count, 1)
    return f"{words} {'piece' if words == '1' else 'pieces'}"


def _days(count: int) -> str:
    return f"{count} {'day' if count == 1 else 'days'}"


def _weeks(count: int) -> str:
    return f"{count} {'week' if count == 1 else 'weeks'} of usual use"


def say_day(day: dt.date) -> str:
    """14 March 2027."""
    return f"{day.day} {day:%B %Y}"
