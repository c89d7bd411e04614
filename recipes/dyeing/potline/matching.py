"""A reading matched to the studio's own things: the best match shown, or a question when it is not certain."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

from recipes.dyeing.potline.naming import Bench, name_words
from recipes.dyeing.potline.reading import Kind, Known, KnownKind, Reading

#: Where each kind of reading looks, first to last.
_LOOKED_AMONG: dict[Kind, tuple[tuple[KnownKind, ...], ...]] = {
    "stock": (("bottle", "jug"), ("dye",)),
    "powder": (("jar",), ("dye",)),
    "auxiliary": (("auxiliary",),),
}
_CALLED = {"stock": "bottle or jug", "powder": "jar", "auxiliary": "auxiliary"}
_MOST_LISTED = 4


def matched(reading: Reading, bench: Bench) -> Reading:
    """The reading with the thing it is matched to, or with a question when there is none or more than one."""
    tiers = _LOOKED_AMONG.get(reading.kind)
    if not tiers or not bench.things or not reading.name:
        return reading
    question = ""
    for kinds in tiers:
        found = bench.find(reading.name, kinds)
        things = _of_strength(found.things, reading.strength_percent)
        if len(things) == 1:
            return _with_match(reading, things[0], certain=found.certain, question=question)
        if len(things) > 1:
            return _ask(reading, _which_of(things))
        if found.things and not question:
            name = plain_name(found.things[0])
            question = f"There is no {name} of {reading.strength_percent} % here. Which bottle was it?"
    called = _CALLED[reading.kind]
    return _ask(reading, question or f"No {called} here is called “{reading.name}”. Which one is it?")


def question_of_longer_name(name: str, bench: Bench) -> str:
    """What to ask when a name is not known but begins or ends with one that is ("red swirled"); else ""."""
    said = name_words(name)
    if len(said) < 2 or bench.kinds_named(name):
        return ""
    for part in (said[:-1], said[1:], said[:1], said[-1:]):
        for thing in bench.named_exactly(part):
            own = plain_name(thing)
            return f"Is “{name}” {own}? Write the name alone, for example “5 ml {own.lower()}”."
    return ""


def _of_strength(things: tuple[Known, ...], strength_percent: str) -> tuple[Known, ...]:
    """The things of the typed strength, else those whose strength is not known."""
    if not strength_percent:
        return things
    strength = Decimal(strength_percent)
    exactly = tuple(thing for thing in things if thing.strength_percent == strength)
    return exactly or tuple(thing for thing in things if thing.strength_percent is None)


def _with_match(reading: Reading, thing: Known, *, certain: bool, question: str) -> Reading:
    reading = replace(
        reading,
        match=thing.id,
        match_kind=thing.kind,
        matched_name=thing.name,
        matched_strength_percent=thing.strength_percent,
    )
    if not certain:
        return _ask(reading, f"Is “{reading.name}” {thing.name}?")
    if question:
        return _ask(reading, question)
    if (
        reading.kind == "stock"
        and thing.kind == "dye"
        and not reading.strength_percent
        and not reading.as_typed
    ):
        return _ask(reading, f"There is no bottle of {thing.name} here. How strong was this stock?")
    if thing.form == "liquid" and reading.milligrams is not None:
        return _ask(reading, f"{thing.name} is kept in millilitres. How many went in?")
    return reading


def _which_of(things: tuple[Known, ...]) -> str:
    listed = [full_name(thing) for thing in things[:_MOST_LISTED]]
    return f"Which one: {', '.join(listed[:-1])} or {listed[-1]}?"


def _ask(reading: Reading, question: str) -> Reading:
    return replace(reading, question=reading.question or question)


def full_name(thing: Known) -> str:
    """A thing's name with its strength, where it has one that its name does not show."""
    return with_strength(thing.name, plain_decimal(thing.strength_percent) if thing.strength_percent else "")


def plain_name(thing: Known) -> str:
    """A thing's name without the strength at its end: Red for Red 1 %."""
    head, percent, _ = thing.name.rpartition("%")
    own = head.rstrip().rpartition(" ")[0] if percent else ""
    return own or thing.name


def with_strength(name: str, strength: str) -> str:
    """A name and a strength, kept apart when the name ends in a number: Red 1 %, but Blue 25, 1 %."""
    if not strength or "%" in name:
        return name
    return f"{name}, {strength} %" if name[-1:].isdigit() else f"{name} {strength} %"


def plain_decimal(number: Decimal) -> str:
    """A Decimal without noise of zeros and never in powers of ten."""
    text = f"{number:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
