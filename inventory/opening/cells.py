"""The cells of one row of a list, read one by one; what cannot be read is noted with its row and column."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction

from django.utils import timezone

from dyehouse.studio.amounts import MASS_WORDS, VOLUME_WORDS
from dyehouse.studio.codes import tidy
from inventory.opening.columns import BY_KEY, Kind
from recipes.dyeing.units import MASS_UNITS, VOLUME_UNITS, NumberUnclear, format_number, parse_decimal, whole

MOST_PIECES = 100_000
MOST_AMOUNT = 1_000_000_000
MOST_JAR_GRAMS = 50_000
LONGEST_CODE = 12
PIECE_WORDS = frozenset({"", "piece", "pieces", "skein", "skeins", "pcs"})
_CODE = re.compile(r"[0-9A-Z]+")


@dataclass(frozen=True, slots=True)
class Wrong:
    """What is wrong in a list: the row's number as the spreadsheet shows it, the column, what stands there, and why."""

    row: int
    column: str
    typed: str
    sentence: str


@dataclass(slots=True)
class Cells:
    """One row. Every reader gives the value, or None after noting what is wrong; None too where the cell is empty."""

    row: int
    values: Mapping[str, str]
    wrong: list[Wrong] = field(default_factory=list)

    def refuse(self, column: str, sentence: str) -> None:
        """Note what is wrong with a cell."""
        self.wrong.append(Wrong(self.row, BY_KEY[column].name, self.typed(column), sentence))

    def typed(self, column: str) -> str:
        return self.values.get(column, "")

    def refuse_what_is_not_used(self, kind: Kind) -> None:
        """Note cells that are filled though such a row has none, and those that are empty though it needs them."""
        for key, column in BY_KEY.items():
            typed = self.typed(key)
            if typed and kind not in column.used:
                self.refuse(key, f"A row of {kind.value} has no {column.name}. Empty this cell.")
            elif not typed and kind in column.needed:
                self.refuse(key, f"A row of {kind.value} needs this: {column.means}.")

    def words(self, column: str, *, longest: int) -> str:
        typed = self.typed(column)
        if len(typed) > longest:
            self.refuse(column, f"This is longer than {longest} letters. Shorten it.")
            return ""
        return typed

    def number(
        self, column: str, *, least: Decimal | int, most: Decimal | int, places: int = 3
    ) -> Decimal | None:
        typed = self.typed(column).removesuffix("%").strip()
        if not typed:
            return None
        try:
            number = parse_decimal(typed)
        except NumberUnclear as unclear:
            self.refuse(column, str(unclear))
            return None
        if not least <= number <= most:
            self.refuse(
                column, f"This must be from {format_number(least, places)} to {format_number(most, places)}."
            )
            return None
        if number.scaleb(places) != number.scaleb(places).to_integral_value():
            self.refuse(
                column,
                "Write a whole number." if places == 0 else f"Write it with at most {places} decimals.",
            )
            return None
        return number

    def count(self, column: str, *, most: int) -> int | None:
        """A whole number from 1."""
        number = self.number(column, least=1, most=most, places=0)
        return None if number is None else int(number)

    def grams(self, column: str) -> int | None:
        """A weight in grams, as milligrams."""
        number = self.number(column, least=Decimal("0.001"), most=MOST_JAR_GRAMS)
        return None if number is None else int(number * 1000)

    def pieces(self) -> int | None:
        if self.typed("unit").casefold() not in PIECE_WORDS:
            self.refuse("unit", "Yarn is counted in pieces. Write pieces, or leave this empty.")
            return None
        return self.count("quantity", most=MOST_PIECES)

    def amount(self, *, mass: bool, volume: bool) -> tuple[int | None, bool]:
        """The quantity in milligrams or microlitres, and whether it is a volume; the unit says which."""
        unit = " ".join(self.typed("unit").casefold().replace(".", " ").split())
        # An ounce by itself weighs; liquids are measured in fluid ounces.
        as_mass, as_volume = MASS_WORDS.get(unit), None if unit in MASS_WORDS else VOLUME_WORDS.get(unit)
        sizes: Fraction
        if as_mass is not None and mass:
            sizes = MASS_UNITS[as_mass]
        elif as_volume is not None and volume:
            sizes = VOLUME_UNITS[as_volume]
        else:
            if unit:
                right = " or ".join(
                    [*(["g, kg, oz or lb"] if mass else []), *(["ml, l or fl oz"] if volume else [])]
                )
                self.refuse("unit", f"This is no unit for it. Write {right}.")
            return None, False
        number = self.number("quantity", least=Decimal("0.001"), most=MOST_AMOUNT)
        if number is None:
            return None, as_volume is not None
        small = whole(Fraction(number) * sizes)
        if not 1 <= small <= MOST_AMOUNT:
            self.refuse(
                "quantity",
                "This is less than a milligram or more than a tonne. Check the number and its unit.",
            )
            return None, as_volume is not None
        return small, as_volume is not None

    def choice(self, column: str, choices: Mapping[str, str]) -> str | None:
        """One of several words; `choices` gives what is kept by each word, in small letters."""
        typed = self.typed(column).casefold()
        if not typed:
            return None
        if typed not in choices:
            shown = ", ".join(dict.fromkeys(choices))
            self.refuse(column, f"This is not one of the words for it. Write one of: {shown}.")
            return None
        return choices[typed]

    def day(self, column: str) -> dt.date | None:
        typed = self.typed(column)
        if not typed:
            return None
        try:
            if not re.fullmatch(r"\d{4}-\d{2}-\d{2}", typed, re.ASCII):
                raise ValueError
            day = dt.date.fromisoformat(typed)
        except ValueError:
            self.refuse(column, "Write the day as year, month and day: 2026-03-14.")
            return None
        if day > timezone.localdate():
            self.refuse(column, "This day is still to come. Write the day on which it was made.")
            return None
        if day.year < 1950:
            self.refuse(column, "This is longer ago than dye or yarn keeps. Check the year.")
            return None
        return day

    def code(self, column: str) -> str:
        """A dye lot's code as it is stored, of letters and figures."""
        typed = tidy(self.typed(column))
        if typed and (len(typed) > LONGEST_CODE or not _CODE.fullmatch(typed)):
            self.refuse(
                column,
                f"A dye lot's code has up to {LONGEST_CODE} letters A to Z and figures. Shorten it, or leave it empty.",
            )
            return ""
        return typed
