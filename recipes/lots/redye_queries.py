"""What the pages of a redye show, put together from its parts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction

from django.db.models import Prefetch

from dyehouse.studio.models import Studio
from recipes.dyeing.cautions import Caution, cautions
from recipes.dyeing.pot_facts import Difference
from recipes.dyeing.programme import Programme, RiseOnHob
from recipes.dyeing.rounding import Level
from recipes.dyeing.units import format_litres, format_percent
from recipes.dyeing.working import Working
from recipes.lots.in_store import InStore
from recipes.lots.load_words import OF_A_LOAD
from recipes.lots.mill_lots import SplitOverLots, split_of_plan
from recipes.lots.models import Pot, PotLoad, RedyePlan
from recipes.lots.redye import PlannedPot, RedyeAsk, RedyePreview, load_of
from recipes.lots.redye_amounts import Bench, StepPlan, plan_steps, studio_bench
from recipes.lots.redye_stocks import Ready, what_to_have_ready
from recipes.lots.redye_usual import Lacking, what_lacks
from recipes.lots.sampling import SampleResult, result_of
from recipes.lots.soaking import there_or_soaking, with_soaking
from recipes.lots.today import Reference, Today, heating_for, today_for, what_differs
from recipes.models import Dye, Rule
from recipes.way_words import (
    amount_words,
    rule_amount_words,
    rule_name,
    rule_place_words,
    rule_technique_words,
    rule_words,
    strength_words,
)
from recipes.ways import RuleDraft, rules_of


@dataclass(frozen=True, slots=True)
class StepLine:
    """One planned step in words: what, how much, with what, and what there is to know of it."""

    step: StepPlan
    what: str
    amount: str
    how: str
    by_rule: str
    depth: str

    @property
    def minute(self) -> int | None:
        return self.step.minute

    @property
    def workings(self) -> tuple[Working, ...]:
        return self.step.workings

    @property
    def working(self) -> Working | None:
        """How the amount came about, from the rule to what the scale or cylinder shows, in one."""
        if not self.workings:
            return None
        *before, last = self.workings
        return replace(last, steps=tuple(before))

    @property
    def rough(self) -> bool:
        return self.step.measured is None or self.step.measured.level >= Level.ROUGH

    @property
    def level_words(self) -> str:
        """How well the amount can be measured, in a word."""
        return self.step.measured.level.words if self.step.measured is not None else "mind"


@dataclass(frozen=True, slots=True)
class PotOfRedye:
    """One kind of load with its steps, and how many pots there are of it."""

    planned: PlannedPot
    count: int
    lines: list[StepLine]
    rises: list[RiseOnHob]

    @property
    def words(self) -> str:
        """Each of 2 pots of 5 pieces."""
        words = self.words_within
        return f"{words[:1].upper()}{words[1:]}"

    @property
    def words_within(self) -> str:
        """The same within a sentence."""
        pieces = _pieces(self.planned.load.pieces)
        return f"pot of {pieces}" if self.count == 1 else f"each of {self.count} pots of {pieces}"


@dataclass(frozen=True, slots=True)
class StepRow:
    """One step of the way with its amount in each kind of pot, in the order of the pots."""

    line: StepLine
    cells: list[tuple[PotOfRedye, StepLine]]


@dataclass(frozen=True, slots=True)
class RedyePage:
    """Everything that is shown before the pots are planned.

    `heat` are the steps of the programme in words, each with whether it is from a table and not from the log.
    """

    preview: RedyePreview
    reference: Reference | None
    differences: list[Difference]
    pots: list[PotOfRedye]
    programme: Programme
    heat: list[tuple[str, bool]]
    ready: Ready
    cautions: list[Caution]
    borrowed: bool
    hob: str = ""
    lacking: Lacking | None = None

    @property
    def vessel_microlitres(self) -> int:
        """The vessel to its working mark."""
        return self.preview.ask.vessel.working_millilitres * 1000

    @property
    def split_words(self) -> str:
        """10 pieces in 2 pots of 5."""
        return self.preview.split_words

    @property
    def rows(self) -> list[StepRow]:
        """The steps, each with its amounts side by side."""
        together = zip(*(pot.lines for pot in self.pots), strict=True)
        return [StepRow(lines[0], list(zip(self.pots, lines, strict=True))) for lines in together]

    @property
    def warnings(self) -> list[tuple[PotOfRedye, StepLine]]:
        """Every amount that measures badly or cannot be reckoned, in the order of the steps."""
        return [(pot, cell) for row in self.rows for pot, cell in row.cells if cell.step.warning]


def _pieces(count: int) -> str:
    return "1 piece" if count == 1 else f"{count} pieces"


def redye_page(
    preview: RedyePreview, *, studio: Studio | None = None, store: InStore | None = None, us: bool = False
) -> RedyePage:
    """The page before planning, in a fixed number of queries."""
    ask = preview.ask
    today = today_for(ask, store=store, studio=studio)
    first = preview.pots[0]
    ready = what_to_have_ready(preview.pots, today.store)
    kinds = [(pot, count, heating_for(ask, pot, today, us=us)) for pot, count in preview.different_pots]
    programme = kinds[0][2].programme
    return RedyePage(
        preview=preview,
        reference=today.reference,
        differences=what_differs(ask, first, today, mixed_new=ready.mixed_new),
        pots=[
            PotOfRedye(pot, count, step_lines(pot.steps, us=us), heating.rises)
            for pot, count, heating in kinds
        ],
        programme=programme,
        heat=[(step.in_words(us=us), step.from_table) for step in programme.steps],
        ready=ready,
        cautions=cautions_of(first.steps, fibres_on(ask, today)),
        borrowed=ask.way.base_id != ask.put_up.base_id,
        hob=kinds[0][2].hob,
        lacking=what_lacks(ask, preview.different_pots, today, studio=studio),
    )


def fibres_on(ask: RedyeAsk, today: Today) -> tuple[str, ...]:
    """The fibres (slugs) of the base that is dyed, most of it first."""
    return tuple(slug for slug, _ in today.fibres.get(ask.put_up.base_id, ()))


def cautions_of(steps: Sequence[StepPlan], fibres: Sequence[str] = ()) -> list[Caution]:
    """What to mind with the dyes and auxiliaries of these steps on these fibres."""
    rules = [step.rule for step in steps if step.rule is not None]
    classes = [rule.dye.dye_class for rule in rules if rule.dye is not None] or [Dye.Class.ACID_UNKNOWN.value]
    roles = [rule.auxiliary.role for rule in rules if rule.auxiliary is not None]
    powder = any(step.milligrams and step.rule is not None and step.rule.dye is not None for step in steps)
    return cautions(classes, roles, powder=powder, fibres=fibres)


def step_lines(steps: Sequence[StepPlan], *, us: bool = False) -> list[StepLine]:
    """Planned steps in words."""
    return [_line(step, us) for step in steps]


def _line(step: StepPlan, us: bool) -> StepLine:
    rule = step.rule
    if rule is None:
        amount = format_litres(step.microlitres or 0, us=us)
        return StepLine(step, "Water", amount, "", "the bath less all that goes in dissolved", "")
    if rule.kind == Rule.Kind.TECHNIQUE:
        return _technique_line(step, rule, us)
    if rule.kind not in (Rule.Kind.DYE, Rule.Kind.AUXILIARY):
        return StepLine(step, rule_words(rule, us=us), "", "", "", "")
    depth = format_percent(step.depth_percent) if step.depth_percent is not None else ""
    return StepLine(
        step, rule_name(rule), _amount(step, rule, us), _how(step, rule), rule_amount_words(rule), depth
    )


def _technique_line(step: StepPlan, rule: Rule, us: bool) -> StepLine:
    """A step with the hanks that it is for this load beside those that the way was learned with."""
    if step.hanks is None:
        return StepLine(step, rule_technique_words(rule, us=us), "", "", "", "")
    uncounted = replace(RuleDraft.of(rule), hanks=None)
    hanks = f"{step.hanks} {'hank' if step.hanks == 1 else 'hanks'}"
    learned = rule_technique_words(rule, us=us)
    return StepLine(step, rule_technique_words(uncounted, us=us), hanks, "", learned, "")


def _amount(step: StepPlan, rule: Rule, us: bool) -> str:
    if step.milligrams is not None:
        return amount_words("mg", step.milligrams, us=us)
    if step.microlitres is not None:
        return amount_words("ul", step.microlitres, us=us)
    return rule.as_typed


def _how(step: StepPlan, rule: Rule) -> str:
    return ", ".join(part for part in (_measured_with(step, rule), rule_place_words(rule)) if part)


def _measured_with(step: StepPlan, rule: Rule) -> str:
    measured = step.milligrams is not None or step.microlitres is not None
    if step.is_guide:
        return f"{'a guide: ' if measured else ''}add until the reading is reached"
    if rule.as_typed and not measured:
        return "as it was written; weigh it this time"
    if step.strength_mg_per_litre and step.microlitres is not None:
        return f"of the {strength_words(step.strength_mg_per_litre)} stock"
    return "weigh the powder" if step.milligrams is not None and rule.dye is not None else ""


@dataclass(frozen=True, slots=True)
class PlanPage:
    """A kept plan: its pots and what they wait for."""

    pots: list[Pot]
    ready: Ready
    differences: list[Difference]
    sample: SampleResult | None = None
    measures_badly: list[StepLine] = field(default_factory=list)
    lacking: Lacking | None = None
    split: SplitOverLots | None = None

    @property
    def may_be_sampled(self) -> bool:
        """Whether a sample could still be dyed before its pots: one waits, and no sample was planned."""
        return self.sample is None and any(not pot.sample for pot in self.still_planned)

    @property
    def still_planned(self) -> list[Pot]:
        return [pot for pot in self.pots if pot.state == "planned"]


def ask_of(plan: RedyePlan) -> RedyeAsk:
    """What a kept plan asked for."""
    return RedyeAsk(
        way=plan.way,
        put_up=plan.put_up,
        mill_lot=plan.mill_lot,
        pieces=plan.pieces,
        piece_dry_milligrams=plan.piece_dry_milligrams,
        vessel=plan.vessel,
        liquor_ratio_tenths=plan.liquor_ratio_tenths,
    )


def plan_page(plan: RedyePlan, *, studio: Studio | None = None, us: bool = False) -> PlanPage:
    """The pots of a plan, what its planned pots still take, and what differs from the reference lot today."""
    pots = list(
        Pot.objects.filter(plan=plan)
        .select_related("dye_lot", "vessel")
        .prefetch_related(
            Prefetch("loads", with_soaking(PotLoad.objects.select_related(*OF_A_LOAD)).order_by("id"))
        )
        .order_by("id")
    )
    waiting = [pot for pot in pots if pot.state == "planned"]
    planned = planned_pots(plan, waiting)
    taken = next((pot for pot in pots if pot.sample and pot.state != "dropped"), None)
    sample = result_of(taken) if taken is not None else None
    if not planned:
        return PlanPage(pots, Ready([], []), [], sample, split=split_of_plan(plan, pots))
    badly = [
        line
        for pot, meant in zip(waiting, planned, strict=True)
        for line in step_lines(meant.steps, us=us)
        if pot.sample and line.step.warning
    ]
    first = next((meant for pot, meant in zip(waiting, planned, strict=True) if not pot.sample), planned[0])
    ask = ask_of(plan)
    today = today_for(ask, studio=studio)
    ready = what_to_have_ready(planned, today.store)
    differs = what_differs(ask, first, today, mixed_new=ready.mixed_new)
    kinds = list({meant.load.pieces: meant for meant in planned}.values())
    lacking = what_lacks(ask, [(meant, 1) for meant in kinds], today, studio=studio)
    loads = [load for pot in waiting for load in pot.loads.all() if load.put_up_id == plan.put_up_id]
    there = there_or_soaking(today.store.yarn.get(plan.put_up.item_id, []), loads)
    split = split_of_plan(plan, pots, there)
    return PlanPage(pots, ready, differs, sample, badly, lacking, split)


def planned_pots(plan: RedyePlan, pots: Sequence[Pot]) -> list[PlannedPot]:
    """Kept pots as they were meant, with their workings: the rules of a way never change, so neither do the amounts."""
    rules, bench, ratio = rules_of(plan.way), studio_bench(), Fraction(plan.liquor_ratio_tenths, 10)
    then = plan.way.pieces
    for pot in pots:
        pot.plan = plan
    return [planned_pot(pot, rules=rules, bench=bench, ratio=ratio, pieces_then=then) for pot in pots]


def planned_pot(
    pot: Pot, *, rules: Sequence[Rule], bench: Bench, ratio: Fraction, pieces_then: int | None = None
) -> PlannedPot:
    """One kept pot as it is meant, by the dry weight of its loads and its strip."""
    load, size = load_of(pot, list(pot.loads.all()), ratio=ratio)
    return PlannedPot(load, plan_steps(rules, size=size, bench=bench, pieces_then=pieces_then))
