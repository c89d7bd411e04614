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


Point = tuple[Fraction, int]


def _readings(entries: Sequence[Logged]) -> list[Point]:
    """Minute and temperature of each reading; of two in the same minute the later entry counts."""
    found: dict[Fraction, int] = {}
    for entry in entries:
        if entry.centi_celsius is not None:
            found[exact(entry.minute)] = entry.centi_celsius
    return sorted(found.items())


def _with_switching(points: list[Point], entries: Sequence[Logged], same: int) -> list[Point]:
    """The readings, with the bath taken as it last was where the heat was switched without reading it.

    Heat on after the first reading and before the next one: the bath stood until then. Heat off after the last reading of
    the hottest stretch: it was held until then.
    """
    hottest = max(temperature for _, temperature in points)
    extra: list[Point] = []
    for entry in entries:
        minute = exact(entry.minute)
        before = [point for point in points if point[0] < minute]
        if entry.heat_on is None or not before or any(point[0] == minute for point in points):
            continue
        last = before[-1][1]
        first_on = entry.heat_on and len(before) == 1 and last < hottest - same
        held_until_off = entry.heat_on is False and last >= hottest - same
        if first_on or held_until_off:
            extra.append((minute, last))
    return sorted({**dict(extra), **dict(points)}.items())


def _corners(points: list[Point], same: int) -> list[Point]:
    """The fewest of the readings that a line through them passes all others within the tolerance."""
    kept = {0, len(points) - 1}
    stretches = [(0, len(points) - 1)]
    while stretches:
        first, last = stretches.pop()
        (start, low), (end, high) = points[first], points[last]
        worst, farthest = Fraction(same), None
        for index in range(first + 1, last):
            minute, temperature = points[index]
            off = abs(temperature - low - (high - low) * (minute - start) / (end - start))
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
        minutes = next_minute - minute
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
    hottest = max(step.to_centi_celsius or 0 for step in steps)
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


def programme_to_follow(
    entries: Iterable[Logged], *, default: ClassProgramme | None = None, cap: Cap | None = None
) -> Programme:
    """The programme of a redye: the reference lot's log; a class table only where the log has gaps, and it says so.

    Filled steps are marked `from_table` and capped. What the studio really did stands, and where it was hotter than the cap
    a note says so.
    """
    shown = programme_from_log(entries)
    notes: list[str] = []
    hottest = max((step.to_centi_celsius or 0 for step in shown.steps), default=0)
    if cap is not None and hottest > cap.centi_celsius:
        notes.append(
            f"The log went to {format_celsius(hottest)}, above {format_celsius(cap.centi_celsius)}. {cap.why}"
        )
    if not shown.gaps or default is None:
        return replace(shown, notes=tuple(notes))
    table = (
        default.steps if cap is None else tuple(cap_step(step, cap.centi_celsius) for step in default.steps)
    )
    notes.append(default.says)
    if NO_TEMPERATURES in shown.gaps:
        return Programme(table, shown.gaps, tuple(notes))
    return Programme(_filled(shown, table), shown.gaps, tuple(notes))


def _filled(shown: Programme, table: Sequence[Step]) -> tuple[Step, ...]:
    """The log's steps with a table's rise, hold or cooling where the log has none, at the log's own temperatures."""
    steps = list(shown.steps)
    by_kind = {step.kind: step for step in table}
    hottest = max(step.to_centi_celsius or 0 for step in steps)
    reached = hottest
    if NO_RISE in shown.gaps and StepKind.RISE in by_kind and StepKind.START in by_kind:
        rise, start = by_kind[StepKind.RISE], by_kind[StepKind.START]
        if (start.to_centi_celsius or 0) < hottest - SAME_CENTI_CELSIUS:
            shortened = cap_step(rise, hottest)
            lead = [start, replace(shortened, to_centi_celsius=hottest)]
            steps = lead + [step for step in steps if step.kind is not StepKind.START]
        elif rise.to_centi_celsius is not None and rise.to_centi_celsius > hottest + SAME_CENTI_CELSIUS:
            reached = rise.to_centi_celsius
            steps.append(replace(rise, from_centi_celsius=hottest, minutes=None, most_minutes=None))
    if NO_HOLD in shown.gaps and StepKind.HOLD in by_kind:
        hold = replace(by_kind[StepKind.HOLD], from_centi_celsius=reached, to_centi_celsius=reached)
        after_rise = max(
            (index + 1 for index, step in enumerate(steps) if (step.to_centi_celsius or 0) == reached),
            default=len(steps),
        )
        steps.insert(after_rise, hold)
    if NO_COOLING in shown.gaps and StepKind.COOL in by_kind:
        cool = by_kind[StepKind.COOL]
        if cool.to_centi_celsius is None or cool.to_centi_celsius < reached:
            steps.append(replace(cool, from_centi_celsius=reached))
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
        sentence = f"From {format_celsius(start)} to {format_celsius(end)} this hob needs {format_minutes(needed.value)}"
        if asked is None:
            sentence += " at full power."
        elif too_slow:
            sentence += f", and the programme rises in {format_minutes(asked)}: it will be slower than that."
        else:
            sentence += f" at full power; the programme takes {format_minutes(asked)}, so turn it down."
        found.append(RiseOnHob(step, needed, too_slow, sentence))
    return found
