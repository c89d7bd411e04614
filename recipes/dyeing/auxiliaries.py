"""Acids, salts and alkalis: one strength for another, crystal forms, and published doses by depth.

The doses are tables to compare with, never an order: they belong to one maker's range each and are named as such.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from recipes.dyeing import sources
from recipes.dyeing.units import (
    format_grams,
    format_millilitres,
    format_number,
    format_percent,
    ounces_per_us_gallon_to_grams_per_litre,
)
from recipes.dyeing.working import (
    DyeingError,
    Exact,
    Figure,
    NothingToReckonWith,
    Source,
    Working,
    above_zero,
    exact,
    not_negative,
)


@dataclass(frozen=True, slots=True)
class AcidSwap:
    """So much of the other acid, and how much water to leave out of the bath for it (below zero: to add)."""

    microlitres: Fraction
    less_water_microlitres: Fraction


def swap_acid(*, microlitres: Exact, from_percent: Exact, to_percent: Exact) -> Figure[AcidSwap]:
    """Another strength of the same acid: volume × old % ÷ new %; the added water comes off the bath's."""
    volume = not_negative(microlitres, "An amount cannot be below zero.")
    old = above_zero(from_percent, "The strength of the acid must be above 0 %.")
    new = above_zero(to_percent, "The strength of the acid must be above 0 %.")
    swapped = volume * old / new
    return Figure(
        AcidSwap(swapped, swapped - volume),
        Working(
            title="The same acid at another strength",
            formula="volume × old strength ÷ new strength",
            substitution=f"{format_millilitres(volume)} × {format_percent(old)} ÷ {format_percent(new)}",
            result=f"{format_millilitres(swapped)}, and {format_millilitres(swapped - volume)} less water",
            source=sources.MASS_BALANCE,
        ),
    )


def measured_acid(*, acid_milligrams: Exact, acid_percent: Exact) -> Figure[Fraction]:
    """Microlitres of a diluted acid that hold so much pure acid, its strength taken as grams in 100 ml."""
    acid = not_negative(acid_milligrams, "An amount cannot be below zero.")
    strength = above_zero(acid_percent, "The strength of the acid must be above 0 %.")
    volume = acid / strength * 100
    return Figure(
        volume,
        Working(
            title="The acid as it is measured",
            formula="g of acid ÷ strength in %, taken as g in 100 ml, × 100",
            substitution=f"{format_grams(acid)} ÷ {format_percent(strength)} × 100 ml",
            result=format_millilitres(volume),
            source=sources.DEFINITION,
        ),
    )


def acid_share_percent(*, microlitres: Exact, acid_percent: Exact, dry_milligrams: Exact) -> Figure[Fraction]:
    """Percent of pure acid on dry fibre, from a diluted one such as vinegar taken as so many grams in 100 ml."""
    acid = not_negative(microlitres, "An amount cannot be below zero.") * exact(acid_percent) / 100
    dry = above_zero(dry_milligrams, "The dry weight must be above zero.")
    share = acid / dry * 100
    return Figure(
        share,
        Working(
            title="Acid on the fibre",
            formula="ml × strength ÷ dry fibre in g",
            substitution=f"{format_millilitres(microlitres)} × {format_percent(acid_percent)} ÷ {format_grams(dry)}",
            result=format_percent(share),
            source=sources.DEFINITION,
        ),
    )


def share_of_fibre_percent(*, milligrams: Exact, dry_milligrams: Exact) -> Figure[Fraction]:
    """Percent of dry fibre that a weighed auxiliary is; for a dose by the pound give the pound's weight."""
    amount = not_negative(milligrams, "An amount cannot be below zero.")
    dry = above_zero(dry_milligrams, "The dry weight must be above zero.")
    share = amount / dry * 100
    return Figure(
        share,
        Working(
            title="Share of dry fibre",
            formula="amount ÷ dry fibre × 100",
            substitution=f"{format_grams(amount)} ÷ {format_grams(dry)} × 100 %",
            result=format_percent(share),
            source=sources.DEFINITION,
        ),
    )


#: How much of the second form does the work of one part of the first, by weight. Source: atomic masses.
CRYSTAL_FACTORS: dict[tuple[str, str], Fraction] = {
    ("glauber_crystals", "glauber_anhydrous"): Fraction("0.4409"),
    ("citric_anhydrous", "citric_monohydrate"): Fraction("1.0938"),
    ("soda_ash", "washing_soda_crystals"): Fraction("2.6997"),
}


class FormUnknown(DyeingError):
    """There is no factor between these two forms."""


def other_form_milligrams(*, milligrams: Exact, have: str, want: str) -> Figure[Fraction]:
    """Milligrams of another crystal form that do the same work. Raises FormUnknown."""
    amount = not_negative(milligrams, "An amount cannot be below zero.")
    factor = CRYSTAL_FACTORS.get((have, want))
    if factor is None and (want, have) in CRYSTAL_FACTORS:
        factor = 1 / CRYSTAL_FACTORS[want, have]
    if factor is None:
        raise FormUnknown("These two are not forms of the same thing.")
    return Figure(
        amount * factor,
        Working(
            title="The same in another crystal form",
            formula="amount × factor of the form",
            substitution=f"{format_grams(amount)} × {format_number(factor, 4)}",
            result=format_grams(amount * factor),
            source=sources.ATOMIC_MASSES,
        ),
    )


@dataclass(frozen=True, slots=True)
class BandedDose:
    """Percent of dry fibre of an auxiliary by depth, in one maker's acid range on wool."""

    light_percent: Decimal
    medium_percent: Decimal
    strong_percent: Decimal
    source: Source

    def percent(self, depth: str) -> Decimal:
        """The share for light, medium or strong."""
        shares = {"light": self.light_percent, "medium": self.medium_percent, "strong": self.strong_percent}
        if depth not in shares:
            raise NothingToReckonWith("Say light, medium or strong.")
        return shares[depth]


ACID_RANGE_DOSES: dict[str, BandedDose] = {
    "citric_acid": BandedDose(Decimal(1), Decimal("1.5"), Decimal(2), sources.MAKER_QUANTITIES),
    "glauber_crystals": BandedDose(Decimal(2), Decimal(5), Decimal(10), sources.MAKER_QUANTITIES),
    "leveller": BandedDose(Decimal(1), Decimal("1.5"), Decimal(2), sources.MAKER_QUANTITIES),
}

#: One dye maker's chart for warm reactive dyes on cotton at 80 °C; its bands are printed to 0.01 %.
SALT_BANDS: tuple[tuple[Decimal, int], ...] = (
    (Decimal("0.50"), 5),
    (Decimal("1.00"), 7),
    (Decimal("2.00"), 9),
    (Decimal("4.00"), 12),
)
#: Ounces per US gallon beyond its last band.
SALT_OUNCES_ABOVE = 13


def reactive_salt_ounces_per_gallon(depth_percent: Exact) -> int:
    """Salt in ounces per US gallon by depth, in a dye maker's chart for warm reactive dyes on cotton."""
    depth = not_negative(depth_percent, "A depth of shade cannot be below 0 %.")
    for up_to, ounces in SALT_BANDS:
        if depth <= exact(up_to):
            return ounces
    return SALT_OUNCES_ABOVE


def reactive_salt_milligrams(*, depth_percent: Exact, bath_microlitres: Exact) -> Figure[Fraction]:
    """Milligrams of salt for a bath by that chart, converted exactly; the printed g/L are rounded upwards."""
    ounces = reactive_salt_ounces_per_gallon(depth_percent)
    grams_per_litre = ounces_per_us_gallon_to_grams_per_litre(ounces)
    amount = grams_per_litre * not_negative(bath_microlitres, "The bath cannot be below zero.") / 1000
    return Figure(
        amount,
        Working(
            title="Salt by the chart for warm reactive dyes",
            formula="ounces per US gallon × 7.48915 g/L × litres",
            substitution=f"{ounces} × 7.48915 × {format_number(exact(bath_microlitres) / 1_000_000, 2)}",
            result=format_grams(amount),
            source=sources.MAKER_COTTON,
        ),
    )
