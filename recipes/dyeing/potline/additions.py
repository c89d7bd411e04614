"""What a clause says went into the bath: stock, powder, an auxiliary, water, or a jar weighed before and after."""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction

from recipes.dyeing.potline import doubts
from recipes.dyeing.potline import vocabulary as words
from recipes.dyeing.potline.amounts import Amount, InDoubt, take_amount
from recipes.dyeing.potline.cursor import Cursor
from recipes.dyeing.potline.naming import Bench, name_words
from recipes.dyeing.potline.reading import KnownKind, Reading
from recipes.dyeing.potline.sections import take_leading_section, take_section
from recipes.dyeing.potline.vocabulary import words_of
from recipes.dyeing.units import VOLUME_UNITS, format_number

#: Beyond these an amount is asked about; common practice of small studios, no source.
_MOST_STOCK_MICROLITRES = 3 * VOLUME_UNITS["l"]
_MOST_WATER_MICROLITRES = 500 * VOLUME_UNITS["l"]
_MOST_AUXILIARY_MICROLITRES = 10 * VOLUME_UNITS["l"]
_MOST_POWDER_MILLIGRAMS = 300_000
_MOST_AUXILIARY_MILLIGRAMS = 20_000_000
_STRONGEST_STOCK_PERCENT = 20
#: What the log keeps of a name.
LONGEST_NAME = 80

_WATERS = words_of("cold hot warm boiling boiled tap rain distilled soft cool lukewarm fresh clean filtered")
_INTO_THE_POT = [
    "to the pot",
    "to the bath",
    "to pot",
    "to bath",
    "into the pot",
    "into the bath",
    "into pot",
    "in the pot",
    "in the bath",
    "on top",
    "to this pot",
    "to the dyebath",
    "in pot",
    "in bath",
    "in one go",
    "all at once",
    "to it",
]
_AUXILIARY_ALONE: tuple[KnownKind, ...] = ("auxiliary",)
_DISSOLVED = frozenset(("stock", "solution", "sol", "soln", "liquid"))
_HOLDERS = words.JUGS | {"bottle", "beaker"}


@dataclass(frozen=True, slots=True)
class _Name:
    typed: str
    words: tuple[str, ...] = ()
    form: str = ""


def read_addition(cursor: Cursor, bench: Bench) -> Reading | None:
    """Something with an amount that went in. None when the clause has no amount; raises InDoubt when it is unclear."""
    section = take_leading_section(cursor)
    _take_openings(cursor)
    section = section or take_leading_section(cursor)
    start = cursor.index
    amount = take_amount(cursor)
    if amount is not None:
        cursor.take_words(words.BETWEEN)
        strength = _take_strength(cursor)
        cursor.take_words(words.BETWEEN)
        _take_from_jug(cursor)
        name = _take_name(cursor)
        strength = _one_strength(strength, _take_strength(cursor))
    else:
        cursor.index = start
        cursor.take_words(("the", "my"))
        strength = _take_strength(cursor)
        name = _take_name(cursor)
        strength = _one_strength(strength, _take_strength(cursor))
        cursor.take_sign(":", "=")
        cursor.take_words(("another", "more", "extra"))
        if (
            name is not None
            and cursor.sees_sign("-")
            and (following := cursor.peek(1))
            and not following.glued
        ):
            raise InDoubt(doubts.DASH)
        amount = take_amount(cursor) if name is not None else None
        if amount is None:
            return None
    if name is not None and not name.form:
        name = replace(name, form=_take_form(cursor))
    ending, altogether = _take_ending(cursor)
    if section and ending and section != ending:
        raise InDoubt(doubts.UNREAD)
    section = section or ending
    if name is None:
        if cursor.at_end:
            often = "water" if amount.measure.size >= VOLUME_UNITS["us_cup"] else "red"
            raise InDoubt(doubts.NO_NAME.format(amount.typed, often))
        raise InDoubt(doubts.UNREAD)
    if not cursor.at_end:
        raise InDoubt(doubts.UNREAD)
    if "," in section and not altogether:
        raise InDoubt(doubts.SHARED)
    reading = _of_kind(amount, name, strength, bench)
    return replace(reading, section=section, about=amount.about)


def _take_openings(cursor: Cursor) -> None:
    while cursor.take_words(words.OPENINGS) or cursor.take_phrase("in went") or cursor.take_sign("+", ":"):
        cursor.take_phrase("in")
    for phrase in ("topped up with", "top up with", "topped up", "top up", "filled with", "filled up with"):
        if cursor.take_phrase(phrase):
            cursor.take_words(("another", "more"))


def _take_strength(cursor: Cursor) -> Fraction | None:
    """A strength in per cent, in brackets or not. Raises InDoubt for a depth of shade."""
    start = cursor.index
    bracket = cursor.take_sign("(")
    cursor.take_word("at")
    number = cursor.take_number()
    percent = number is not None and (cursor.take_sign("%") or bool(cursor.take_words(words.PERCENT)))
    if not percent and number is not None and cursor.take_phrase("per cent"):
        percent = True
    if number is None or not percent or (bracket and not cursor.take_sign(")")):
        cursor.index = start
        return None
    if cursor.sees_word(words.DEPTH_WORDS) or (
        cursor.sees_word(("of",)) and cursor.sees_word(words.NEVER_NAMES, 1)
    ):
        raise InDoubt(doubts.DEPTH)
    if number.value is None:
        raise InDoubt(doubts.UNCLEAR_NUMBER.format(number.text))
    return number.value


def _one_strength(first: Fraction | None, second: Fraction | None) -> Fraction | None:
    if first is not None and second is not None:
        raise InDoubt(doubts.UNREAD)
    return first if second is None else second


def _take_name(cursor: Cursor) -> _Name | None:
    """A name: one that the studio uses, or up to three words that are nothing else. "stock" and "powder" tell its form."""
    start = cursor.index
    token = cursor.peek()
    if token is not None and token.kind == "name":
        cursor.index += 1
    elif cursor.sees_word(_HOLDERS):
        cursor.index += 1
        if not _take_letter(cursor):
            cursor.index = start
    else:
        while cursor.index - start < 3 and _may_be_named(cursor):
            cursor.index += 1
        _take_water(cursor, start)
    typed = cursor.typed_since(start)
    taken = [token.text for token in cursor.tokens[start : cursor.index]]
    if not typed:
        return None
    if len(typed) > LONGEST_NAME:
        raise InDoubt(doubts.UNREAD)
    return _Name(typed, tuple(word for text in taken for word in text.split()), _take_form(cursor))


def _take_from_jug(cursor: Cursor) -> None:
    """Passes over "from" and "from the" before a jug or a mix, and before nothing else."""
    start = cursor.index
    if cursor.take_word("from"):
        cursor.take_word("the")
        token = cursor.peek()
        if token is None or token.text.split()[0] not in words.JUGS:
            cursor.index = start


def _take_form(cursor: Cursor) -> str:
    """Passes over "stock", "powder" and the like; the last of them."""
    form = ""
    while cursor.sees_word(words.FORMS):
        form = cursor.tokens[cursor.index].text
        cursor.index += 1
    return form


def _may_be_named(cursor: Cursor) -> bool:
    token = cursor.peek()
    if token is None or token.kind != "word":
        return False
    return token.text not in words.RESERVED and not (len(token.text) == 1 and token.text.isascii())


def _take_letter(cursor: Cursor) -> bool:
    """Passes over the letter or number of a jug; whether there was one."""
    token, following = cursor.peek(), cursor.peek(1)
    if token is None or token.kind not in ("word", "number") or token.glued or len(token.text) > 2:
        return False
    measured = following is not None and (following.is_sign("%") or following.text in words.MEASURES)
    if token.kind == "word" or (token.text.isdigit() and not measured):
        cursor.index += 1
        return True
    return False


def _take_water(cursor: Cursor, start: int) -> None:
    if cursor.index != start:
        return
    cursor.take_words(_WATERS)
    if cursor.take_word("water"):
        cursor.take_words(_WATERS)
    else:
        cursor.index = start


def _take_ending(cursor: Cursor) -> tuple[str, bool]:
    """Passes over how and where it went in; the section of the yarn, and whether the amount is for all of it together."""
    section, altogether = "", False
    while True:
        start = cursor.index
        section = take_section(cursor) or section
        altogether = cursor.take_phrase("in all") or altogether
        for phrase in _INTO_THE_POT:
            if cursor.take_phrase(phrase):
                break
        cursor.take_words(words.ENDINGS)
        cursor.take_sign("!", ".")
        if cursor.index == start:
            return section, altogether


def _of_kind(amount: Amount, name: _Name, strength: Fraction | None, bench: Bench) -> Reading:
    if "water" in name.words and set(name.words) <= _WATERS | {"water"}:
        if strength is not None or name.form:
            raise InDoubt(doubts.UNREAD)
        return _water(amount)
    reading = Reading(kind="auxiliary", name=name.typed, strength_percent=_strength_text(strength))
    if is_auxiliary(name.typed, bench):
        return _auxiliary(reading, amount, name, bench)
    return _dye(reading, amount, name, bench)


def _water(amount: Amount) -> Reading:
    of = amount.measure.of
    if of in ("mass", "pinch"):
        raise InDoubt(doubts.LEVEL)
    if of in ("spoon", "drop") or amount.value is None:
        return Reading(kind="water", as_typed=amount.typed)
    microlitres = _at_most(amount, _MOST_WATER_MICROLITRES)
    return Reading(kind="water", microlitres=microlitres, as_typed=amount.typed if of == "cup" else "")


def _auxiliary(reading: Reading, amount: Amount, name: _Name, bench: Bench) -> Reading:
    of = amount.measure.of
    if Fraction(reading.strength_percent or 1) > 100:
        raise InDoubt(doubts.STRENGTH.format(reading.strength_percent))
    powder = _kept_as(name.typed, bench) == "powder"
    dissolved = bool(reading.strength_percent) or name.form in _DISSOLVED
    if of == "mass":
        if amount.measure.size == words.MEASURES["oz"].size and not powder:
            raise InDoubt(doubts.OUNCES)
        if dissolved:
            raise InDoubt(doubts.UNREAD)
        milligrams = _at_most(amount, _MOST_AUXILIARY_MILLIGRAMS)
        return replace(reading, milligrams=milligrams)
    if of == "volume" and powder and not dissolved:
        return replace(reading, as_typed=_checked(amount), question=doubts.OF_POWDER)
    if of == "volume" or (
        of == "cup" and _kept_as(name.typed, bench) == "liquid" and amount.value is not None
    ):
        microlitres = _at_most(amount, _MOST_AUXILIARY_MICROLITRES)
        return replace(reading, microlitres=microlitres, as_typed=amount.typed if of == "cup" else "")
    return replace(reading, as_typed=amount.typed)


def _dye(reading: Reading, amount: Amount, name: _Name, bench: Bench) -> Reading:
    of = amount.measure.of
    liquid = bool(reading.strength_percent) or name.form in _DISSOLVED
    if of == "mass":
        if amount.measure.size == words.MEASURES["oz"].size:
            raise InDoubt(doubts.OUNCES)
        if liquid:
            raise InDoubt(doubts.UNREAD)
        return replace(reading, kind="powder", milligrams=_at_most(amount, _MOST_POWDER_MILLIGRAMS))
    if of in ("volume", "drop"):
        if name.form in ("powder", "crystals"):
            raise InDoubt(doubts.OF_POWDER)
        if Fraction(reading.strength_percent or 1) > _STRONGEST_STOCK_PERCENT:
            raise InDoubt(doubts.STRENGTH.format(reading.strength_percent))
    if of == "volume":
        return replace(reading, kind="stock", microlitres=_at_most(amount, _MOST_STOCK_MICROLITRES))
    if of == "cup":
        raise InDoubt(doubts.OUNCES)
    only_liquid = (
        of == "spoon" and bool(kinds := bench.kinds_named(name.typed)) and kinds <= {"bottle", "jug"}
    )
    if of == "drop" or liquid or only_liquid or (of == "spoon" and name.words[0] in _HOLDERS):
        return replace(reading, kind="stock", as_typed=amount.typed)
    return replace(reading, kind="powder", as_typed=amount.typed)


def is_auxiliary(name: str, bench: Bench) -> bool:
    """Whether a name is an auxiliary's: one that the studio keeps, else by common words. Raises InDoubt when unclear."""
    kinds = bench.kinds_named(name)
    if kinds:
        if "auxiliary" in kinds and len(kinds) > 1:
            raise InDoubt(f"“{name}” is both a dye and an auxiliary here. Write its whole name.")
        return "auxiliary" in kinds
    said = name_words(name)
    auxiliary, coloured = set(said) & words.AUXILIARIES, set(said) & words.COLOURS
    if auxiliary and coloured:
        if said[0] == "acid":
            return False
        raise InDoubt(doubts.UNREAD)
    return bool(auxiliary)


def _kept_as(name: str, bench: Bench) -> str:
    """ "liquid", "powder", or "" when neither the studio nor the name says."""
    found = bench.find(name, _AUXILIARY_ALONE)
    forms = {thing.form for thing in found.things} if found.certain else set()
    if len(forms) == 1 and (form := forms.pop()):
        return form
    said = set(name_words(name))
    if said & words.POWDER_AUXILIARIES:
        return "powder"
    return "liquid" if said & words.LIQUID_AUXILIARIES else ""


def _strength_text(strength: Fraction | None) -> str:
    if strength is None:
        return ""
    if strength == 0 or (strength * 10_000).denominator != 1:
        raise InDoubt(doubts.STRENGTH.format(format_number(strength)))
    return format_number(strength, 4)


def _at_most(amount: Amount, most: Fraction | int) -> int:
    units = amount.units
    if units > most:
        raise InDoubt(doubts.TOO_MUCH.format(amount.typed))
    if amount.grouped and units * 1000 <= most:
        raise InDoubt(doubts.UNCLEAR_NUMBER.format(amount.typed))
    return units


def _checked(amount: Amount) -> str:
    _at_most(amount, _MOST_AUXILIARY_MICROLITRES)
    return amount.typed
