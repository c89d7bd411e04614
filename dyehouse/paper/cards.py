"""The dye cards of planned pots, put together from what the pots were planned as."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import Any

from django.core.files.storage import default_storage
from django.utils import timezone

from dyehouse.paper.dye_card import (
    CardAddition,
    Difference,
    DyeCard,
    HeatPoint,
    LayPart,
    StockToMix,
    clock,
    working_lines,
)
from dyehouse.studio.models import Studio
from recipes.dyeing.temperatures import StepKind
from recipes.dyeing.units import format_millilitres
from recipes.lots.in_store import InStore
from recipes.lots.models import Photo, Pot, RedyePlan
from recipes.lots.redye import PlannedPot
from recipes.lots.redye_amounts import studio_bench
from recipes.lots.redye_queries import StepLine, ask_of, cautions_of, fibres_on, planned_pot, step_lines
from recipes.lots.redye_stocks import Ready, what_to_have_ready
from recipes.lots.redye_usual import lacking_in, sentence_of
from recipes.lots.today import Heating, Reference, heating_for, today_for, what_differs
from recipes.lots.untried import FROM_NOTES
from recipes.models import Rule, StockBottle
from recipes.way_words import coloured_lay
from recipes.ways import rules_of

UNDYED = "#E8E2D6"


def cards_of(
    plan: RedyePlan, pots: Sequence[Pot], *, all_pots: Sequence[Pot], studio: Studio
) -> list[DyeCard]:
    """One card for each of `pots`; `all_pots` are those of the plan, for what must stand ready for them together.

    The pots come with their loads and vessel, `plan` with its way, put-up and base. A card is open paper: a secret
    colourway stands on it by its code.
    """
    us = studio.units == Studio.Units.US
    ask = ask_of(plan)
    rules, bench, ratio = rules_of(plan.way), studio_bench(), ask.liquor_ratio
    today = today_for(ask, studio=studio)
    waiting = [pot for pot in all_pots if pot.state == "planned" or pot in pots]
    planned = {
        pot: planned_pot(pot, rules=rules, bench=bench, ratio=ratio, pieces_then=plan.way.pieces)
        for pot in waiting
    }
    ready = what_to_have_ready(list(planned.values()), today.store)
    reference = today.reference
    secret = plan.way.colourway.is_secret
    picture = _picture(reference.lot.pk) if reference is not None and not secret else None
    cards = []
    for pot in pots:
        this = planned[pot]
        heating = heating_for(ask, this, today, us=us)
        lines = step_lines(this.steps, us=us)
        cards.append(
            DyeCard(
                studio=studio.name,
                code=pot.code,
                colourway=plan.way.colourway.shown_name(None),
                base=f"{plan.put_up.base.name}, {_lot_words(plan)}",
                way=_way_words(plan),
                date=f"{timezone.localtime(plan.made_at):%d %B %Y}",
                pieces=this.load.pieces,
                dry_milligrams=this.load.dry_milligrams,
                vessel=pot.vessel.name if pot.vessel is not None else "",
                bath_microlitres=this.bath_microlitres,
                liquor_ratio=ratio,
                additions=_additions(lines),
                heat=_points(heating),
                heat_lines=_heat_lines(heating, us=us),
                heat_note=" ".join(
                    [*heating.programme.notes, *(rise.sentence for rise in heating.rises), heating.hob]
                ),
                stocks=_stocks(this, ready, pots=len(waiting), us=us),
                reference=reference.lot.code if reference is not None else "",
                differences=[
                    Difference(f"{row.what}: {row.now} instead of {row.then}.", row.effect)
                    for row in what_differs(ask, this, today, mixed_new=ready.mixed_new)
                ],
                presoak=f"{plan.way.presoak_minutes} min" if plan.way.presoak_minutes is not None else "",
                cooling=plan.way.cooling,
                **_lay(plan, pot, rules),
                look_for=_look_for(plan, reference, lacking_in(this.steps, fibres_on(ask, today))),
                number=_number(pot, all_pots),
                cautions=[caution.sentence for caution in cautions_of(this.steps, fibres_on(ask, today))],
                workings=_workings(this, lines),
                picture=picture,
                us_units=us,
                paper="Letter" if studio.country in ("US", "CA", "MX") else "A4",
            )
        )
    return cards


def _number(pot: Pot, all_pots: Sequence[Pot]) -> str:
    """Which of the redye's pots it is, those that were dropped not counted."""
    dyed = [each for each in all_pots if each.state != "dropped" or each == pot]
    return f"pot {dyed.index(pot) + 1} of {len(dyed)}" if len(dyed) > 1 else ""


_CLEARED = {
    "clear": "The bath was clear at the end.",
    "tinted": "The bath was still tinted at the end.",
    "coloured": "The bath was still coloured at the end.",
}


def _look_for(plan: RedyePlan, reference: Reference | None, lacking: str) -> list[str]:
    """What the way lacks, how the bath was left, and what the colour is held against."""
    found = [f"The way has no {lacking}. {sentence_of(lacking)} Ask before you begin."] if lacking else []
    if plan.way.cleared:
        found.append(_CLEARED[plan.way.cleared])
    against = []
    if reference is not None:
        against.append(f"lot {reference.lot.code}")
    if plan.way.colourway.snip and not plan.way.colourway.is_secret:
        against.append(f"the snip ({plan.way.colourway.snip})")
    if against:
        found.append(f"The colour is judged dry, in daylight, against {' or '.join(against)}.")
    else:
        found.append("The colour is judged dry, in daylight. There is no lot to hold it against yet.")
    return found


def _additions(lines: Sequence[StepLine]) -> list[CardAddition]:
    """What goes in and what is to be done; the temperatures stand in the programme."""
    return [
        CardAddition(
            what=line.what,
            minute=line.minute,
            words=line.amount,
            how=line.how,
            note=" ".join(
                part for part in (f"{line.depth} deep." if line.depth else "", line.step.warning) if part
            ),
        )
        for line in lines
        if line.step.rule is None or line.step.rule.kind != Rule.Kind.TEMPERATURE
    ]


def _stocks(this: PlannedPot, ready: Ready, *, pots: int, us: bool) -> list[StockToMix]:
    """What this pot takes of each stock, and what there is to do for all pots together."""
    alone = what_to_have_ready([this], InStore())
    together = {(stock.dye, stock.strength_mg_per_litre): stock for stock in ready.stocks}
    found = []
    for mine in alone.stocks:
        all_of_it = together[mine.dye, mine.strength_mg_per_litre]
        to_do = all_of_it.to_do
        if all_of_it.suffices:
            to_do = f"{to_do} {_which_bottles(all_of_it.bottles)}"
        if pots > 1:
            needed = format_millilitres(all_of_it.needed_microlitres, us=us)
            to_do = f"All {pots} pots want {needed}. {to_do}"
        found.append(StockToMix(mine.name, mine.needed_microlitres, all_of_it.left_microlitres, to_do))
    return found


def _which_bottles(bottles: Sequence[StockBottle]) -> str:
    """How the bottles are told apart on the bench: the day each was made and its jar."""
    words = []
    for bottle in bottles:
        made = timezone.localtime(bottle.made_at)
        jar = f" from {bottle.jar.label}" if bottle.jar is not None else ""
        words.append(f"made {made.day} {made:%B}{jar}")
    return f"It is the one {words[0]}." if len(words) == 1 else f"They are: {'; '.join(words)}."


def _workings(this: PlannedPot, lines: Sequence[StepLine]) -> tuple[str, ...]:
    """How the bath and each amount came about, up to what the scale or cylinder is asked for."""
    amounts = [(line.what, line.workings[:-1] or line.workings) for line in lines if line.workings]
    return working_lines([("Bath", (this.load.bath.working,)), *amounts])


def _way_words(plan: RedyePlan) -> str:
    """Which way it is dyed by: whose it is where the base has none of its own, and that nobody dyed by it yet."""
    words = f"way {plan.way.number}"
    if plan.way.base_id != plan.put_up.base_id:
        words = f"{words} of {plan.way.base.name}"
    return f"{words}, {FROM_NOTES}" if getattr(plan, "way_untried", False) else words


def _lot_words(plan: RedyePlan) -> str:
    return f"mill lot {plan.mill_lot.number}" if plan.mill_lot is not None else "mill lot not known"


def _lay(plan: RedyePlan, pot: Pot, rules: Sequence[Rule]) -> dict[str, Any]:
    """The sections of the pot, or the whole length where only words say how it lies; those of a secret one are undyed."""
    way, secret = plan.way, plan.way.colourway.is_secret
    lay = coloured_lay(pot.lay_plan, rules)
    if lay is None:
        if not (way.lay or way.colourway.chips):
            return {}
        chip = "" if secret or not way.colourway.chips else way.colourway.chips[0]
        return {"lay": [LayPart(100, chip or UNDYED, way.lay or "the whole length")]}
    said = {section.name: (section, length) for section, length in lay.described}
    parts = []
    for span in lay.spans():
        section, length = said.get(span.name, (None, None))
        extent = "the rest" if section is None or section.is_rest else section.extent
        if length is not None and (section is None or section.millimetres is None):
            extent = f"{extent} ({length.working.result})"
        parts.append(
            LayPart(
                share_percent=max(1, round(span.share * 100)),
                chip=UNDYED if secret or not span.colour else span.colour,
                label=span.words or ("" if span.name else "left undyed"),
                name=span.name,
                extent=extent,
            )
        )
    return {"lay": parts, "folded": lay.folded, "lay_words": way.lay}


def _picture(lot_id: int) -> bytes | None:
    photo = Photo.objects.filter(dye_lot=lot_id).order_by("-taken_at", "-id").first()
    if photo is None or not default_storage.exists(photo.thumbnail):
        return None
    with default_storage.open(photo.thumbnail) as file:
        content: bytes = file.read()
    return content


def _heat_lines(heating: Heating, *, us: bool) -> list[tuple[str, str]]:
    """The programme in words, each step with the pot's clock at which it begins as long as that is known."""
    minute = heating.starts_at
    lines = []
    for step in heating.programme.steps:
        table = " (from a table)" if step.from_table else ""
        lines.append((clock(None if minute is None else int(minute)), f"{step.in_words(us=us)}{table}."))
        if step.minutes is None and step.kind is not StepKind.START:
            minute = None
        elif minute is not None:
            minute += step.minutes or 0
    return lines


def _points(heating: Heating) -> list[HeatPoint]:
    """The programme as the corners of a line on the pot's clock, as far as the times are known."""
    minute = heating.starts_at or Fraction(0)
    points: list[HeatPoint] = []
    for step in heating.programme.steps:
        start, end = step.from_centi_celsius, step.to_centi_celsius
        if start is None or end is None or (step.minutes is None and step.kind is not StepKind.START):
            break
        if not points:
            points.append(HeatPoint(int(minute), start))
        if step.minutes:
            minute += step.minutes
            points.append(HeatPoint(int(minute), end))
    return points
