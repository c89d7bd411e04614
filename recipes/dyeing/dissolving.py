"""How strong a solution of a dye may be before some of it settles out; the dyer's own figure, for nobody publishes it."""

from __future__ import annotations

from recipes.dyeing.depth import strength_percent
from recipes.dyeing.units import format_number
from recipes.dyeing.working import Exact


def beyond_dissolved(*, dye: str, strength_mg_per_litre: Exact, strongest_mg_per_litre: int | None) -> str:
    """A sentence where a solution is stronger than what is known to stay dissolved; empty where it is not, or nobody knows."""
    if strongest_mg_per_litre is None or strength_mg_per_litre <= strongest_mg_per_litre:
        return ""
    return (
        f"{dye} stays dissolved up to {_percent(strongest_mg_per_litre)} by what you wrote down, and this is "
        f"{_percent(strength_mg_per_litre)}: warm it, stir it up each time, or make it thinner."
    )


def _percent(mg_per_litre: Exact) -> str:
    return f"{format_number(strength_percent(mg_per_litre), 4)} %"
