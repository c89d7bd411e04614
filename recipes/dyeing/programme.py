"""The temperature programme that a pot's log shows, to be followed when it is dyed again.

A log holds a handful of readings at clock times, not a curve. Between them the bath is taken to go straight; readings that
lie within a few degrees of a straight line are one rise or one hold. What the log does not tell is named as a gap, and only
gaps are filled from a class table.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction
from itertools import pairwise

from recipes.dyeing.heat import USUAL_HOB, minutes_to_heat
from recipes.dyeing.temperatures import Cap, ClassProgramme, Step, StepKind, cap_step
from recipes.dyeing.units import format_celsius, format_minutes
from recipes.dyeing.working import Exact, Figure, exact

#: A thermometer in a stirred pot wanders by so much, and a dyer reads it to a degree: 3 °C is one temperature.
SAME_CENTI_CELSIUS = 300


@dataclass(frozen=True, slots=True)
class Logged:
    """One entry of a pot's log that tells of heat, at minutes from its first entry."""

    minute: int | Decimal | Fraction
    centi_celsius: int | None = None
    heat_on: bool | None = None


@dataclass(frozen=True, slots=True)
class Programme:
    """What a log shows. `gaps` says by name what it does not, each as a sentence."""

    steps: tuple[Step, ...]
    gaps: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()

    @property
    def start_centi_celsius(self) -> int | None:
        first = self.steps[0] if self.steps else None
        return first.from_centi_celsius if first is not None else None

    @property
    def hold(self) -> Step | None:
        """The hottest hold."""
        holds = [step for step in self.steps if step.kind is StepKind.HOLD]
        return max(holds, key=lambda step: step.to_centi_celsius or 0, default=None)

    @property
    def rises(self) -> tuple[Step, ...]:
        return tuple(step for step in self.steps if step.kind is StepKind.RISE)


NO_TEMPERATURES = "The log has no temperature."
NO_RISE = "The log does not show how fast the bath was heated."
NO_HOLD = "The log does not show how long the bath was held hot."
NO_COOLING = "The log does not show how the bath cooled."


def programme_from_log(
    entries: Iterable[Logged], *, same_centi_celsius: int = SAME_CENTI_CELSIUS
) -> Programme:
    """Start, rises with their rates, holds in °C and minutes, and the cooling that a log shows, in its order."""
    entries = sorted(entries, key=lambda entry: exact(entry.minute))
    points = _readings(entries)
    if not points:
        return Programme((), (NO_TEMPERATURES,))
    points = _with_switching(points, entries, same_centi_celsius)
    steps = _steps(_corners(points, same_centi_celsius), same_centi_celsius)
    return Programme(steps, _gaps(steps))


Point = tuple[int | Fraction, int]


def _minute(entry: Logged) -> int | Fraction:
    minute = exact(entry.minute)
    return int(minute) if minute.denominator == 1 else minute


def _readings(entries: Sequence[Logged]) -> list[Point]:
    """Minute and temperature of each reading; of two in the same minute the later entry counts."""
    found: dict[int | Fraction, int] = {}
    for entry in entries:
        if entry.centi_celsius is not None:
            found[_minute(entry)] = entry.centi_celsius
    return sorted(found.items())


def _with_switching(points: list[Point], entries: Sequence[Logged], same: int) -> list[Point]:
    """The readings, with the bath taken as it last was where the heat was switched without reading it.

    Heat on after the first reading and before the next one: the bath stood until then. Heat off after the last reading of
    the hottest stretch: it was held until then.
    """
    hottest = max(temperature for _, temperature in points)
    extra: dict[int | Fraction, int] = {}
    was_on: bool | None = None
    for entry in entries:
        if entry.heat_on is None:
            continue
        minute, turned_on, turned_off = _minute(entry), entry.heat_on and not was_on, not entry.heat_on
        was_on = entry.heat_on
        before = [temperature for at, temperature in points if at < minute]
        if not before:
            continue
        last = before[-1]
        stood = turned_on and len(before) == 1 and last < hottest - same
        held = turned_off and last >= hottest - same
        if stood or held:
            extra[minute] = last
    return sorted({**extra, **dict(points)}.items())


def _corners(points: list[Point], same: int) -> list[Point]:
    """The fewest of the readings that a line through them passes all others within the tolerance."""
    kept = {0, len(points) - 1}
    stretches = [(0, len(points) - 1)]
    while stretches:
        first, last = stretches.pop()
        (start, low), (end, high) = points[first], points[last]
        # Everything times the stretch's minutes, so that whole minutes stay whole numbers.
        worst, farthest = same * (end - start), None
        for index in range(first + 1, last):
            minute, temperature = points[index]
            beside: int | Fraction = (temperature - low) * (end - start) - (high - low) * (minute - start)
            off = max(beside, -beside)
            if off > worst:
                worst, farthest = off, index
        if farthest is not None:
            kept.add(farthest)
            stretches += [(first, farthest), (farthest, last)]
    return [points[index] for index in sorted(kept)]


def _steps(corners: list[Point], same: int) -> tuple[Step, ...]:
    first = corners[0][1]
    steps = [Step(StepKind.START, first, first)]
    for (minute, start), (next_minute, end) in pairwise(corners):
        minutes = Fraction(next_minute - minute)
        if abs(end - start) <= same:
            kind = StepKind.HOLD
        else:
            kind = StepKind.RISE if end > start else StepKind.COOL
        if kind is StepKind.HOLD and steps[-1].kind is StepKind.HOLD:
            held = steps[-1]
            steps[-1] = replace(
                held,
                to_centi_celsius=max(held.to_centi_celsius or 0, end),
                minutes=(held.minutes or 0) + minutes,
            )
            continue
        level = max(start, end) if kind is StepKind.HOLD else end
        steps.append(Step(kind, start, level, minutes))
    if len(steps) > 1 and steps[1].kind is StepKind.HOLD and len(corners) > 2:
        # The bath stood before it was heated: that is how long the start was.
        steps[0:2] = [Step(StepKind.START, first, first, steps[1].minutes)]
    return tuple(steps)


def _gaps(steps: tuple[Step, ...]) -> tuple[str, ...]:
    hottest = _hottest(steps)
    kinds = {step.kind for step in steps}
    held_hot = any(
        step.kind is StepKind.HOLD and (step.to_centi_celsius or 0) >= hottest - SAME_CENTI_CELSIUS
        for step in steps
    )
    return tuple(
        sentence
        for missing, sentence in (
            (StepKind.RISE not in kinds, NO_RISE),
            (not held_hot, NO_HOLD),
            (StepKind.COOL not in kinds, NO_COOLING),
        )
        if missing
    )


def _hottest(steps: Iterable[Step]) -> int:
    return max((step.to_centi_celsius for step in steps if step.to_centi_celsius is not None), default=0)


def programme_to_follow(
    entries: Iterable[Logged], *, default: ClassProgramme | None = None, cap: Cap | None = None
) -> Programme:
    """The programme of a redye: the reference lot's log; a class table only where the log has gaps, and it says so.

    Filled steps are marked `from_table` and capped. What the studio really did stands, and where it was hotter than the cap
    a note says so.
    """
    shown = programme_from_log(entries)
    notes: list[str] = []
    hottest = _hottest(shown.steps)
    if cap is not None and hottest > cap.centi_celsius:
        notes.append(
            f"The log went to {format_celsius(hottest)}, above {format_celsius(cap.centi_celsius)}. {cap.why}"
        )
    if not shown.gaps or default is None:
        return replace(shown, notes=tuple(notes))
    if NO_TEMPERATURES in shown.gaps:
        table = (
            default.steps
            if cap is None
            else tuple(cap_step(step, cap.centi_celsius) for step in default.steps)
        )
        return Programme(table, shown.gaps, (*notes, *default.notes))
    steps = _filled(shown, default.steps, None if cap is None else cap.centi_celsius)
    added = [step for step in steps if step.from_table]
    if added:
        notes.append(f"Where the log shows nothing, steps were filled in. {default.says}")
        if cap is not None and any(step.to_centi_celsius == cap.centi_celsius for step in added):
            notes.append(f"They go no higher than {format_celsius(cap.centi_celsius)}. {cap.why}")
    return Programme(steps, shown.gaps, tuple(notes))


def _filled(shown: Programme, table: Sequence[Step], most: int | None) -> tuple[Step, ...]:
    """The log's steps with a table's rise, hold or cooling where the log has none, at the log's own temperatures."""
    steps = list(shown.steps)
    if most is not None:
        table = [cap_step(step, most) for step in table]
    by_kind = {step.kind: step for step in table}
    start, rise = by_kind.get(StepKind.START), by_kind.get(StepKind.RISE)
    reached = _hottest(steps)
    if NO_RISE in shown.gaps and start is not None and rise is not None:
        if (start.to_centi_celsius or 0) < reached - SAME_CENTI_CELSIUS:
            # The log begins hot, so the way up to it is the table's.
            lead = [start, replace(cap_step(rise, reached), to_centi_celsius=reached)]
            steps = lead + [step for step in steps if step.kind is not StepKind.START]
        elif rise.to_centi_celsius is not None and rise.to_centi_celsius > reached + SAME_CENTI_CELSIUS:
            # The log never gets hot.
            steps.append(replace(rise, from_centi_celsius=reached, minutes=None, most_minutes=None))
            reached = rise.to_centi_celsius
    if NO_HOLD in shown.gaps and StepKind.HOLD in by_kind:
        level = reached if most is None else min(reached, most)
        hold = replace(by_kind[StepKind.HOLD], from_centi_celsius=level, to_centi_celsius=level)
        hottest_at = max(index for index, step in enumerate(steps) if step.to_centi_celsius == reached)
        steps.insert(hottest_at + 1, hold)
    if NO_COOLING in shown.gaps and StepKind.COOL in by_kind:
        cool = by_kind[StepKind.COOL]
        last = steps[-1].to_centi_celsius or 0
        if cool.to_centi_celsius is None or cool.to_centi_celsius < last:
            steps.append(replace(cool, from_centi_celsius=last))
    return tuple(steps)


@dataclass(frozen=True, slots=True)
class RiseOnHob:
    """A rise of a programme on this hob: minutes at full power, and whether that is slower than asked."""

    step: Step
    needed: Figure[Fraction]
    too_slow: bool
    sentence: str


def hob_minutes(
    programme: Programme | ClassProgramme,
    *,
    bath_microlitres: Exact,
    hob_watts: Exact,
    efficiency_percent: Exact = USUAL_HOB.efficiency_percent,
    dry_milligrams: Exact = 0,
    us: bool = False,
) -> list[RiseOnHob]:
    """What each rise takes on a hob of so many watts with this bath, beside what the programme asks."""
    found = []
    for step in programme.steps:
        start, end = step.from_centi_celsius, step.to_centi_celsius
        if step.kind is not StepKind.RISE or start is None or end is None or end <= start:
            continue
        needed = minutes_to_heat(
            bath_microlitres=bath_microlitres,
            from_centi_celsius=start,
            to_centi_celsius=end,
            hob_watts=hob_watts,
            efficiency_percent=efficiency_percent,
            dry_milligrams=dry_milligrams,
        )
        asked = step.most_minutes or step.minutes
        too_slow = asked is not None and needed.value > asked
        span = f"From {format_celsius(start, us=us)} to {format_celsius(end, us=us)}"
        sentence = f"{span} this hob needs {format_minutes(needed.value)}"
        if asked is None:
            sentence += " at full power."
        elif too_slow:
            sentence += f", and the programme rises in {format_minutes(asked)}: it will be slower than that."
        else:
            sentence += f" at full power; the programme takes {format_minutes(asked)}, so turn it down."
        found.append(RiseOnHob(step, needed, too_slow, sentence))
    return found
