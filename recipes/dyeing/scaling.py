"""What scales with what: an addition is a rule on the fibre, the bath, the piece or the pot, or aims at a reading.

One chemical may have two bases (ammonium sulphate is published by the pound of wool and by the gallon of bath), so each
rule carries its own and none is ever turned into another silently.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from recipes.dyeing.sources import DEFINITION
from recipes.dyeing.units import (
    format_grams,
    format_litres,
    format_millilitres,
    format_number,
    format_percent,
    whole,
)
from recipes.dyeing.working import DyeingError, Exact, Figure, Working, above_zero, exact, not_negative


class Basis(StrEnum):
    """What an addition is reckoned by."""

    FIBRE = "fibre"
    BATH = "bath"
    PIECE = "piece"
    POT = "pot"
    READING = "reading"

    @property
    def words(self) -> str:
        return _WORDS[self]


_WORDS = {
    Basis.FIBRE: "share of dry fibre",
    Basis.BATH: "per litre of bath",
    Basis.PIECE: "per piece",
    Basis.POT: "per pot",
    Basis.READING: "to a reading",
}


class Unit(StrEnum):
    """Milligrams of what is weighed, microlitres of what is measured."""

    MG = "mg"
    UL = "ul"


class BasisNeeds(DyeingError):
    """The basis needs a weight, a volume or a count that is not known for this pot."""


@dataclass(frozen=True, slots=True)
class RuleAmount:
    """How much of something, by its basis.

    `rate` is milligrams or microlitres per kilogram of dry fibre, per litre of bath, per piece or per pot, exact. A spoon,
    pinch or drop is kept `as_typed`, per pot, without a rate; so is an addition that aims at a reading.
    """

    basis: Basis
    unit: Unit = Unit.MG
    rate: Fraction | None = None
    as_typed: str = ""

    def __post_init__(self) -> None:
        if self.rate is None:
            return
        if self.basis is Basis.READING:
            raise BasisNeeds(
                "An addition that aims at a reading has no amount of its own. Write the reading."
            )
        not_negative(self.rate, "An amount cannot be below zero.")

    @property
    def thousandths(self) -> int | None:
        """The rate as an integer of micrograms or nanolitres, for storing; half a thousandth off at most."""
        return None if self.rate is None else whole(self.rate * 1000)

    @property
    def share_percent(self) -> Fraction | None:
        """Percent of dry fibre (ml on 100 g for a liquid), where that is the basis."""
        if self.rate is None or self.basis is not Basis.FIBRE:
            return None
        return self.rate / 10_000

    @property
    def words(self) -> str:
        """The rule in words: 1.5 % of dry fibre, 1 g per litre of bath, 2 ml per piece."""
        if self.as_typed:
            return f"{self.as_typed} per pot"
        if self.rate is None:
            return "until the reading is reached"
        if self.basis is Basis.FIBRE:
            if self.unit is Unit.MG:
                return f"{format_percent(self.rate / 10_000)} of dry fibre"
            return f"{format_millilitres(self.rate / 10)} on 100 g of dry fibre"
        return f"{_format(self.rate, self.unit)} {self.basis.words}"

    @classmethod
    def from_thousandths(cls, basis: Basis | str, unit: Unit | str, thousandths: int) -> RuleAmount:
        """A rule as it was stored."""
        return cls(Basis(basis), Unit(unit), Fraction(thousandths, 1000))

    @classmethod
    def share(cls, percent: Exact, unit: Unit | str = Unit.MG) -> RuleAmount:
        """A rule of so many percent of dry fibre."""
        return cls(Basis.FIBRE, Unit(unit), exact(percent) * 10_000)

    @classmethod
    def measured_loosely(cls, as_typed: str) -> RuleAmount:
        """A spoon, a pinch, drops: never turned into grams or millilitres, the same for every pot."""
        return cls(Basis.POT, as_typed=as_typed)


def scale(
    rule: RuleAmount,
    *,
    dry_milligrams: Exact | None = None,
    bath_microlitres: Exact | None = None,
    pieces: Exact | None = None,
) -> Figure[Fraction] | None:
    """The amount of a rule in a pot, in milligrams or microlitres, exact.

    None where there is no amount to reckon: a spoon or a pinch stays as typed, and what aims at a reading is added until
    the meter shows it. Raises BasisNeeds when the pot's weight, bath or count is not known and the basis needs it.
    """
    if rule.rate is None:
        return None
    size, formula, shown = _size(rule.basis, dry_milligrams, bath_microlitres, pieces)
    amount = rule.rate * size
    if rule.basis is Basis.FIBRE and rule.unit is Unit.MG:
        substitution = f"{format_percent(rule.rate / 10_000)} × {shown}"
    elif rule.basis is Basis.FIBRE:
        substitution = f"{format_millilitres(rule.rate / 10)} on 100 g × {shown}"
    elif rule.basis is Basis.POT:
        substitution = _format(rule.rate, rule.unit)
    else:
        substitution = f"{_format(rule.rate, rule.unit)} × {shown}"
    return Figure(
        amount,
        Working(
            title=f"Amount, {rule.basis.words}",
            formula=formula,
            substitution=substitution,
            result=_format(amount, rule.unit),
            source=DEFINITION,
        ),
    )


def rule_from_amount(
    amount: Exact,
    *,
    basis: Basis | str,
    unit: Unit | str = Unit.MG,
    dry_milligrams: Exact | None = None,
    bath_microlitres: Exact | None = None,
    pieces: Exact | None = None,
) -> Figure[RuleAmount]:
    """The rule that this amount in this pot comes from: the inverse of `scale`, exact.

    Raises BasisNeeds when the pot's weight, bath or count is not known and the basis needs it.
    """
    basis, unit = Basis(basis), Unit(unit)
    value = not_negative(amount, "An amount cannot be below zero.")
    if basis is Basis.READING:
        return Figure(
            RuleAmount(basis, unit),
            Working(
                title="Rule",
                formula="added until the reading is reached",
                substitution=f"{_format(value, unit)} were needed in this pot",
                result="no fixed amount",
                source=DEFINITION,
            ),
        )
    size, _, shown = _size(basis, dry_milligrams, bath_microlitres, pieces)
    rule = RuleAmount(basis, unit, value / size)
    return Figure(
        rule,
        Working(
            title="Rule",
            formula=f"amount in this pot ÷ {_DIVISOR[basis]}",
            substitution=_format(value, unit) if basis is Basis.POT else f"{_format(value, unit)} ÷ {shown}",
            result=rule.words,
            source=DEFINITION,
        ),
    )


_DIVISOR = {
    Basis.FIBRE: "dry fibre",
    Basis.BATH: "litres of bath",
    Basis.PIECE: "pieces",
    Basis.POT: "one pot",
}


def _size(
    basis: Basis, dry_milligrams: Exact | None, bath_microlitres: Exact | None, pieces: Exact | None
) -> tuple[Fraction, str, str]:
    """How many kilograms, litres, pieces or pots; the formula; and the size in words."""
    if basis is Basis.FIBRE:
        if dry_milligrams is None:
            raise BasisNeeds(
                "This is reckoned by the dry fibre, and the dry weight of the pot is not known. Weigh it or say it."
            )
        dry = above_zero(dry_milligrams, "The dry weight must be above zero.")
        return dry / 1_000_000, "share of dry fibre × dry weight", format_grams(dry)
    if basis is Basis.BATH:
        if bath_microlitres is None:
            raise BasisNeeds(
                "This is reckoned by the litre, and the litres of the bath are not known. Say how many."
            )
        bath = above_zero(bath_microlitres, "The bath must be above zero.")
        return bath / 1_000_000, "amount per litre × litres of bath", format_litres(bath)
    if basis is Basis.PIECE:
        if pieces is None:
            raise BasisNeeds(
                "This is reckoned by the piece, and the count of pieces is not known. Say how many."
            )
        count = above_zero(pieces, "The pot must hold at least one piece.")
        return (
            count,
            "amount per piece × pieces",
            f"{format_number(count)} {'piece' if count == 1 else 'pieces'}",
        )
    return Fraction(1), "the same in every pot", "one pot"


def _format(amount: Fraction, unit: Unit) -> str:
    return format_grams(amount) if unit is Unit.MG else format_millilitres(amount)
