"""What a parcel weighs: its pieces as they are sold, and the box, paper and extras around them."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from dyehouse.studio.refusals import Refused
from inventory.promises.models import Parcel
from inventory.promises.parcel_queries import Inside
from recipes.dyeing.units import format_grams
from recipes.dyeing.working import Figure, Source, Standing, Working

MOST_GRAMS = 30_000
COUNTED = Source("counted from what belongs in the parcel", Standing.DERIVED)


class NoWeight(Refused):
    """What was written is no weight of packaging."""


def weight_of(parcel: Parcel, lines: Sequence[Inside]) -> Figure[int]:
    """Milligrams: each piece at the weight it is sold by, exactly, and the packaging as it was typed."""
    pieces = sum(line.pieces * line.dyed.put_up.nominal_milligrams for line in lines)
    around = (parcel.packaging_grams or 0) * 1000
    inside = Working(
        title="Contents",
        formula="pieces × the weight of one as sold, added up",
        substitution=" + ".join(
            f"{line.pieces} × {format_grams(line.dyed.put_up.nominal_milligrams)}" for line in lines
        )
        or "nothing",
        result=format_grams(Fraction(pieces)),
        source=COUNTED,
    )
    working = Working(
        title="Weight of the parcel",
        formula="contents + packaging",
        substitution=f"{format_grams(Fraction(pieces))} + {format_grams(Fraction(around))}",
        result=format_grams(Fraction(pieces + around)),
        source=COUNTED,
        steps=(inside,),
    )
    return Figure(pieces + around, working)


def say_packaging(*, parcel: Parcel, grams: str) -> Parcel:
    """Keep what box, paper and extras of a parcel weigh, in whole grams. Raises NoWeight."""
    said = grams.strip().removesuffix("g").strip()
    if not (said.isascii() and said.isdecimal()) or int(said) > MOST_GRAMS:
        raise NoWeight(
            f"“{grams.strip()[:20]}” is no weight of packaging. Write whole grams, for example 120."
        )
    parcel.packaging_grams = int(said)
    parcel.save(update_fields=["packaging_grams"])
    return parcel
