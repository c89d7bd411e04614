"""From the dye list to pots: loads are handed to the redye planning, and by when they are wanted is remembered."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from uuid import UUID, uuid5

from django.db import transaction

from dyehouse.studio.models import User
from dyehouse.studio.refusals import Refused
from inventory.allocation.pot_loads import Load
from inventory.weeks.models import PlanDue
from inventory.weeks.reckoning import DyeRow
from recipes.dyeing.loads import split_loads
from recipes.lots.models import RedyePlan
from recipes.lots.redye import RedyeAsk, plan_redye
from recipes.models import MillLot


class CannotPlanLoads(Refused):
    """A row of the list has no way, no vessel or no colourway, or changed since it was shown."""


@transaction.atomic
def plan_loads(
    *, key: UUID, rows: Iterable[DyeRow], mill_lots: Sequence[MillLot], who: User
) -> list[RedyePlan]:
    """Plan the pots of these rows of the dye list: a redye plan for each day that loads are wanted by.

    Loads that the redye would split the same way are one plan, others a plan each, so that the pots are those of the list.
    The newest mill lot of the yarn that is in the store is taken. The same key again gives the plans of the first call.
    Raises CannotPlanLoads, and what `plan_redye` raises.
    """
    plans = []
    for row in rows:
        if row.by is None or row.vessel is None:
            raise CannotPlanLoads(
                f"{row.name} on {row.put_up} cannot be planned: there is no way of dyeing it, or no vessel."
            )
        by_day: dict[dt.date | None, list[Load]] = {}
        for load in row.to_dye.loads:
            by_day.setdefault(load.due, []).append(load)
        for due, loads in by_day.items():
            for number, group in enumerate(_as_split(row, loads)):
                ask = _ask(row, group, mill_lots)
                part = uuid5(key, f"{row.key} {due} {number}")
                plan = plan_redye(key=part, ask=ask, who=who)
                wants = {want.what: want for load in group for want in load.wants}
                PlanDue.objects.get_or_create(plan=plan, defaults={"due": due, "what_for": list(wants)})
                plans.append(plan)
    return plans


def _as_split(row: DyeRow, loads: Sequence[Load]) -> list[list[Load]]:
    """All loads as one plan where the redye splits them into just these, else each by itself."""
    if len(loads) == 1:
        return [list(loads)]
    ask = _ask(row, loads, ())
    split = split_loads(
        pieces=ask.pieces,
        piece_dry_milligrams=ask.piece_dry_milligrams,
        vessel_millilitres=ask.vessel.working_millilitres,
        liquor_ratio=ask.liquor_ratio,
    )
    same = sorted(load.pieces for load in split.loads) == sorted(load.pieces for load in loads)
    return [list(loads)] if same else [[load] for load in loads]


def _ask(row: DyeRow, loads: Sequence[Load], mill_lots: Sequence[MillLot]) -> RedyeAsk:
    assert row.by is not None
    assert row.vessel is not None
    fullest = max(load.pieces for load in loads) * row.put_up.nominal_milligrams
    # What the dyer puts into a vessel may ask for less bath than usual; the pot is never planned over its mark.
    most_tenths = row.vessel.working_millilitres * 10_000 // fullest
    return RedyeAsk(
        way=row.by.way,
        put_up=row.put_up,
        mill_lot=next((lot for lot in mill_lots if lot.base_id == row.put_up.base_id), None),
        pieces=sum(load.pieces for load in loads),
        piece_dry_milligrams=row.put_up.nominal_milligrams,
        vessel=row.vessel,
        liquor_ratio_tenths=max(1, min(row.ratio_tenths, most_tenths)),
    )
