"""What must stand ready for a redye: stocks and what is left in their bottles, powders and what is left in their jars."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Protocol

from recipes.dyeing.depth import powder_for_stock
from recipes.dyeing.dissolving import beyond_dissolved
from recipes.dyeing.units import format_grams, format_litres, format_millilitres
from recipes.dyeing.working import Working
from recipes.lots.in_store import InStore
from recipes.lots.redye import PlannedPot
from recipes.models import Auxiliary, Dye, Rule, StockBottle
from recipes.way_words import strength_words

# A bottle is made up to a round volume, with something over for what sticks to the cylinder.
BOTTLE_STEP_MICROLITRES = 50_000


@dataclass(frozen=True, slots=True)
class StockNeeded:
    """One dye at one strength over all pots: what is needed, what the bottles hold, and what to mix where it is short.

    `others` are bottles of the same dye at another strength that would do: (strength, microlitres of it that are needed).
    """

    dye: Dye
    strength_mg_per_litre: int
    needed_microlitres: int
    bottles: list[StockBottle]
    left_microlitres: int
    mix_microlitres: int = 0
    powder_milligrams: int = 0
    powder_left_milligrams: int = 0
    working: Working | None = None
    others: tuple[tuple[int, int], ...] = ()

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
        words = [
            f"Mix {format_millilitres(self.mix_microlitres)}: {format_grams(self.powder_milligrams)} of powder, filled up."
        ]
        beyond = beyond_dissolved(
            dye=self.dye.name,
            strength_mg_per_litre=self.strength_mg_per_litre,
            strongest_mg_per_litre=self.dye.strongest_stock_mg_per_litre,
        )
        if beyond:
            words.append(beyond)
        if not self.powder_suffices:
            words.append(f"The jars hold only {format_grams(self.powder_left_milligrams)} of it.")
        words += [
            f"Or take {format_millilitres(microlitres)} in all of the {strength_words(strength)} stock that is there."
            for strength, microlitres in self.others
        ]
        return " ".join(words)


@dataclass(frozen=True, slots=True)
class PowderNeeded:
    """A dye or auxiliary that is weighed or measured straight, over all pots.

    `left` is None where the store keeps it in the other unit, so that the two cannot be compared.
    """

    name: str
    needed: int
    left: int | None
    liquid: bool
    chip: str = ""
    of: Dye | Auxiliary | None = None

    @property
    def is_dye(self) -> bool:
        return isinstance(self.of, Dye)

    @property
    def short(self) -> int:
        """By how much it does not suffice; 0 where that cannot be told."""
        return 0 if self.left is None else max(0, self.needed - self.left)

    @property
    def short_words(self) -> str:
        return format_millilitres(self.short) if self.liquid else format_grams(self.short)

    @property
    def suffices(self) -> bool:
        return self.left is not None and self.needed <= self.left

    @property
    def to_do(self) -> str:
        """What there is to do about it, in a sentence."""
        if self.left is None:
            kept, asked = ("by weight", "by volume") if self.liquid else ("by volume", "by weight")
            return f"The store keeps it {kept} and the way asks for it {asked}. Correct the way to be sure."
        return "Enough." if self.suffices else "Not enough by the book. Count it, or buy more."

    @property
    def needed_words(self) -> str:
        return format_millilitres(self.needed) if self.liquid else format_grams(self.needed)

    @property
    def left_words(self) -> str:
        if self.left is None:
            return "–"
        return format_litres(self.left) if self.liquid else format_grams(self.left)


@dataclass(frozen=True, slots=True)
class Ready:
    """Everything to have ready."""

    stocks: list[StockNeeded]
    powders: list[PowderNeeded]

    @property
    def mixed_new(self) -> list[tuple[Dye, int]]:
        """The stocks, by dye and strength, that are mixed for these pots."""
        return [(each.dye, each.strength_mg_per_litre) for each in self.stocks if not each.suffices]


class Taking(Protocol):
    """A step as far as it takes something: one that is only meant, or one that is written down."""

    @property
    def rule(self) -> Rule | None: ...
    @property
    def milligrams(self) -> int | None: ...
    @property
    def microlitres(self) -> int | None: ...
    @property
    def strength_mg_per_litre(self) -> int | None: ...


def what_to_have_ready(pots: Sequence[PlannedPot], store: InStore) -> Ready:
    """What all these pots take together, beside what the store has of it."""
    return ready_for([step for pot in pots for step in pot.steps], store)


def ready_for(steps: Iterable[Taking], store: InStore) -> Ready:
    """What these steps take together, beside what the store has of it."""
    stocks: dict[tuple[Dye, int], int] = {}
    powders: dict[Dye, int] = {}
    auxiliaries: dict[tuple[Auxiliary, bool], int] = {}
    for step in steps:
        rule = step.rule
        if rule is None:
            continue
        if rule.dye is not None and step.microlitres and step.strength_mg_per_litre:
            key = (rule.dye, step.strength_mg_per_litre)
            stocks[key] = stocks.get(key, 0) + step.microlitres
        elif rule.dye is not None and step.milligrams:
            powders[rule.dye] = powders.get(rule.dye, 0) + step.milligrams
        elif rule.auxiliary is not None:
            part = (rule.auxiliary, step.milligrams is None)
            auxiliaries[part] = auxiliaries.get(part, 0) + (step.milligrams or step.microlitres or 0)
    # What is weighed straight into the pots and what goes into one new bottle is no longer there for the next.
    free = {dye: _powder_left(dye, store) for dye in (*powders, *(dye for dye, _ in stocks))}
    ready = Ready(stocks=[], powders=[])
    for dye, needed in powders.items():
        ready.powders.append(PowderNeeded(dye.name, needed, free[dye], liquid=False, chip=dye.chip, of=dye))
        free[dye] = max(0, free[dye] - needed)
    for (dye, strength), needed in stocks.items():
        stock = _stock(dye, strength, needed, store, powder_left=free[dye])
        ready.stocks.append(stock)
        free[dye] = max(0, free[dye] - stock.powder_milligrams)
    for (auxiliary, liquid), needed in auxiliaries.items():
        if needed:
            left = store.left.get(auxiliary.lot_id, 0) if liquid == auxiliary.is_liquid else None
            ready.powders.append(PowderNeeded(auxiliary.name, needed, left, liquid=liquid, of=auxiliary))
    return ready


def _powder_left(dye: Dye, store: InStore) -> int:
    return sum(store.left.get(jar.lot_id, 0) for jar in store.jars_of(dye.pk))


def _other_strengths(dye: Dye, strength: int, needed: int, store: InStore) -> tuple[tuple[int, int], ...]:
    """Other strengths of which the bottles hold enough of the same dye, with how much of each that is."""
    left: dict[int, int] = {}
    for bottle in store.bottles:
        if bottle.dye_id == dye.pk and bottle.strength_mg_per_litre != strength:
            there = left.get(bottle.strength_mg_per_litre, 0)
            left[bottle.strength_mg_per_litre] = there + store.left.get(bottle.lot_id, 0)
    same = {other: -(-needed * strength // other) for other in left}
    return tuple((other, same[other]) for other in sorted(left) if 0 < same[other] <= left[other])


def _stock(dye: Dye, strength: int, needed: int, store: InStore, *, powder_left: int) -> StockNeeded:
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
        powder_left_milligrams=powder_left,
        working=powder.working,
        others=_other_strengths(dye, strength, needed, store),
    )
