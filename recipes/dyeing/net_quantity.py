"""How far a skein may weigh or measure from its label: by the average of a batch, and for each piece alone.

Plain checks beside the scale, not legal advice; local law decides.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from recipes.dyeing.units import format_grams, format_number
from recipes.dyeing.working import DyeingError, Exact, Figure, Source, Standing, Working, exact

DIRECTIVE = Source("Directive 76/211/EEC, Annex I", Standing.SECOND_HAND)
HANDBOOK = Source("NIST Handbook 133, tables 2-5 and 2-8", Standing.FROM_MEMORY)

GRAM = 1000
#: From which nominal weight on, in grams, what part of it in thousandths or else what fixed weight in milligrams.
_SHORTFALLS = (
    (5, 90, None),
    (50, None, 4_500),
    (100, 45, None),
    (200, None, 9_000),
    (300, 30, None),
    (500, None, 15_000),
    (1000, 15, None),
)
_LEAST, _MOST = 5 * GRAM, 10_000 * GRAM
#: Up to which labelled weight, in grams, how much one piece may lack, in milligrams.
_MOST_SHORT = ((54, 3_600), (81, 5_400), (117, 7_200), (154, 9_000), (208, 10_800), (263, 12_700))
#: Up to which labelled length, in metres, how much one piece may lack, in thousandths.
_MOST_SHORT_LENGTH = ((1, 30), (43, 15), (87, 20), (140, 25), (301, 30), (1005, 40))


class OutsideTheRule(DyeingError):
    """A weight for which the rule has no figure."""


def tolerable_shortfall(nominal_milligrams: int) -> int:
    """How much less than its label a piece may weigh before it is one of the few that may, in milligrams.

    Parts of a hundred are rounded up to 0.1 g. Raises OutsideTheRule below 5 g and above 10 kg.
    Source: Directive 76/211/EEC Annex I, second-hand.
    """
    if not _LEAST <= nominal_milligrams <= _MOST:
        raise OutsideTheRule("The average rule is for packs from 5 g to 10 kg.")
    thousandths, fixed = next(
        (part, whole) for grams, part, whole in reversed(_SHORTFALLS) if nominal_milligrams >= grams * GRAM
    )
    if fixed is not None:
        return fixed
    assert thousandths is not None
    return math.ceil(Fraction(nominal_milligrams * thousandths, 1000) / 100) * 100


def most_short(nominal_milligrams: int) -> int:
    """How much less than its label one piece may weigh in the US, in milligrams: a tenth below 36 g.

    Raises OutsideTheRule above 263 g. Source: NIST Handbook 133 table 2-5, from memory.
    """
    if nominal_milligrams < 36 * GRAM:
        return nominal_milligrams // 10
    for grams, short in _MOST_SHORT:
        if nominal_milligrams <= grams * GRAM:
            return short
    raise OutsideTheRule("No US figure is known to the house above 263 g.")


def most_short_length(millimetres: int) -> Fraction:
    """How much less than its label one piece may measure in the US, in millimetres.

    Source: NIST Handbook 133 table 2-8, from memory.
    """
    thousandths = next((part for metres, part in _MOST_SHORT_LENGTH if millimetres <= metres * 1000), 50)
    return Fraction(millimetres * thousandths, 1000)


def least_length(metres: int) -> Figure[Fraction]:
    """The least that one piece may measure in the US, in metres. Source: NIST Handbook 133 table 2-8, from memory."""
    lacks = most_short_length(metres * 1000) / 1000
    least = metres - lacks
    return Figure(
        least,
        Working(
            title="the least that a piece measures in the US",
            formula="length on the label − the most that one piece may lack",
            substitution=f"{metres} m − {format_number(lacks, 1)} m",
            result=f"{format_number(least, 1)} m",
            source=HANDBOOK,
        ),
    )


def average(milligrams: Sequence[Exact]) -> Figure[Fraction]:
    """What pieces weigh on average. ValueError for none."""
    if not milligrams:
        raise ValueError("An average is of one piece at least.")
    weights = [exact(each) for each in milligrams]
    mean = sum(weights, Fraction(0)) / len(weights)
    return Figure(
        mean,
        Working(
            title="average weight",
            formula="all weights ÷ pieces weighed",
            substitution=f"{format_grams(sum(weights, Fraction(0)))} ÷ {len(weights)}",
            result=format_grams(mean),
            source=Source("definition and arithmetic", Standing.DERIVED),
        ),
    )


@dataclass(frozen=True, slots=True)
class Weighed:
    """A batch on the scale against the weight on its label: milligrams, exact."""

    nominal: int
    average: Figure[Fraction]
    short: list[int]
    far_short: list[int]
    limit: Figure[int]
    us_short: list[int] | None
    us_limit: Figure[int] | None

    @property
    def average_holds(self) -> bool:
        return self.average.value >= self.nominal

    @property
    def holds(self) -> bool:
        """Whether nothing has to be reskeined or labelled with less."""
        return self.average_holds and not self.far_short and not self.us_short


def weigh_up(milligrams: Sequence[int], *, nominal_milligrams: int) -> Weighed:
    """Pieces of one nominal weight against their label, by the EU's and UK's rules and by the US's.

    `short` are below the label by more than the tolerable shortfall (few may be: German law says 2 %), `far_short` by more
    than twice that (none may be with an e mark). Raises OutsideTheRule; ValueError for no pieces.
    """
    allowed = tolerable_shortfall(nominal_milligrams)
    least, never = nominal_milligrams - allowed, nominal_milligrams - 2 * allowed
    limit = Figure(
        least,
        Working(
            title="the least that all but a few weigh",
            formula="weight on the label − tolerable shortfall",
            substitution=f"{format_grams(nominal_milligrams)} − {format_grams(allowed)}",
            result=format_grams(least),
            source=DIRECTIVE,
        ),
    )
    us_limit = us_short = None
    if nominal_milligrams <= _MOST_SHORT[-1][0] * GRAM:
        lacks = most_short(nominal_milligrams)
        us_limit = Figure(
            nominal_milligrams - lacks,
            Working(
                title="the least that a piece weighs in the US",
                formula="weight on the label − the most that one piece may lack",
                substitution=f"{format_grams(nominal_milligrams)} − {format_grams(lacks)}",
                result=format_grams(nominal_milligrams - lacks),
                source=HANDBOOK,
            ),
        )
        us_short = [each for each in milligrams if each < us_limit.value]
    return Weighed(
        nominal=nominal_milligrams,
        average=average(milligrams),
        short=[each for each in milligrams if never <= each < least],
        far_short=[each for each in milligrams if each < never],
        limit=limit,
        us_short=us_short,
        us_limit=us_limit,
    )
