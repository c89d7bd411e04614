"""The invented studio at this very moment: pots in work, through the same functions that the pages call."""

from __future__ import annotations

import random
from datetime import datetime, timedelta

from django.utils import timezone

from dyehouse.demo.book import demo_key
from dyehouse.demo.outcome import Outcome
from dyehouse.demo.stocking import Store
from dyehouse.studio.models import User, Vessel
from recipes.colourways import keep_secret
from recipes.dyeing.lay import lay_from_rows
from recipes.lots.finishing import out_of_pot
from recipes.lots.laying import keep_lay
from recipes.lots.log import keep_line, keep_step
from recipes.lots.models import PlannedStep, RedyePlan
from recipes.lots.pots import load_planned, start_trial
from recipes.lots.redye import RedyeAsk, plan_redye

# (vessel, base, grams, pieces, minutes ago, lines as typed with the minutes after loading)
TRIALS: tuple[tuple[str, str, int, int, int, tuple[tuple[int, str], ...]], ...] = (
    ("Jam pot", "Plainsong Silk Blend", 100, 3, 420, (
        (3, "7.5 l water"), (5, "heat on"), (10, "24 ml rose 1%"), (12, "6 ml plum 1%"), (18, "4.5 g citric acid"),
        (50, "80 C"), (85, "clear!"), (90, "heat off"))),
    ("Big blue", "Harrow Sock", 100, 4, 95, (
        (2, "10 l water"), (5, "heat on"), (9, "40 ml teal 1%"), (11, "12 ml olive 1%"), (16, "6 g citric acid"),
        (40, "82 C"), (52, "+5 ml navy 1%"), (70, "ph 4.5"), (85, "hold 30 min"))),
    ("Old steel", "Ferry DK", 100, 3, 60, (
        (2, "7.5 l water"), (4, "heat on"), (8, "70 ml marigold 1%"), (10, "4 ml brick 1%"), (30, "no acid yet"),
        (38, "4.5 g citric acid"))),
    ("Long pan", "Tall Merino Single", 100, 2, 24, (
        (1, "2 l water"), (3, "heat on low"), (9, "jar 311.42 311.05 neon pink"), (12, "3 pinches of black on top"),
        (14, "paint A 40 ml rose 1%"), (16, "paint B 30 ml teal 1%"), (18, "wrap in film"), (21, "steam 30 min"))),
)  # fmt: skip
# The morning's trial came out some hours ago and is drying.
EMPTIED, EMPTIED_MINUTES_AGO = "Jam pot", 180
# What lies flat in the pan is painted in sections: name, how far along the hank, words.
LIES = {"Long pan": (("A", "1/3", "strong"), ("B", "1/2", ""), ("C", "rest", "left pale"))}
# The first pot of the planned redye was begun just now.
BEGUN_MINUTES_AGO, STEPS_DONE = 12, 2


def bring_up_to_today(
    *, now: datetime, chance: random.Random, owner: User, helper: User, store: Store, outcome: Outcome
) -> None:
    """A trial out since noon, three in work since then and one of them held, a redye begun by the helper, and one colourway
    secret for three weeks more.

    More marigold goes into one of them than its bottle held by the book, so that something is found short.
    """
    for number, (vessel_name, base, grams, pieces, ago, lines) in enumerate(TRIALS):
        who = helper if number == 2 else owner
        loaded = now - timedelta(minutes=ago)
        put_up = store.put_ups[base, grams]
        pot = start_trial(
            key=demo_key("trial", vessel_name),
            put_up=put_up,
            mill_lot=store.yarn[put_up.pk][-1][0],
            pieces=pieces,
            dry_milligrams=None,
            vessel=Vessel.objects.get(name=vessel_name),
            colourway=None,
            who=who,
            happened_at=loaded,
        )
        if vessel_name in LIES:
            keep_lay(
                pot=pot,
                lay=lay_from_rows(
                    ((name, extent, words, "") for name, extent, words in LIES[vessel_name]),
                    folded=False,
                    circumference_millimetres=put_up.base.hank_circumference_millimetres,
                ),
                key=demo_key("lay", vessel_name),
                who=who,
                said_at=loaded,
            )
        for minute, typed in lines:
            at = loaded + timedelta(minutes=minute)
            keep_line(
                pot=pot,
                key=demo_key("trial", vessel_name, minute),
                typed=typed,
                who=who,
                clock=at,
                now=max(at, timezone.now()),
            )
        if vessel_name == EMPTIED:
            out_of_pot(
                key=demo_key("trial-out", vessel_name),
                pot=pot,
                bath="clear",
                who=who,
                happened_at=now - timedelta(minutes=EMPTIED_MINUTES_AGO),
            )
    newest = outcome.pots[-30].row.colourway
    keep_secret(colourway=newest, until=now + timedelta(days=21))
    told = outcome.references[
        "Quince Paste", min(base for name, base in outcome.references if name == "Quince Paste")
    ]
    plan = plan_redye(
        key=demo_key("plan", "Quince Paste"),
        ask=RedyeAsk(
            way=outcome.ways[told.what],
            put_up=told.put_up,
            mill_lot=store.yarn[told.put_up.pk][-1][0],
            pieces=8,
            piece_dry_milligrams=told.put_up.nominal_milligrams,
            vessel=Vessel.objects.get(name="Short one"),
            liquor_ratio_tenths=250,
        ),
        who=owner,
    )
    _begin(plan, now=now, who=helper)


def _begin(plan: RedyePlan, *, now: datetime, who: User) -> None:
    """The first pot of a plan is loaded by the helper, and its first steps are done as planned, at their minutes."""
    pot = plan.pots.order_by("pk")[0]
    loaded = now - timedelta(minutes=BEGUN_MINUTES_AGO)
    load_planned(
        key=demo_key("begun", "Quince Paste"),
        pot=pot,
        mill_lot=None,
        dry_milligrams=None,
        who=who,
        happened_at=loaded,
    )
    steps = (
        PlannedStep.objects.filter(pot=pot).select_related("rule__dye", "rule__auxiliary").order_by("number")
    )
    for step in steps[:STEPS_DONE]:
        keep_step(
            pot=pot,
            step=step,
            key=demo_key("begun", "Quince Paste", step.number),
            who=who,
            happened_at=loaded + timedelta(minutes=step.minute or 0),
        )
