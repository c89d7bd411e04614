"""The large buttons of the techniques: what this pot did last at the front, each with its last and usual details."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from recipes.dyeing.techniques import TECHNIQUES, Takes, Technique, technique_words
from recipes.lots.models import LogEntry

AT_HAND = 6
MOST_USUAL = 4
#: Details that are offered before any were used: seconds, millimetres, hanks. Common practice of the trade, no source.
USUAL: dict[str, tuple[tuple[int | None, int | None, int | None], ...]] = {
    "dip": ((10, None, None), (30, None, None)),
    "steam": ((20 * 60, None, None), (30 * 60, None, None), (40 * 60, None, None)),
    "hold": ((10 * 60, None, None), (20 * 60, None, None), (30 * 60, None, None)),
    "enter": ((None, None, 1), (None, None, 2)),
    "lift": ((None, None, 1), (None, None, 2)),
}
#: The techniques in the order in which they stand before any was used.
_ORDER = {technique.slug: place for place, technique in enumerate(TECHNIQUES)}


@dataclass(frozen=True, slots=True)
class UsualStep:
    """A step to keep at a touch: what is sent as `usual`, and what is read on its button."""

    value: str
    label: str


@dataclass(frozen=True, slots=True)
class TechniqueTap:
    """One technique on the bench, with the steps that are kept at a touch and the words of the last one."""

    technique: Technique
    usual: list[UsualStep] = field(default_factory=list)
    last: str = ""

    @property
    def slug(self) -> str:
        return f"technique-{self.technique.slug}"

    @property
    def asks_length(self) -> bool:
        return Takes.MILLIMETRES in self.technique.takes

    @property
    def asks_seconds(self) -> bool:
        return self.technique.asks_time and not self.technique.minutes

    @property
    def asks_minutes(self) -> bool:
        return self.technique.asks_time and self.technique.minutes

    @property
    def asks_hanks(self) -> bool:
        return self.technique.slug in ("enter", "lift")

    @property
    def asks_what(self) -> str:
        """What it was done with or in, where that is asked."""
        return {"dip": "Dipped in", "wrap": "Wrapped in", "resist": "With"}.get(self.technique.slug, "")

    @property
    def asks_anything(self) -> bool:
        return self.technique.asks_time or self.asks_length or self.asks_hanks or bool(self.asks_what)


@dataclass(frozen=True, slots=True)
class TechniqueTaps:
    """All techniques, what this pot did last at the front."""

    taps: list[TechniqueTap]

    @property
    def at_hand(self) -> list[TechniqueTap]:
        return self.taps[:AT_HAND]

    @property
    def more(self) -> list[TechniqueTap]:
        return self.taps[AT_HAND:]


def set_technique_taps(kept: Sequence[LogEntry], *, us: bool = False) -> TechniqueTaps:
    """The buttons, from a pot's entries that count in the order they happened."""
    done: dict[str, list[LogEntry]] = {}
    for entry in reversed(kept):
        if entry.kind == LogEntry.Kind.TECHNIQUE:
            done.setdefault(entry.technique, []).append(entry)
    newest = list(done)
    ordered = sorted(
        TECHNIQUES,
        key=lambda each: (newest.index(each.slug) if each.slug in done else len(newest), _ORDER[each.slug]),
    )
    return TechniqueTaps([_tap(technique, done.get(technique.slug, []), us) for technique in ordered])


def _tap(technique: Technique, done: Sequence[LogEntry], us: bool) -> TechniqueTap:
    used = [(entry.seconds, entry.millimetres, entry.hanks) for entry in done]
    details = [*used, *USUAL.get(technique.slug, ())]
    distinct = [each for each in dict.fromkeys(details) if any(part is not None for part in each)][
        :MOST_USUAL
    ]
    return TechniqueTap(
        technique=technique,
        usual=[UsualStep(_value(*each), _label(technique.slug, *each, us=us)) for each in distinct],
        last=_last(done[0], us) if done else technique.what,
    )


def _value(seconds: int | None, millimetres: int | None, hanks: int | None) -> str:
    return "-".join("" if part is None else str(part) for part in (seconds, millimetres, hanks))


def _label(slug: str, seconds: int | None, millimetres: int | None, hanks: int | None, *, us: bool) -> str:
    words = technique_words(slug, seconds=seconds, millimetres=millimetres, hanks=hanks, us=us)
    for name in ("Dip for ", "Dip ", "Steam ", "Hold ", "Enter ", "Lift out "):
        if words.startswith(name):
            return words.removeprefix(name)
    return words


def _last(entry: LogEntry, us: bool) -> str:
    words = technique_words(
        entry.technique,
        seconds=entry.seconds,
        millimetres=entry.millimetres,
        hanks=entry.hanks,
        section=entry.section,
        us=us,
    )
    return f"last: {words[:1].lower()}{words[1:]}"


def read_usual(sent: str) -> dict[str, int | None]:
    """The details that a button sent; nothing for anything else."""
    parts = sent.split("-")
    if len(parts) != 3 or not all(part == "" or part.isdecimal() for part in parts):
        return {}
    names = ("seconds", "millimetres", "hanks")
    return {name: int(part) if part else None for name, part in zip(names, parts, strict=True)}
