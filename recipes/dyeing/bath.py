"""The bath: litres, liquor ratio, water to add, amounts per litre, and what stays in it.

A liquor ratio is litres of bath on a kilogram of dry fibre, water taken at 1 kg a litre. Volumes are microlitres.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from recipes.dyeing import sources
from recipes.dyeing.units import (
    format_grams,
    format_litres,
    format_millilitres,
    format_number,
    format_percent,
    format_ratio,
)
from recipes.dyeing.working import (
    Exact,
    Figure,
    NothingToReckonWith,
    Working,
    above_zero,
    exact,
    not_negative,
)

_ACETIC_ACID, _CALCIUM_CARBONATE_EQUIVALENT = Fraction("60.05"), Fraction("50.04")


def bath_microlitres(*, dry_milligrams: Exact, liquor_ratio: Exact) -> Figure[Fraction]:
    """Microlitres of bath for so much dry fibre at a liquor ratio. Source: definition of the liquor ratio."""
    dry = above_zero(dry_milligrams, "The dry weight must be above zero to reckon the bath.")
    ratio = above_zero(liquor_ratio, "The liquor ratio must be above zero, for example 30.")
    bath = dry * ratio
    return Figure(
        bath,
        Working(
            title="Bath",
            formula="dry fibre in kg × liquor ratio = litres",
            substitution=f"{format_number(dry / 1_000_000, 4)} kg × {format_number(ratio, 2)}",
            result=format_litres(bath),
            source=sources.DEFINITION,
        ),
    )


def liquor_ratio(*, bath_microlitres: Exact, dry_milligrams: Exact) -> Figure[Fraction]:
    """Litres of bath on a kilogram of dry fibre. Raises NothingToReckonWith when either is not known."""
    dry = above_zero(dry_milligrams, "The dry weight must be above zero to reckon the liquor ratio.")
    bath = above_zero(bath_microlitres, "The bath must hold something to have a liquor ratio.")
    ratio = bath / dry
    return Figure(
        ratio,
        Working(
            title="Liquor ratio",
            formula="litres of bath ÷ kg of dry fibre",
            substitution=f"{format_litres(bath)} ÷ {format_number(dry / 1_000_000, 4)} kg",
            result=format_ratio(ratio),
            source=sources.DEFINITION,
        ),
    )


@dataclass(frozen=True, slots=True)
class MakeUp:
    """Water to add; and where the solutions alone are more than the bath, how much too much they are."""

    water_microlitres: Fraction
    excess_microlitres: Fraction


def make_up_water(
    *, bath_microlitres: Exact, solutions_microlitres: Iterable[Exact], wet_out_microlitres: Exact = 0
) -> Figure[MakeUp]:
    """Water to add: the bath less every solution that goes in and the water that the wet skeins bring.

    Source: mill training note on lab dips. Never below zero: an excess is named beside it.
    """
    bath = above_zero(bath_microlitres, "The bath must be above zero to reckon the water to add.")
    solutions = [not_negative(each, "A solution cannot be below zero.") for each in solutions_microlitres]
    wet_out = not_negative(wet_out_microlitres, "The water in the skeins cannot be below zero.")
    left = bath - sum(solutions, Fraction(0)) - wet_out
    parts = [format_millilitres(each) for each in solutions]
    if wet_out:
        parts.append(f"{format_millilitres(wet_out)} in the wet skeins")
    makeup = MakeUp(max(left, Fraction(0)), max(-left, Fraction(0)))
    result = format_millilitres(makeup.water_microlitres)
    if makeup.excess_microlitres:
        result = (
            f"no water; the solutions are {format_millilitres(makeup.excess_microlitres)} more than the bath"
        )
    return Figure(
        makeup,
        Working(
            title="Water to add",
            formula="bath − all solutions − water in the wet skeins",
            substitution=" − ".join([format_millilitres(bath), *parts]),
            result=result,
            source=sources.LAB_DIP,
        ),
    )


def wet_out_microlitres(*, wet_milligrams: Exact, dry_milligrams: Exact) -> Fraction:
    """The water that pre-soaked skeins bring into the bath, from their wet and dry weights; never below zero."""
    return max(exact(wet_milligrams) - exact(dry_milligrams), Fraction(0))


def per_litre_milligrams(*, bath_microlitres: Exact, grams_per_litre: Exact) -> Figure[Fraction]:
    """Milligrams of an auxiliary that is dosed by the litre of bath."""
    bath = not_negative(bath_microlitres, "The bath cannot be below zero.")
    dose = not_negative(grams_per_litre, "A dose cannot be below zero.")
    amount = bath * dose / 1000
    return Figure(
        amount,
        Working(
            title="Per litre of bath",
            formula="litres of bath × g per litre",
            substitution=f"{format_litres(bath)} × {format_number(dose)} g/L",
            result=format_grams(amount),
            source=sources.LAB_DIP,
        ),
    )


def per_litre_stock_microlitres(
    *, bath_microlitres: Exact, grams_per_litre: Exact, strength_mg_per_litre: Exact
) -> Figure[Fraction]:
    """Microlitres of an auxiliary's stock: ml = bath ml × g/L ÷ (10 × stock %).

    Source: mill training note on lab dips. The strength is milligrams a litre; 20 % is 200,000.
    """
    mass = per_litre_milligrams(bath_microlitres=bath_microlitres, grams_per_litre=grams_per_litre)
    strength = above_zero(strength_mg_per_litre, "The stock needs a strength above 0 %.")
    stock = mass.value / strength * 1_000_000
    return Figure(
        stock,
        Working(
            title="Stock of an auxiliary",
            formula="ml of bath × g per litre ÷ (10 × stock strength in %)",
            substitution=(
                f"{format_millilitres(bath_microlitres)} × {format_number(grams_per_litre)} g/L ÷ "
                f"(10 × {format_percent(strength / 10_000)})"
            ),
            result=format_millilitres(stock),
            source=sources.LAB_DIP,
            steps=(mass.working,),
        ),
    )


def acid_for_alkalinity(*, alkalinity_mg_per_litre: Exact, bath_microlitres: Exact) -> Figure[Fraction]:
    """Milligrams of acetic acid (100 %) that the water's own alkalinity (mg/L as CaCO3) uses up.

    A minimum on top of the dose on the fibre; it grows with the bath, so a pH reading beats any table.
    """
    alkalinity = not_negative(alkalinity_mg_per_litre, "Alkalinity cannot be below zero.")
    bath = not_negative(bath_microlitres, "The bath cannot be below zero.")
    acid = alkalinity * bath / 1_000_000 / _CALCIUM_CARBONATE_EQUIVALENT * _ACETIC_ACID
    return Figure(
        acid,
        Working(
            title="Acetic acid used up by the water",
            formula="alkalinity in mg/L × litres ÷ 50.04 × 60.05, in mg",
            substitution=f"{format_number(alkalinity)} mg/L × {format_litres(bath)} ÷ 50.04 × 60.05",
            result=format_grams(acid),
            source=sources.MASS_BALANCE,
        ),
    )


def exhaustion_percent(*, partition: Exact, liquor_ratio: Exact) -> Figure[Fraction]:
    """Percent of a dye on the fibre at equilibrium: K ÷ (K + L), K in (g/kg fibre) ÷ (g/L bath), L in litres a kg.

    Source: mass balance for a dye that partitions with a constant.
    """
    constant = above_zero(partition, "The partition of the dye must be above zero.")
    ratio = above_zero(liquor_ratio, "The liquor ratio must be above zero, for example 30.")
    share = constant / (constant + ratio) * 100
    return Figure(
        share,
        Working(
            title="Dye taken up at equilibrium",
            formula="K ÷ (K + liquor ratio) × 100",
            substitution=f"{format_number(constant)} ÷ ({format_number(constant)} + {format_number(ratio)}) × 100 %",
            result=format_percent(share),
            source=sources.MASS_BALANCE,
        ),
    )


def dye_left_in_bath(*, dye_milligrams: Exact, taken_up_percent: Exact) -> Figure[Fraction]:
    """Milligrams of one dye that stay in the bath when so many percent of it are taken up or fixed."""
    dye = not_negative(dye_milligrams, "An amount of dye cannot be below zero.")
    share = exact(taken_up_percent)
    if not 0 <= share <= 100:
        raise NothingToReckonWith("What is taken up lies between 0 and 100 %.")
    left = dye * (100 - share) / 100
    return Figure(
        left,
        Working(
            title="Dye left in the bath",
            formula="dye × (100 − taken up) ÷ 100",
            substitution=f"{format_grams(dye)} × (100 − {format_number(share)}) ÷ 100",
            result=format_grams(left),
            source=sources.MASS_BALANCE,
        ),
    )


def refill_milligrams(*, target_milligrams: Exact, left_milligrams: Exact) -> Figure[Fraction]:
    """Milligrams of one dye to add to a kept bath; each dye by itself, since dyes are not taken up alike."""
    target = not_negative(target_milligrams, "An amount of dye cannot be below zero.")
    left = not_negative(left_milligrams, "An amount of dye cannot be below zero.")
    add = max(target - left, Fraction(0))
    return Figure(
        add,
        Working(
            title="Dye to add to the kept bath",
            formula="dye wanted − dye left",
            substitution=f"{format_grams(target)} − {format_grams(left)}",
            result=format_grams(add),
            source=sources.MASS_BALANCE,
        ),
    )


def liquor_carried_out_percent(
    *, dry_milligrams: Exact, pick_up_litres_per_kg: Exact, bath_microlitres: Exact
) -> Figure[Fraction]:
    """Percent of the bath, and of what is dosed by the litre, that leaves with the wet yarn."""
    bath = above_zero(bath_microlitres, "The bath must be above zero.")
    share = exact(dry_milligrams) * exact(pick_up_litres_per_kg) / bath * 100
    return Figure(
        share,
        Working(
            title="Bath carried out with the yarn",
            formula="dry fibre in kg × litres it holds a kg ÷ litres of bath × 100",
            substitution=(
                f"{format_number(exact(dry_milligrams) / 1_000_000, 4)} kg × "
                f"{format_number(pick_up_litres_per_kg)} ÷ {format_litres(bath)} × 100 %"
            ),
            result=format_percent(share),
            source=sources.MASS_BALANCE,
        ),
    )


def liquor_ratio_for_shade(
    *, on_fibre_percent: Exact, taken_up_percent: Exact, bath_grams_per_litre: Exact
) -> Figure[Fraction]:
    """The liquor ratio at which a bath of so many g/L leaves a depth on the fibre when so much of it is taken up."""
    shade = above_zero(on_fibre_percent, "The depth on the fibre must be above 0 %.")
    share = above_zero(taken_up_percent, "Something must be taken up.")
    strength = above_zero(bath_grams_per_litre, "The bath must hold dye.")
    ratio = shade * 10 / (share / 100) / strength
    return Figure(
        ratio,
        Working(
            title="Liquor ratio for a depth on the fibre",
            formula="(depth ÷ share taken up) in g per kg ÷ g per litre of bath",
            substitution=(
                f"{format_percent(shade)} ÷ {format_percent(share)} = {format_number(shade * 1000 / share)} g/kg, "
                f"÷ {format_number(strength)} g/L"
            ),
            result=format_ratio(ratio),
            source=sources.MASS_BALANCE,
        ),
    )
