"""Money that is shared out and added up: exact inside, rounded once, and parts that always sum to their whole.

Minor is a whole smallest unit of a currency (a cent), nano a billionth of it. Rounding is half away from zero; parts that
stand under a whole are rounded down and the units that are left go to those with the largest remainders, the earlier first.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Mapping
from fractions import Fraction
from typing import TypeVar

from recipes.dyeing.units import whole as whole_number

NANO = 10**9
ROUNDING = (
    "Within a lot everything is reckoned exactly. What one piece costs is kept to a billionth of a cent; an amount on the "
    "screen is rounded half up to the cent, and parts of a sum are rounded so that they add up to it (largest remainder)."
)

K = TypeVar("K", bound=Hashable)


def to_minor(nano: int) -> int:
    """Billionths as whole smallest units."""
    return whole_number(Fraction(nano, NANO))


def apportion(whole: int, parts: Mapping[K, Fraction | int]) -> dict[K, int]:
    """Whole numbers near the parts that sum to `whole` exactly.

    Each part is rounded down and what is then missing is given out one by one, to the largest remainders first. Where the
    parts do not sum to the whole themselves, the difference is shared the same way. Without parts it gives none.
    """
    if not parts:
        return {}
    floors = {key: Fraction(part).__floor__() for key, part in parts.items()}
    by_remainder = sorted(parts, key=lambda key: floors[key] - Fraction(parts[key]))
    left = whole - sum(floors.values())
    each, more = divmod(left, len(parts))
    given = set(by_remainder[:more])
    return {key: floors[key] + each + (1 if key in given else 0) for key in parts}


def minor_parts(parts: Mapping[K, int]) -> dict[K, int]:
    """Parts in nano as whole smallest units that sum to their rounded sum."""
    return apportion(
        to_minor(sum(parts.values())), {key: Fraction(nano, NANO) for key, nano in parts.items()}
    )


def shares(whole: Fraction, weights: Mapping[K, int]) -> dict[K, Fraction]:
    """A whole shared by weights, exactly; by count where all weights are nothing."""
    total = sum(weights.values())
    if not total:
        return {key: whole / len(weights) for key in weights}
    return {key: whole * weight / total for key, weight in weights.items()}


def added(sums: Iterable[Mapping[K, Fraction]]) -> dict[K, Fraction]:
    """The sums of several, key by key."""
    found: dict[K, Fraction] = {}
    for each in sums:
        for key, value in each.items():
            found[key] = found.get(key, Fraction(0)) + value
    return found
