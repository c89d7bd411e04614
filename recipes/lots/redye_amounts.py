"""What one planned pot takes: every rule of a way scaled by its basis and rounded to what this studio can measure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from dyehouse.studio.models import Measure
from recipes.dyeing.bath import make_up_water
from recipes.dyeing.depth import stock_microlitres
from recipes.dyeing.gradient import spread_hanks
from recipes.dyeing.rounding import (
    Level,
    Measured,
    clearing_strength,
    powder_or_stock,
    round_powder,
    round_stock,
    round_to_step,
)
from recipes.dyeing.scaling import Basis, BasisNeeds
from recipes.dyeing.units import whole
from recipes.dyeing.working import Exact, Figure, Working
from recipes.models import Rule
from recipes.ways import PotSize, amount_in

# Where the studio has written down no scale or cylinder: what a kitchen scale of 0.1 g and a syringe of 1 ml show.
USUAL_SCALE_STEP_MILLIGRAMS = 100
USUAL_CYLINDER_STEP_MICROLITRES = 1_000
# Water is poured by the jug.
WATER_STEP_MICROLITRES = 100_000
FILLINGS = 5


@dataclass(frozen=True, slots=True)
class Bench:
    """The scales and cylinders of the studio, finest first, as (step, most) in milligrams or microlitres."""

    scales: tuple[tuple[int, int | None], ...] = ()
    cylinders: tuple[tuple[int, int | None], ...] = ()

    def scale_step(self, milligrams: Fraction) -> int:
        """The step of the finest scale that takes so much."""
        return _step_for(milligrams, self.scales, USUAL_SCALE_STEP_MILLIGRAMS, fillings=1)

    def cylinder_step(self, microlitres: Fraction) -> int:
        """The step of the finest cylinder that measures so much in a few fillings."""
        return _step_for(microlitres, self.cylinders, USUAL_CYLINDER_STEP_MICROLITRES, fillings=FILLINGS)

    def weighings(self, milligrams: Fraction) -> int:
        """In how many parts that scale weighs so much."""
        return _times(milligrams, self.scale_step(milligrams), self.scales)

    def fillings(self, microlitres: Fraction) -> int:
        """In how many fillings that cylinder measures so much."""
        return _times(microlitres, self.cylinder_step(microlitres), self.cylinders)

    @property
    def finest_cylinder(self) -> int:
        return self.cylinders[0][0] if self.cylinders else USUAL_CYLINDER_STEP_MICROLITRES

    @property
    def finest_scale(self) -> int:
        return self.scales[0][0] if self.scales else USUAL_SCALE_STEP_MILLIGRAMS


def studio_bench() -> Bench:
    """What the studio has to measure with. One query."""
    measures = sorted(
        Measure.objects.filter(retired_at__isnull=True).values_list("kind", "step", "most"),
        key=lambda row: row[1],
    )
    return Bench(
        scales=tuple((step, most) for kind, step, most in measures if kind == Measure.Kind.SCALE),
        cylinders=tuple((step, most) for kind, step, most in measures if kind == Measure.Kind.CYLINDER),
    )


def _times(amount: Fraction, step: int, tools: Sequence[tuple[int, int | None]]) -> int:
    """How often the tool of a step is filled or loaded; of two with one step the one that takes most."""
    takes = [most for each, most in tools if each == step]
    if not takes or None in takes:
        return 1
    most = max(each for each in takes if each is not None)
    return max(1, -(-round_to_step(amount, step) // most))


def _step_for(amount: Fraction, tools: Sequence[tuple[int, int | None]], usual: int, *, fillings: int) -> int:
    if not tools:
        return usual
    for step, most in tools:
        if most is None or amount <= most * fillings:
            return step
    return tools[-1][0]


@dataclass(frozen=True, slots=True)
class StepPlan:
    """One step of a planned pot.

    `exact` is the amount by the rule before rounding, `measured` what the scale or cylinder can show of it; a reading, a
    note and a spoon have neither. `warning` says that it measures badly, `advice` what would help. `rule` None is the water
    that makes up the bath.
    """

    number: int
    rule: Rule | None
    minute: int | None
    exact: Figure[Fraction] | None = None
    measured: Measured | None = None
    milligrams: int | None = None
    microlitres: int | None = None
    strength_mg_per_litre: int | None = None
    hanks: int | None = None
    depth_percent: Fraction | None = None
    workings: tuple[Working, ...] = ()
    warning: str = ""
    advice: str = ""

    @property
    def exact_thousandths(self) -> int | None:
        """The amount before rounding in micrograms or nanolitres, for keeping."""
        return None if self.measured is None else whole(self.measured.exact * 1000)

    @property
    def is_guide(self) -> bool:
        """Added until a reading is reached: the amount is only what it took last time."""
        return self.rule is not None and self.rule.basis == Basis.READING


def plan_steps(
    rules: Sequence[Rule], *, size: PotSize, bench: Bench, pieces_then: int | None = None
) -> list[StepPlan]:
    """The steps of one pot of this dry weight, bath and count, in the order of the way.

    `pieces_then` are those of the pot that the way was learned from: hanks that enter or leave are scaled from it.

    Water is one step, where the way first has water: the bath less all that goes in dissolved.
    """
    steps = [_plan_step(rule, size=size, bench=bench) for rule in rules if rule.kind != Rule.Kind.WATER]
    steps = _with_hanks(steps, pieces=size.pieces, pieces_then=pieces_then)
    taken = sum(step.microlitres or 0 for step in steps)
    bath = Fraction(size.bath_microlitres or 0)
    steps = [_advised(step, room=bath - taken + (step.microlitres or 0), bench=bench) for step in steps]
    water_at = next((at for at, rule in enumerate(rules) if rule.kind == Rule.Kind.WATER), 0)
    minute = next((rule.minute for rule in rules if rule.kind == Rule.Kind.WATER), None)
    steps.insert(water_at, _water(steps, size=size, minute=minute))
    return [replace(step, number=number) for number, step in enumerate(steps, 1)]


def _with_hanks(
    steps: Sequence[StepPlan], *, pieces: Exact | None, pieces_then: int | None
) -> list[StepPlan]:
    """Hanks that enter or leave, scaled to the load; those that are named one by one stay as they are."""
    scaled = list(steps)
    for slug in dict.fromkeys(step.rule.technique for step in steps if step.rule is not None):
        at = [place for place, step in enumerate(steps) if _counts_hanks(step, slug)]
        counts = [rule.hanks or 0 for place in at if (rule := steps[place].rule) is not None]
        if not at:
            continue
        if not pieces or not pieces_then:
            for place, count in zip(at, counts, strict=True):
                warning = (
                    "How many pieces the first pot held is not known, so the hanks are as they were then."
                )
                scaled[place] = replace(steps[place], hanks=count, warning=warning)
            continue
        for place, figure in zip(
            at, spread_hanks(counts, of_pieces=pieces_then, pieces=int(pieces)), strict=True
        ):
            none = "" if figure.value else "This load has too few hanks for this step. Leave it out."
            scaled[place] = replace(
                steps[place], hanks=figure.value, workings=(figure.working,), warning=none
            )
    return scaled


def _counts_hanks(step: StepPlan, slug: str) -> bool:
    rule = step.rule
    if rule is None or rule.kind != Rule.Kind.TECHNIQUE or rule.technique != slug:
        return False
    return rule.hanks is not None and not rule.section


def _water(steps: Sequence[StepPlan], *, size: PotSize, minute: int | None) -> StepPlan:
    solutions = [step.microlitres for step in steps if step.microlitres]
    water = make_up_water(bath_microlitres=size.bath_microlitres or 0, solutions_microlitres=solutions)
    poured = round_to_step(water.value.water_microlitres, WATER_STEP_MICROLITRES)
    excess = water.value.excess_microlitres
    return StepPlan(
        number=0,
        rule=None,
        minute=minute,
        microlitres=poured,
        workings=(water.working,),
        warning="The solutions alone are more than this bath. Dose from stronger stocks." if excess else "",
    )


def _advised(step: StepPlan, *, room: Fraction, bench: Bench) -> StepPlan:
    """A dye that measures badly, with the stock that would measure it better in the room that the rest leaves."""
    rule, measured, exact = step.rule, step.measured, step.exact
    if rule is None or rule.dye is None or measured is None or exact is None:
        return step
    if measured.level < Level.COARSE or not measured.exact:
        return step
    room = max(room, Fraction(0))
    if step.milligrams is not None:
        advice = powder_or_stock(
            dye_milligrams=measured.exact,
            scale_step_milligrams=bench.finest_scale,
            cylinder_step_microlitres=bench.finest_cylinder,
            room_microlitres=room,
            strongest_mg_per_litre=rule.dye.strongest_stock_mg_per_litre,
        )
    elif step.strength_mg_per_litre:
        advice = clearing_strength(
            dye_milligrams=measured.exact * step.strength_mg_per_litre / 1_000_000,
            step_microlitres=bench.finest_cylinder,
            room_microlitres=room,
            now_mg_per_litre=step.strength_mg_per_litre,
            strongest_mg_per_litre=rule.dye.strongest_stock_mg_per_litre,
        )
    else:
        return step
    return replace(step, advice=advice.sentence)


def _plan_step(rule: Rule, *, size: PotSize, bench: Bench) -> StepPlan:
    plain = StepPlan(
        number=0, rule=rule, minute=rule.minute, strength_mg_per_litre=rule.strength_mg_per_litre
    )
    try:
        exact = amount_in(rule, size)
    except BasisNeeds as needs:
        return StepPlan(number=0, rule=rule, minute=rule.minute, warning=str(needs))
    if exact is None:
        return plain
    if rule.kind == Rule.Kind.DYE and rule.strength_mg_per_litre:
        return _dosed(rule, exact, size=size, bench=bench)
    if rule.unit == "ul":
        measured = round_stock(
            exact.value,
            step_microlitres=bench.cylinder_step(exact.value),
            fillings=bench.fillings(exact.value),
        )
        return _measured_step(rule, exact, measured, microlitres=measured.amount)
    dry = size.dry_milligrams if rule.kind == Rule.Kind.DYE else None
    measured = round_powder(
        exact.value,
        step_milligrams=bench.scale_step(exact.value),
        dry_milligrams=dry,
        weighings=bench.weighings(exact.value),
    )
    return _measured_step(rule, exact, measured, milligrams=measured.amount)


def _dosed(rule: Rule, exact: Figure[Fraction], *, size: PotSize, bench: Bench) -> StepPlan:
    """A dye from its stock: the rule may be in milligrams of dye or in microlitres of that stock."""
    strength = rule.strength_mg_per_litre or 0
    workings: tuple[Working, ...] = (exact.working,)
    volume = exact.value
    if rule.unit == "mg":
        stock = stock_microlitres(dye_milligrams=exact.value, strength_mg_per_litre=strength)
        volume, workings = stock.value, (exact.working, stock.working)
    measured = round_stock(
        volume,
        step_microlitres=bench.cylinder_step(volume),
        strength_mg_per_litre=strength,
        dry_milligrams=size.dry_milligrams,
        fillings=bench.fillings(volume),
    )
    return _measured_step(
        rule, exact, measured, microlitres=measured.amount, strength=strength, before=workings
    )


def _measured_step(
    rule: Rule,
    exact: Figure[Fraction],
    measured: Measured,
    *,
    milligrams: int | None = None,
    microlitres: int | None = None,
    strength: int | None = None,
    before: tuple[Working, ...] = (),
) -> StepPlan:
    return StepPlan(
        number=0,
        rule=rule,
        minute=rule.minute,
        exact=exact,
        measured=measured,
        milligrams=milligrams,
        microlitres=microlitres,
        strength_mg_per_litre=strength,
        depth_percent=measured.depth_percent if rule.kind == Rule.Kind.DYE else None,
        workings=(*(before or (exact.working,)), measured.working),
        warning=measured.sentence,
    )
