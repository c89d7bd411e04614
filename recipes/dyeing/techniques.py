"""Techniques: what is done to the yarn, beside what goes into the bath. Each is a step of the log under a short slug.

The words are the trade's. A detail that was not said is left out of the words, never filled in.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from recipes.dyeing.units import format_celsius, format_minutes, format_number, from_millimetres
from recipes.dyeing.working import Exact, exact

MILLIMETRES_IN_CENTIMETRE = 10
#: Below this a time is said in seconds, as a dip is; from here on in minutes where they are whole.
SAID_IN_SECONDS_BELOW = 120


class Takes(StrEnum):
    """A detail that a step may carry; the value is the name of its field in a log entry and in a rule."""

    SECONDS = "seconds"
    MILLIMETRES = "millimetres"
    HANKS = "hanks"
    SECTION = "section"
    DEGREES = "centi_celsius"


@dataclass(frozen=True, slots=True)
class Technique:
    """One technique: its slug, its name, what it is in a line, which details it takes, and which of them is asked first.

    `minutes` says that its time is asked in minutes; a dip is timed in seconds.
    """

    slug: str
    name: str
    what: str
    takes: tuple[Takes, ...] = ()
    minutes: bool = False

    @property
    def asks_time(self) -> bool:
        return Takes.SECONDS in self.takes


TECHNIQUES: tuple[Technique, ...] = (
    Technique(
        "dip",
        "Dip",
        "so far along the hank, for so long",
        (Takes.MILLIMETRES, Takes.SECONDS, Takes.SECTION, Takes.HANKS),
    ),
    Technique("hand_paint", "Hand-paint", "dye laid on in sections", (Takes.SECTION,)),
    Technique("speckle", "Speckle", "dry powder sprinkled on", (Takes.SECTION,)),
    Technique("wrap", "Wrap", "in film, so that sections stay apart", (Takes.SECTION,)),
    Technique("steam", "Steam", "set with steam", (Takes.SECONDS,), minutes=True),
    Technique("hold", "Hold", "kept as it is, for so long", (Takes.SECONDS, Takes.DEGREES), minutes=True),
    Technique("enter", "Enter hanks", "into the bath, some now, some later", (Takes.HANKS, Takes.SECTION)),
    Technique("lift", "Lift hanks", "out of the bath", (Takes.HANKS, Takes.SECTION)),
    Technique("resist", "Resist", "ties, clamps or wax keep dye out", (Takes.SECTION,)),
    Technique("glaze", "Glaze", "a thin layer of dye over the rest", (Takes.SECTION,)),
    Technique("overdye", "Overdye", "dyed again over a colour that is set", (Takes.SECTION,)),
    Technique("immersion", "Immersion", "covered by the bath, free to move"),
    Technique("low_immersion", "Low immersion", "in little bath, so that dye strikes unevenly"),
)
BY_SLUG = {technique.slug: technique for technique in TECHNIQUES}
SLUGS = tuple(BY_SLUG)


def technique_name(slug: str) -> str:
    """The name of a technique; the slug itself for one that nobody knows, so that no page fails on it."""
    known = BY_SLUG.get(slug)
    return known.name if known is not None else slug


def technique_words(
    slug: str,
    *,
    seconds: int | None = None,
    millimetres: int | None = None,
    hanks: int | None = None,
    section: str = "",
    centi_celsius: int | None = None,
    name: str = "",
    us: bool = False,
) -> str:
    """A step in a line: "Dip 20 cm for 30 s in red", "Steam 30 min", "Enter 2 hanks", "Hand-paint section A".

    `name` is what it was done with, as the dyer named it: the dye dipped into, the film, the ties.
    """
    parts = [_opening(slug, hanks, section)]
    if millimetres is not None:
        parts.append(format_centimetres(millimetres, us=us))
    if section and slug not in _MOVES:
        parts.append(on_section(section) if slug != "dip" else _dipped(section))
    if seconds is not None:
        long = format_seconds(seconds)
        parts.append(long if slug in ("hold", "steam") else f"for {long}")
    if centi_celsius is not None:
        parts.append(f"at {format_celsius(centi_celsius, us=us)}")
    if name:
        parts.append(f"({name})" if slug in _MOVES else f"{_WITH.get(slug, 'with')} {name}")
    return " ".join(parts)


_WITH = {"dip": "in", "wrap": "in"}
#: Hanks that go into the bath or come out of it, by their count or one by one.
_MOVES = {"enter": "Enter", "lift": "Lift out"}


#: How an addition was put on, after its amount and name.
_PUT_ON = {
    "hand_paint": "hand-painted",
    "speckle": "speckled",
    "glaze": "as a glaze",
    "overdye": "over the dye before",
}


def put_on_words(slug: str) -> str:
    """How an addition was put on: "hand-painted", "speckled"; the technique's name for any other."""
    return _PUT_ON.get(slug) or technique_name(slug).lower()


def _opening(slug: str, hanks: int | None, section: str) -> str:
    counted = "" if hanks is None else f" {hanks} {'hank' if hanks == 1 else 'hanks'}"
    if slug in _MOVES and (section or counted):
        return f"{_MOVES[slug]} {section}" if section else f"{_MOVES[slug]}{counted}"
    return f"{technique_name(slug)}{counted}"


def _dipped(section: str) -> str:
    """A part of the hank as it is dipped; a named or lettered section says which part that is."""
    return section if section.endswith("the hank") else on_section(section)


def on_section(section: str) -> str:
    """Where a thing went: "on section A", "on sections A and C", "on the left end", "on skein 2"."""
    if not section:
        return ""
    names = [each.strip() for each in section.split(",") if each.strip()]
    if names and all(_is_letter(name) for name in names):
        listed = names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
        return f"on section{'s' if len(names) > 1 else ''} {listed}"
    listed = section if len(names) < 2 else f"{', '.join(names[:-1])} and {names[-1]}"
    if listed.split()[0].casefold() in _NEEDS_NO_ARTICLE:
        return f"on {listed}"
    return f"on the {listed}"


_NEEDS_NO_ARTICLE = frozenset(
    ("skein", "skeins", "hank", "hanks", "half", "every", "each", "the", "all", "both")
)


def _is_letter(name: str) -> bool:
    return len(name) <= 2


def format_seconds(seconds: Exact) -> str:
    """A time as it is said at the pot: 30 s, 90 s, 20 min, 2 min 30 s, 1 h 15 min."""
    whole_seconds = int(exact(seconds))
    minutes, rest = divmod(whole_seconds, 60)
    if whole_seconds < SAID_IN_SECONDS_BELOW and (rest or not minutes):
        return f"{whole_seconds} s"
    return f"{format_minutes(minutes)} {rest} s" if rest else format_minutes(minutes)


def format_centimetres(millimetres: Exact, *, us: bool = False) -> str:
    """A length along the hank in centimetres, with inches beside them when asked: 20 cm, 7.5 cm (2.95 in)."""
    text = f"{format_number(exact(millimetres) / MILLIMETRES_IN_CENTIMETRE, 1)} cm"
    return f"{text} ({format_number(from_millimetres(millimetres, 'in'), 1)} in)" if us else text


def hold_minutes(seconds: int) -> Fraction:
    """The minutes of a hold or a steaming."""
    return Fraction(seconds, 60)
