"""A small sample by the very same way before the pots of a plan: a mini where the base has one in store, else a strip."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from django.db import transaction
from django.utils import timezone

from dyehouse.ledger.models import Balance
from dyehouse.studio.codes import take_code
from dyehouse.studio.models import User, Vessel
from recipes.lots.models import Judgement, Photo, PlannedStep, Pot, PotLoad, RedyePlan
from recipes.lots.redye import load_of, planned_rows
from recipes.lots.redye_amounts import StepPlan, plan_steps, studio_bench
from recipes.models import MillLot, PutUp
from recipes.ways import rules_of

SAMPLE_MILLIGRAMS = 20_000
#: A put-up of this weight or thereabouts is a mini (about 20 g: common practice, no source).
MINI_MILLIGRAMS = (15_000, 30_000)


@dataclass(frozen=True, slots=True)
class Mini:
    """A piece small enough for a sample, with the lot in store that it is taken from."""

    put_up: PutUp
    mill_lot: MillLot


@dataclass(frozen=True, slots=True)
class SampleResult:
    """What became of the sample of a plan: how it was judged last, and its photo."""

    pot: Pot
    judgement: Judgement | None
    photo: Photo | None


@transaction.atomic
def plan_sample(*, plan: RedyePlan, who: User) -> Pot:
    """Plan a sample of about 20 g before the pots of a plan, by its way at its liquor ratio, rounded to what can be measured.

    It is a mini of the same base where the store has one, of the plan's mill lot if it can be, else a strip and no piece.
    What goes by the piece goes by its weight beside a piece of the plan. A plan has one sample at a time: asked again, the
    one that was not dropped is given.
    """
    RedyePlan.objects.select_for_update().get(pk=plan.pk)
    first = Pot.objects.filter(plan=plan, sample=True, dropped_at__isnull=True).order_by("id").first()
    if first is not None:
        return first
    mini = mini_in_store(plan)
    pot = Pot(
        code=take_code(),
        colourway=plan.way.colourway,
        way=plan.way,
        plan=plan,
        sample=True,
        made_at=timezone.now(),
        started_by=who,
        lay=plan.way.lay,
        lay_plan=plan.way.lay_plan,
        strip_milligrams=None if mini is not None else SAMPLE_MILLIGRAMS,
    )
    loads = [] if mini is None else [_load(pot, mini)]
    ratio = Fraction(plan.liquor_ratio_tenths, 10)
    load, size = load_of(pot, loads, ratio=ratio)
    steps: list[StepPlan] = plan_steps(
        rules_of(plan.way), size=size, bench=studio_bench(), pieces_then=plan.way.pieces
    )
    pot.planned_bath_microlitres = int(load.bath.value)
    pot.vessel = _vessel_for(pot.planned_bath_microlitres)
    pot.save()
    PotLoad.objects.bulk_create(loads)
    PlannedStep.objects.bulk_create(planned_rows(pot, steps))
    return pot


def mini_in_store(plan: RedyePlan) -> Mini | None:
    """A mini of the plan's base in the store, of its mill lot before others, nearest to 20 g; None where there is none."""
    rows = Balance.objects.filter(
        place__code="store",
        on_hand__gt=0,
        item__put_up__base=plan.put_up.base_id,
        item__put_up__nominal_milligrams__range=MINI_MILLIGRAMS,
        lot__mill_lot__isnull=False,
    ).select_related("item__put_up__base", "lot__mill_lot")
    minis = [Mini(row.item.put_up, row.lot.mill_lot) for row in rows]

    def farther(mini: Mini) -> tuple[bool, int, int]:
        off = abs(mini.put_up.nominal_milligrams - SAMPLE_MILLIGRAMS)
        return mini.mill_lot.pk != plan.mill_lot_id, off, -mini.mill_lot.pk

    return min(minis, key=farther, default=None)


def _load(pot: Pot, mini: Mini) -> PotLoad:
    return PotLoad(
        pot=pot,
        put_up=mini.put_up,
        mill_lot=mini.mill_lot,
        pieces=1,
        dry_milligrams=mini.put_up.nominal_milligrams,
    )


def _vessel_for(bath_microlitres: int) -> Vessel | None:
    """The smallest pot or pan that takes the bath."""
    vessels = Vessel.objects.filter(
        retired_at__isnull=True, working_millilitres__gte=bath_microlitres // 1000
    ).exclude(kind=Vessel.Kind.STEAMER)
    return vessels.order_by("working_millilitres", "name").first()


def result_of(sample: Pot) -> SampleResult:
    """What became of a sample. Two queries once it is out, else none."""
    if sample.dye_lot_id is None:
        return SampleResult(sample, None, None)
    judged = Judgement.objects.filter(dye_lot=sample.dye_lot_id, movement__reversed_by__isnull=True)
    photos = Photo.objects.filter(dye_lot=sample.dye_lot_id)
    return SampleResult(
        sample,
        judged.select_related("by").order_by("-judged_at", "-id").first(),
        photos.order_by("-taken_at", "-id").first(),
    )
