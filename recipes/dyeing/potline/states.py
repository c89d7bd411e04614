"""What a clause says of the pot itself: its temperature, its pH, the heat, a clear bath, the same again."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction

from recipes.dyeing.potline import doubts
from recipes.dyeing.potline.amounts import InDoubt, refuse_minus, refuse_range, take_about
from recipes.dyeing.potline.cursor import Cursor
from recipes.dyeing.potline.reading import Reading
from recipes.dyeing.potline.vocabulary import words_of
from recipes.dyeing.units import centi_celsius, format_number, to_places

_HEATERS = frozenset(("heat", "flame", "gas", "hob", "burner", "stove", "ring", "cooker", "induction"))
_SWITCHING = words_of("turn turned turning switch switched switching put the i ok okay now just knocked cut")
_LEVELS = {
    "low": "low",
    "lowest": "low",
    "medium": "medium",
    "med": "medium",
    "high": "high",
    "full": "high",
    "max": "high",
    "simmer": "simmer",
}
_THERMOMETER = frozenset(("temp", "temperature", "thermometer"))
_BATH = words_of(
    "the bath pot water dyebath it its it's is now at currently just reads reading says shows ok"
)
_RISEN_TO = [
    "up to",
    "back up to",
    "slowly up to",
    "down to",
    "back down to",
    "back to",
    "got to",
    "now up to",
    "cooled to",
    "cooled down to",
    "heated to",
    "heated up to",
    "risen to",
    "rose to",
    "come up to",
    "came up to",
    "dropped to",
    "fell to",
    "gone up to",
    "reached",
    "hit",
    "is at",
    "is",
]
_AFTERWARDS = frozenset(("now", "already", "still", "steady", "again", "ok", "exactly"))
_CLEAR = frozenset(("clear", "cleared", "exhausted", "spent"))
_CLEAR_BATH = words_of(
    "the bath water water's pot dyebath is its it's it now all completely totally fully quite crystal has ran "
    "went run gone finally"
)
_REPEATS = frozenset(
    (
        "same again",
        "the same again",
        "same again please",
        "same",
        "again",
        "repeat",
        "repeat that",
        "ditto",
        "once more",
        "one more time",
        "and again",
        "same once more",
        "same as before",
        "same as last",
    )
)


def read_repeat(cursor: Cursor) -> Reading | None:
    """ "Same again" and its like, and nothing beside it."""
    words = [token.text for token in cursor.tokens if not token.is_sign("!", ".")]
    return Reading(kind="repeat") if " ".join(words) in _REPEATS else None


def read_clear(cursor: Cursor) -> Reading | None:
    """A clear bath: "clear!", "bath is clear now". Anything that weakens it leaves it a note."""
    cursor.take_words(_CLEAR_BATH)
    if not cursor.take_words(_CLEAR):
        return None
    cursor.take_words(("now", "already", "again"))
    while cursor.take_sign("!", "."):
        continue
    return Reading(kind="exhausted") if cursor.at_end else None


def read_heat(cursor: Cursor) -> Reading | None:
    """The heat switched on or off, or set to a level: "heat off", "turned the gas down to low", "low heat"."""
    if not any(token.is_word(*_HEATERS) for token in cursor.tokens):
        return None
    switched = any(token.is_word("on", "off", "up", "down", *_LEVELS) for token in cursor.tokens)
    on, level = _heat(cursor)
    cursor.take_words(("now", "again", "completely", "back"))
    while cursor.take_sign("!", "."):
        continue
    if on is None or not cursor.at_end:
        if switched:
            raise InDoubt(doubts.HEAT, infects=False)
        return None
    return Reading(kind="heat", on=on, level=level)


def _heat(cursor: Cursor) -> tuple[bool | None, str]:
    cursor.take_words(_SWITCHING)
    if cursor.take_word("off"):
        cursor.take_word("the")
        return (False, "") if cursor.take_words(_HEATERS) else (None, "")
    on = cursor.take_word("on")
    cursor.take_words(("the", "a"))
    level = _take_level(cursor)
    if not cursor.take_words(_HEATERS):
        return None, ""
    if on or level:
        return True, level
    cursor.take_words(("is", "now", "turned", "switched", "back", "set"))
    if cursor.take_word("off"):
        return False, ""
    on = cursor.take_word("on")
    lowered = cursor.take_words(("down", "up", "turned"))
    cursor.take_words(("to", "at") if not on else ("to", "at", "at"))
    level = _take_level(cursor)
    if on and not lowered:
        return True, level
    return (True, level) if level else (None, "")


def _take_level(cursor: Cursor) -> str:
    token = cursor.peek()
    if token is None or token.kind != "word" or token.text not in _LEVELS:
        return ""
    cursor.index += 1
    return _LEVELS[token.text]


def read_ph(cursor: Cursor) -> Reading | None:
    """A pH: "pH 4.5", "ph now 5,2", "p h is four point five", "4.5 ph"."""
    mentioned = any(
        token.is_word("ph") or (token.is_word("p") and following.is_word("h"))
        for token, following in zip(cursor.tokens, [*cursor.tokens[1:], cursor.tokens[-1]], strict=True)
    )
    if not mentioned:
        return None
    number = _ph(cursor)
    if number is None:
        if any(token.kind == "number" for token in cursor.tokens):
            raise InDoubt(doubts.UNREAD_PH, infects=False)
        return None
    value, about = number
    if not 0 <= value <= 14 or (value * 100).denominator != 1:
        raise InDoubt(doubts.PH.format(format_number(value)), infects=False)
    return Reading(kind="ph", ph=_plain(to_places(value, 2)), about=about)


def _ph(cursor: Cursor) -> tuple[Fraction, bool] | None:
    cursor.take_words(("the", "bath", "water", "checked", "tested", "measured", "now", "ok", "and"))
    first = cursor.take_number()
    if not (cursor.take_word("ph") or cursor.take_phrase("p h")):
        return None
    about = False
    if first is None:
        cursor.take_words(("meter", "strip", "paper", "reading", "test", "of", "the", "bath"))
        cursor.take_sign(":", "=")
        cursor.take_words(("now", "is", "at", "was", "reads", "says", "shows", "still"))
        if not cursor.take_phrase("down to"):
            cursor.take_phrase("up to")
        about = take_about(cursor)
        _refuse(refuse_minus, cursor)
        first = cursor.take_number()
    _refuse(refuse_range, cursor)
    cursor.take_words(_AFTERWARDS)
    while cursor.take_sign("!", "."):
        continue
    if first is None or first.value is None or not cursor.at_end:
        return None
    return first.value, about


def read_temperature(cursor: Cursor, *, fahrenheit: bool) -> Reading | None:
    """A temperature that the bath has now: "82 C", "180F", "up to 85°", "temp 85".

    `fahrenheit` is the studio's unit, for degrees without a letter. A temperature to reach, or a step, is in doubt.
    """
    if not _speaks_of_temperature(cursor):
        return None
    named = any(token.is_word(*_THERMOMETER) for token in cursor.tokens)
    about = _take_lead(cursor)
    _refuse(refuse_minus, cursor)
    number = cursor.take_number()
    _refuse(refuse_range, cursor)
    unit = take_degrees(cursor)
    cursor.take_words(_AFTERWARDS)
    while cursor.take_sign("!", "."):
        continue
    if number is None or number.value is None or not cursor.at_end or not (unit or named):
        raise InDoubt(doubts.TEMPERATURE_NOW)
    if unit not in ("C", "F") and "." in number.text and len(number.text.rpartition(".")[2]) == 2:
        raise InDoubt(doubts.TEMPERATURE_NOW, infects=False)
    least = 10 if unit == "C" and not named else 0
    celsius = bath_celsius(number.value, unit, fahrenheit=fahrenheit, least=least)
    return Reading(kind="temperature", celsius=celsius, about=about)


def bath_celsius(degrees: Fraction, unit: str, *, fahrenheit: bool, least: int = 0) -> Decimal:
    """Degrees as typed, with the unit that `take_degrees` found, in °C; raises InDoubt where no bath can be so hot.

    `least` is the lowest that is believed, in °C.
    """
    in_fahrenheit = unit == "F" or (unit != "C" and fahrenheit)
    centi = centi_celsius(degrees, fahrenheit=in_fahrenheit)
    if not least * 100 <= centi <= 10_500:
        shown = f"{format_number(degrees)} °{'F' if in_fahrenheit else 'C'}"
        raise InDoubt(doubts.TEMPERATURE.format(shown), infects=False)
    return _plain(Decimal(centi).scaleb(-2))


def _speaks_of_temperature(cursor: Cursor) -> bool:
    numbers = [place for place, token in enumerate(cursor.tokens) if token.kind == "number"]
    if not numbers:
        return False
    if any(token.is_word(*_THERMOMETER) for token in cursor.tokens):
        return True
    for place in numbers:
        following = Cursor(cursor.line, cursor.tokens, place + 1)
        if take_degrees(following):
            return True
    return False


def _take_lead(cursor: Cursor) -> bool:
    """Passes over what may stand before a temperature that the bath has; whether it is said to be about so much."""
    about = False
    while True:
        start = cursor.index
        about = take_about(cursor) or about
        cursor.take_words(_BATH | _THERMOMETER)
        cursor.take_sign(":", "=")
        for phrase in _RISEN_TO:
            if cursor.take_phrase(phrase):
                break
        if cursor.index == start:
            return about


def take_degrees(cursor: Cursor) -> str:
    """ "C", "F", or "°" for degrees without a letter; "" where none stand here."""
    degrees = cursor.take_sign("°") or bool(cursor.take_words(("degrees", "degree", "deg", "degs")))
    if cursor.take_word("c", "celsius", "centigrade"):
        return "C"
    if cursor.take_word("f", "fahrenheit"):
        return "F"
    return "°" if degrees else ""


def _refuse(refuse: Callable[[Cursor], None], cursor: Cursor) -> None:
    try:
        refuse(cursor)
    except InDoubt as doubt:
        raise InDoubt(doubt.question, infects=False) from None


def _plain(number: Decimal) -> Decimal:
    """The Decimal as people write it: 82 and 4.5, never 82.00 or 8E+1."""
    return Decimal(format_number(number, 2))
