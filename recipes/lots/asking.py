"""Quick answers to what a log entry leaves open: one touch each, nothing guessed."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction

from django.utils import timezone

from recipes.dyeing.potline import describe, read_line
from recipes.dyeing.potline.doubts import SHARED
from recipes.dyeing.techniques import on_section
from recipes.dyeing.units import format_number
from recipes.lots.bench import called, known_auxiliaries, known_dyes, strength_words
from recipes.lots.models import LogEntry
from recipes.models import Auxiliary, Dye, Jar, Mix, StockBottle

Kind = LogEntry.Kind
MOST_NEAR = 4
LONGEST_TYPED = 500
USUAL_STRENGTHS = (1_000, 5_000, 10_000, 20_000, 50_000)


@dataclass(frozen=True, slots=True)
class Answer:
    """One button: its words, and the field and value that it sends."""

    label: str
    name: str
    value: str


@dataclass(frozen=True, slots=True)
class Asked:
    """How a question can be answered: by a button, by naming something in the store, by filling the pot line.

    `line` is what the pot line is filled with, a … standing where the amount is to be written.
    """

    buttons: list[Answer] = field(default_factory=list)
    things: list[Answer] = field(default_factory=list)
    line: str = ""
    line_label: str = ""


@dataclass(frozen=True, slots=True)
class Things:
    """What the store has that an answer can name."""

    dyes: Sequence[Dye] = ()
    auxiliaries: Sequence[Auxiliary] = ()
    bottles: Sequence[StockBottle] = ()
    jars: Sequence[Jar] = ()
    mixes: Sequence[Mix] = ()


def quick_answers(entry: LogEntry, *, things: Things, last_addition: LogEntry | None) -> Asked:
    """The quick answers to an entry's question; none where only another line can answer it."""
    if entry.kind in (Kind.STOCK, Kind.POWDER):
        return _dye_answers(entry, things)
    if entry.kind == Kind.AUXILIARY and entry.auxiliary_id is None:
        return _naming(entry, things, first=Kind.AUXILIARY)
    if entry.kind == Kind.NOTE:
        return _note_answers(entry, things, last_addition)
    return Asked()


def _dye_answers(entry: LogEntry, things: Things) -> Asked:
    if entry.dye_id is None:
        return _naming(entry, things, first=Kind.STOCK)
    if entry.kind == Kind.STOCK and entry.strength_mg_per_litre is None:
        bottles = [bottle for bottle in things.bottles if bottle.dye_id == entry.dye_id]
        if bottles:
            # Of bottles alike the one used last stands for its strength.
            first = {bottle.strength_mg_per_litre: bottle for bottle in reversed(bottles)}
            return Asked(
                [Answer(strength_words(each), "bottle", str(first[each].pk)) for each in sorted(first)]
            )
        return Asked([Answer(strength_words(each), "strength", str(each)) for each in USUAL_STRENGTHS])
    if entry.kind == Kind.POWDER and entry.jar_id is None and entry.milligrams:
        return Asked(
            [Answer(jar.label, "jar", str(jar.pk)) for jar in things.jars if jar.dye_id == entry.dye_id]
        )
    return Asked()


def _which_jug(things: Things) -> Asked:
    """An entry that names a jug which is not one of the open mixes."""
    return Asked([Answer(f"Mix {mix}", "mix", str(mix.pk)) for mix in things.mixes[:MOST_NEAR]])


def _naming(entry: LogEntry, things: Things, *, first: str) -> Asked:
    if things.mixes and first == Kind.STOCK and _JUG.match(entry.name.strip()):
        return _which_jug(things)
    dyes = [Answer(dye.name, "thing", f"dye-{dye.pk}") for dye in things.dyes]
    auxiliaries = [Answer(each.name, "thing", f"auxiliary-{each.pk}") for each in things.auxiliaries]
    named = entry.name.strip()
    known = [*known_dyes(things.dyes), *known_auxiliaries(things.auxiliaries)]
    near = dict.fromkeys(
        (each.name, each.kind == "auxiliary", each.id) for each in called(named, among=known).things
    )
    new = [
        Answer(name, "thing", f"{'auxiliary' if is_auxiliary else 'dye'}-{pk}")
        for name, is_auxiliary, pk in list(near)[:MOST_NEAR]
    ]
    if named:
        words = f"{named[:1].upper()}{named[1:]}"
        what = "auxiliary" if first == Kind.AUXILIARY else "dye"
        new.append(Answer(f"Add {words} to the store as a new {what}", "add", what))
    listed = [*auxiliaries, *dyes] if first == Kind.AUXILIARY else [*dyes, *auxiliaries]
    return Asked(buttons=new, things=listed)


_JUG = re.compile(r"^(jug|mix)\b", re.IGNORECASE)
_SWAPPED = re.compile(
    r"^no[,:]?\s+(?P<right>\d+(?:[.,]\d+)?)\s+not\s+(?P<wrong>\d+(?:[.,]\d+)?)$", re.IGNORECASE
)
_ACID = re.compile(r"\bacid\b", re.IGNORECASE)
_NO_UNIT = re.compile(r"^\+?\s*(?P<number>\d+(?:[.,]\d+)?)\s+(?P<name>[^\W\d][^\d%]*)$")


def _note_answers(entry: LogEntry, things: Things, last_addition: LogEntry | None) -> Asked:
    text = entry.text.strip()
    swapped = _SWAPPED.match(text)
    if swapped and last_addition is not None:
        return _swap(swapped, last_addition)
    if entry.question == SHARED:
        return Asked(_shared(text))
    bare = _NO_UNIT.match(text) if entry.question else None
    if bare:
        number, name = bare["number"], bare["name"].strip()
        return Asked([Answer(f"{number} {unit}", "typed", f"{number} {unit} {name}") for unit in ("ml", "g")])
    acids = [each for each in things.auxiliaries if each.role == Auxiliary.Role.ACID]
    if _ACID.search(text) and acids and entry.question:
        unit = "ml" if acids[0].is_liquid else "g"
        clock = f"{timezone.localtime(entry.happened_at):%H:%M} " if entry.typed != text else ""
        return Asked(line=f"{clock}… {unit} {acids[0].name}", line_label="Acid is in now: how much?")
    return Asked()


def _shared(text: str) -> list[Answer]:
    """One amount on several sections: so much for all of them together, or on each, a line for each."""
    together = f"{text} in all"
    reading = read_line(together)[0]
    if not reading.is_addition or not reading.section:
        return []
    names = reading.section.split(", ")
    amount = describe(replace(reading, section="", clock=""))
    each = "; ".join(f"{amount} {on_section(name)}" for name in names)
    again = [read.section for read in read_line(each)]
    buttons = [Answer(f"{amount} in all", "typed", together)]
    if again == names and len(each) <= LONGEST_TYPED:
        buttons.append(Answer(f"{amount} on each of {len(names)}", "typed", each))
    return buttons


def _swap(swapped: re.Match[str], last: LogEntry) -> Asked:
    """Offer to put the last addition right where the wrong number is really its amount."""
    stored = last.microlitres or last.milligrams
    wrong, right = (swapped[name].replace(",", ".") for name in ("wrong", "right"))
    if stored is None or format_number(_thousandth(stored)) != wrong:
        return Asked()
    unit = "ml" if last.microlitres else "g"
    thing = last.dye or last.auxiliary
    name = thing.name if thing is not None else last.name or "water"
    return Asked(
        [Answer(f"{name}: {right} {unit} instead of {wrong} {unit}", "instead", f"{last.key} {right}")]
    )


def _thousandth(stored: int) -> Fraction:
    return Fraction(stored, 1000)
