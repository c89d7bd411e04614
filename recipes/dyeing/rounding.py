"""What the scale and the cylinder can show, what depth that gives, and what would do better.

The exact amount is rounded to the nearest step of the scale (milligrams) or cylinder (microlitres). Two errors are kept
apart: the rounding itself, which is known and never more than half a step, and the reading, which is not known: up to one
step for a jar weighed before and after (standard uncertainty 0.41 step), half a step for a level read once; as often again
for each further weighing or filling.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from decimal import Decimal
from enum import IntEnum
from fractions import Fraction

from recipes.dyeing.depth import depth_percent, stock_microlitres, strength_percent
from recipes.dyeing.sources import GUM, WEIGHING
from recipes.dyeing.units import format_grams, format_millilitres, format_number, format_percent, whole
from recipes.dyeing.working import Exact, Figure, NothingToReckonWith, Working, above_zero, not_negative

#: Strengths that dyers keep, in mg/L: 0.1, 0.5, 1, 2 and 5 % w/v. Common practice, no source.
USUAL_STRENGTHS: tuple[int, ...] = (1_000, 5_000, 10_000, 20_000, 50_000)

#: sqrt(2/12): standard uncertainty, in steps, of a difference of two readings each uniform within a step.
DIFFERENCE_UNCERTAINTY = Decimal("0.408248290463863")

# Below 0.50 g on a 0.01 g balance a reading is worse than 2 % and the dye is better dosed from stock.
_FINE_WITHIN = Fraction(2, 100)
# Beyond this a lot will hardly match its reference; this house's own mark.
_COARSE_WITHIN = Fraction(5, 100)


class Level(IntEnum):
    """How well an amount can be measured, best first."""

    FINE = 0
    COARSE = 1
    ROUGH = 2
    CANNOT = 3

    @property
    def words(self) -> str:
        return ("measures well", "coarse", "rough", "cannot be measured")[self]


@dataclass(frozen=True, slots=True)
class Measured:
    """An amount as it can be measured.

    `exact` and `amount` are milligrams or microlitres; `rounding_percent` says how much more (or, below zero, less) than
    asked goes in; `reading_percent` how far off the reading may be besides; `depth_percent` is what results on the fibre,
    where that is known. `sentence` is empty when there is nothing to warn of.
    """

    exact: Fraction
    amount: int
    step: int
    rounding_percent: Fraction
    reading_percent: Fraction
    level: Level
    depth_percent: Fraction | None
    sentence: str
    working: Working

    @property
    def worst_percent(self) -> Fraction:
        """How far from what was asked, at worst, what really goes in may be: the rounding and the reading together."""
        return abs(self.rounding_percent) + self.reading_percent


def round_to_step(amount: Exact, step: int) -> int:
    """The nearest whole number of steps, half up. Never more than half a step off."""
    above_zero(step, "The smallest step must be above zero.")
    return whole(not_negative(amount, "An amount cannot be below zero.") / step) * step


def round_powder(
    exact_milligrams: Exact, *, step_milligrams: int, dry_milligrams: Exact | None = None, weighings: int = 1
) -> Measured:
    """A weight as the scale shows it, weighed by difference, with the depth that results on so much dry fibre.

    What is more than the scale takes is weighed in parts, and each weighing may be off by as much.
    """
    amount = not_negative(exact_milligrams, "An amount cannot be below zero.")
    shown = round_to_step(amount, step_milligrams)
    depth = None
    if dry_milligrams is not None:
        depth = depth_percent(dye_milligrams=shown, dry_milligrams=dry_milligrams).value
    reading = Fraction(step_milligrams) * max(weighings, 1)
    return _measured(amount, shown, step_milligrams, reading, depth, "scale", format_grams, weighings)


def round_stock(
    exact_microlitres: Exact,
    *,
    step_microlitres: int,
    strength_mg_per_litre: Exact | None = None,
    dry_milligrams: Exact | None = None,
    fillings: int = 1,
) -> Measured:
    """A volume as the cylinder shows it, with the depth that results when strength and dry fibre are known.

    What is more than the cylinder holds is measured in fillings, and each may be read off by as much.
    """
    amount = not_negative(exact_microlitres, "An amount cannot be below zero.")
    shown = round_to_step(amount, step_microlitres)
    depth = None
    if strength_mg_per_litre is not None and dry_milligrams is not None:
        dye = Fraction(shown) * Fraction(strength_mg_per_litre) / 1_000_000
        depth = depth_percent(dye_milligrams=dye, dry_milligrams=dry_milligrams).value
    reading = Fraction(step_microlitres, 2) * max(fillings, 1)
    return _measured(
        amount, shown, step_microlitres, reading, depth, "cylinder", format_millilitres, fillings
    )


def _measured(
    amount: Fraction,
    shown: int,
    step: int,
    reading: Fraction,
    depth: Fraction | None,
    tool: str,
    show: Callable[[Exact], str],
    times: int,
) -> Measured:
    off = (shown - amount) / amount * 100 if amount else Fraction(0)
    doubt = reading / amount * 100 if amount else Fraction(0)
    level = _level(off, doubt) if shown or not amount else Level.CANNOT
    return Measured(
        exact=amount,
        amount=shown,
        step=step,
        rounding_percent=off,
        reading_percent=doubt,
        level=level,
        depth_percent=depth,
        sentence=_sentence(level, amount, shown, step, off, doubt, depth, tool, show),
        working=Working(
            title=f"What the {tool} can show",
            formula="amount ÷ smallest step, to the nearest whole step"
            + (
                f"; in {times} {'weighings' if tool == 'scale' else 'fillings'}, each read by itself"
                if times > 1
                else ""
            ),
            substitution=f"{show(amount)} ÷ {show(step)}",
            result=f"{show(shown)}, {_more_or_less(off)}, reading within {_at_most(doubt)} %",
            source=WEIGHING,
        ),
    )


def _level(off_percent: Fraction, doubt_percent: Fraction) -> Level:
    worst = max(abs(off_percent), doubt_percent) / 100
    if worst <= _FINE_WITHIN:
        return Level.FINE
    if worst <= _COARSE_WITHIN:
        return Level.COARSE
    return Level.ROUGH


def _at_most(percent: Fraction) -> str:
    """A percentage upwards to a tenth: what is said of an error is never less than the error."""
    return format_number(Fraction(math.ceil(percent * 10), 10), 1)


def _more_or_less(off_percent: Fraction) -> str:
    if not off_percent:
        return "nothing lost by rounding"
    under = "under " if abs(off_percent) < Fraction(1, 10) else ""
    return f"{under}{_at_most(abs(off_percent))} % {'more' if off_percent > 0 else 'less'} than asked"


def _sentence(
    level: Level,
    amount: Fraction,
    shown: int,
    step: int,
    off: Fraction,
    doubt: Fraction,
    depth: Fraction | None,
    tool: str,
    show: Callable[[Exact], str],
) -> str:
    if level is Level.FINE:
        return ""
    if level is Level.CANNOT:
        return f"{show(amount)} is less than half a step of {show(step)}, so this {tool} shows nothing."
    if shown == amount:
        return f"This {tool} measures {show(amount)} to within {_at_most(doubt)} % only."
    result = f", which gives {format_percent(depth)}" if depth is not None else ""
    return (
        f"This {tool} shows {show(shown)} for {show(amount)}, {_more_or_less(off)}{result}; "
        f"a reading may be {_at_most(doubt)} % off besides."
    )


@dataclass(frozen=True, slots=True)
class Difference:
    """Dye used, from a jar weighed before and after: what it is, at worst how far off, and its standard uncertainty."""

    used_milligrams: int
    worst_milligrams: int
    uncertainty_milligrams: Decimal
    depth_percent: Fraction | None


def weighed_by_difference(
    *,
    before_milligrams: int,
    after_milligrams: int,
    step_milligrams: int,
    dry_milligrams: Exact | None = None,
) -> Figure[Difference]:
    """Dye used from a jar: before − after, within ± one step, standard uncertainty 0.41 step.

    Raises NothingToReckonWith when the jar got heavier.
    """
    if after_milligrams > before_milligrams:
        raise NothingToReckonWith(
            f"The jar weighs more after ({format_grams(after_milligrams)}) than before "
            f"({format_grams(before_milligrams)}). Write the two weights the other way round, or weigh again."
        )
    above_zero(step_milligrams, "The smallest step must be above zero.")
    used = before_milligrams - after_milligrams
    depth = None
    if dry_milligrams is not None:
        depth = depth_percent(dye_milligrams=used, dry_milligrams=dry_milligrams).value
    uncertainty = DIFFERENCE_UNCERTAINTY * step_milligrams
    return Figure(
        Difference(used, step_milligrams, uncertainty, depth),
        Working(
            title="Dye used from the jar",
            formula="jar before − jar after, ± one step of the scale",
            substitution=f"{format_grams(before_milligrams)} − {format_grams(after_milligrams)}",
            result=f"{format_grams(used)} ± {format_grams(step_milligrams)} at worst",
            source=GUM,
        ),
    )


def least_powder_milligrams(step_milligrams: int) -> int:
    """Below this a scale is more than 2 % off and dye is better dosed from stock: 0.5 g where it shows 0.01 g."""
    return whole(step_milligrams / _FINE_WITHIN)


@dataclass(frozen=True, slots=True)
class Advice:
    """What would measure an amount well: a stock strength and the volume of it, or a sentence that none does."""

    strength_mg_per_litre: int | None
    microlitres: Fraction | None
    level: Level | None
    sentence: str


def clearing_strength(
    *,
    dye_milligrams: Exact,
    step_microlitres: int,
    room_microlitres: Exact,
    strengths: Iterable[int] = USUAL_STRENGTHS,
    now_mg_per_litre: Exact | None = None,
    strongest_mg_per_litre: int | None = None,
) -> Advice:
    """The strongest usual stock that measures this dye well and whose water fits in the bath's room.

    `room_microlitres` is what the bath can still take. Where none measures well, the best that is better than the present
    one is named with its level; where nothing is better, strength is None and the sentence says what would help.
    Nothing beyond `strongest_mg_per_litre`, to which the dye is known to stay dissolved, is named.
    """
    dye = above_zero(dye_milligrams, "The amount of dye must be above zero.")
    room = not_negative(room_microlitres, "The room in the bath cannot be below zero.")
    fits: list[tuple[Level, Fraction, int]] = []
    limit = strongest_mg_per_litre
    for strength in sorted((each for each in strengths if limit is None or each <= limit), reverse=True):
        volume = stock_microlitres(dye_milligrams=dye, strength_mg_per_litre=strength).value
        if volume <= room:
            measured = round_stock(volume, step_microlitres=step_microlitres)
            fits.append((measured.level, volume, strength))
    if not fits:
        return Advice(
            None,
            None,
            None,
            "No usual stock fits in the water that this bath has room for. Weigh the powder, or mix a stronger stock."
            if limit is None
            else f"No usual stock up to {format_percent(strength_percent(limit))}, where the dye stays dissolved, fits in the "
            "water that this bath has room for. Weigh the powder.",
        )
    fine = [each for each in fits if each[0] is Level.FINE]
    # The sort above put the strongest first: of those that measure well it brings the least water.
    level, volume, strength = fine[0] if fine else min(fits, key=lambda each: (each[0], -each[1]))
    name = format_percent(strength_percent(strength))
    if level is Level.FINE:
        return Advice(
            strength,
            volume,
            level,
            f"A stock of {name} measures this well: {format_millilitres(volume)} of it.",
        )
    if now_mg_per_litre is not None and strength >= now_mg_per_litre:
        return Advice(
            None,
            None,
            None,
            "No usual stock measures this better. A cylinder or syringe with a finer step would, or a larger load.",
        )
    return Advice(
        strength,
        volume,
        level,
        f"A stock of {name} measures this better, though still {level.words}: {format_millilitres(volume)} of it. "
        "A cylinder or syringe with a finer step helps more.",
    )


def powder_or_stock(
    *,
    dye_milligrams: Exact,
    scale_step_milligrams: int,
    cylinder_step_microlitres: int,
    room_microlitres: Exact,
    strongest_mg_per_litre: int | None = None,
) -> Advice:
    """Powder where the scale weighs it well (strength None, no sentence); else the stock that measures it better."""
    if round_powder(dye_milligrams, step_milligrams=scale_step_milligrams).level is Level.FINE:
        return Advice(None, None, Level.FINE, "")
    advice = clearing_strength(
        dye_milligrams=dye_milligrams,
        step_microlitres=cylinder_step_microlitres,
        room_microlitres=room_microlitres,
        strongest_mg_per_litre=strongest_mg_per_litre,
    )
    least = format_grams(least_powder_milligrams(scale_step_milligrams))
    return Advice(
        advice.strength_mg_per_litre,
        advice.microlitres,
        advice.level,
        f"Below {least} this scale is more than 2 % off. {advice.sentence}",
    )
