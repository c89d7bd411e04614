"""Exact conversions, numbers as people type them, and amounts as people read them.

Masses are milligrams, volumes microlitres, lengths millimetres, temperatures hundredths of a degree Celsius. Spoons and
cups are volumes here and are never turned into grams: published masses of "a cup of soda ash" run from 76 g to 450 g.
"""

from __future__ import annotations

import re
import unicodedata
from decimal import Decimal
from fractions import Fraction

from recipes.dyeing.working import DyeingError, Exact, exact

# Source of the US and avoirdupois values: NIST Handbook 44, Appendix C. The imperial gallon is exact by UK law (from memory).
MASS_UNITS: dict[str, Fraction] = {
    "mg": Fraction(1),
    "g": Fraction(1_000),
    "kg": Fraction(1_000_000),
    "oz": Fraction("28349.523125"),
    "lb": Fraction("453592.37"),
    "grain": Fraction("64.79891"),
}
VOLUME_UNITS: dict[str, Fraction] = {
    "ul": Fraction(1),
    "ml": Fraction(1_000),
    "l": Fraction(1_000_000),
    "us_tsp": Fraction("4928.92159375"),
    "us_tbsp": Fraction("14786.76478125"),
    "us_fl_oz": Fraction("29573.5295625"),
    "us_cup": Fraction("236588.2365"),
    "us_pint": Fraction("473176.473"),
    "us_quart": Fraction("946352.946"),
    "us_gal": Fraction("3785411.784"),
    "imp_pint": Fraction("568261.25"),
    "imp_gal": Fraction("4546090"),
}
LENGTH_UNITS: dict[str, Fraction] = {
    "mm": Fraction(1),
    "cm": Fraction(10),
    "m": Fraction(1_000),
    "in": Fraction("25.4"),
    "yd": Fraction("914.4"),
}
_CALCIUM_CARBONATE, _CALCIUM_OXIDE = Fraction("100.0869"), Fraction("56.0774")
#: mg/L as CaCO3 in one of each unit, from their definitions.
HARDNESS_UNITS: dict[str, Fraction] = {
    "mg_per_litre": Fraction(1),
    "ppm": Fraction(1),
    "mmol_per_litre": _CALCIUM_CARBONATE,
    "german_degree": 10 * _CALCIUM_CARBONATE / _CALCIUM_OXIDE,
    "french_degree": Fraction(10),
    "us_grain_per_gallon": Fraction("64.79891") / Fraction("3.785411784"),
    "clark_degree": Fraction("64.79891") / Fraction("4.54609"),
}


class UnitUnknown(DyeingError):
    """The unit is not one of this kind of amount."""


class NotAMass(UnitUnknown):
    """A spoon, cup or pinch of powder was asked for in grams."""


class NumberUnclear(DyeingError):
    """What was typed cannot be read as one number with certainty."""


def to_milligrams(quantity: Exact, unit: str) -> Fraction:
    """Milligrams in so many of a unit of MASS_UNITS.

    Raises NotAMass for a volume (powder has no mass by the spoon), UnitUnknown for anything else.
    """
    if unit in MASS_UNITS:
        return exact(quantity) * MASS_UNITS[unit]
    if unit in VOLUME_UNITS or unit in {"tsp", "tbsp", "cup", "pinch", "spoon", "scoop"}:
        raise NotAMass("A spoon, cup or pinch of powder has no certain weight. Weigh it and write grams.")
    raise UnitUnknown(f"“{unit}” is not a weight. Write mg, g, kg, oz or lb.")


def to_microlitres(quantity: Exact, unit: str) -> Fraction:
    """Microlitres in so many of a unit of VOLUME_UNITS. Raises UnitUnknown."""
    if unit not in VOLUME_UNITS:
        raise UnitUnknown(f"“{unit}” is not a measure of liquid. Write ml, litres, fl oz or gallons.")
    return exact(quantity) * VOLUME_UNITS[unit]


def to_millimetres(quantity: Exact, unit: str) -> Fraction:
    """Millimetres in so many of a unit of LENGTH_UNITS. Raises UnitUnknown."""
    if unit not in LENGTH_UNITS:
        raise UnitUnknown(f"“{unit}” is not a length. Write m, cm, yd or in.")
    return exact(quantity) * LENGTH_UNITS[unit]


def from_milligrams(milligrams: Exact, unit: str) -> Fraction:
    """So many of a unit of MASS_UNITS in the milligrams."""
    return exact(milligrams) / to_milligrams(1, unit)


def from_microlitres(microlitres: Exact, unit: str) -> Fraction:
    """So many of a unit of VOLUME_UNITS in the microlitres."""
    return exact(microlitres) / to_microlitres(1, unit)


def from_millimetres(millimetres: Exact, unit: str) -> Fraction:
    """So many of a unit of LENGTH_UNITS in the millimetres."""
    return exact(millimetres) / to_millimetres(1, unit)


def hardness(quantity: Exact, unit: str, to: str = "mg_per_litre") -> Fraction:
    """A hardness (or alkalinity) in another of HARDNESS_UNITS. Raises UnitUnknown. Source: the units' definitions."""
    for name in (unit, to):
        if name not in HARDNESS_UNITS:
            raise UnitUnknown(f"“{name}” is not a unit of water hardness.")
    return exact(quantity) * HARDNESS_UNITS[unit] / HARDNESS_UNITS[to]


def ounces_per_us_gallon_to_grams_per_litre(ounces: Exact) -> Fraction:
    """Grams per litre in avoirdupois ounces per US gallon (7.48915 to one)."""
    return exact(ounces) * MASS_UNITS["oz"] / VOLUME_UNITS["us_gal"] * 1000


def fahrenheit_to_celsius(degrees: Exact) -> Fraction:
    """°C at so many °F, exact."""
    return (exact(degrees) - 32) * 5 / 9


def celsius_to_fahrenheit(degrees: Exact) -> Fraction:
    """°F at so many °C, exact."""
    return exact(degrees) * 9 / 5 + 32


def fahrenheit_step_to_celsius(degrees: Exact) -> Fraction:
    """°C in a difference of so many °F, for rises per minute."""
    return exact(degrees) * 5 / 9


def centi_celsius(degrees: Exact, *, fahrenheit: bool = False) -> int:
    """Hundredths of a degree Celsius, rounded half up, from °C or °F."""
    celsius = fahrenheit_to_celsius(degrees) if fahrenheit else exact(degrees)
    return whole(celsius * 100)


def whole(number: Exact) -> int:
    """The nearest integer, half away from zero."""
    fraction = exact(number)
    rounded = int((abs(fraction) * 2 + 1) // 2)
    return -rounded if fraction < 0 else rounded


def to_places(number: Exact, places: int) -> Decimal:
    """The number as a Decimal with so many decimal places, rounded half up."""
    return Decimal(whole(exact(number) * 10**places)).scaleb(-places)


_DIGITS = re.compile(r"[+-]?\d+(\.\d+)?")
_GROUPED = re.compile(r"[+-]?\d{1,3}([ ',.]\d{3})+")
_LONGEST_NUMBER = 30


def parse_decimal(text: str) -> Decimal:
    """The number somebody typed, with a decimal comma or point.

    Raises NumberUnclear with a sentence when there is no number, or when it could be two: 1,250 is one and a quarter to
    some and twelve hundred and fifty to others.
    """
    typed = unicodedata.normalize("NFKC", text).strip().replace("−", "-").replace("’", "'")
    if not typed:
        raise NumberUnclear("Write a number, for example 12.5.")
    if len(typed) > _LONGEST_NUMBER:
        raise NumberUnclear("This number is too long. Write it with fewer digits, for example 12.5.")
    # Normalising would turn 5² into 52.
    if any(unicodedata.category(character) in {"No", "Nl"} for character in text):
        raise NumberUnclear(
            f"“{text.strip()}” is not plain digits. Write it with a point or a comma, for example 12.5."
        )
    plain = _with_point(typed)
    if plain is None or not _DIGITS.fullmatch(plain):
        raise NumberUnclear(
            f"“{typed}” is not a number. Write digits with a point or a comma, for example 12.5."
        )
    return Decimal(plain)


def _with_point(typed: str) -> str | None:
    """The typed number with a decimal point and without groups, or None when it is none."""
    commas, points = typed.count(","), typed.count(".")
    if commas and points:
        decimal_mark = "," if typed.rfind(",") > typed.rfind(".") else "."
        grouping = "." if decimal_mark == "," else ","
        head, _, tail = typed.rpartition(decimal_mark)
        if decimal_mark in head or not _GROUPED.fullmatch(head) or set(head) & {" ", "'"}:
            return None
        return f"{head.replace(grouping, '')}.{tail}"
    if commas == 1 and not {" ", "'"} & set(typed):
        head, _, tail = typed.partition(",")
        if len(tail) == 3 and head.lstrip("+-").strip("0"):
            raise NumberUnclear(
                f"“{typed}” can be read in two ways. Write {head}{tail} if it is in the thousands, "
                f"or {head}.{tail.rstrip('0') or '0'} if it is not."
            )
        return f"{head or '0'}.{tail}"
    if points <= 1 and not commas and not {" ", "'"} & set(typed):
        return f"0{typed}" if typed.startswith(".") else typed
    head, mark, tail = _split_at_mark(typed)
    if not _GROUPED.fullmatch(head) or len(set(re.sub(r"[\d+-]", "", head))) != 1:
        return None
    return re.sub(r"[ ',.]", "", head) + (f".{tail}" if mark else "")


def _split_at_mark(typed: str) -> tuple[str, str, str]:
    """A number grouped by spaces or apostrophes at its decimal mark; one grouped by commas or points has none."""
    if {" ", "'"} & set(typed):
        for mark in (",", "."):
            if typed.count(mark) == 1:
                return typed.partition(mark)
    return typed, "", ""


def format_number(number: Exact, places: int = 3) -> str:
    """The number with at most so many decimals and no noise of zeros: 7.5, 0.005, 12."""
    rounded = to_places(number, places)
    if rounded == 0:
        return "0"
    text = f"{rounded:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def significant(number: Exact, digits: int = 3) -> str:
    """The number to so many significant digits, never in powers of ten: 1333 stays 1333, 0.08818 becomes 0.0882."""
    fraction = exact(number)
    if fraction == 0:
        return "0"
    places, size = 0, abs(fraction)
    while size < 10 ** (digits - 1):
        size *= 10
        places += 1
    return format_number(fraction, places)


def format_percent(percent: Exact) -> str:
    """A depth or a share: two decimals from 1 % up, three significant digits below, for example 1.5 % and 0.0375 %."""
    value = exact(percent)
    return f"{significant(value) if abs(value) < 1 else format_number(value, 2)} %"


def format_grams(milligrams: Exact, *, us: bool = False) -> str:
    """Milligrams as grams (kilograms from 10 kg), with ounces and pounds beside them when asked.

    A whole number of milligrams under 10 kg is shown in full; a computed one is shown to what its size makes sensible.
    """
    value = exact(milligrams)
    grams = value / 1000
    if abs(grams) >= 10_000:
        text = f"{format_number(grams / 1000, 2)} kg"
    else:
        text = f"{_sensible(grams, known_to=3 if value.denominator == 1 else None)} g"
    return f"{text} ({_ounces(value)})" if us else text


def format_millilitres(microlitres: Exact, *, us: bool = False) -> str:
    """Microlitres as millilitres (litres from 10 litres), with US measures beside them when asked."""
    value = exact(microlitres)
    millilitres = value / 1000
    if abs(millilitres) >= 10_000:
        return format_litres(value, us=us)
    text = f"{_sensible(millilitres, known_to=3 if value.denominator == 1 else None)} ml"
    return f"{text} ({_us_volume(value)})" if us else text


def format_litres(microlitres: Exact, *, us: bool = False) -> str:
    """Microlitres as litres, for baths: 10 litres, 7.5 litres."""
    value = exact(microlitres)
    litres = format_number(value / 1_000_000, 2)
    text = f"{litres} litre" if litres == "1" else f"{litres} litres"
    return f"{text} ({_us_volume(value)})" if us else text


def format_celsius(centi: Exact, *, us: bool = False) -> str:
    """Hundredths of a degree as °C to a tenth, with °F to a whole degree beside them when asked."""
    celsius = exact(centi) / 100
    text = f"{format_number(celsius, 1)} °C"
    return f"{text} ({whole(celsius_to_fahrenheit(celsius))} °F)" if us else text


def format_metres(millimetres: Exact, *, us: bool = False) -> str:
    """Millimetres as metres to a tenth, with yards beside them when asked."""
    text = f"{format_number(exact(millimetres) / 1000, 1)} m"
    return f"{text} ({whole(from_millimetres(millimetres, 'yd'))} yd)" if us else text


def format_ph(hundredths: Exact) -> str:
    """A pH from its hundredths: 4.5."""
    return format_number(exact(hundredths) / 100, 2)


def format_ratio(liquor_ratio: Exact) -> str:
    """A liquor ratio: 20:1, 20.9:1."""
    return f"{format_number(liquor_ratio, 1)}:1"


def format_minutes(minutes: Exact) -> str:
    """Whole minutes, with hours from one hour up: 45 min, 1 h 23 min."""
    hours, rest = divmod(whole(minutes), 60)
    if not hours:
        return f"{rest} min"
    return f"{hours} h {rest} min" if rest else f"{hours} h"


def _sensible(number: Fraction, *, known_to: int | None) -> str:
    """A computed amount to about five digits, a known one to the places that it has."""
    if known_to is not None:
        return format_number(number, known_to)
    size = abs(number)
    if 0 < size < Fraction(1, 1000):
        return significant(number, 2)
    return format_number(number, 3 if size < 10 else 2 if size < 100 else 1 if size < 1000 else 0)


def _ounces(milligrams: Fraction) -> str:
    ounces = from_milligrams(milligrams, "oz")
    if abs(ounces) < 16:
        return f"{significant(ounces)} oz"
    pounds, tenths = divmod(whole(ounces * 10), 160)
    return f"{pounds} lb {format_number(Fraction(tenths, 10), 1)} oz" if tenths else f"{pounds} lb"


def _us_volume(microlitres: Fraction) -> str:
    ounces = from_microlitres(microlitres, "us_fl_oz")
    if abs(ounces) < 64:
        return f"{significant(ounces)} US fl oz"
    return f"{significant(from_microlitres(microlitres, 'us_gal'))} US gal"
