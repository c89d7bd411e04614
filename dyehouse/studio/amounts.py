"""Form fields for amounts as people type them: comma or point, with or without a unit, ounces where they are used.

Each gives a whole number of a small unit (milligrams, microlitres, millimetres …) and shows what was typed when it was
wrong. Nothing here guesses: what can be read in two ways is asked back.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping
from decimal import Decimal
from fractions import Fraction
from typing import Any

from django import forms

from dyehouse.studio.widgets import Amount
from recipes.dyeing.units import (
    LENGTH_UNITS,
    MASS_UNITS,
    VOLUME_UNITS,
    NumberUnclear,
    format_number,
    parse_decimal,
    whole,
)

_PART = re.compile(r"([+-]?[\d.,][\d.,'’ ]*)([^\d]*)")

MASS_WORDS: Mapping[str, str] = {
    "mg": "mg",
    **dict.fromkeys(("g", "gram", "grams", "gramme", "grammes"), "g"),
    **dict.fromkeys(("kg", "kilo", "kilos", "kilogram", "kilograms"), "kg"),
    **dict.fromkeys(("oz", "ounce", "ounces"), "oz"),
    **dict.fromkeys(("lb", "lbs", "pound", "pounds"), "lb"),
}
# In a field for liquids an ounce is a fluid one; gallons, quarts and cups are the US ones.
VOLUME_WORDS: Mapping[str, str] = {
    **dict.fromkeys(("µl", "μl", "ul"), "ul"),
    **dict.fromkeys(("ml", "millilitre", "millilitres", "milliliter", "milliliters"), "ml"),
    **dict.fromkeys(("l", "litre", "litres", "liter", "liters"), "l"),
    **dict.fromkeys(("fl oz", "oz", "ounce", "ounces", "us fl oz"), "us_fl_oz"),
    **dict.fromkeys(("cup", "cups"), "us_cup"),
    **dict.fromkeys(("pt", "pint", "pints"), "us_pint"),
    **dict.fromkeys(("qt", "quart", "quarts"), "us_quart"),
    **dict.fromkeys(("gal", "gallon", "gallons", "us gal"), "us_gal"),
}
LENGTH_WORDS: Mapping[str, str] = {
    "mm": "mm",
    "cm": "cm",
    **dict.fromkeys(("m", "metre", "metres", "meter", "meters"), "m"),
    **dict.fromkeys(("in", "inch", "inches"), "in"),
    **dict.fromkeys(("yd", "yds", "yard", "yards"), "yd"),
}


class AmountUnclear(ValueError):
    """What was typed is no amount of this kind. Its text is the sentence beside the field."""


def read_amount(
    typed: str, *, words: Mapping[str, str], sizes: Mapping[str, Fraction], plain: str, example: str
) -> Fraction:
    """What was typed in the smallest unit of `sizes`; a number without a unit is in `plain`.

    Several parts, each with its unit, are added: 1 lb 4 oz. Raises AmountUnclear.
    """
    if any(unicodedata.category(character) in {"No", "Nl"} for character in typed):
        # Normalising would turn 5½ into 51/2.
        raise AmountUnclear(f"“{typed.strip()}” is not plain digits. Write it like {example}.")
    text = unicodedata.normalize("NFKC", typed).strip()
    parts = _PART.findall(text)
    if not parts or "".join(number + unit for number, unit in parts) != text:
        raise AmountUnclear(f"“{typed.strip()}” is not an amount. Write it like {example}.")
    total = Fraction(0)
    for number, unit_typed in parts:
        unit = " ".join(unit_typed.lower().replace(".", " ").split())
        if not unit and len(parts) > 1:
            raise AmountUnclear(f"“{typed.strip()}” has a number without its unit. Write it like {example}.")
        name = words.get(unit) if unit else plain
        if name is None:
            raise AmountUnclear(f"“{unit_typed.strip()}” is not a unit for this. Write it like {example}.")
        try:
            total += Fraction(parse_decimal(number)) * sizes[name]
        except NumberUnclear as unclear:
            raise AmountUnclear(str(unclear)) from None
    return total


class AmountField(forms.Field):
    """An amount in words of one kind; cleaned to a whole number of `of` (a unit of `sizes`), None when left empty."""

    words: Mapping[str, str]
    sizes: Mapping[str, Fraction]
    example = "12.5"
    unit_on_screen = ""
    plain = ""
    of = ""

    def __init__(
        self, *, least: int = 1, most: int | None = None, required_words: str = "", **kwargs: Any
    ) -> None:
        kwargs.setdefault("widget", Amount(self.unit_on_screen))
        super().__init__(**kwargs)
        self.least, self.most = least, most
        self.error_messages["required"] = required_words or f"Write an amount, for example {self.example}."

    def clean(self, value: Any) -> int | None:
        value = self.to_python(value)
        self.validate(value)
        return value

    def to_python(self, value: Any) -> int | None:
        if value in self.empty_values or not str(value).strip():
            return None
        try:
            exact = self.read(str(value))
        except AmountUnclear as unclear:
            raise forms.ValidationError(str(unclear)) from None
        amount = whole(exact)
        if amount < self.least:
            least = "more than nothing" if self.least == 1 else f"at least {self.shown(self.least)}"
            raise forms.ValidationError(f"This must be {least}.")
        if self.most is not None and amount > self.most:
            raise forms.ValidationError(
                f"This is more than {self.shown(self.most)}. Check the number and its unit."
            )
        return amount

    def read(self, typed: str) -> Fraction:
        """What was typed, in the unit that is stored."""
        read = read_amount(typed, words=self.words, sizes=self.sizes, plain=self.plain, example=self.example)
        return read / self.sizes[self.of]

    def shown(self, amount: int) -> str:
        return f"{self.prepare_value(amount)} {self.unit_on_screen}".strip()

    def prepare_value(self, value: Any) -> Any:
        if isinstance(value, int):
            return format_number(value * self.sizes[self.of] / self.sizes[self.plain], 6)
        return value


class GramsField(AmountField):
    """Typed in grams (or mg, kg, oz, lb), cleaned to milligrams."""

    words, sizes, plain, of = MASS_WORDS, MASS_UNITS, "g", "mg"
    unit_on_screen = "g"
    example = "12.5 g or 8 oz"


class MillilitresField(AmountField):
    """Typed in millilitres (or litres, fl oz, gallons), cleaned to microlitres."""

    words, sizes, plain, of = VOLUME_WORDS, VOLUME_UNITS, "ml", "ul"
    unit_on_screen = "ml"
    example = "250 ml or 8 fl oz"


class LitresField(AmountField):
    """Typed in litres (or ml, quarts, gallons), cleaned to millilitres."""

    words, sizes, plain, of = VOLUME_WORDS, VOLUME_UNITS, "l", "ml"
    unit_on_screen = "litres"
    example = "12 litres or 3 gal"


class MetresField(AmountField):
    """Typed in metres (or yards), cleaned to whole metres."""

    words, sizes, plain, of = LENGTH_WORDS, LENGTH_UNITS, "m", "m"
    unit_on_screen = "m"
    example = "400 or 437 yd"


class CentimetresField(AmountField):
    """Typed in centimetres (or inches), cleaned to millimetres."""

    words, sizes, plain, of = LENGTH_WORDS, LENGTH_UNITS, "cm", "mm"
    unit_on_screen = "cm"
    example = "150 or 60 in"


class ScaledField(forms.Field):
    """A plain number kept as whole tenths, hundredths … : pH 7.2 is 720 hundredths. None when left empty."""

    def __init__(
        self,
        *,
        places: int,
        least: Decimal = Decimal(0),
        most: Decimal,
        unit: str = "",
        required_words: str = "Write a number.",
        **kwargs: Any,
    ) -> None:
        kwargs.setdefault("widget", Amount(unit))
        super().__init__(**kwargs)
        self.places, self.least, self.most, self.unit = places, least, most, unit
        self.error_messages["required"] = required_words

    def to_python(self, value: Any) -> int | None:
        if value in self.empty_values or not str(value).strip():
            return None
        typed = str(value).strip()
        if self.unit and typed.endswith(self.unit):
            typed = typed[: -len(self.unit)]
        try:
            number = parse_decimal(typed)
        except NumberUnclear as unclear:
            raise forms.ValidationError(str(unclear)) from None
        if not self.least <= number <= self.most:
            raise forms.ValidationError(
                f"This must be from {format_number(self.least, 6)} to {format_number(self.most, 6)}."
            )
        scaled = number.scaleb(self.places)
        if scaled != scaled.to_integral_value():
            raise forms.ValidationError(
                f"Write it with at most {self.places} decimal{'' if self.places == 1 else 's'}."
            )
        return int(scaled)

    def prepare_value(self, value: Any) -> Any:
        if isinstance(value, int):
            return format_number(Decimal(value).scaleb(-self.places), self.places)
        return value
