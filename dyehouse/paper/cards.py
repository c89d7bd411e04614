"""The dye cards of planned pots, put together from what the pots were planned as."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from django.core.files.storage import default_storage
from django.utils import timezone

from dyehouse.paper.dye_card import (
    CardAddition,
    Difference,
    DyeCard,
    HeatPoint,
    LayPart,
    StockToMix,
    working_lines,
)
from dyehouse.studio.models import Studio
from recipes.dyeing.programme import Programme
from recipes.dyeing.temperatures import Step
from recipes.lots.models import Photo, Pot, RedyePlan
from recipes.lots.redye_amounts import studio_bench
from recipes.lots.redye_queries import ask_of, cautions_of, planned_pot, step_lines
from recipes.lots.redye_stocks import what_to_have_ready
from recipes.lots.today import heating_for, today_for, what_differs
from recipes.models import Rule
from recipes.ways import rules_of

# Where the log does not say how long a step took, the drawing still needs a length; the words say that it is not known.
UNKNOWN_MINUTES = 20
UNDYED = "#E8E2D6"


def cards_of(plan: RedyePlan, pots: Sequence[Pot], *, studio: Studio) -> list[DyeCard]:
    """One card a pot. `pots` come with their loads, vessel and colourway; `plan` with its way, put-up and base.

    A card is open paper: a secret colourway stands on it by its code.
    """
    us = studio.units == Studio.Units.US
    ask = ask_of(plan)
    rules, bench, ratio = rules_of(plan.way), studio_bench(), ask.liquor_ratio
    today = today_for(ask)
    reference = today.reference
    picture = (
        _picture(reference.lot.pk) if reference is not None and not plan.way.colourway.is_secret else None
    )
    cards = []
    for pot in pots:
        planned = planned_pot(pot, rules=rules, bench=bench, ratio=ratio)
        heating = heating_for(ask, planned, today)
        lines = step_lines(planned.steps, us=us)
        cards.append(
            DyeCard(
                studio=studio.name,
                code=pot.code,
                colourway=plan.way.colourway.shown_name(None),
                base=f"{plan.put_up.base.name}, {_lot_words(plan)}",
                way=f"Way {plan.way.number}",
                date=f"{timezone.localtime(plan.made_at):%d %B %Y}",
                pieces=planned.load.pieces,
                dry_milligrams=planned.load.dry_milligrams,
                vessel=pot.vessel.name if pot.vessel is not None else "",
                bath_microlitres=planned.bath_microlitres,
                liquor_ratio=ratio,
                additions=[
                    CardAddition(
                        what=line.what,
                        minute=line.minute,
                        milligrams=line.step.milligrams,
                        microlitres=line.step.microlitres,
                        words=line.amount
                        if line.step.milligrams is None and line.step.microlitres is None
                        else "",
                        how=line.how,
                        note=" ".join(
                            part
                            for part in (f"{line.depth} deep." if line.depth else "", line.step.warning)
                            if part
                        ),
                    )
                    for line in lines
                    if line.step.rule is None or line.step.rule.kind != Rule.Kind.TEMPERATURE
                ],
                heat=_points(heating.programme),
                heat_note=" ".join([*heating.programme.notes, *(rise.sentence for rise in heating.rises)]),
                stocks=[
                    StockToMix(stock.name, stock.needed_microlitres, stock.left_microlitres, stock.to_do)
                    for stock in what_to_have_ready([planned], today.store).stocks
                ],
                reference=reference.lot.code if reference is not None else "",
                differences=[
                    Difference(f"{row.what}: {row.now} instead of {row.then}", row.effect)
                    for row in what_differs(ask, planned, today)
                ],
                presoak=f"{plan.way.presoak_minutes} min" if plan.way.presoak_minutes is not None else "",
                cooling=plan.way.cooling,
                lay=_lay(plan),
                lay_words=pot.lay or plan.way.lay,
                cautions=[caution.sentence for caution in cautions_of(planned.steps)],
                workings=working_lines([working for line in lines for working in line.workings[:1]]),
                picture=picture,
                us_units=us,
                paper="Letter" if studio.country in ("US", "CA", "MX") else "A4",
            )
        )
    return cards


def _lot_words(plan: RedyePlan) -> str:
    return f"mill lot {plan.mill_lot.number}" if plan.mill_lot is not None else "mill lot not known"


def _lay(plan: RedyePlan) -> list[LayPart]:
    """One whole length: sections are drawn where a way names them."""
    if not (plan.way.lay or plan.way.colourway.chips):
        return []
    chips = plan.way.colourway.chips if not plan.way.colourway.is_secret else []
    return [LayPart(100, chips[0] if chips else UNDYED, plan.way.lay or "the whole length")]


def _picture(lot_id: int) -> bytes | None:
    photo = Photo.objects.filter(dye_lot=lot_id).order_by("-taken_at", "-id").first()
    if photo is None or not default_storage.exists(photo.thumbnail):
        return None
    with default_storage.open(photo.thumbnail) as file:
        content: bytes = file.read()
    return content


def _points(programme: Programme) -> list[HeatPoint]:
    """The programme as the corners of a line, minutes from its start."""
    minute = Fraction(0)
    points: list[HeatPoint] = []
    for step in programme.steps:
        start, end = _ends(step, points)
        if start is None or end is None:
            continue
        if not points:
            points.append(HeatPoint(0, start))
        if step.kind != "start":
            minute += step.minutes if step.minutes is not None else UNKNOWN_MINUTES
            points.append(HeatPoint(int(minute), end))
    return points


def _ends(step: Step, points: Sequence[HeatPoint]) -> tuple[int | None, int | None]:
    before = points[-1].centi_celsius if points else None
    start = step.from_centi_celsius if step.from_centi_celsius is not None else before
    end = step.to_centi_celsius if step.to_centi_celsius is not None else start
    return (start if start is not None else end), end
