"""A jar weighed before and after: what went in is the difference."""

from __future__ import annotations

from fractions import Fraction

from recipes.dyeing.potline import doubts
from recipes.dyeing.potline import vocabulary as words
from recipes.dyeing.potline.additions import LONGEST_NAME, is_auxiliary
from recipes.dyeing.potline.amounts import InDoubt, refuse_minus, take_measure
from recipes.dyeing.potline.cursor import Cursor
from recipes.dyeing.potline.naming import Bench
from recipes.dyeing.potline.reading import Reading
from recipes.dyeing.potline.vocabulary import Measure, words_of
from recipes.dyeing.units import format_number

_BEFORE = words_of("from before was weighed weighs weight at start started first is")
_AFTER = words_of("to after now then and end ended is was down afterwards left weighs")
_MOST_MILLIGRAMS_OUT = 300_000


def read_jar(cursor: Cursor, bench: Bench) -> Reading | None:
    """Two weighings of one jar, in grams unless milligrams are written; raises InDoubt when they are not clear."""
    if not _speaks_of_jar(cursor):
        return None
    cursor.take_words(words.OPENINGS | {"weighed", "weigh"})
    name = _name(cursor)
    cursor.take_word("jar")
    name = name or _name(cursor)
    cursor.take_word("jar")
    cursor.take_sign(":")
    cursor.take_words(_BEFORE)
    before, before_measure = _weight(cursor)
    while cursor.take_sign("->", "=>", ">", "-", ",", ";") or cursor.take_words(_AFTER):
        continue
    after, after_measure = _weight(cursor)
    cursor.take_words(("after", "of", "now"))
    trailing = _name(cursor, numbered=True)
    if cursor.take_words(("jar",)):
        cursor.take_words(("after", "now"))
    while cursor.take_sign("!", "."):
        continue
    if before is None or after is None or not cursor.at_end or (name and trailing):
        raise InDoubt(doubts.JAR)
    name = name or trailing
    if not name or len(name) > LONGEST_NAME:
        raise InDoubt(doubts.JAR_NAME)
    measure = after_measure or before_measure or words.MEASURES["g"]
    if before_measure is not None and before_measure.size != measure.size:
        raise InDoubt(doubts.JAR)
    return _reading(name, before * measure.size, after * measure.size, bench)


def _speaks_of_jar(cursor: Cursor) -> bool:
    numbers = sum(token.kind == "number" for token in cursor.tokens)
    if any(token.is_word("jar") for token in cursor.tokens):
        return numbers > 0
    return numbers == 2 and any(token.is_sign("->", "=>") for token in cursor.tokens)


def _weight(cursor: Cursor) -> tuple[Fraction | None, Measure | None]:
    refuse_minus(cursor)
    number = cursor.take_number()
    if number is None:
        return None, None
    if number.value is None:
        raise InDoubt(doubts.UNCLEAR_NUMBER.format(number.text))
    measure = take_measure(cursor)
    if measure is not None and not (measure.of == "mass" and measure.metric):
        raise InDoubt(doubts.JAR)
    return number.value, measure


def _name(cursor: Cursor, *, numbered: bool = False) -> str:
    """Up to three words of a name; after the weighings also the number that a dye's name ends with."""
    cursor.take_words(("of", "the", "my"))
    start = cursor.index
    token = cursor.peek()
    if token is not None and token.kind == "name":
        cursor.index += 1
        return cursor.typed_since(start)
    while cursor.index - start < 3 and (token := cursor.peek()) is not None and token.kind == "word":
        if token.text in words.RESERVED:
            break
        cursor.index += 1
    token = cursor.peek()
    if (
        numbered
        and cursor.index > start
        and token is not None
        and token.kind == "number"
        and token.text.isdigit()
    ):
        cursor.index += 1
    typed = cursor.typed_since(start)
    cursor.take_words(words.FORMS)
    return typed


def _reading(name: str, before: Fraction, after: Fraction, bench: Bench) -> Reading:
    if before.denominator != 1 or after.denominator != 1:
        raise InDoubt(doubts.JAR)
    taken = int(before - after)
    if taken <= 0:
        raise InDoubt(doubts.JAR_GAINED)
    if taken > _MOST_MILLIGRAMS_OUT:
        raise InDoubt(doubts.TOO_MUCH.format(f"{format_number(Fraction(taken, 1000))} g"))
    return Reading(
        kind="auxiliary" if is_auxiliary(name, bench) else "powder",
        name=name,
        milligrams=taken,
        jar_before_milligrams=int(before),
        jar_after_milligrams=int(after),
    )
