"""Which of the studio's own things a typed name means: the best match, or a question when there are several."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import lru_cache

from recipes.dyeing.potline import vocabulary as words
from recipes.dyeing.potline.reading import Kind, Known, KnownKind, Reading
from recipes.dyeing.potline.tokens import Token, prepare, tokenise

Name = tuple[str, ...]

#: Where each kind of reading looks, first to last.
_LOOKED_AMONG: dict[Kind, tuple[tuple[KnownKind, ...], ...]] = {
    "stock": (("bottle", "jug"), ("dye",)),
    "powder": (("jar",), ("dye",)),
    "auxiliary": (("auxiliary",),),
}
_CALLED = {"stock": "bottle or jug", "powder": "jar", "auxiliary": "auxiliary"}


def name_words(name: str) -> Name:
    """A name as it is compared: lower case, its words and numbers, a strength at its end left off."""
    pieces = [token.text for token in tokenise(prepare(name))]
    while pieces and pieces[-1] in ("stock", "solution") and len(pieces) > 1:
        pieces.pop()
    if len(pieces) > 2 and pieces[-1] in ("%", "percent"):
        pieces = pieces[:-2]
    return tuple(piece for piece in pieces if piece[0].isalnum())


@lru_cache(maxsize=4096)
def _names(known: Known) -> tuple[Name, ...]:
    found = (name_words(name) for name in (known.name, *known.other_names))
    return tuple(dict.fromkeys(name for name in found if name))


def join_known_names(tokens: list[Token], known: Sequence[Known]) -> list[Token]:
    """The tokens with each name of several words that the studio uses as one token, the longest first.

    So a number, an "and" or a hyphen within a name is no longer an amount or the start of something else. A name that
    ends in a number is left alone before a measure: "blue 25 ml" is 25 ml.
    """
    awkward = {name for thing in known for name in _names(thing) if len(name) > 1 and _needs_joining(name)}
    if not awkward:
        return tokens
    longest_first = sorted(awkward, key=len, reverse=True)
    joined: list[Token] = []
    index = 0
    while index < len(tokens):
        following = next((end for name in longest_first if (end := _end_of(tokens, index, name))), 0)
        if following:
            first, last = tokens[index], tokens[following - 1]
            text = " ".join(token.text for token in tokens[index:following])
            joined.append(Token("name", text, first.start, last.end, first.glued))
        else:
            joined.append(tokens[index])
        index = following or index + 1
    return joined


def _needs_joining(name: Name) -> bool:
    return any(not word.isalpha() or word in words.RESERVED for word in name)


def _end_of(tokens: list[Token], index: int, name: Name) -> int:
    """Where the name ends if it stands here, else 0. Signs between its words are passed over."""
    for word in name:
        while (
            index < len(tokens)
            and tokens[index].kind == "sign"
            and word != name[0]
            and tokens[index].text != "%"
        ):
            index += 1
        if index >= len(tokens) or tokens[index].text != word:
            return 0
        index += 1
    if name[-1][0].isdigit() and index < len(tokens):
        following = tokens[index]
        if (
            following.is_sign("%")
            or following.text in words.MEASURES
            or following.text in ("fl", "percent", "fluid")
        ):
            return 0
        if following.glued:
            return 0
    return index


@dataclass(frozen=True, slots=True)
class Found:
    """What a name was found to mean."""

    things: tuple[Known, ...] = ()
    certain: bool = True


def find(name: str, among: Iterable[Known]) -> Found:
    """The things that a typed name may mean: exactly so named, else holding all its words, else begun or nearly spelled so."""
    wanted = name_words(name)
    if not wanted:
        return Found()
    candidates = tuple(among)
    exact = tuple(thing for thing in candidates if wanted in _names(thing))
    if exact:
        return Found(exact)
    if len(wanted) == 1 and wanted[0] in words.BROAD_AUXILIARIES:
        broad = words.BROAD_AUXILIARIES[wanted[0]]
        return Found(
            tuple(t for t in candidates if t.kind == "auxiliary" and any(broad & set(n) for n in _names(t)))
        )
    holding = tuple(thing for thing in candidates if any(_holds(name, wanted) for name in _names(thing)))
    if holding:
        return Found(holding)
    near = tuple(thing for thing in candidates if any(_near(name, wanted) for name in _names(thing)))
    return Found(near, certain=False)


def _holds(name: Name, wanted: Name) -> bool:
    rest = iter(name)
    return all(word in rest for word in wanted)


def _near(name: Name, wanted: Name) -> bool:
    """Whether each wanted word begins a word of the name, or differs from it by one letter."""
    rest = iter(name)
    return all(any(_begins(whole, word) or _one_letter_off(whole, word) for whole in rest) for word in wanted)


def _begins(whole: str, word: str) -> bool:
    return whole == word or (len(word) >= 3 and whole.startswith(word))


def _one_letter_off(whole: str, word: str) -> bool:
    if min(len(whole), len(word)) < 5 or abs(len(whole) - len(word)) > 1 or not (whole + word).isalpha():
        return False
    shared = 0
    while shared < min(len(whole), len(word)) and whole[shared] == word[shared]:
        shared += 1
    rest, other = whole[shared:], word[shared:]
    return (
        rest[1:] == other[1:]
        or rest[1:] == other
        or rest == other[1:]
        or (rest[2:] == other[2:]
        and rest[:2] == other[1::-1])
    )


def kinds_named(name: str, known: Sequence[Known]) -> frozenset[KnownKind]:
    """The kinds of the studio's things that a name certainly means."""
    found = find(name, known)
    return frozenset(thing.kind for thing in found.things) if found.certain else frozenset()


def matched(reading: Reading, known: Sequence[Known]) -> Reading:
    """The reading with the thing it is matched to, or with a question when there is none or more than one."""
    tiers = _LOOKED_AMONG.get(reading.kind)
    if not tiers or not known or not reading.name:
        return reading
    asked: Reading | None = None
    for kinds in tiers:
        among = [thing for thing in known if thing.kind in kinds]
        found = find(reading.name, among)
        things = _of_strength(found.things, reading.strength_percent)
        if len(things) == 1:
            return _with_match(reading, things[0], certain=found.certain, asked=asked)
        if asked is None and found.things:
            asked = _asking(reading, found.things, things)
        if len(things) > 1:
            break
    if asked is not None:
        return asked
    called = _CALLED[reading.kind]
    return _ask(reading, f"No {called} here is called “{reading.name}”. Which one is it?")


def _of_strength(things: tuple[Known, ...], strength_percent: str) -> tuple[Known, ...]:
    """The things of the typed strength. A thing whose strength is not known stays among them."""
    if not strength_percent:
        return things
    strength = Decimal(strength_percent)
    exactly = tuple(thing for thing in things if thing.strength_percent == strength)
    return exactly or tuple(thing for thing in things if thing.strength_percent is None)


def _with_match(reading: Reading, thing: Known, *, certain: bool, asked: Reading | None) -> Reading:
    reading = replace(
        reading,
        match=thing.id,
        match_kind=thing.kind,
        matched_name=thing.name,
        matched_strength_percent=thing.strength_percent,
    )
    if not certain:
        return _ask(reading, f"Is “{reading.name}” {thing.name}?")
    if asked is not None and not reading.question:
        return replace(reading, question=asked.question)
    if (
        reading.kind == "stock"
        and thing.kind == "dye"
        and not reading.strength_percent
        and not reading.as_typed
    ):
        return _ask(reading, f"There is no bottle of {thing.name} here. How strong was this stock?")
    return reading


def _asking(reading: Reading, found: tuple[Known, ...], of_strength: tuple[Known, ...]) -> Reading:
    if not of_strength:
        return _ask(
            reading,
            f"There is no {full_name(found[0], bare=True)} of {reading.strength_percent} % here. Which bottle was it?",
        )
    several = of_strength[:4]
    listed = ", ".join(full_name(thing) for thing in several[:-1]) + f" or {full_name(several[-1])}"
    return _ask(reading, f"Which one: {listed}?") if len(several) > 1 else reading


def _ask(reading: Reading, question: str) -> Reading:
    return replace(reading, question=reading.question or question)


def full_name(thing: Known, *, bare: bool = False) -> str:
    """A thing's name, with its strength where it has one that its name does not show."""
    if bare or thing.strength_percent is None or "%" in thing.name:
        return thing.name
    return f"{thing.name} {plain_decimal(thing.strength_percent)} %"


def plain_decimal(number: Decimal) -> str:
    """A Decimal without noise of zeros and never in powers of ten."""
    text = f"{number:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
