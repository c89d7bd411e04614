"""Depth of shade, dye, and stock solutions.

Depth of shade is grams of dye on 100 g of dry fibre, in percent. Stock strength is milligrams of dye in a litre of the
finished solution: 10,000 is 1 % w/v. Every value is exact; nothing here rounds.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from recipes.dyeing import sources
from recipes.dyeing.units import format_grams, format_millilitres, format_percent
from recipes.dyeing.working import (
    Exact,
    Figure,
    NothingToReckonWith,
    Source,
    Working,
    above_zero,
    exact,
    not_negative,
)

MG_PER_LITRE_AT_ONE_PERCENT = 10_000


def strength_percent(strength_mg_per_litre: Exact) -> Fraction:
    """Percent w/v of a stock: grams in 100 ml of finished solution."""
    return exact(strength_mg_per_litre) / MG_PER_LITRE_AT_ONE_PERCENT


def strength_mg_per_litre(percent: Exact) -> int:
    """Milligrams a litre at so many percent w/v.

    Raises NothingToReckonWith when the strength is not above zero or is finer than a milligram a litre.
    """
    value = (
        above_zero(percent, "A stock has a strength above 0 %, for example 1.") * MG_PER_LITRE_AT_ONE_PERCENT
    )
    if value.denominator != 1:
        raise NothingToReckonWith("A stock strength has at most four decimals, for example 0.125.")
    return int(value)


def dye_milligrams(*, dry_milligrams: Exact, depth_percent: Exact) -> Figure[Fraction]:
    """Milligrams of dye for a depth on so much dry fibre. Source: dye maker's page on calculating dye quantities."""
    dry = above_zero(dry_milligrams, "The dry weight must be above zero to reckon dye from a depth.")
    depth = not_negative(depth_percent, "A depth of shade cannot be below 0 %.")
    dye = dry * depth / 100
    return Figure(
        dye,
        Working(
            title="Dye",
            formula="dry fibre × depth of shade ÷ 100",
            substitution=f"{format_grams(dry)} × {format_percent(depth)} ÷ 100 %",
            result=format_grams(dye),
            source=sources.MAKER_QUANTITIES,
        ),
    )


def depth_percent(*, dye_milligrams: Exact, dry_milligrams: Exact) -> Figure[Fraction]:
    """Depth of shade in percent of dry fibre. Source: dye maker's page on calculating dye quantities.

    Raises NothingToReckonWith when the dry weight is not known.
    """
    dry = above_zero(dry_milligrams, "The dry weight must be above zero to reckon a depth.")
    dye = not_negative(dye_milligrams, "An amount of dye cannot be below zero.")
    depth = dye / dry * 100
    return Figure(
        depth,
        Working(
            title="Depth of shade",
            formula="dye ÷ dry fibre × 100",
            substitution=f"{format_grams(dye)} ÷ {format_grams(dry)} × 100 %",
            result=format_percent(depth),
            source=sources.MAKER_QUANTITIES,
        ),
    )


def stock_microlitres(*, dye_milligrams: Exact, strength_mg_per_litre: Exact) -> Figure[Fraction]:
    """Microlitres of stock that hold so much dye. Source: stock strength is grams in 100 ml of finished solution."""
    dye = not_negative(dye_milligrams, "An amount of dye cannot be below zero.")
    strength = above_zero(strength_mg_per_litre, "The stock needs a strength above 0 %.")
    stock = dye / strength * 1_000_000
    return Figure(
        stock,
        Working(
            title="Stock solution",
            formula="dye in g ÷ stock strength in % × 100 ml",
            substitution=f"{format_grams(dye)} ÷ {format_percent(strength_percent(strength))} × 100 ml",
            result=format_millilitres(stock),
            source=sources.LAB_DIP,
        ),
    )


def stock_for_depth(
    *, dry_milligrams: Exact, depth_percent: Exact, strength_mg_per_litre: Exact
) -> Figure[Fraction]:
    """Microlitres of stock for a depth on so much dry fibre: ml = g × depth % ÷ stock %.

    Source: mill training note on lab dips (W × P ÷ C).
    """
    dye = dye_milligrams(dry_milligrams=dry_milligrams, depth_percent=depth_percent)
    stock = stock_microlitres(dye_milligrams=dye.value, strength_mg_per_litre=strength_mg_per_litre)
    return Figure(
        stock.value,
        Working(
            title="Stock solution",
            formula="dry fibre in g × depth of shade ÷ stock strength = ml of stock",
            substitution=(
                f"{format_grams(dry_milligrams)} × {format_percent(depth_percent)} ÷ "
                f"{format_percent(strength_percent(strength_mg_per_litre))}"
            ),
            result=format_millilitres(stock.value),
            source=sources.LAB_DIP,
            steps=(dye.working, stock.working),
        ),
    )


def dye_in_stock(*, stock_microlitres: Exact, strength_mg_per_litre: Exact) -> Figure[Fraction]:
    """Milligrams of dye in so much stock."""
    stock = not_negative(stock_microlitres, "An amount of stock cannot be below zero.")
    strength = above_zero(strength_mg_per_litre, "The stock needs a strength above 0 %.")
    dye = stock * strength / 1_000_000
    return Figure(
        dye,
        Working(
            title="Dye in the stock",
            formula="stock × strength ÷ 100, in g for ml",
            substitution=f"{format_millilitres(stock)} × {format_percent(strength_percent(strength))} ÷ 100 %",
            result=format_grams(dye),
            source=sources.DEFINITION,
        ),
    )


def powder_for_stock(*, make_microlitres: Exact, strength_mg_per_litre: Exact) -> Figure[Fraction]:
    """Milligrams of powder to make so much stock: dissolved, then filled up to that volume, not added to it."""
    volume = above_zero(make_microlitres, "Say how many millilitres of stock to make.")
    strength = above_zero(strength_mg_per_litre, "The stock needs a strength above 0 %.")
    powder = volume * strength / 1_000_000
    return Figure(
        powder,
        Working(
            title="Powder for the stock, filled up to the volume",
            formula="volume × strength ÷ 100, in g for ml",
            substitution=f"{format_millilitres(volume)} × {format_percent(strength_percent(strength))} ÷ 100 %",
            result=format_grams(powder),
            source=sources.MAKER_QUANTITIES,
        ),
    )


@dataclass(frozen=True, slots=True)
class Dilution:
    """So much of the stronger stock, filled up with so much water."""

    stock_microlitres: Fraction
    water_microlitres: Fraction


def dilution(
    *, from_mg_per_litre: Exact, to_mg_per_litre: Exact, make_microlitres: Exact
) -> Figure[Dilution]:
    """How to make so much of a weaker stock from a stronger one: C1 V1 = C2 V2.

    Raises NothingToReckonWith when the wanted strength is above the one at hand.
    """
    have = above_zero(from_mg_per_litre, "The stock at hand needs a strength above 0 %.")
    want = above_zero(to_mg_per_litre, "The stock to make needs a strength above 0 %.")
    volume = above_zero(make_microlitres, "Say how many millilitres to make.")
    if want > have:
        raise NothingToReckonWith(
            f"A stock of {format_percent(strength_percent(have))} cannot be thinned to "
            f"{format_percent(strength_percent(want))}. Make that one from powder."
        )
    stock = volume * want / have
    return Figure(
        Dilution(stock, volume - stock),
        Working(
            title="Thinning a stock",
            formula="volume to make × strength wanted ÷ strength at hand",
            substitution=(
                f"{format_millilitres(volume)} × {format_percent(strength_percent(want))} ÷ "
                f"{format_percent(strength_percent(have))}"
            ),
            result=f"{format_millilitres(stock)} of stock, filled up to {format_millilitres(volume)}",
            source=sources.DEFINITION,
        ),
    )


def at_strength_of_type(
    *, depth_percent: Exact, from_type_percent: Exact, to_type_percent: Exact
) -> Figure[Fraction]:
    """The depth in percent of a dye sold at another strength of type: depth × old ÷ new.

    The same Colour Index name from two makers need not be the same strength, even where both print 100 %.
    """
    depth = not_negative(depth_percent, "A depth of shade cannot be below 0 %.")
    old = above_zero(from_type_percent, "The strength of type must be above 0 %; the usual one is 100 %.")
    new = above_zero(to_type_percent, "The strength of type must be above 0 %; the usual one is 100 %.")
    changed = depth * old / new
    return Figure(
        changed,
        Working(
            title="Depth with the stronger or weaker dye",
            formula="depth × old strength of type ÷ new strength of type",
            substitution=f"{format_percent(depth)} × {format_percent(old)} ÷ {format_percent(new)}",
            result=format_percent(changed),
            source=sources.DEFINITION,
        ),
    )


@dataclass(frozen=True, slots=True)
class DepthWord:
    """What a dyer calls a depth, and whose table says so."""

    word: str
    source: Source


# Makers publish points, not edges: below the published "medium" figures is pale, from the published dark figure on deep.
_ACID_EDGES = (Decimal("0.5"), Decimal(2), Decimal(4))
_REACTIVE_EDGES = (Decimal("0.5"), Decimal(3), Decimal(6))


def depth_word(depth_percent: Exact, *, dye_class: str = "acid_unknown") -> DepthWord:
    """Pale, medium, deep or very deep, by the published points of the dye's class.

    Acid: 0.5 "lighter", 1 medium, 2 to 4 dark. Reactive on cotton: 0.5, 1 to 2, 3 and over.
    """
    depth = exact(depth_percent)
    reactive = dye_class in {"cold_reactive", "other_reactive", "direct"}
    pale_to, deep_from, very_deep_above = _REACTIVE_EDGES if reactive else _ACID_EDGES
    source = sources.SHEET_REACTIVE_COTTON if reactive else sources.MAKER_QUANTITIES
    if depth <= exact(pale_to):
        return DepthWord("pale", source)
    if depth < exact(deep_from):
        return DepthWord("medium", source)
    if depth <= exact(very_deep_above):
        return DepthWord("deep", source)
    return DepthWord("very deep", sources.DEPTH_CUSTOM)
