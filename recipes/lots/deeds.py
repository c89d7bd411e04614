"""What the pages of pots and lots say of a deed that departs from its plan, and of the way that was learned from it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import OuterRef, Subquery

from recipes.lots.beside import strip_beside
from recipes.lots.contents import add_up, counts
from recipes.lots.departing import AsDone, PotOfPlan, as_done, main_base
from recipes.lots.models import LogEntry, PlannedStep, Pot, PotLoad, WayOrigin


@dataclass(frozen=True, slots=True)
class Learned:
    """The newest way that was learned from a pot."""

    pk: int
    number: int


@dataclass(frozen=True, slots=True)
class Deed:
    """What a page says of a pot's deed beside its plan, and the way that was learned from it, if one was."""

    pot: Pot
    done: AsDone
    learned: Learned | None

    @property
    def may_be_kept(self) -> bool:
        return self.pot.out_at is not None and self.learned is None


def learned_from(pot: str) -> dict[str, Subquery]:
    """Annotations that tell the newest way learned from the pot of a row: learned_pk, learned_number."""
    newest = WayOrigin.objects.filter(pot=OuterRef(pot)).order_by("-id")
    return {
        "learned_pk": Subquery(newest.values("way")[:1]),
        "learned_number": Subquery(newest.values("way__number")[:1]),
    }


def deeds_of(*, loads: Sequence[PotLoad], entries: Sequence[LogEntry], us: bool = False) -> list[Deed]:
    """The deeds of the pots of a lot that depart from their plans. One query, none where no pot was of a plan.

    `loads` come with their pot, its way and base and the annotations of `learned_from`; `entries` in the order they
    happened, strikes included.
    """
    of_a_way = {load.pot_id: load.pot for load in loads if load.pot.way_id is not None}
    if not of_a_way:
        return []
    steps: dict[int, list[PlannedStep]] = {}
    for step in (
        PlannedStep.objects.filter(pot__in=of_a_way)
        .select_related("rule__dye", "rule__auxiliary")
        .order_by("number", "id")
    ):
        steps.setdefault(step.pot_id, []).append(step)
    found = []
    for pk, pot in of_a_way.items():
        mine = [load for load in loads if load.pot_id == pk]
        logged = [entry for entry in entries if entry.pot_id == pk]
        kept = [each for each in logged if counts(each)]
        contents = add_up(loads=mine, entries=logged, beside=strip_beside(pot))
        done = as_done(PotOfPlan(pot, steps.get(pk, []), kept, contents, main_base(mine), us))
        if done is not None and done.departs:
            found.append(Deed(pot, done, _learned(mine[0])))
    return found


def deed_on_page(of: PotOfPlan) -> Deed | None:
    """What departs from the plan by now, and the way that the pot taught; it comes annotated by `learned_from`."""
    done = as_done(of)
    if done is None or not done.departs:
        return None
    return Deed(of.pot, done, _learned(of.pot))


def _learned(row: Pot | PotLoad) -> Learned | None:
    pk, number = getattr(row, "learned_pk", None), getattr(row, "learned_number", None)
    return Learned(pk, number or 0) if pk is not None else None
