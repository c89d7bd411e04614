"""Temperature programmes by class and the hottest bath that a fibre should have.

These are tables: they fill gaps where the studio's own log says nothing, and they are capped by the most delicate fibre.
Temperatures are hundredths of a degree Celsius.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from fractions import Fraction

from recipes.dyeing import sources
from recipes.dyeing.classes import dyes_by_fibre
from recipes.dyeing.fibres import CELLULOSE, POLYAMIDE, PROTEIN
from recipes.dyeing.units import format_celsius, format_minutes
from recipes.dyeing.working import Source


class StepKind(StrEnum):
    """What a step of a temperature programme does."""

    START = "start"
    RISE = "rise"
    HOLD = "hold"
    COOL = "cool"


@dataclass(frozen=True, slots=True)
class Step:
    """One step. `minutes` is how long it takes, up to `most_minutes` where a span is published; None is not known.

    `from_table` says that it is a published figure and not from the studio's own log.
    """

    kind: StepKind
    from_centi_celsius: int | None
    to_centi_celsius: int | None
    minutes: Fraction | None = None
    most_minutes: Fraction | None = None
    words: str = ""
    from_table: bool = False

    @property
    def centi_celsius_per_minute(self) -> Fraction | None:
        """The rate of a rise or a cooling, never below zero; None where it is not known."""
        if self.minutes is None or self.minutes == 0:
            return None
        if self.from_centi_celsius is None or self.to_centi_celsius is None:
            return None
        return Fraction(abs(self.to_centi_celsius - self.from_centi_celsius)) / self.minutes

    @property
    def line(self) -> str:
        """The step in words: Rise to 85 °C in 45 min."""
        return self.in_words()

    def in_words(self, *, us: bool = False) -> str:
        """The step in words, with degrees Fahrenheit beside the others when asked."""
        verb = {"start": "Start at", "rise": "Rise to", "hold": "Hold at", "cool": "Cool to"}[self.kind]
        parts = (
            [verb, format_celsius(self.to_centi_celsius, us=us)]
            if self.to_centi_celsius is not None
            else [verb[:-3]]
        )
        if self.minutes is not None:
            span = format_minutes(self.minutes)
            if self.most_minutes is not None and self.most_minutes != self.minutes:
                span = f"{format_minutes(self.minutes)} to {format_minutes(self.most_minutes)}"
            parts.append(f"{'for' if self.kind in {StepKind.HOLD, StepKind.START} else 'in'} {span}")
        return " ".join(parts) + (f": {self.words}" if self.words else "")


@dataclass(frozen=True, slots=True)
class Cap:
    """The hottest bath for a base, why, and whose rule it is. `usual_from_centi_celsius` starts the span where one is given."""

    centi_celsius: int
    usual_from_centi_celsius: int
    why: str
    source: Source


_SILK_CAP = Cap(8500, 8500, "Silk is not dyed above 85 °C; hotter baths dull it.", sources.SILK_NOTE)
_SUPERWASH_CAP = Cap(
    9000,
    8500,
    "Superwash wool is damaged more by a boiling bath than untreated wool; it is usually finished at 85 to 90 °C.",
    sources.SHRINK_RESIST,
)


def temperature_cap(fibres: Iterable[str], superwash: bool | None) -> Cap | None:
    """The lowest cap of a base's fibres (slugs), or None where none is published.

    Silk 85 °C, superwash wool 90 °C. An unknown superwash treatment sets no cap.
    """
    slugs = set(fibres)
    caps = [_SILK_CAP] if "silk" in slugs else []
    if superwash and (not slugs or "wool" in slugs):
        caps.append(_SUPERWASH_CAP)
    return min(caps, key=lambda cap: cap.centi_celsius, default=None)


@dataclass(frozen=True, slots=True)
class ClassProgramme:
    """A published programme for a class on a fibre, already capped.

    `says` is what must stand beside it: that it is a table, and what of it is from a near class. `capped` says which fibre
    lowered it, and is empty where none did.
    """

    steps: tuple[Step, ...]
    source: Source
    says: str
    capped: str = ""

    @property
    def notes(self) -> tuple[str, ...]:
        """All that must stand beside it."""
        return (self.says, self.capped) if self.capped else (self.says,)

    @property
    def hold(self) -> Step | None:
        """The hottest hold."""
        holds = [step for step in self.steps if step.kind is StepKind.HOLD]
        return max(holds, key=lambda step: step.to_centi_celsius or 0, default=None)


def _step(
    kind: StepKind,
    start: int | None,
    end: int | None,
    minutes: int | Fraction | None = None,
    most: int | Fraction | None = None,
    words: str = "",
) -> Step:
    return Step(
        kind,
        start,
        end,
        None if minutes is None else Fraction(minutes),
        None if most is None else Fraction(most),
        words,
        from_table=True,
    )


_START, _RISE, _HOLD, _COOL = StepKind.START, StepKind.RISE, StepKind.HOLD, StepKind.COOL

_LEVELLING = (
    _step(_START, 4000, 4000, 10, 15, "with salt and half the acid, then the dye"),
    _step(_RISE, 4000, 10000, 30, None, "or slower"),
    _step(_HOLD, 10000, 10000, 20, None, "from when the bath is clear"),
    _step(_COOL, 10000, None, None, None, "slowly, in the bath"),
)
_ACID_WORKROOM = (
    _step(_START, 6600, 6600, None, None, "the published start is 66 to 82 °C"),
    _step(_RISE, 6600, 9330, None, None, "slowly"),
    _step(_HOLD, 9330, 9330, 30, 60, "never boiling"),
    _step(_COOL, 9330, None, None, None, "in the bath"),
)
# 110 °F to 205 °F at 2.0 and 1.5 °F a minute are 47.5 and 63.3 minutes.
_MILLING = (
    _step(_START, 4330, 4330, 15, None, "then add the dye"),
    _step(_RISE, 4330, 9610, Fraction(95, 2), Fraction(190, 3), "0.8 to 1.1 °C a minute"),
    _step(_HOLD, 9610, 9610, 20, 30, "then some acid if the bath is not clear"),
    _step(_COOL, 9610, 7110, None, None, "at least, before the bath is dropped"),
)
_PREMETALLISED = (
    _step(_START, 3800, 4900, 10, None, "from 38 to 49 °C, at pH 4.5"),
    _step(_RISE, 4900, 9330, None, None, "slowly"),
    _step(_HOLD, 9330, 9330, 60, None, "some acid after 15 min if it is needed"),
    _step(_COOL, 9330, 7110, None, None, "before the bath is dropped"),
)
_MIXED = (
    _step(_START, 2000, 2000, None, None, "cold or warm"),
    _step(_RISE, 2000, 9330, 30, 45),
    _step(_HOLD, 9330, 9330, 30, 45),
    _step(_COOL, 9330, None, 30, 45, "in the bath"),
)
_COLD_ON_PROTEIN = (
    _step(_START, 2500, 2500, None, None, "20 to 30 °C"),
    _step(_RISE, 2500, 10000, 45),
    _step(_HOLD, 10000, 10000, 30, 60, "30 min for pale, 60 min for dark shades, simmering"),
    _step(_COOL, 10000, None, None, None, "in the bath"),
)
_COLD_ON_CELLULOSE = (
    _step(_START, 4060, 4060, 20, None, "with salt and dye"),
    _step(_HOLD, 4060, 4060, 15, None, "soda ash in three parts, 5 min apart"),
    _step(_HOLD, 4060, 4060, 30, 60, "30 min for pastels, 50 to 60 min for dark shades"),
)
_SILK = (
    _step(_START, 4000, 4000, None, None, "with acetic acid, without Glauber's salt, which dulls silk"),
    _step(_RISE, 4000, 8500, None, None, "slowly"),
    _step(_HOLD, 8500, 8500, 30, 60),
    _step(_COOL, 8500, None, None, None, "in the bath"),
)
_NYLON_ACID = (
    _step(_START, 5000, 5000, None, None, "50 to 60 °C, pH 4 to 6"),
    _step(_RISE, 5000, 10000, None, None, "slowly"),
    _step(_HOLD, 10000, 10000),
)
_NYLON_PREMETALLISED = (
    _step(_START, 4500, 4500, None, None, "45 to 50 °C, pH 6 to 6.5"),
    _step(_RISE, 4500, 10000, None, None, "slowly"),
    _step(_HOLD, 10000, 10000),
)

_ACIDS = frozenset({"acid_unknown", "levelling", "fast_acid", "milling", "super_milling"})
_IS_A_TABLE = "This is a published table for the class, not from your own log."


def default_programme(
    dye_class: str, fibres: str | Iterable[str], superwash: bool | None = None
) -> ClassProgramme | None:
    """The published programme for a class on a base (fibre slugs, most of it first), capped by its fibres.

    None where there is none here: direct and other dyes, reactive dyes other than the cold ones, classes on fibres that
    nobody's sheet here covers. The maker's sheet decides then.
    """
    slugs = (fibres,) if isinstance(fibres, str) else tuple(fibres)
    found = _table_for(dye_class, slugs)
    if found is None:
        return None
    steps, source, aside = found
    cap = temperature_cap(slugs, superwash)
    capped, changed = _capped(steps, cap)
    says = " ".join(part for part in (_IS_A_TABLE, aside) if part)
    note = (
        f"It was capped at {format_celsius(cap.centi_celsius)}. {cap.why}"
        if cap is not None and changed
        else ""
    )
    return ClassProgramme(capped, source, says, note)


def _table_for(dye_class: str, fibres: Sequence[str]) -> tuple[tuple[Step, ...], Source, str] | None:
    kind = dyes_by_fibre(fibres)
    if kind == CELLULOSE:
        if dye_class == "cold_reactive":
            return _COLD_ON_CELLULOSE, sources.FORUM_IMMERSION, ""
        return None
    if kind not in {PROTEIN, POLYAMIDE, ""}:
        return None
    if kind == POLYAMIDE and dye_class == "premetallised_1_2":
        return _NYLON_PREMETALLISED, sources.NYLON_NOTE, "It gives no time to hold."
    if kind == POLYAMIDE and dye_class in _ACIDS:
        return _NYLON_ACID, sources.NYLON_NOTE, "It gives no time to hold."
    if next(iter(fibres), "") == "silk" and dye_class in _ACIDS:
        return _SILK, sources.SILK_NOTE, "Its hold is that of a workroom sheet."
    if dye_class == "cold_reactive" and kind == POLYAMIDE:
        return None
    return _ON_PROTEIN.get(dye_class)


_ON_PROTEIN: dict[str, tuple[tuple[Step, ...], Source, str]] = {
    "acid_unknown": (_ACID_WORKROOM, sources.WORKROOM_SILK, "The class of the dye is not known."),
    "levelling": (_LEVELLING, sources.ARTIST_ACID, ""),
    "fast_acid": (_ACID_WORKROOM, sources.WORKROOM_SILK, "It is a sheet for acid dyes in general."),
    "milling": (_MILLING, sources.MAKER_MILLING, ""),
    "super_milling": (_MILLING, sources.MAKER_MILLING, "It is the one for milling dyes, the nearest class."),
    "premetallised_1_2": (
        _PREMETALLISED,
        sources.MAKER_WOOL_NYLON,
        "It is one for acid and 1:2 dyes on wool with nylon; its 60 min are the time in all.",
    ),
    "mixed_1_2_reactive": (_MIXED, sources.SHEET_MIXED, ""),
    "cold_reactive": (_COLD_ON_PROTEIN, sources.SHEET_COLD_ON_WOOL, ""),
}


def _capped(steps: tuple[Step, ...], cap: Cap | None) -> tuple[tuple[Step, ...], bool]:
    """The steps with no temperature above the cap, rises keeping their rate; and whether that changed anything."""
    if cap is None:
        return steps, False
    limited = tuple(cap_step(step, cap.centi_celsius) for step in steps)
    return limited, limited != steps


def cap_step(step: Step, most_centi_celsius: int) -> Step:
    """A step held below a temperature; a rise keeps its rate, so it takes less time."""
    start = None if step.from_centi_celsius is None else min(step.from_centi_celsius, most_centi_celsius)
    end = None if step.to_centi_celsius is None else min(step.to_centi_celsius, most_centi_celsius)
    if (start, end) == (step.from_centi_celsius, step.to_centi_celsius):
        return step
    minutes, most = step.minutes, step.most_minutes
    if step.kind is StepKind.RISE and start is not None and end is not None:
        whole_way = (step.to_centi_celsius or 0) - (step.from_centi_celsius or 0)
        share = Fraction(end - start, whole_way) if whole_way > 0 else Fraction(1)
        minutes = None if minutes is None else minutes * share
        most = None if most is None else most * share
    return replace(step, from_centi_celsius=start, to_centi_celsius=end, minutes=minutes, most_minutes=most)
