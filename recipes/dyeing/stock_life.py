"""How long a stock is known to last. Where nobody has published a figure the answer is None: ask the dyer."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from recipes.dyeing import sources
from recipes.dyeing.working import Source

_PLAIN_ACIDS = frozenset({"acid_unknown", "levelling", "fast_acid", "milling", "super_milling"})


@dataclass(frozen=True, slots=True)
class Life:
    """After how many days to warn, the published figure in words, and whose it is."""

    warn_after_days: int
    words: str
    source: Source

    def warn_on(self, made_on: date) -> date:
        return made_on + timedelta(days=self.warn_after_days)


def stock_life(dye_class: str, *, in_fridge: bool = False) -> Life | None:
    """The published life of a stock solution of this class; None where there is none."""
    if dye_class == "cold_reactive":
        if in_fridge:
            return Life(
                35,
                "In the fridge the first colours weakened visibly after 35 days, the last after 63.",
                sources.STOCK_TEST,
            )
        return Life(
            5,
            "At room temperature and without alkali the maker gives it 4 to 5 days, a chemist about a week.",
            sources.STOCK_MAKER,
        )
    if dye_class in _PLAIN_ACIDS:
        return Life(
            91,
            "Most acid dye stocks keep 3 to 6 months away from light; some only 1 to 2 weeks.",
            sources.MAKER_QUANTITIES,
        )
    return None


def best_before(dye_class: str, made_on: date, *, in_fridge: bool = False) -> date | None:
    """The day from which to warn of a stock made on a day; None where the dyer must say."""
    life = stock_life(dye_class, in_fridge=in_fridge)
    return None if life is None else life.warn_on(made_on)


def powder_life(dye_class: str) -> Life | None:
    """The published life of the powder, cool, dry and sealed; None where there is none."""
    if dye_class == "cold_reactive":
        return Life(
            365,
            "Nominally a year, often years if cool, dry and sealed; a day in a hot car can ruin it.",
            sources.HAND_DYEING_PAGES,
        )
    return None


def with_alkali(dye_class: str) -> str:
    """What happens to a cold reactive stock once soda ash is in it (published for no other class); empty for those."""
    if dye_class == "cold_reactive":
        return "With soda ash in it, it goes off from about an hour on and is spent within hours."
    return ""
