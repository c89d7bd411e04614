"""Numbers in a line: digits with a point or a comma, fractions, and English number words as dictated."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

from recipes.dyeing.potline.tokens import Token
from recipes.dyeing.potline.vocabulary import RESERVED
from recipes.dyeing.units import NumberUnclear, parse_decimal

_ONES = (
    "zero one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen "
    "seventeen eighteen nineteen"
)
_UNITS = {word: value for value, word in enumerate(_ONES.split())}
_TENS = {
    "twenty": 20,
    "thirty": 30,
    "forty": 40,
    "fifty": 50,
    "sixty": 60,
    "seventy": 70,
    "eighty": 80,
    "ninety": 90,
}
_ZEROS = {"oh": 0, "o": 0, "nought": 0, "naught": 0, "nil": 0}
_PARTS = {
    "half": Fraction(1, 2),
    "halves": Fraction(1, 2),
    "third": Fraction(1, 3),
    "thirds": Fraction(1, 3),
    "quarter": Fraction(1, 4),
    "quarters": Fraction(1, 4),
    "fourth": Fraction(1, 4),
    "fourths": Fraction(1, 4),
    "eighth": Fraction(1, 8),
    "eighths": Fraction(1, 8),
}
#: The parts that measures have. Five sixths of anything is more likely five to six.
_DENOMINATORS = frozenset((2, 3, 4, 8))
_NUMBER_WORDS = _UNITS.keys() | _TENS.keys() | {"hundred", "thousand", "point", "nought", "naught", "zero"}


def join_numbers(tokens: list[Token]) -> list[Token]:
    """The tokens with every number, however written, as one number token.

    A number that can be read in two ways keeps its place with no value.
    """
    tokens = [part for token in tokens for part in _unhyphenated(token)]
    commas = any(_has_decimal_comma(token) for token in tokens)
    joined: list[Token] = []
    index = 0
    while index < len(tokens):
        number, following = _number_at(tokens, index, commas=commas)
        joined.append(number or tokens[index])
        index = following
    return joined


def _unhyphenated(token: Token) -> list[Token]:
    """ "twenty-five" and "half-teaspoon" in their words; a hyphened word that may be a name stays one."""
    words = token.text.split("-")
    if token.kind != "word" or len(words) == 1 or not set(words) & (_NUMBER_WORDS | _PARTS.keys() | RESERVED):
        return [token]
    parts: list[Token] = []
    start = token.start
    for word in words:
        parts.append(Token("word", word, start, start + len(word), token.glued and not parts))
        start += len(word) + 1
    return parts


def _has_decimal_comma(token: Token) -> bool:
    head, comma, tail = token.text.rpartition(",")
    return token.kind == "number" and bool(comma) and "." not in tail and "," not in head and len(tail) != 3


def _number_at(tokens: list[Token], index: int, *, commas: bool) -> tuple[Token | None, int]:
    token = tokens[index]
    if token.kind == "number":
        return _digits_at(tokens, index, commas=commas)
    if token.kind != "word":
        return None, index + 1
    value, following = _words_at(tokens, index)
    if following == index:
        value, following = _part_at(tokens, index)
    if following == index:
        return None, index + 1
    value, following = _with_part(tokens, following, value)
    return _joined(tokens, index, following, value, spelled=True), following


def _digits_at(tokens: list[Token], index: int, *, commas: bool) -> tuple[Token, int]:
    """Digits, with a fraction after them ("2 1/2", "1/2", "2 and a half") or dictated decimals ("4 point five")."""
    token = tokens[index]
    value, following = _value(token.text, commas=commas), index + 1
    over, after = _fraction_at(tokens, index)
    if after > index:
        return _joined(tokens, index, after, over), after
    part, after = _fraction_at(tokens, following)
    if after > following and value is not None and not tokens[following].glued:
        whole_first = value.denominator == 1 and part is not None
        return _joined(tokens, index, after, value + part if whole_first and part else None), after
    decimals, after = _decimals_at(tokens, following)
    if after > following:
        clear = value is not None and value.denominator == 1 and decimals is not None
        return _joined(
            tokens,
            index,
            after,
            value + decimals if clear and value is not None and decimals is not None else None,
        ), after
    if following < len(tokens) and tokens[following].is_word("hundred", "thousand", "million", "dozen"):
        return _joined(tokens, index, following + 1, None), following + 1
    if _grouped_by_space(tokens, index):
        return _joined(tokens, index, following + 1, None), following + 1
    value, after = _with_part(tokens, following, value)
    return _joined(tokens, index, after, value), after


def _value(text: str, *, commas: bool) -> Fraction | None:
    if text.startswith(","):
        return None
    if (
        commas
        and "," not in text
        and len(text.rpartition(".")[2]) == 3
        and "." in text
        and not text.startswith("0.")
    ):
        return None
    try:
        return Fraction(parse_decimal(text))
    except NumberUnclear:
        return None


def _grouped_by_space(tokens: list[Token], index: int) -> bool:
    if index + 1 >= len(tokens):
        return False
    first, second = tokens[index], tokens[index + 1]
    return (
        second.kind == "number"
        and not second.glued
        and first.text.isdigit()
        and len(first.text) <= 3
        and second.text[:3].isdigit()
        and len(second.text.replace(",", ".").split(".")[0]) == 3
    )


def _fraction_at(tokens: list[Token], index: int) -> tuple[Fraction | None, int]:
    """A proper fraction written with a slash; no value when the line cannot mean one."""
    if index + 2 >= len(tokens):
        return None, index
    over, slash, under = tokens[index : index + 3]
    if over.kind != "number" or not slash.is_sign("/") or under.kind != "number":
        return None, index
    if not (over.text.isdigit() and under.text.isdigit()):
        return None, index + 3
    if int(under.text) not in _DENOMINATORS or not 0 < int(over.text) < int(under.text):
        return None, index + 3
    return Fraction(int(over.text), int(under.text)), index + 3


def _words_at(tokens: list[Token], index: int) -> tuple[Fraction | None, int]:
    """A number in words from here: "twelve", "twenty five", "a hundred and five", "point three seven"."""
    value, following = _whole_words_at(tokens, index)
    decimals, after = _decimals_at(tokens, following)
    if after == following:
        return (None if value is None else Fraction(value)), following
    if decimals is None or (value is None and following > index):
        return None, after
    return (value or 0) + decimals, after


def _whole_words_at(tokens: list[Token], index: int) -> tuple[int | None, int]:
    total: int | None = None
    value, following = _below_hundred_at(tokens, index)
    if following == index:
        if _is_word(tokens, index, "a") and _is_word(tokens, index + 1, "hundred"):
            value, following = 1, index + 1
        else:
            return None, index
    total = value
    if _is_word(tokens, following, "hundred"):
        total, following = (None if value is None else value * 100), following + 1
        rest_from = following + 1 if _is_word(tokens, following, "and") else following
        rest, after = _below_hundred_at(tokens, rest_from)
        if after > rest_from:
            total = None if total is None or rest is None else total + rest
            following = after
    if _is_word(tokens, following, "thousand", "million", "dozen", "hundred"):
        return None, following + 1
    _, after = _below_hundred_at(tokens, following)
    return (None, after) if after > following else (total, following)


def _below_hundred_at(tokens: list[Token], index: int) -> tuple[int | None, int]:
    word = tokens[index].text if index < len(tokens) and tokens[index].kind == "word" else ""
    if word in _TENS:
        one = tokens[index + 1].text if index + 1 < len(tokens) and tokens[index + 1].kind == "word" else ""
        if 1 <= _UNITS.get(one, 0) <= 9:
            return _TENS[word] + _UNITS[one], index + 2
        return _TENS[word], index + 1
    if word in _UNITS:
        return _UNITS[word], index + 1
    if word in ("nought", "naught"):
        return 0, index + 1
    return None, index


def _decimals_at(tokens: list[Token], index: int) -> tuple[Fraction | None, int]:
    """Dictated decimals: "point" and its digits one by one, or all at once in figures."""
    if not _is_word(tokens, index, "point"):
        return None, index
    digits, following = "", index + 1
    while following < len(tokens):
        token = tokens[following]
        digit = {**_UNITS, **_ZEROS}.get(token.text) if token.kind == "word" else None
        if digit is not None and digit <= 9:
            digits += str(digit)
        elif token.kind == "number" and token.text.isdigit() and not (digits and len(token.text) > 1):
            digits += token.text
        else:
            break
        following += 1
    if not digits:
        return None, index
    if _below_hundred_at(tokens, following)[1] > following:
        return None, following + 1
    return Fraction(Decimal(f"0.{digits}")), following


def _part_at(tokens: list[Token], index: int) -> tuple[Fraction | None, int]:
    """ "half", "half a", "a quarter", "a quarter of a": only the part itself is taken, and the article after it."""
    start = index + 1 if _is_word(tokens, index, "a", "an") else index
    if not _is_word(tokens, start, "half", "quarter", "third", "eighth"):
        return None, index
    following = _past_article(tokens, start + 1)
    return _PARTS[tokens[start].text], following


def _with_part(tokens: list[Token], index: int, value: Fraction | None) -> tuple[Fraction | None, int]:
    """The value with what follows it: "and a half", "& 1/2", or "quarters of a"."""
    if index < len(tokens) and tokens[index].text in _PARTS and tokens[index].kind == "word":
        part = _PARTS[tokens[index].text]
        whole = value is not None and value.denominator == 1
        return (value * part if whole and value is not None and value * part < 1 else None), _past_article(
            tokens, index + 1
        )
    if not (_is_word(tokens, index, "and") or (index < len(tokens) and tokens[index].is_sign("&"))):
        return value, index
    part_or_none, after = _fraction_at(tokens, index + 1)
    if after == index + 1:
        part_or_none, after = _part_at(tokens, index + 1)
        if after > index + 1 and not _is_word(tokens, index + 1, "a", "half"):
            return value, index
    if after == index + 1:
        return value, index
    clear = value is not None and value.denominator == 1 and part_or_none is not None
    return (value + part_or_none if clear and value is not None and part_or_none is not None else None), after


def _past_article(tokens: list[Token], index: int) -> int:
    if _is_word(tokens, index, "of") and _is_word(tokens, index + 1, "a", "an"):
        return index + 2
    return index + 1 if _is_word(tokens, index, "a", "an") else index


def _is_word(tokens: list[Token], index: int, *words: str) -> bool:
    return index < len(tokens) and tokens[index].is_word(*words)


def _joined(
    tokens: list[Token], index: int, following: int, value: Fraction | None, *, spelled: bool = False
) -> Token:
    first, last = tokens[index], tokens[following - 1]
    text = (
        first.text
        if following == index + 1
        else " ".join(token.text for token in tokens[index:following]).replace(" / ", "/")
    )
    return replace(first, kind="number", text=text, end=last.end, value=value, spelled=spelled)
