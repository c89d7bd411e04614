"""Before a dye day: what the planned pots take together, what to mix for them, what will not suffice, what is past its day."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date

from django.utils import timezone

from dyehouse.ledger.models import Balance, Item
from dyehouse.studio.models import User
from recipes.dyeing.units import format_grams
from recipes.lots.in_store import InStore, in_store_today
from recipes.lots.load_lines import what_lies
from recipes.lots.models import PlannedStep, Pot, PotLoad
from recipes.lots.redye_stocks import PowderNeeded, Ready, StockNeeded, ready_for
from recipes.lots.soaking import soaking_for
from recipes.models import Jar, MillLot, PutUp, StockBottle
from recipes.queries import MixInStore, mixes_in_store

#: Beyond so many days a bottle is looked at before it is trusted; common practice, no source.
OLD_DAYS = 30


@dataclass(frozen=True, slots=True)
class PlannedLine:
    """A planned pot, and whether it is among those that are reckoned."""

    pot: Pot
    name: str
    loads: list[PotLoad]
    chosen: bool


@dataclass(frozen=True, slots=True)
class BottleSeen:
    """A bottle that these pots would be dosed from: what is left of it, its age, and what is to be minded."""

    bottle: StockBottle
    left_microlitres: int
    age_days: int
    old_days: int

    @property
    def past(self) -> bool:
        return self.bottle.best_before is not None and self.bottle.best_before < timezone.localdate()

    @property
    def undated(self) -> bool:
        return self.bottle.best_before is None

    @property
    def old(self) -> bool:
        return self.age_days > self.old_days

    @property
    def minded(self) -> bool:
        return self.past or self.undated or self.old


@dataclass(frozen=True, slots=True)
class StockLine:
    """One stock that the pots take, with its bottles and the jar that a new one is made from."""

    needed: StockNeeded
    bottles: list[BottleSeen]
    jar: Jar | None

    @property
    def short_powder(self) -> int:
        """How much powder the jars lack for what is to be mixed."""
        return max(0, self.needed.powder_milligrams - self.needed.powder_left_milligrams)

    @property
    def good_microlitres(self) -> int:
        """What is left in the bottles that are not past their day."""
        return sum(each.left_microlitres for each in self.bottles if not each.past)

    @property
    def only_with_past(self) -> bool:
        """Whether it suffices only with what is past its day."""
        return self.needed.suffices and self.good_microlitres < self.needed.needed_microlitres


@dataclass(frozen=True, slots=True)
class YarnNeeded:
    """Pieces of a put-up of one mill lot, or of any where the plan does not know it: wanted and in the store."""

    put_up: PutUp
    mill_lot: MillLot | None
    wanted: int
    there: int

    @property
    def short(self) -> int:
        return max(0, self.wanted - self.there)


@dataclass(frozen=True, slots=True)
class BeforeDay:
    """The whole page."""

    pots: list[PlannedLine]
    stocks: list[StockLine]
    powders: list[PowderNeeded]
    yarn: list[YarnNeeded]
    mixes: list[MixInStore]
    old_days: int
    unreckoned: list[Pot] = field(default_factory=list)

    @property
    def chosen(self) -> list[PlannedLine]:
        return [line for line in self.pots if line.chosen]

    @property
    def to_mix(self) -> list[StockLine]:
        return [line for line in self.stocks if not line.needed.suffices]

    @property
    def minded(self) -> list[BottleSeen]:
        """The bottles to look at before they are trusted."""
        return [each for line in self.stocks for each in line.bottles if each.minded]

    @property
    def short(self) -> list[str]:
        """What will not suffice and by how much, a sentence each."""
        said = [
            f"{line.needed.dye.name}: {format_grams(line.short_powder)} of powder too little for the stock of "
            f"{line.needed.name}."
            for line in self.to_mix
            if line.short_powder
        ]
        said += [f"{each.name}: {each.short_words} too little." for each in self.powders if each.short]
        said += [
            f"{each.put_up}: {each.short} {'piece' if each.short == 1 else 'pieces'} too few"
            f"{f' of mill lot {each.mill_lot}' if each.mill_lot is not None else ''}."
            for each in self.yarn
            if each.short
        ]
        return said

    @property
    def pieces(self) -> int:
        return sum(load.pieces for line in self.chosen for load in line.loads)

    @property
    def bath_microlitres(self) -> int:
        return sum(line.pot.planned_bath_microlitres or 0 for line in self.chosen)


def before_day(
    *, user: User, codes: Collection[str] = (), plan: int | None = None, old_days: int = OLD_DAYS
) -> BeforeDay:
    """What the planned pots take: all of them, those of one plan, or those with these codes. Seven queries."""
    pots = list(
        Pot.objects.filter(out_at=None, loaded_at=None, dropped_at=None)
        .select_related("colourway", "vessel", "plan")
        .order_by("id")
    )
    loads: dict[int, list[PotLoad]] = {}
    for load in (
        PotLoad.objects.filter(pot__in=pots)
        .select_related("put_up__base", "put_up__item", "mill_lot__lot", "was__item", "overdyes__lot")
        .order_by("id")
    ):
        loads.setdefault(load.pot_id, []).append(load)
    lines = [
        PlannedLine(pot, pot.colourway.shown_name(user), loads.get(pot.pk, []), _is_chosen(pot, codes, plan))
        for pot in pots
    ]
    chosen = [line.pot for line in lines if line.chosen]
    steps = list(
        PlannedStep.objects.filter(pot__in=chosen)
        .select_related("rule__dye", "rule__auxiliary")
        .order_by("pot_id", "number")
    )
    store = in_store_today()
    ready = ready_for(steps, store)
    with_steps = {step.pot_id for step in steps}
    return BeforeDay(
        pots=lines,
        stocks=[_stock_line(each, store, old_days) for each in ready.stocks],
        powders=_worst_first(ready),
        yarn=_yarn(
            [load for line in lines if line.chosen for load in line.loads],
            [line.pot for line in lines if line.chosen],
        ),
        mixes=mixes_in_store(),
        old_days=old_days,
        unreckoned=[pot for pot in chosen if pot.pk not in with_steps],
    )


def _is_chosen(pot: Pot, codes: Collection[str], plan: int | None) -> bool:
    if codes:
        return pot.code in codes
    return plan is None or pot.plan_id == plan


def _worst_first(ready: Ready) -> list[PowderNeeded]:
    return sorted(ready.powders, key=lambda each: each.suffices)


def _stock_line(needed: StockNeeded, store: InStore, old_days: int) -> StockLine:
    jars = store.jars_of(needed.dye.pk)
    return StockLine(
        needed=needed,
        bottles=[
            BottleSeen(
                bottle=each,
                left_microlitres=store.left.get(each.lot_id, 0),
                age_days=_age(timezone.localtime(each.made_at).date()),
                old_days=old_days,
            )
            for each in needed.bottles
        ],
        jar=jars[-1] if jars else None,
    )


def _age(made_on: date) -> int:
    return (timezone.localdate() - made_on).days


def _yarn(loads: Sequence[PotLoad], pots: Sequence[Pot]) -> list[YarnNeeded]:
    """Undyed yarn by put-up and mill lot; a lot that nobody knows takes what the known ones leave. Two queries."""
    undyed = [load for load in loads if load.was_id is None]
    there = _there(undyed, pots)
    wanted: dict[tuple[PutUp, MillLot | None], int] = {}
    for load in undyed:
        key = (load.put_up, None if load.mill_lot.unknown else load.mill_lot)
        wanted[key] = wanted.get(key, 0) + load.pieces
    found = []
    for (put_up, mill_lot), pieces in sorted(
        wanted.items(), key=lambda each: (each[0][1] is None, str(each[0][0]))
    ):
        of_put_up = there.setdefault(put_up.item_id, {})
        if mill_lot is not None:
            here = of_put_up.get(mill_lot.lot_id, 0)
            of_put_up[mill_lot.lot_id] = max(0, here - pieces)
        else:
            here = sum(of_put_up.values())
        found.append(YarnNeeded(put_up, mill_lot, pieces, here))
    return found


def _there(loads: Iterable[PotLoad], pots: Sequence[Pot]) -> dict[int, dict[int, int]]:
    """Free pieces in the store, and what soaks for these pots already, by item and lot. Two queries."""
    items = {what_lies(load)[0].pk for load in loads}
    there: dict[int, dict[int, int]] = {}
    for row in Balance.objects.filter(
        place__code="store", item__in=items, item__kind=Item.Kind.UNDYED, on_hand__gt=0
    ):
        there.setdefault(row.item_id, {})[row.lot_id] = row.free
    for wet in soaking_for(pots):
        of_item = there.setdefault(wet.item.pk, {})
        of_item[wet.lot.pk] = of_item.get(wet.lot.pk, 0) + wet.pieces
    return there
