"""From what a line was read as to what the log keeps: which dye, bottle or jar it means, and what is still to be asked.

An amount is never changed here. What cannot be told with certainty stays open and becomes a question on the entry.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import Any

from django.utils import timezone

from recipes.dyeing.potline.naming import Found
from recipes.dyeing.potline.reading import Reading
from recipes.dyeing.potline.sections import LONGEST_SECTION
from recipes.lots.bench import DYE_KINDS, Bench, strength_words
from recipes.lots.models import LogEntry
from recipes.models import Auxiliary, Dye, Mix

Kind = LogEntry.Kind

#: A kitchen clock may run ahead of the phone by so much before its time is taken to be yesterday's.
CLOCK_AHEAD = timedelta(minutes=5)

ADDITIONS = (Kind.STOCK, Kind.POWDER, Kind.MIX, Kind.AUXILIARY, Kind.WATER)

#: What an entry says, apart from who said it when: copied by a repeat and by a correction.
SAID = (
    "kind",
    "typed",
    "name",
    "dye",
    "jar",
    "bottle",
    "mix",
    "auxiliary",
    "milligrams",
    "microlitres",
    "strength_mg_per_litre",
    "jar_before_milligrams",
    "jar_after_milligrams",
    "as_typed",
    "about",
    "section",
    "technique",
    "seconds",
    "millimetres",
    "hanks",
    "centi_celsius",
    "ph_hundredths",
    "heat_on",
    "heat_level",
    "text",
    "photo",
    "planned",
)


@dataclass(frozen=True, slots=True)
class Meant:
    """One entry to be: its kind and fields, the clock time typed with it, and what is asked about it."""

    kind: str
    fields: dict[str, Any] = field(default_factory=dict)
    clock: str = ""
    question: str = ""

    @property
    def is_addition(self) -> bool:
        return self.kind in ADDITIONS


def what_is_meant(
    readings: Sequence[Reading], *, typed: str, bench: Bench, last_addition: LogEntry | None
) -> list[Meant]:
    """The entries that a line stands for, each with the whole line beside it as it was typed."""
    return [_one(reading, typed, bench, last_addition) for reading in readings]


def _one(reading: Reading, typed: str, bench: Bench, last_addition: LogEntry | None) -> Meant:
    if reading.kind == "repeat":
        return _repeat(reading, typed, bench, last_addition)
    made = _FIELDS[reading.kind](reading, bench) if reading.kind in _FIELDS else {"text": reading.text}
    kind = made.pop("kind", reading.kind)
    question = "" if _asks_for_the_name(reading, bench) else reading.question[:300]
    return complete(Meant(kind, {**made, "typed": typed}, reading.clock, question), bench)


def _asks_for_the_name(reading: Reading, bench: Bench) -> bool:
    """Whether the reader's question is only that nothing in the store is called so, which is asked here in own words."""
    if reading.match is not None or not reading.name or reading.kind not in ("stock", "powder", "auxiliary"):
        return False
    return f"“{reading.name}”" in reading.question and not _called(reading, bench).things


def _repeat(reading: Reading, typed: str, bench: Bench, last: LogEntry | None) -> Meant:
    if last is None:
        question = "Nothing has gone into this pot yet. What went in?"
        return Meant(Kind.NOTE, {"text": typed, "typed": typed}, reading.clock, question)
    said = what_was_said(last)
    kind = said.pop("kind")
    # A second scoop is another weighing, and a repeat of a planned step is one more than planned.
    said.update(typed=typed, jar_before_milligrams=None, jar_after_milligrams=None, planned=None)
    return complete(Meant(kind, said, reading.clock), bench)


def what_was_said(entry: LogEntry) -> dict[str, Any]:
    """The fields of an entry that tell what was done."""
    return {name: getattr(entry, name) for name in SAID}


def _addition(reading: Reading) -> dict[str, Any]:
    return {
        "name": reading.name[:80],
        "milligrams": reading.milligrams,
        "microlitres": reading.microlitres,
        "as_typed": reading.as_typed[:200],
        "about": reading.about,
        "section": reading.section[:LONGEST_SECTION],
        "technique": reading.technique,
    }


def _technique(reading: Reading, bench: Bench) -> dict[str, Any]:
    """What was done to the yarn; its name is what it was done with."""
    return {
        "name": reading.name[:80],
        "about": reading.about,
        "section": reading.section[:LONGEST_SECTION],
        "technique": reading.technique,
        "seconds": reading.seconds,
        "millimetres": reading.millimetres,
        "hanks": reading.hanks,
        "centi_celsius": _hundredths(reading.celsius),
    }


def _stock(reading: Reading, bench: Bench) -> dict[str, Any]:
    strength = _strength(reading.strength_percent)
    mix = _mix(reading, bench)
    if mix is not None:
        return {**_addition(reading), "kind": Kind.MIX.value, "mix": mix, "strength_mg_per_litre": strength}
    return {**_addition(reading), "dye": _dye(reading, bench), "strength_mg_per_litre": strength}


def _powder(reading: Reading, bench: Bench) -> dict[str, Any]:
    return {
        **_addition(reading),
        "dye": _dye(reading, bench),
        "jar_before_milligrams": reading.jar_before_milligrams,
        "jar_after_milligrams": reading.jar_after_milligrams,
    }


def _auxiliary(reading: Reading, bench: Bench) -> dict[str, Any]:
    return {**_addition(reading), "auxiliary": _named_auxiliary(reading, bench)}


_FIELDS = {
    "stock": _stock,
    "powder": _powder,
    "auxiliary": _auxiliary,
    "water": lambda reading, bench: {**_addition(reading), "text": reading.text[:500]},
    "temperature": lambda reading, bench: {"centi_celsius": _hundredths(reading.celsius)},
    "ph": lambda reading, bench: {"ph_hundredths": _hundredths(reading.ph)},
    "heat": lambda reading, bench: {"heat_on": reading.on, "heat_level": reading.level[:20]},
    "exhausted": lambda reading, bench: {},
    "technique": _technique,
}


def _hundredths(value: Decimal | None) -> int | None:
    return None if value is None else int((value * 100).to_integral_value())


def _strength(percent: str) -> int | None:
    """Milligrams a litre; None where none was typed or it is finer than can be kept."""
    if not percent:
        return None
    value = Decimal(percent) * 10_000
    return int(value) if value == value.to_integral_value() and 0 < value <= 500_000 else None


def _dye(reading: Reading, bench: Bench) -> Dye | None:
    if reading.match_kind in DYE_KINDS and isinstance(reading.match, int) and _certain(reading, bench):
        return bench.dyes.get(reading.match)
    return None


def _mix(reading: Reading, bench: Bench) -> Mix | None:
    if reading.match_kind == "jug" and isinstance(reading.match, int):
        return bench.mixes.get(reading.match) if bench.mixes_called(reading.name).certain else None
    return None


def _certain(reading: Reading, bench: Bench) -> bool:
    """Whether the name is the thing's, not merely spelled nearly so: a near miss is asked, never taken."""
    return _called(reading, bench).certain


def _called(reading: Reading, bench: Bench) -> Found:
    return bench.called(reading.name, auxiliary=reading.kind == "auxiliary")


def _named_auxiliary(reading: Reading, bench: Bench) -> Auxiliary | None:
    if reading.match_kind == "auxiliary" and isinstance(reading.match, int) and _certain(reading, bench):
        return bench.auxiliaries.get(reading.match)
    return None


def complete(meant: Meant, bench: Bench) -> Meant:
    """The entry with its bottle or jar filled in where only one can be meant, else with a question."""
    if meant.kind == Kind.STOCK:
        return _complete_stock(meant, bench)
    if meant.kind == Kind.POWDER:
        return _complete_powder(meant, bench)
    if meant.kind == Kind.AUXILIARY:
        return _complete_auxiliary(meant)
    if meant.kind == Kind.MIX:
        return _complete_mix(meant)
    return meant


def _asking(meant: Meant, question: str, **fields: Any) -> Meant:
    return replace(meant, fields={**meant.fields, **fields}, question=meant.question or question[:300])


def _complete_stock(meant: Meant, bench: Bench) -> Meant:
    dye: Dye | None = meant.fields.get("dye")
    if dye is None:
        return _asking(meant, _not_in_store(meant, "which dye is it?"))
    if meant.fields.get("bottle") is not None:
        bottle = meant.fields["bottle"]
        return _asking(meant, "", strength_mg_per_litre=bottle.strength_mg_per_litre)
    strength = meant.fields.get("strength_mg_per_litre")
    if strength is None:
        there = bench.strengths(dye)
        if len(there) != 1:
            return _asking(meant, _which_strength(dye, there))
        strength = there[0]
    return _asking(meant, "", strength_mg_per_litre=strength, bottle=bench.bottle(dye, strength))


def _which_strength(dye: Dye, there: list[int]) -> str:
    if not there:
        return f"No bottle of {dye.name} is in the store: how strong was it?"
    listed = " and ".join(strength_words(each) for each in there)
    return f"{dye.name} is here at {listed}: which bottle was it?"


def _complete_powder(meant: Meant, bench: Bench) -> Meant:
    dye: Dye | None = meant.fields.get("dye")
    if dye is None:
        return _asking(meant, _not_in_store(meant, "which dye is it?"))
    if meant.fields.get("jar") is not None:
        return meant
    jars = bench.jars.get(dye.pk, [])
    if len(jars) > 1:
        listed = " and ".join(jar.label for jar in sorted(jars, key=lambda jar: jar.pk))
        return _asking(meant, f"More than one jar of {dye.name} is open, {listed}: which one was it?")
    return _asking(meant, "", jar=jars[0] if jars else None)


def _complete_mix(meant: Meant) -> Meant:
    """A mix has no strength of its own, since each of its dyes has another."""
    if meant.fields.pop("strength_mg_per_litre", None):
        return _asking(meant, "Each dye of a mix has a strength of its own. Was it this jug?")
    if not meant.fields.get("microlitres"):
        return _asking(meant, "How many ml of it were that?")
    return meant


def _complete_auxiliary(meant: Meant) -> Meant:
    auxiliary: Auxiliary | None = meant.fields.get("auxiliary")
    if auxiliary is None:
        return _asking(meant, _not_in_store(meant, "what is it?"))
    if auxiliary.is_liquid and meant.fields.get("milligrams"):
        return _asking(meant, f"{auxiliary.name} is measured in millilitres here: how many ml was it?")
    if not auxiliary.is_liquid and meant.fields.get("microlitres"):
        return _asking(meant, f"{auxiliary.name} is weighed here: how many grams of it were in the solution?")
    return meant


def _not_in_store(meant: Meant, which: str) -> str:
    name = str(meant.fields.get("name") or "").strip()
    if not name:
        return f"No name was given: {which}"
    return f"{name[:1].upper()}{name[1:]} is not in the store: {which}"


def moment_of(clock: str, *, told_at: datetime) -> datetime:
    """When something happened that was told at a moment with a clock time: a time still to come means yesterday.

    `clock` is HH:MM in the studio's zone, or empty for the moment itself. In the night when the clocks go back, an hour that
    was there twice means the one just gone.
    """
    if not clock:
        return told_at
    moments = _moments_about(clock, told_at)
    if any(told_at < moment <= told_at + CLOCK_AHEAD for moment in moments):
        return told_at
    return max(moment for moment in moments if moment <= told_at)


def _moments_about(clock: str, at: datetime) -> list[datetime]:
    """The moments at which the studio's clocks show a time on the day before, the day itself, and the day after."""
    today = timezone.localtime(at).date()
    return [each for days in (-1, 0, 1) for each in _moments(clock, today + timedelta(days=days))]


def _moments(clock: str, day: date) -> list[datetime]:
    """The moments at which the studio's clocks show a time on a day: two where an hour is there twice."""
    hour, minute = (int(part) for part in clock.split(":"))
    shown = datetime(day.year, day.month, day.day, hour, minute, tzinfo=timezone.get_current_timezone())
    first, second = (shown.replace(fold=fold).astimezone(UTC) for fold in (0, 1))
    # A time that the clocks leap over in spring is there once: as a clock shows it that nobody has put forward yet.
    return [first, second] if second > first else [first]


def moment_near(clock: str, *, at: datetime, told_at: datetime | None = None) -> datetime:
    """The clock time nearest to when an entry happened, for correcting it; never one still to come when it is told."""
    if not clock:
        return at
    known = [each for each in _moments_about(clock, at) if told_at is None or each <= told_at]
    return min(known, key=lambda each: abs(each - at), default=at)
