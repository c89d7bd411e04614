"""The cells of one row of a list, read one by one; what cannot be read is noted with its row and column."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal

from django.utils import timezone

from dyehouse.studio.refusals import Refused
from recipes.dyeing.units import NumberUnclear, format_number, parse_decimal


@dataclass(frozen=True, slots=True)
class Wrong:
    """What is wrong in a list: the row's number as the spreadsheet shows it, the column, what stands there, and why."""

    row: int
    column: str
    typed: str
    sentence: str


class ListWrong(Refused):
    """Rows of the list are wrong, or became so since they were looked at; nothing was taken in."""

    def __init__(self, wrong: Sequence[Wrong]) -> None:
        self.wrong = list(wrong)
        super().__init__(
            "Nothing was taken in, since some rows are wrong. Put them right and choose the list again."
        )


@dataclass(slots=True)
class Cells:
    """One row. Every reader gives the value, or None after noting what is wrong; None too where the cell is empty.

    `names` are the columns as the page shows them, by the key they are compared by.
    """

    row: int
    values: Mapping[str, str]
    names: Mapping[str, str]
    wrong: list[Wrong] = field(default_factory=list)

    def refuse(self, column: str, sentence: str) -> None:
        """Note what is wrong with a cell."""
        self.wrong.append(Wrong(self.row, self.names[column], self.typed(column), sentence))

    def typed(self, column: str) -> str:
        return self.values.get(column, "")

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
