"""How an amount was worked out: every computed figure carries its formula, its numbers and where the rule is from."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from enum import Enum
from fractions import Fraction
from typing import Generic, TypeVar

T = TypeVar("T")
U = TypeVar("U")

#: What the functions of this room take as an exact number. Floats are left out on purpose.
Exact = int | Decimal | Fraction


class Standing(Enum):
    """How well a source is known; the value is what is printed after its title."""

    READ = "read in the original"
    SECOND_HAND = "second-hand"
    FROM_MEMORY = "from memory, not checked"
    DERIVED = "worked out from definitions"
    PRACTICE = "common practice, no source"
    TOLD = "as told, not measured"


@dataclass(frozen=True, slots=True)
class Source:
    """Where a rule or a number is from. `str()` is what a page or a card prints."""

    title: str
    standing: Standing

    def __str__(self) -> str:
        return f"{self.title} ({self.standing.value})"

    @property
    def from_memory(self) -> bool:
        return self.standing is Standing.FROM_MEMORY


@dataclass(frozen=True, slots=True)
class Working:
    """One computation laid open.

    `formula` is in words and signs, `substitution` the same with this pot's numbers, `result` the outcome with its
    unit, `source` where the rule is from, `steps` the workings that its numbers came from.
    """

    title: str
    formula: str
    substitution: str
    result: str
    source: Source
    steps: tuple[Working, ...] = ()

    @property
    def line(self) -> str:
        """Formula, numbers and result in one line of small print."""
        return f"{self.title}: {self.formula} = {self.substitution} = {self.result}"


@dataclass(frozen=True, slots=True)
class Figure(Generic[T]):
    """A computed value with its working. The value is exact; rounding happens only where it is shown or measured."""

    value: T
    working: Working

    def map(self, change: Callable[[T], U]) -> Figure[U]:
        """The same working with the value put another way, for example rounded to be stored."""
        return Figure(change(self.value), self.working)


class DyeingError(ValueError):
    """A sentence for the dyer: what is wrong and what would be right."""


def exact(number: Exact) -> Fraction:
    """The number as a Fraction; refuses floats, because 0.1 is not a tenth to them."""
    if isinstance(number, bool) or not isinstance(number, (int, Decimal, Fraction)):
        raise TypeError(f"Expected an int, Decimal or Fraction, not {type(number).__name__}.")
    return Fraction(number)


class NothingToReckonWith(DyeingError):
    """A weight, strength or volume that must be above zero is not."""


def above_zero(number: Exact, sentence: str) -> Fraction:
    """The number as a Fraction, or NothingToReckonWith with the sentence when it is zero or less."""
    value = exact(number)
    if value <= 0:
        raise NothingToReckonWith(sentence)
    return value


def not_negative(number: Exact, sentence: str) -> Fraction:
    """The number as a Fraction, or NothingToReckonWith with the sentence when it is below zero."""
    value = exact(number)
    if value < 0:
        raise NothingToReckonWith(sentence)
    return value
