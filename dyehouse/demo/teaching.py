"""The ways of dyeing that the pots of the invented year teach, and the few that were corrected since."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime, timedelta

from dyehouse.demo.telling import Told
from dyehouse.studio.models import User
from recipes.lots.contents import add_up
from recipes.lots.learning import facts_of
from recipes.lots.models import WayOrigin
from recipes.lots.proposing import PotToLearnFrom, propose_rules
from recipes.models import Rule, WayOfDyeing
from recipes.ways import RuleDraft, depart, drafts_of, keep_way

EVERY_SO_MANY = 18
OLD_ENOUGH = timedelta(days=60)


def write_way(told: Told, at: datetime, who: User) -> WayOfDyeing:
    """The way of dyeing that a pot of the invented year teaches, each addition by what its kind suggests."""
    base = told.put_up.base
    contents = add_up(loads=[told.load], entries=told.entries)
    pot = PotToLearnFrom.of(base=base, loads=[told.load], contents=contents)
    way = keep_way(
        colourway=told.row.colourway,
        base=base,
        rules=[rule.draft for rule in propose_rules(told.entries, pot)],
        facts=facts_of(told.row, contents),
        who=who,
        made_at=at,
    )
    WayOrigin.objects.create(way=way, pot=told.row)
    return way


def correct_some(ways: Iterable[WayOfDyeing], *, now: datetime, who: User) -> None:
    """Now and then a way is corrected in the last days: deeper, hotter, or with the acid later."""
    old = [way for way in ways if way.made_at < now - OLD_ENOUGH][::EVERY_SO_MANY]
    for number, way in enumerate(old):
        why, changed = CORRECTIONS[number % len(CORRECTIONS)]
        depart(
            way=way,
            rules=sorted(map(changed, drafts_of(way)), key=lambda draft: draft.minute or 0),
            why=why,
            who=who,
            made_at=now - timedelta(days=1 + number, hours=2),
        )


def _deeper(draft: RuleDraft) -> RuleDraft:
    if draft.kind != Rule.Kind.DYE or draft.thousandths is None:
        return draft
    return replace(draft, thousandths=draft.thousandths * 105 // 100)


def _hotter(draft: RuleDraft) -> RuleDraft:
    if draft.centi_celsius is None or draft.centi_celsius < 7_000:
        return draft
    return replace(draft, centi_celsius=draft.centi_celsius + 400)


def _acid_later(draft: RuleDraft) -> RuleDraft:
    if draft.kind != Rule.Kind.AUXILIARY or draft.minute is None:
        return draft
    return replace(draft, minute=draft.minute + 10)


CORRECTIONS = (
    ("Came out a touch lighter twice running", _deeper),
    ("Struck in patches: the acid can wait", _acid_later),
    ("The bath did not clear", _hotter),
)
