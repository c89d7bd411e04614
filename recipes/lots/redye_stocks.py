"""What must stand ready for a redye: stocks and what is left in their bottles, powders and what is left in their jars."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from recipes.dyeing.depth import powder_for_stock
from recipes.dyeing.units import format_grams, format_litres, format_millilitres
from recipes.dyeing.working import Working
from recipes.lots.in_store import InStore
from recipes.lots.redye import PlannedPot
from recipes.models import Auxiliary, Dye, StockBottle
from recipes.way_words import strength_words

# A bottle is made up to a round volume, with something over for what sticks to the cylinder.
BOTTLE_STEP_MICROLITRES = 50_000


@dataclass(frozen=True, slots=True)
class StockNeeded:
    """One dye at one strength over all pots: what is needed, what the bottles hold, and what to mix where it is short."""

    dye: Dye
    strength_mg_per_litre: int
    needed_microlitres: int
    bottles: list[StockBottle]
    left_microlitres: int
    mix_microlitres: int = 0
    powder_milligrams: int = 0
    powder_left_milligrams: int = 0
    working: Working | None = None

    @property
    def name(self) -> str:
        return f"{self.dye.name} {strength_words(self.strength_mg_per_litre)}"

    @property
    def suffices(self) -> bool:
        return not self.mix_microlitres

    @property
    def powder_suffices(self) -> bool:
        return self.powder_milligrams <= self.powder_left_milligrams

    @property
    def to_do(self) -> str:
        """What there is to do about it, in a sentence."""
        if self.suffices:
            return "Enough in the bottle." if len(self.bottles) == 1 else "Enough in the bottles together."
        make = f"Mix {format_millilitres(self.mix_microlitres)}: {format_grams(self.powder_milligrams)} of powder, filled up."
        if self.powder_suffices:
            return make
        return f"{make} The jars hold only {format_grams(self.powder_left_milligrams)}."


@dataclass(frozen=True, slots=True)
class PowderNeeded:
    """A dye or auxiliary that is weighed or measured straight, over all pots."""

    name: str
    needed: int
    left: int
    liquid: bool

    @property
    def suffices(self) -> bool:
        return self.needed <= self.left

    @property
    def needed_words(self) -> str:
        return format_millilitres(self.needed) if self.liquid else format_grams(self.needed)

    @property
    def left_words(self) -> str:
        return format_litres(self.left) if self.liquid else format_grams(self.left)


@dataclass(frozen=True, slots=True)
class Ready:
    """Everything to have ready."""

    stocks: list[StockNeeded]
    powders: list[PowderNeeded]

    @property
    def short(self) -> bool:
        return any(not stock.suffices for stock in self.stocks) or any(
            not each.suffices for each in self.powders
        )


def what_to_have_ready(pots: Sequence[PlannedPot], store: InStore) -> Ready:
    """What all these pots take together, beside what the store has of it."""
    stocks: dict[tuple[Dye, int], int] = {}
    powders: dict[Dye, int] = {}
    auxiliaries: dict[Auxiliary, int] = {}
    for pot in pots:
        for step in pot.steps:
            rule = step.rule
            if rule is None:
                continue
            if rule.dye is not None and step.microlitres and step.strength_mg_per_litre:
                key = (rule.dye, step.strength_mg_per_litre)
                stocks[key] = stocks.get(key, 0) + step.microlitres
            elif rule.dye is not None and step.milligrams:
                powders[rule.dye] = powders.get(rule.dye, 0) + step.milligrams
            elif rule.auxiliary is not None:
                amount = step.milligrams or step.microlitres or 0
                auxiliaries[rule.auxiliary] = auxiliaries.get(rule.auxiliary, 0) + amount
    return Ready(
        stocks=[_stock(dye, strength, needed, store) for (dye, strength), needed in stocks.items()],
        powders=[
            *(
                PowderNeeded(dye.name, needed, _powder_left(dye, store), liquid=False)
                for dye, needed in powders.items()
            ),
            *(
                PowderNeeded(each.name, needed, store.left.get(each.lot_id, 0), liquid=each.is_liquid)
                for each, needed in auxiliaries.items()
                if needed
            ),
        ],
    )


def _powder_left(dye: Dye, store: InStore) -> int:
    return sum(store.left.get(jar.lot_id, 0) for jar in store.jars_of(dye.pk))


def _stock(dye: Dye, strength: int, needed: int, store: InStore) -> StockNeeded:
    mine = store.bottles_of(dye.pk, strength)
    left = sum(store.left.get(each.lot_id, 0) for each in mine)
    if left >= needed:
        return StockNeeded(dye, strength, needed, mine, left)
    # A fresh bottle for the whole redye, so that all its pots are dosed from one.
    mix = -(-needed // BOTTLE_STEP_MICROLITRES) * BOTTLE_STEP_MICROLITRES
    powder = powder_for_stock(make_microlitres=mix, strength_mg_per_litre=strength)
    return StockNeeded(
        dye,
        strength,
        needed,
        mine,
        left,
        mix_microlitres=mix,
        powder_milligrams=-(-powder.value.numerator // powder.value.denominator),
        powder_left_milligrams=_powder_left(dye, store),
        working=powder.working,
    )
