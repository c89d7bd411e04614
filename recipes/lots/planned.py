"""What a redye means to do in a pot, beside what was done."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from django.db.models import Exists, OuterRef

from recipes.dyeing.programme import SAME_CENTI_CELSIUS
from recipes.dyeing.units import format_minutes
from recipes.lots.models import LogEntry, PlannedStep, Pot
from recipes.models import Rule

Kind = LogEntry.Kind

# What a thermometer and a pH strip cannot tell apart, in hundredths of a degree and of pH.
READ: dict[str, tuple[str, int]] = {
    Kind.TEMPERATURE: ("centi_celsius", SAME_CENTI_CELSIUS),
    Kind.PH: ("ph_hundredths", 30),
}
# A step that is done within so many minutes of its time is done in time.
IN_TIME_MINUTES = 5
# A bath is the one that was planned when it is so to a twentieth.
WATER_SAME = 20


@dataclass(frozen=True, slots=True)
class PlannedBesideDone:
    """One planned step, what was done of it, and in what that differs."""

    step: PlannedStep
    done: list[LogEntry] = field(default_factory=list)
    is_next: bool = False
    differs: str = ""
    out_of_turn: bool = False


def planned_steps(pot: Pot) -> list[PlannedStep]:
    """The planned steps of a pot in their order, with what they are of."""
    return list(
        PlannedStep.objects.filter(pot=pot)
        .select_related("rule__dye", "rule__auxiliary")
        .order_by("number", "id")
    )


def step_as_entry(step: PlannedStep) -> tuple[str, dict[str, Any]]:
    """The kind and fields of the entry that does a step just as planned."""
    rule = step.rule
    if rule is None:
        # Water to make up the bath is planned without a rule of the way of dyeing.
        return Kind.WATER, {"microlitres": step.microlitres}
    amounts = {"milligrams": step.milligrams, "microlitres": step.microlitres, "as_typed": rule.as_typed}
    if rule.kind == Rule.Kind.DYE:
        # Drops of a stock have a strength but no certain volume.
        kind = Kind.STOCK if step.microlitres or step.strength_mg_per_litre else Kind.POWDER
        return kind, {
            **amounts,
            **_put_on(rule),
            "dye": rule.dye,
            "strength_mg_per_litre": step.strength_mg_per_litre if kind == Kind.STOCK else None,
        }
    if rule.kind == Rule.Kind.AUXILIARY:
        return Kind.AUXILIARY, {**amounts, **_put_on(rule), "auxiliary": rule.auxiliary}
    if rule.kind == Rule.Kind.WATER:
        return Kind.WATER, {"microlitres": step.microlitres}
    if rule.kind == Rule.Kind.TEMPERATURE:
        return Kind.TEMPERATURE, {"centi_celsius": rule.centi_celsius}
    if rule.kind == Rule.Kind.PH:
        return Kind.PH, {"ph_hundredths": rule.ph_hundredths}
    if rule.kind == Rule.Kind.HEAT:
        return Kind.HEAT, {"heat_on": rule.heat_on}
    if rule.kind == Rule.Kind.TECHNIQUE:
        return Kind.TECHNIQUE, {
            **_put_on(rule),
            "seconds": rule.seconds,
            "millimetres": rule.millimetres,
            "hanks": rule.hanks if step.hanks is None else step.hanks,
            "centi_celsius": rule.centi_celsius,
            "name": rule.text[:80],
        }
    return Kind.NOTE, {"text": rule.text}


def _put_on(rule: Rule) -> dict[str, Any]:
    """Where along the hank, or on which skein, and how."""
    return {"section": rule.section, "technique": rule.technique}


def next_step_for(*, pot: Pot, kind: str, fields: dict[str, Any]) -> PlannedStep | None:
    """The first step not yet done that an entry does: the same dye, auxiliary or reading. None where none fits.

    A reading does a step once it is reached: 60 °C on the way from 40 to 82 is neither of them.
    """
    if kind in (Kind.NOTE, Kind.PHOTO, Kind.EXHAUSTED, Kind.STRIKE):
        return None
    done = LogEntry.objects.filter(planned=OuterRef("pk"), struck_by__isnull=True)
    steps = (
        PlannedStep.objects.filter(pot=pot)
        .annotate(is_done=Exists(done))
        .select_related("rule__dye", "rule__auxiliary")
        .order_by("number", "id")
    )
    before: PlannedStep | None = None
    waiting = [step for step in steps if not getattr(step, "is_done", False) and _fits(step, kind, fields)]
    there = [step for step in waiting if _section(step_as_entry(step)[1]) == _section(fields)]
    for step in steps:
        if step in (there or waiting):
            return step if kind not in READ or _reached(step, kind, fields, before) else None
        if step.rule is not None and step.rule.kind == kind:
            before = step
    return None


def _reached(step: PlannedStep, kind: str, fields: dict[str, Any], before: PlannedStep | None) -> bool:
    """Whether a reading has come to that of a step, from the planned one before it: up for heat, down for pH, else."""
    name, same = READ[kind]
    target, seen = getattr(step.rule, name), fields.get(name)
    if target is None or seen is None:
        return True
    last = getattr(before.rule, name) if before is not None else None
    rising = kind == Kind.TEMPERATURE if last in (None, target) else last < target
    return bool(seen >= target - same) if rising else bool(seen <= target + same)


def _section(fields: dict[str, Any]) -> str:
    return str(fields.get("section") or "").casefold()


def _fits(step: PlannedStep, kind: str, fields: dict[str, Any]) -> bool:
    planned_kind, planned = step_as_entry(step)
    if _section(planned) and _section(fields) and _section(planned) != _section(fields):
        return False
    if kind in (Kind.STOCK, Kind.POWDER):
        # The planned dye as powder instead of stock is the same step done another way.
        dye = fields.get("dye")
        return planned_kind in (Kind.STOCK, Kind.POWDER) and dye is not None and dye == planned.get("dye")
    if kind != planned_kind:
        return False
    if kind == Kind.AUXILIARY:
        auxiliary = fields.get("auxiliary")
        return auxiliary is not None and auxiliary == planned.get("auxiliary")
    if kind == Kind.TECHNIQUE:
        return bool(fields.get("technique") == planned.get("technique"))
    if kind == Kind.HEAT:
        return bool(fields.get("heat_on") == planned.get("heat_on"))
    return True


def beside_done(
    steps: Sequence[PlannedStep], entries: Iterable[LogEntry]
) -> tuple[list[PlannedBesideDone], list[LogEntry]]:
    """Each planned step with what was done of it, and the additions and readings that nobody planned.

    `entries` are those that count, in the order they happened.
    """
    by_step: dict[int, list[LogEntry]] = {}
    unplanned: list[LogEntry] = []
    last_number = 0
    numbers = {step.pk: step.number for step in steps}
    out_of_turn: set[int] = set()
    start: datetime | None = None
    for entry in entries:
        start = start or entry.happened_at
        if entry.planned_id in numbers:
            by_step.setdefault(entry.planned_id, []).append(entry)
            if numbers[entry.planned_id] < last_number:
                out_of_turn.add(entry.planned_id)
            last_number = max(last_number, numbers[entry.planned_id])
        elif entry.kind in (Kind.STOCK, Kind.POWDER, Kind.MIX, Kind.AUXILIARY, Kind.WATER, Kind.TECHNIQUE):
            unplanned.append(entry)
    following = next((step.pk for step in steps if step.pk not in by_step), None)
    rows = [
        PlannedBesideDone(
            step=step,
            done=by_step.get(step.pk, []),
            is_next=step.pk == following,
            differs=_differs(step, by_step.get(step.pk, []), step.pk in out_of_turn, start),
            out_of_turn=step.pk in out_of_turn,
        )
        for step in steps
    ]
    return rows, unplanned


def _differs(step: PlannedStep, done: list[LogEntry], out_of_turn: bool, start: datetime | None) -> str:
    """In a word how the deed departs from the plan; empty where it does not."""
    if not done:
        return ""
    kind, planned = step_as_entry(step)
    words = []
    if kind in (Kind.STOCK, Kind.POWDER, Kind.AUXILIARY, Kind.WATER):
        words.append(amount_differs(kind, planned, done))
    else:
        words.append(reading_differs(kind, planned, done))
    words.append(technique_differs(planned, done))
    if out_of_turn:
        words.append("out of turn")
    words.append(_clock_differs(step, done[0], start))
    return ", ".join(word for word in words if word)


def _clock_differs(step: PlannedStep, first: LogEntry, start: datetime | None) -> str:
    """How much later or earlier than planned a step was done, by the clock that began with the first entry."""
    if step.minute is None or start is None:
        return ""
    late = int((first.happened_at - start).total_seconds() // 60) - step.minute
    if abs(late) <= IN_TIME_MINUTES:
        return ""
    return f"{format_minutes(abs(late))} {'later' if late > 0 else 'earlier'}"


def reading_differs(kind: str, planned: dict[str, Any], done: Sequence[LogEntry]) -> str:
    """In a word whether the last reading is another than the planned one."""
    if kind not in READ:
        return ""
    name, same = READ[kind]
    seen, meant = getattr(done[-1], name), planned[name]
    if seen is None or meant is None or abs(seen - meant) <= same:
        return ""
    return "another temperature" if kind == Kind.TEMPERATURE else "another pH"


_DETAILS = {
    "seconds": "time",
    "millimetres": "length",
    "hanks": "count of hanks",
    "centi_celsius": "temperature",
}


def technique_differs(planned: dict[str, Any], done: Sequence[LogEntry]) -> str:
    """In words how the last entry of a step departs in what was done to the yarn, and where; empty where it does not."""
    if not done or (done[-1].kind != Kind.TECHNIQUE and not planned.get("section")):
        return ""
    last, words = done[-1], []
    if last.section and _section(planned) != last.section.casefold():
        words.append("elsewhere")
    if last.kind == Kind.TECHNIQUE:
        words += [
            f"another {name}"
            for field, name in _DETAILS.items()
            if None not in (getattr(last, field), planned.get(field))
            and getattr(last, field) != planned.get(field)
        ]
    return ", ".join(words)


def amount_differs(kind: str, planned: dict[str, Any], done: Sequence[LogEntry]) -> str:
    """In a word how what went in departs from what was planned; empty where it does not."""
    if kind == Kind.STOCK and any(entry.kind == Kind.POWDER for entry in done):
        return "powder instead of stock"
    if kind == Kind.POWDER and any(entry.kind == Kind.STOCK for entry in done):
        return "stock instead of powder"
    weighed = any(entry.milligrams or entry.microlitres for entry in done)
    if planned.get("as_typed") and weighed and not (planned.get("milligrams") or planned.get("microlitres")):
        return "measured this time"
    strength = planned.get("strength_mg_per_litre")
    if strength and any(entry.strength_mg_per_litre not in (strength, None) for entry in done):
        return "another strength"
    for name in ("milligrams", "microlitres"):
        meant = planned.get(name)
        if not meant:
            continue
        put_in = sum(getattr(entry, name) or 0 for entry in done)
        # Water is poured by the jug.
        same = meant // WATER_SAME if kind == Kind.WATER else 0
        if abs(put_in - meant) > same:
            return "more" if put_in > meant else "less"
    return ""
