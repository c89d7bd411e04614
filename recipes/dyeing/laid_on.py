"""What is put on the yarn rather than into a bath: millilitres laid on by hand, and dry powder sprinkled on."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from recipes.dyeing import sources
from recipes.dyeing.lay import share_words
from recipes.dyeing.rounding import DIFFERENCE_UNCERTAINTY, least_powder_milligrams, weighed_by_difference
from recipes.dyeing.units import format_grams, format_millilitres, format_number, format_percent
from recipes.dyeing.working import Exact, Figure, Working, above_zero, not_negative

HUNDRED_GRAMS = 100_000


def laid_on_per_100_g(
    *, microlitres: Exact, dry_milligrams: Exact, share: Fraction | None = None
) -> Figure[Fraction]:
    """Microlitres laid on 100 g of dry fibre: of all of it, or of the share of it that a section is.

    Source: definition. Raises NothingToReckonWith without a dry weight.
    """
    volume = not_negative(microlitres, "An amount cannot be below zero.")
    dry = above_zero(dry_milligrams, "The dry weight must be above zero to reckon what is laid on it.")
    part = above_zero(Fraction(1) if share is None else share, "A section must be some of the hank.")
    each = volume / (dry * part) * HUNDRED_GRAMS
    under = f"{format_number(dry / 1000)} g"
    if part != 1:
        under = f"({under} × {share_words(part)})"
    return Figure(
        each,
        Working(
            title="Laid on 100 g of dry fibre",
            formula="ml laid on ÷ dry fibre under it × 100 g",
            substitution=f"{format_millilitres(volume)} ÷ {under} × 100 g",
            result=f"{format_millilitres(each)} on 100 g",
            source=sources.DEFINITION,
        ),
    )


@dataclass(frozen=True, slots=True)
class PowderPutOn:
    """Dry powder on the yarn: how much, at worst how far off, its standard uncertainty, and the depth that it is."""

    milligrams: int
    worst_milligrams: int
    uncertainty_milligrams: Decimal
    depth_percent: Fraction | None
    sentence: str

    @property
    def worst_percent(self) -> Fraction:
        return Fraction(self.worst_milligrams, self.milligrams) * 100


def powder_put_on(
    *,
    milligrams: int,
    step_milligrams: int,
    dry_milligrams: Exact | None = None,
    jar_before_milligrams: int | None = None,
    jar_after_milligrams: int | None = None,
) -> Figure[PowderPutOn]:
    """Powder by the jar's two weighings, or on the scale by itself: within ± one step, standard uncertainty 0.41 step.

    Two readings of one scale, each within half a step. A sentence says where a stock would measure better. What is put on
    is not what stays on: loose powder rinses out. Source: JCGM 100, F.2.2.1, from memory.
    """
    used = int(above_zero(milligrams, "Some powder must have been put on."))
    step = int(above_zero(step_milligrams, "The smallest step must be above zero."))
    before, after = jar_before_milligrams, jar_after_milligrams
    if before is None or after is None:
        before, after = used, 0
        by = Working(
            title="Dye on the scale",
            formula="weight with dye − weight without, ± one step of the scale",
            substitution=f"{format_grams(used)}, the scale set to nothing before",
            result=f"{format_grams(used)} ± {format_grams(step)} at worst",
            source=sources.GUM,
        )
    else:
        by = weighed_by_difference(
            before_milligrams=before, after_milligrams=after, step_milligrams=step
        ).working
    uncertainty = DIFFERENCE_UNCERTAINTY * step
    depth = None if not dry_milligrams else Fraction(used) / Fraction(dry_milligrams) * 100
    worst = Fraction(step, used) * 100
    return Figure(
        PowderPutOn(used, step, uncertainty, depth, _sentence(used, step, worst)),
        Working(
            title="How well the powder is known",
            formula="one step of the scale ÷ powder × 100, and 0.41 step as standard uncertainty",
            substitution=f"{format_grams(step)} ÷ {format_grams(used)} × 100 %",
            result=f"± {format_percent(worst)} at worst, u = {format_number(Fraction(uncertainty) / 1000, 4)} g",
            source=sources.GUM,
            steps=(by,),
        ),
    )


def _sentence(used: int, step: int, worst: Fraction) -> str:
    least = least_powder_milligrams(step)
    if used >= least:
        return ""
    return (
        f"A scale that shows {format_grams(step)} knows this to {format_percent(worst)} only. "
        f"Below {format_grams(least)} dose from a stock instead."
    )
