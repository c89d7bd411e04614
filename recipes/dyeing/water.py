"""What is said of the studio's water. Values are shown; no limit is judged, since published limits disagree tenfold."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from recipes.dyeing import sources
from recipes.dyeing.working import Exact, Source, not_negative


@dataclass(frozen=True, slots=True)
class HardnessClass:
    """The usual name for a hardness. It is a name, not a verdict on dyeing."""

    name: str
    source: Source


# The published bands print 60, 120 and 180 twice; each edge is put with the softer class.
_UP_TO: tuple[tuple[int, str], ...] = ((60, "soft"), (120, "moderately hard"), (180, "hard"))


def hardness_class(mg_per_litre: Exact) -> HardnessClass:
    """Soft, moderately hard, hard or very hard, from mg/L as CaCO3. Source: classes after USGS."""
    hardness: Fraction = not_negative(mg_per_litre, "Hardness cannot be below zero.")
    for most, name in _UP_TO:
        if hardness <= most:
            return HardnessClass(name, sources.HARDNESS_CLASSES)
    return HardnessClass("very hard", sources.HARDNESS_CLASSES)
