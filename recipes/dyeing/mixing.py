"""Several dyes in one solution: how strong each of them is in it, and what a pour of it brings.

Every value is exact; nothing here rounds. A mix is made up *to* its volume, as a stock is.
"""

from __future__ import annotations

from fractions import Fraction

from recipes.dyeing import sources
from recipes.dyeing.depth import strength_percent
from recipes.dyeing.units import format_grams, format_millilitres, format_percent
from recipes.dyeing.working import Exact, Figure, Working, above_zero, not_negative

_NO_VOLUME = "Say how many millilitres the finished mix has."


def strength_in_mix(*, dye: str, dye_milligrams: Exact, made_microlitres: Exact) -> Figure[Fraction]:
    """Milligrams a litre of one dye in a mix made up to so much: 10,000 is 1 % w/v.

    Source: stock strength is grams in 100 ml of finished solution. Raises NothingToReckonWith without a volume.
    """
    milligrams = not_negative(dye_milligrams, "An amount of dye cannot be below zero.")
    volume = above_zero(made_microlitres, _NO_VOLUME)
    strength = milligrams / volume * 1_000_000
    return Figure(
        strength,
        Working(
            title=f"{dye} in the mix",
            formula="dye in g ÷ finished volume in ml × 100 %",
            substitution=f"{format_grams(milligrams)} ÷ {format_millilitres(volume)} × 100 %",
            result=format_percent(strength_percent(strength)),
            source=sources.DEFINITION,
        ),
    )


def dye_from_mix(
    *, dye: str, poured_microlitres: Exact, dye_milligrams: Exact, made_microlitres: Exact
) -> Figure[Fraction]:
    """Milligrams of one dye in a pour: the same share of the dye as of the volume.

    Raises NothingToReckonWith without a volume.
    """
    poured = not_negative(poured_microlitres, "An amount of a mix cannot be below zero.")
    milligrams = not_negative(dye_milligrams, "An amount of dye cannot be below zero.")
    volume = above_zero(made_microlitres, _NO_VOLUME)
    share = milligrams * poured / volume
    return Figure(
        share,
        Working(
            title=f"{dye}, poured",
            formula="all of the dye × poured ÷ finished volume",
            substitution=f"{format_grams(milligrams)} × {format_millilitres(poured)} ÷ {format_millilitres(volume)}",
            result=format_grams(share),
            source=sources.DEFINITION,
        ),
    )
