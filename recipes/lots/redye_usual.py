"""What a way of dyeing lacks for its dyes on this base, and what is usual instead."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from dyehouse.studio.models import Studio
from recipes.dyeing.classes import process_for
from recipes.dyeing.usual import Load, lacks
from recipes.lots.redye import PlannedPot, RedyeAsk
from recipes.lots.redye_amounts import StepPlan, studio_bench
from recipes.lots.today import Today
from recipes.lots.usual import UsualPage, own_auxiliaries, usual_with
from recipes.models import Dye, Rule


@dataclass(frozen=True, slots=True)
class Lacking:
    """What a way has none of: "acid" or "soda ash"; and what is usual in each kind of pot, with the pot in words."""

    what: str
    sentence: str
    pots: list[tuple[str, UsualPage]]


def lacking_in(steps: Sequence[StepPlan], fibres: Sequence[str]) -> str:
    """What the steps have none of for their dyes on these fibres (slugs): "acid", "soda ash", or ""."""
    rules = [step.rule for step in steps if step.rule is not None]
    classes = {rule.dye.dye_class for rule in rules if rule.dye is not None}
    processes = {process_for(each, fibres).kind for each in classes}
    lacking = lacks(processes, (rule.auxiliary.role for rule in rules if rule.auxiliary is not None))
    return {"acid": "acid", "alkali": "soda ash"}.get(lacking, "")


def sentence_of(what: str) -> str:
    """How these dyes go on, for what is lacking."""
    return (
        "These dyes go on with acid on this yarn."
        if what == "acid"
        else "These dyes take soda ash on this yarn."
    )


def what_lacks(
    ask: RedyeAsk, pots: Sequence[tuple[PlannedPot, int]], today: Today, *, studio: Studio | None
) -> Lacking | None:
    """What the way lacks on this base, or None. Two queries where something is lacking, none else."""
    fibres = today.fibres.get(ask.put_up.base_id, ())
    what = lacking_in(pots[0][0].steps, [slug for slug, _ in fibres])
    if not what:
        return None
    bench, own = studio_bench(), own_auxiliaries()
    return Lacking(
        what,
        sentence_of(what),
        [
            (
                f"pot of {pot.load.pieces}" if pot.load.pieces != 1 else "pot of 1 piece",
                usual_with(
                    dyes=_dyes(pot),
                    fibres=fibres,
                    superwash=ask.put_up.base.superwash,
                    load=Load(pot.load.dry_milligrams, pot.bath_microlitres),
                    studio=studio or Studio.current(),
                    bench=bench,
                    own=own,
                ),
            )
            for pot, _ in pots
        ],
    )


def _dyes(pot: PlannedPot) -> list[tuple[Dye, Fraction | None]]:
    """Each dye of the steps with its depth in this pot, however many steps it comes in."""
    depths: dict[Dye, Fraction | None] = {}
    for step in pot.steps:
        rule = step.rule
        if rule is None or rule.kind != Rule.Kind.DYE or rule.dye is None:
            continue
        before = depths.get(rule.dye)
        depths[rule.dye] = (
            step.depth_percent if before is None else before + (step.depth_percent or Fraction(0))
        )
    return list(depths.items())
