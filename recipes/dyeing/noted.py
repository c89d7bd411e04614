"""An amount as it stands in a notebook: grams, millilitres at a strength, a share of the fibre, or drops and spoons.

What is weighed or measured is read exactly; a kitchen measure stays in the notes' own words and is never turned into
grams or millilitres. Words behind it may say what it goes with: a litre, a piece, the pot, or a pH to be reached.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction

from recipes.dyeing.potline.vocabulary import LONG_MEASURES, MEASURES, Measure
from recipes.dyeing.scaling import Basis
from recipes.dyeing.units import NumberUnclear, parse_decimal
from recipes.dyeing.working import DyeingError, Exact, exact

EXAMPLE = "Write it like 1.5 g, 5 ml, 0.5 %, 2 g per litre, or 3 drops."
_ABOUT = re.compile(r"^(?:about|approx\.?|circa|ca\.?|~)\s*", re.IGNORECASE)
_READING = re.compile(r"[,;]?\s*\b(?:to|until)\s+ph\s*([\d.,]+)$", re.IGNORECASE)
_STRENGTH = re.compile(
    r"\s*(?:\bof|\bat|@)?\s*(?:an?\s+)?([\d.,]+)\s*%(?:\s*(?:stock|solution))?$", re.IGNORECASE
)
_PER = re.compile(
    r"\s*(?:/|\bper\b|\bto the\b|\ba\b|\beach\b)\s*(litre|liter|l|piece|skein|hank|pot|bath)s?$",
    re.IGNORECASE,
)
_PER_BASIS = {
    **dict.fromkeys(("litre", "liter", "l"), Basis.BATH),
    **dict.fromkeys(("piece", "skein", "hank"), Basis.PIECE),
    **dict.fromkeys(("pot", "bath"), Basis.POT),
}
_RATIO = re.compile(r"^([\d.,]+)\s*:\s*1$")
_NUMBER = re.compile(r"^([\d.,]+)\s*(.*)$")


class AmountNotClear(DyeingError):
    """The amount cannot be read with certainty; its text says what would be right."""


@dataclass(frozen=True, slots=True)
class NotedAmount:
    """One amount. Exactly one of milligrams, microlitres, percent, ratio and `as_typed` is there, unless it only aims at a pH.

    `percent` is of dry fibre, `ratio` litres a kilogram, `strength_percent` that of the stock a volume is of. `basis` is
    what the words say it goes with, None where they do not.
    """

    milligrams: Fraction | None = None
    microlitres: Fraction | None = None
    percent: Fraction | None = None
    ratio: Fraction | None = None
    as_typed: str = ""
    strength_percent: Decimal | None = None
    basis: Basis | None = None
    ph_hundredths: int | None = None
    about: bool = False


def read_noted_amount(typed: str) -> NotedAmount:
    """What a notebook's amount says. Raises AmountNotClear with a sentence where it is in doubt."""
    text = " ".join(typed.split())
    if not text:
        raise AmountNotClear(f"There is no amount. {EXAMPLE}")
    found = NotedAmount()
    if about := _ABOUT.match(text):
        found, text = replace(found, about=True), text[about.end() :]
    if reading := _READING.search(f" {text}"):
        ph = _number(reading[1])
        if not 0 <= ph <= 14:
            raise AmountNotClear("A pH is from 0 to 14.")
        found = replace(found, basis=Basis.READING, ph_hundredths=int(ph * 100))
        text = f" {text}"[: reading.start()].strip()
        if not text:
            return found
    elif per := _PER.search(text):
        found = replace(found, basis=_PER_BASIS[per[1].lower()])
        text = text[: per.start()].strip()
    return _measured(text, found)


def _measured(text: str, found: NotedAmount) -> NotedAmount:
    if loose := _loosely(text):
        # Drops of a stock have a strength and no certain volume.
        of = _STRENGTH.search(loose)
        if of and of.start():
            return replace(
                found, as_typed=loose[: of.start()].strip(), strength_percent=Decimal(_plain(of[1]))
            )
        return replace(found, as_typed=loose)
    if ratio := _RATIO.match(text):
        return replace(found, ratio=_number(ratio[1]))
    share = re.fullmatch(
        r"([\d.,]+)\s*%(?:\s*(?:owf|wof|of (?:dry )?fibre|of (?:dry )?fiber))?", text, re.IGNORECASE
    )
    if share:
        return replace(found, percent=_above_zero(share[1]))
    strength = _STRENGTH.search(text)
    if strength and strength.start():
        found = replace(found, strength_percent=Decimal(_plain(strength[1])))
        text = text[: strength.start()].strip()
    number = _NUMBER.match(text)
    if number is None:
        raise AmountNotClear(f"“{text}” is not an amount. {EXAMPLE}")
    measure = _measure(number[2])
    if measure is None:
        words = (
            f"“{number[2]}” is not a measure that is known here." if number[2] else "The measure is missing."
        )
        raise AmountNotClear(f"{words} {EXAMPLE}")
    if measure.question:
        raise AmountNotClear(measure.question)
    amount = _above_zero(number[1]) * measure.size
    if measure.of == "mass":
        if found.strength_percent is not None:
            raise AmountNotClear(
                "A weight has no strength. Write the millilitres of the stock, or the grams alone."
            )
        return replace(found, milligrams=amount)
    return replace(found, microlitres=amount)


def _loosely(text: str) -> str:
    """The words of a kitchen measure as they stand; empty where it is none."""
    words = [word.strip(".,;()").lower() for word in text.split()]
    loose = {"spoon", "pinch", "drop", "cup"}
    kitchen = any(word in MEASURES and MEASURES[word].of in loose for word in words)
    exactly = any(word in MEASURES and MEASURES[word].of in ("mass", "volume") for word in words)
    glued = re.fullmatch(r"[\d.,/½¼¾⅓⅔]+\s*([a-zA-Z]+)", text)
    if glued and glued[1].lower() in MEASURES:
        kitchen = kitchen or MEASURES[glued[1].lower()].of in loose
    clock = re.search(r"\d:\d", text)
    return text if kitchen and not exactly and not clock else ""


def _measure(words: str) -> Measure | None:
    parts = tuple(word.strip(".").lower() for word in words.split())
    if len(parts) == 1:
        return MEASURES.get(parts[0])
    return LONG_MEASURES.get(parts)


def _plain(typed: str) -> str:
    try:
        return str(parse_decimal(typed))
    except NumberUnclear as unclear:
        raise AmountNotClear(str(unclear)) from None


def _number(typed: str) -> Fraction:
    return Fraction(_plain(typed))


def _above_zero(typed: str) -> Fraction:
    value = _number(typed)
    if value <= 0:
        raise AmountNotClear("An amount must be more than nothing.")
    return value


def grams_words(milligrams: Exact) -> str:
    """An amount as a row takes it back, exact: “1.25 g”."""
    return f"{_digits(exact(milligrams) / 1000)} g"


def millilitres_words(microlitres: Exact) -> str:
    """The same for a volume: “7.5 ml”."""
    return f"{_digits(exact(microlitres) / 1000)} ml"


def _digits(number: Fraction) -> str:
    text = f"{Decimal(number.numerator) / Decimal(number.denominator):f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
