"""What is left of a price: at retail, at half of it, and at sixty of a hundred.

Half is the trade's keystone, sixty-forty what is usual where the maker keeps 60 % (both common practice, no source). Tax is
not taken out: a price is as it was written down.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from inventory.costing.sums import NANO, to_minor
from recipes.dyeing.units import format_number, whole
from recipes.dyeing.working import Figure, Source, Standing, Working

COMMON = Source("keystone and sixty-forty", Standing.PRACTICE)
LEVELS: tuple[tuple[str, Fraction], ...] = (
    ("Retail", Fraction(1)),
    ("Half (keystone)", Fraction(1, 2)),
    ("60/40", Fraction(3, 5)),
)


@dataclass(frozen=True, slots=True)
class Margin:
    """At one level: the price, what is left after the cost, and that in percent of the price."""

    level: str
    price_minor: int
    left_minor: int
    percent: Figure[Fraction]

    @property
    def loses(self) -> bool:
        return self.left_minor < 0

    @property
    def percent_words(self) -> str:
        return f"{format_number(self.percent.value, 1)} %".replace("-", "−")


def margins(*, cost_nano: int, retail_minor: int | None) -> list[Margin]:
    """The margins of a piece at every level; none without a retail price."""
    if not retail_minor:
        return []
    return [_margin(level, share, cost_nano, retail_minor) for level, share in LEVELS]


def _margin(level: str, share: Fraction, cost_nano: int, retail_minor: int) -> Margin:
    price = whole(retail_minor * share)
    left = Fraction(price) - Fraction(cost_nano, NANO)
    percent = left / price * 100 if price else Fraction(0)
    working = Working(
        title=f"Margin, {level}",
        formula="(price − cost) ÷ price × 100",
        substitution=f"({price} − {format_number(Fraction(cost_nano, NANO), 2)}) ÷ {price} × 100, in the smallest unit",
        result=f"{format_number(percent, 1)} %",
        source=COMMON,
    )
    return Margin(level, price, price - to_minor(cost_nano), Figure(percent, working))
