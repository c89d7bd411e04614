"""An amount in a clause: a number and a measure, or a spoon, pinch or glug as typed."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from recipes.dyeing.potline import doubts
from recipes.dyeing.potline import vocabulary as words
from recipes.dyeing.potline.cursor import Cursor
from recipes.dyeing.potline.tokens import Token
from recipes.dyeing.potline.vocabulary import Measure
from recipes.dyeing.units import whole

#: What the log keeps of an amount as typed.
_LONGEST_AMOUNT = 100


class InDoubt(Exception):
    """The clause must not be read as anything but a note. Its text is the question to ask.

    Where it `infects`, no amount beside it in the same line is certain either.
    """

    def __init__(self, question: str, *, infects: bool = True) -> None:
        super().__init__(question)
        self.question = question
        self.infects = infects


@dataclass(frozen=True, slots=True)
class Amount:
    """So much of something. `value` is None for "a few drops" and other counts that are not certain.

    `grouped` marks digits like 1.250, which are thousands to some.
    """

    measure: Measure
    value: Fraction | None
    typed: str
    about: bool = False
    grouped: bool = False

    @property
    def units(self) -> int:
        """Whole milligrams or microlitres. Raises InDoubt when metric digits go below one of them, or for nothing."""
        exact = (self.value or Fraction(0)) * self.measure.size
        if exact == 0:
            raise InDoubt(doubts.NOTHING)
        if exact < 1 or (self.measure.metric and exact.denominator != 1 and exact < 10):
            raise InDoubt(doubts.TOO_LITTLE.format(self.typed))
        return whole(exact)


def take_about(cursor: Cursor) -> bool:
    """Passes over "about", "just over", "~": whether any of them stood here."""
    start = cursor.index
    while True:
        if (
            cursor.take_phrase("more or less")
            or cursor.take_phrase("just under")
            or cursor.take_phrase("just over")
        ):
            continue
        if cursor.take_sign("~") or cursor.take_words(words.ABOUT):
            continue
        return cursor.index > start


def take_amount(cursor: Cursor) -> Amount | None:
    """The amount that stands here. Raises InDoubt for one that must not be read: a range, a minus, an unclear number."""
    start = cursor.index
    about = take_about(cursor)
    refuse_minus(cursor)
    number_at = cursor.index
    number = cursor.take_number()
    vague = number is None and _take_vague_count(cursor)
    if number is not None and number.glued and number_at and cursor.tokens[number_at - 1].kind == "word":
        raise InDoubt(doubts.UNREAD)
    about = _take_ish(cursor) or about
    if number is not None:
        refuse_range(cursor)
        cursor.take_words(("more", "extra"))
    measure = take_measure(cursor)
    if measure is None:
        cursor.index = start
        return None
    if (
        number is None
        and measure.of not in ("pinch", "drop", "spoon")
        and not _article_before(cursor, number_at)
    ):
        cursor.index = start
        return None
    if number is not None and number.value is None:
        raise InDoubt(doubts.UNCLEAR_NUMBER.format(number.text))
    if measure.metric and number is not None and _may_be_range(number):
        raise InDoubt(doubts.RANGE)
    if measure.question:
        raise InDoubt(measure.question)
    about = _take_ish(cursor) or about
    refuse_range(cursor)
    value = number.value if number is not None else None if vague else Fraction(1)
    if value == 0:
        raise InDoubt(doubts.NOTHING)
    if len(cursor.typed_since(number_at)) > _LONGEST_AMOUNT:
        raise InDoubt(doubts.UNREAD)
    return Amount(
        measure,
        value,
        cursor.typed_since(number_at),
        about or vague,
        number is not None and _grouped(number.text),
    )


def _grouped(digits: str) -> bool:
    head, _, tail = digits.partition(".")
    return (
        head.isdigit() and not head.startswith("0") and len(head) <= 3 and len(tail) == 3 and tail.isdigit()
    )


def _may_be_range(number: Token) -> bool:
    """Whether a slash may stand for "to": nobody measures 2/3 ml, and 3/4 ml may be three to four."""
    over, slash, _ = number.text.partition("/")
    return bool(slash) and over != "1" and number.value is not None and number.value < 1


def take_measure(cursor: Cursor) -> Measure | None:
    """The measure that stands here, with the full stop of its abbreviation."""
    for long_words, long_measure in words.LONG_MEASURES.items():
        start = cursor.index
        if _take_abbreviated(cursor, long_words):
            return long_measure
        cursor.index = start
    token = cursor.peek()
    if token is None or token.kind != "word" or token.text not in words.MEASURES:
        return None
    cursor.index += 1
    _take_stop(cursor)
    return words.MEASURES[token.text]


def _take_abbreviated(cursor: Cursor, long_words: tuple[str, ...]) -> bool:
    for word in long_words:
        if not cursor.take_word(word):
            return False
        _take_stop(cursor)
    return True


def _take_stop(cursor: Cursor) -> None:
    token = cursor.peek()
    if token is not None and token.is_sign(".") and token.glued and cursor.peek(1) is not None:
        cursor.index += 1


def _take_vague_count(cursor: Cursor) -> bool:
    """ "a few", "some", "a couple of"; a bare "a" counts one."""
    article = cursor.take_words(("a", "an")) > 0
    if cursor.take_word("few", "some", "several"):
        cursor.take_word("of")
        return True
    if cursor.take_word("couple"):
        cursor.take_word("of")
        return True
    if article:
        cursor.take_words(("good", "tiny", "little", "small", "big", "wee"))
    return False


def _article_before(cursor: Cursor, index: int) -> bool:
    return cursor.tokens[index].is_word("a", "an")


def _take_ish(cursor: Cursor) -> bool:
    if cursor.take_phrase("or so") or cursor.take_phrase("more or less"):
        return True
    token, following = cursor.peek(), cursor.peek(1)
    if token is not None and token.is_sign("-") and following is not None and following.is_word("ish"):
        cursor.index += 2
        return True
    return cursor.take_word("ish")


def refuse_range(cursor: Cursor) -> None:
    """Raises InDoubt where a second amount follows: "5-6", "5 to 6", "5 or 6"."""
    joined = cursor.sees_sign("-", "->", "/") or cursor.sees_word(("to", "or"))
    following = cursor.peek(1)
    if joined and following is not None and following.kind == "number":
        raise InDoubt(doubts.RANGE)


def refuse_minus(cursor: Cursor) -> None:
    """Raises InDoubt where a minus stands before a number."""
    following = cursor.peek(1)
    if (
        (cursor.sees_sign("-") or cursor.sees_word(("minus",)))
        and following is not None
        and following.kind == "number"
    ):
        raise InDoubt(doubts.MINUS)
