"""Dyeing a colourway again: so many pieces from one way of dyeing, split over pots, planned to the millilitre."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from uuid import UUID, uuid5

from django.db import transaction
from django.db.models import Exists, OuterRef
from django.utils import timezone

from dyehouse.studio.codes import take_code
from dyehouse.studio.models import User, Vessel
from dyehouse.studio.refusals import Refused
from recipes.dyeing.bath import bath_microlitres
from recipes.dyeing.loads import Load, LoadPlan, NoLoadFits, split_loads
from recipes.lots.models import LogEntry, PlannedStep, Pot, PotLoad, RedyePlan
from recipes.lots.redye_amounts import Bench, StepPlan, plan_steps, studio_bench
from recipes.lots.soaking import claim_key, leave_off_soaking
from recipes.models import Colourway, MillLot, PutUp, WayOfDyeing
from recipes.ways import PotSize, rules_of
from recipes.yarn import unknown_mill_lot


class CannotBePlanned(Refused):
    """No load fits, or what is asked for does not belong together."""


@dataclass(frozen=True, slots=True)
class RedyeAsk:
    """What is to be dyed again. `liquor_ratio_tenths` is litres a kilogram times ten; `mill_lot` None is "unknown"."""

    way: WayOfDyeing
    put_up: PutUp
    mill_lot: MillLot | None
    pieces: int
    piece_dry_milligrams: int
    vessel: Vessel
    liquor_ratio_tenths: int

    @property
    def liquor_ratio(self) -> Fraction:
        return Fraction(self.liquor_ratio_tenths, 10)


@dataclass(frozen=True, slots=True)
class PlannedPot:
    """One pot as it is meant: its load with its bath, and its steps."""

    load: Load
    steps: list[StepPlan]

    @property
    def bath_microlitres(self) -> int:
        return int(self.load.bath.value)


@dataclass(frozen=True, slots=True)
class RedyePreview:
    """The pots of a redye before anything is written down."""

    ask: RedyeAsk
    loads: LoadPlan
    pots: list[PlannedPot]

    @property
    def different_pots(self) -> list[tuple[PlannedPot, int]]:
        """Each load once, with how many pots there are of it; loads differ by at most one piece."""
        seen: dict[int, tuple[PlannedPot, int]] = {}
        for pot in self.pots:
            first, count = seen.get(pot.load.pieces, (pot, 0))
            seen[pot.load.pieces] = (first, count + 1)
        return list(seen.values())

    @property
    def split_words(self) -> str:
        """10 pieces in 2 pots of 5."""
        counts = [pot.load.pieces for pot in self.pots]
        pieces = "1 piece" if sum(counts) == 1 else f"{sum(counts)} pieces"
        if len(counts) == 1:
            return f"{pieces} in one pot"
        if len(set(counts)) == 1:
            return f"{pieces} in {len(counts)} pots of {counts[0]}"
        most, least = max(counts), min(counts)
        return f"{pieces} in {len(counts)} pots: {counts.count(most)} of {most} and {counts.count(least)} of {least}"


def preview_redye(ask: RedyeAsk, *, bench: Bench | None = None) -> RedyePreview:
    """What a redye would be, with every amount and its working; nothing is written. Raises CannotBePlanned."""
    if ask.mill_lot is not None and ask.mill_lot.base_id != ask.put_up.base_id:
        raise CannotBePlanned(
            f"Mill lot {ask.mill_lot.number} is not of {ask.put_up.base.name}. Choose one of its lots, or “unknown”."
        )
    try:
        loads = split_loads(
            pieces=ask.pieces,
            piece_dry_milligrams=ask.piece_dry_milligrams,
            vessel_millilitres=ask.vessel.working_millilitres,
            liquor_ratio=ask.liquor_ratio,
        )
    except NoLoadFits as sentence:
        raise CannotBePlanned(str(sentence)) from sentence
    rules, tools = rules_of(ask.way), bench or studio_bench()
    by_pieces: dict[int, list[StepPlan]] = {}
    pots = []
    for load in loads.loads:
        if load.pieces not in by_pieces:
            size = PotSize(load.dry_milligrams, load.bath.value, load.pieces)
            by_pieces[load.pieces] = plan_steps(rules, size=size, bench=tools, pieces_then=ask.way.pieces)
        pots.append(PlannedPot(load, by_pieces[load.pieces]))
    return RedyePreview(ask, loads, pots)


@transaction.atomic
def plan_redye(*, key: UUID, ask: RedyeAsk, who: User) -> RedyePlan:
    """Write the pots of a redye down: each has its short code at once, and nothing moves until it is loaded.

    The same key again returns the plan of the first call. Raises CannotBePlanned.
    """
    # The colourway's row lets the same page sent twice at once come one after the other.
    Colourway.objects.select_for_update().get(pk=ask.way.colourway_id)
    first = RedyePlan.objects.filter(key=key).first()
    if first is not None:
        return first
    preview = preview_redye(ask)
    now = timezone.now()
    plan = RedyePlan.objects.create(
        key=key,
        way=ask.way,
        put_up=ask.put_up,
        mill_lot=ask.mill_lot,
        vessel=ask.vessel,
        pieces=ask.pieces,
        piece_dry_milligrams=ask.piece_dry_milligrams,
        liquor_ratio_tenths=ask.liquor_ratio_tenths,
        made_at=now,
        made_by=who,
    )
    mill_lot = ask.mill_lot or unknown_mill_lot(ask.put_up.base)
    for planned in preview.pots:
        pot = Pot.objects.create(
            code=take_code(),
            colourway=ask.way.colourway,
            way=ask.way,
            plan=plan,
            vessel=ask.vessel,
            planned_bath_microlitres=planned.bath_microlitres,
            made_at=now,
            started_by=who,
            lay=ask.way.lay,
            lay_plan=ask.way.lay_plan,
        )
        PotLoad.objects.create(
            pot=pot,
            put_up=ask.put_up,
            mill_lot=mill_lot,
            pieces=planned.load.pieces,
            dry_milligrams=planned.load.dry_milligrams,
        )
        PlannedStep.objects.bulk_create(planned_rows(pot, planned.steps))
    return plan


def _amounts(step: StepPlan) -> dict[str, int | None]:
    return {
        "exact_thousandths": step.exact_thousandths,
        "milligrams": step.milligrams,
        "microlitres": step.microlitres,
        "hanks": step.hanks,
    }


def planned_rows(pot: Pot, steps: Sequence[StepPlan]) -> list[PlannedStep]:
    """The steps of a pot as they are kept."""
    return [_row(pot, step) for step in steps]


def load_of(pot: Pot, loads: Sequence[PotLoad], *, ratio: Fraction) -> tuple[Load, PotSize]:
    """What a planned pot holds and what its amounts are scaled to: its strip is fibre too.

    Of a sample what goes by the piece goes by its weight beside a piece of the plan, which it is to foretell.
    """
    dry = sum(load.dry_milligrams for load in loads) + (pot.strip_milligrams or 0)
    pieces = sum(load.pieces for load in loads)
    bath = bath_microlitres(dry_milligrams=dry, liquor_ratio=ratio)
    by_the_piece: Fraction | int = pieces
    if pot.sample and pot.plan is not None:
        by_the_piece = Fraction(dry, pot.plan.piece_dry_milligrams)
    return Load(pieces, dry, bath), PotSize(dry, bath.value, by_the_piece)


def _row(pot: Pot, step: StepPlan) -> PlannedStep:
    return PlannedStep(
        pot=pot,
        number=step.number,
        rule=step.rule,
        **_amounts(step),
        strength_mg_per_litre=step.strength_mg_per_litre,
        minute=step.minute,
    )


@transaction.atomic
def reckon_again(*, pot: Pot) -> None:
    """Scale what is planned for a pot to what its loads weigh by now; steps of which something was done stay.

    Its bath follows at the planned liquor ratio. A pot that no redye planned is left as it is.
    """
    if pot.plan is None or pot.way is None:
        return
    ratio = Fraction(pot.plan.liquor_ratio_tenths, 10)
    load, size = load_of(pot, list(PotLoad.objects.filter(pot=pot)), ratio=ratio)
    meant = plan_steps(rules_of(pot.way), size=size, bench=studio_bench(), pieces_then=pot.way.pieces)
    amounts = {step.number: _amounts(step) for step in meant}
    done = LogEntry.objects.filter(planned=OuterRef("pk"), struck_by__isnull=True)
    waiting = list(PlannedStep.objects.filter(pot=pot).exclude(Exists(done)))
    for row in waiting:
        for name, amount in amounts[row.number].items():
            setattr(row, name, amount)
    PlannedStep.objects.bulk_update(waiting, ["exact_thousandths", "milligrams", "microlitres", "hanks"])
    pot.planned_bath_microlitres = int(load.bath.value)
    pot.save(update_fields=["planned_bath_microlitres"])


@transaction.atomic
def drop_planned(*, pot: Pot, who: User | None = None) -> Pot:
    """Give up a pot that was planned and not loaded; what soaks for it goes back to where it lay. Raises CannotBePlanned when it was loaded."""
    locked = Pot.objects.select_for_update().get(pk=pot.pk)
    if locked.state == "dropped":
        return locked
    if locked.state != "planned":
        raise CannotBePlanned(f"Pot {locked.code} is {locked.state}; only a planned pot can be dropped.")
    leave_off_soaking(key=uuid5(claim_key(locked), "dropped"), pots=[locked], who=who)
    locked.dropped_at = timezone.now()
    locked.save(update_fields=["dropped_at"])
    return locked
