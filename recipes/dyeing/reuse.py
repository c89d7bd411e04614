"""A bath that is used again: what usually stays in it, as information beside what somebody said. Never taken silently."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from recipes.dyeing import sources
from recipes.dyeing.bath import dye_left_in_bath
from recipes.dyeing.units import format_grams
from recipes.dyeing.working import Exact, Figure, Source, Working, exact, not_negative

MICROGRAMS_IN_MILLIGRAM = 1000


@dataclass(frozen=True, slots=True)
class UsualFixation:
    """What share of a class of dye is taken up and stays, in percent from least to most."""

    least: int
    most: int
    source: Source

    def sentence(self, dye_milligrams: Exact) -> str:
        """What that would leave of so much dye, as a range in a sentence."""
        most, least = (
            dye_left_in_bath(dye_milligrams=dye_milligrams, taken_up_percent=share).value
            for share in (self.least, self.most)
        )
        return (
            f"Usually {self.least} to {self.most} % of such dye is taken up, which would leave "
            f"{format_grams(least)} to {format_grams(most)} of {format_grams(exact(dye_milligrams))}. It is not reckoned with."
        )


_ACID = UsualFixation(80, 93, sources.FIXATION)
_BY_CLASS = {
    **dict.fromkeys(("acid_unknown", "levelling", "fast_acid", "milling", "super_milling"), _ACID),
    "direct": UsualFixation(70, 95, sources.FIXATION),
    "cold_reactive": UsualFixation(60, 90, sources.FIXATION),
    "other_reactive": UsualFixation(60, 90, sources.FIXATION),
}


def usual_fixation(dye_class: str) -> UsualFixation | None:
    """The usual range of a class; None where none was published. Source: EPA, table of fixation, 1995 (second-hand)."""
    return _BY_CLASS.get(dye_class)


def said_to_be_left(*, name: str, micrograms: int, by: str, at: str) -> Figure[Fraction]:
    """Milligrams of a dye that somebody said a bath still holds. `at` is the clock time in words."""
    left = (
        Fraction(not_negative(micrograms, "An amount of dye cannot be below zero.")) / MICROGRAMS_IN_MILLIGRAM
    )
    return Figure(
        left,
        Working(
            title=f"{name} left in the bath before",
            formula="as it was told",
            substitution=f"told by {by} at {at}",
            result=format_grams(left),
            source=sources.TOLD,
        ),
    )


def share_of_taken_micrograms(*, taken_milligrams: Exact, percent: Exact) -> int:
    """Whole micrograms in so many percent of what a pot took of a dye."""
    share = not_negative(percent, "A share cannot be below zero.")
    return round(
        not_negative(taken_milligrams, "An amount of dye cannot be below zero.") * share / 100 * 1000
    )
