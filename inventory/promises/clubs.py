"""Clubs and their levels, and the rounds of a club until they are frozen."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, fields
from itertools import pairwise
from typing import Any

from django.db import transaction
from django.db.models import Max
from django.utils import timezone

from dyehouse.studio.refusals import Refused
from inventory.promises.models import (
    Club,
    Level,
    LevelExtra,
    LevelSlot,
    Round,
    RoundColourway,
    SlotPutUp,
)
from recipes.colourways import keep_secret
from recipes.models import Colourway, PutUp
from recipes.words import one_line

MOST_PIECES = 50
MOST_SPARES_PERCENT = 100


class NotAClub(Refused):
    """A club without a name, or with one that is taken."""


class NotALevel(Refused):
    """A level without a name, or with one that is taken."""


class SlotUnclear(Refused):
    """A slot of a level has no put-up, or two on one base."""


class NotARound(Refused):
    """A round without the words that everybody may read."""


class DaysOutOfOrder(Refused):
    """The days of a round do not follow each other."""


class ColourwaysFixed(Refused):
    """The round is frozen, so it keeps its colourways."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ClubFacts:
    """What is said of a club as a whole."""

    name: str
    every_months: int = 1
    most_members: int | None = None
    exclusive_months: int = 0
    not_again_months: int = 12
    note: str = ""


@dataclass(frozen=True, slots=True)
class SlotSaid:
    """One thing in a level's box: pieces of a put-up, or of the one among several that is on the member's base.

    `colourway_number` is which of the round's colourways; None for any.
    """

    put_ups: Sequence[PutUp]
    pieces: int = 1
    colourway_number: int | None = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class RoundFacts:
    """What is said of a round. Days follow each other: sign-ups open, close, payment is due, it ships."""

    called: str
    ships_on: dt.date
    theme: str = ""
    sign_up_opens: dt.date | None = None
    sign_up_closes: dt.date | None = None
    payment_due: dt.date | None = None
    secret_until: dt.datetime | None = None
    names_on_sealed_paper: bool = False
    insert_words: str = ""
    spares_percent: int = 5
    spares_until: dt.date | None = None
    colourways: Sequence[Colourway] = field(default_factory=tuple)


@transaction.atomic
def make_club(*, facts: ClubFacts, now: dt.datetime | None = None) -> Club:
    """Write a club down. Raises NotAClub."""
    return Club.objects.create(made_at=now or timezone.now(), **_club(facts))


@transaction.atomic
def change_club(*, club: Club, facts: ClubFacts) -> Club:
    """Write down what is true of a club now. Raises NotAClub."""
    for name, value in _club(facts, other_than=club).items():
        setattr(club, name, value)
    club.save()
    return club


def _club(facts: ClubFacts, other_than: Club | None = None) -> dict[str, Any]:
    kept = {each.name: getattr(facts, each.name) for each in fields(ClubFacts)}
    kept["name"] = one_line(facts.name)[:80]
    if not kept["name"]:
        raise NotAClub("Write what the club is called.")
    others = Club.objects.filter(name__iexact=kept["name"])
    if other_than is not None:
        others = others.exclude(pk=other_than.pk)
    if others.exists():
        raise NotAClub(f"There is a club called {kept['name']} already. Choose another name.")
    if facts.every_months < 1:
        raise NotAClub("A club sends a box every month or less often. Write 1 or more.")
    return kept


@transaction.atomic
def make_level(
    *,
    club: Club,
    name: str,
    slots: Sequence[SlotSaid],
    price_minor: int | None = None,
    extras: Iterable[str] = (),
) -> Level:
    """Write down what a membership can be for. Raises NotALevel, SlotUnclear."""
    called = _level_name(club, name)
    order = (club.levels.aggregate(last=Max("order"))["last"] or 0) + 1
    level = Level.objects.create(club=club, name=called, order=order, price_minor=price_minor)
    _fill_level(level, slots, extras)
    return level


@transaction.atomic
def change_level(
    *,
    level: Level,
    name: str,
    slots: Sequence[SlotSaid],
    price_minor: int | None = None,
    extras: Iterable[str] = (),
) -> Level:
    """Say afresh what a level holds, from the next round on: boxes that are made keep what they want.

    Raises NotALevel, SlotUnclear.
    """
    level.name = _level_name(level.club, name, other_than=level)
    level.price_minor = price_minor
    level.save(update_fields=["name", "price_minor"])
    level.slots.all().delete()
    level.extras.all().delete()
    _fill_level(level, slots, extras)
    return level


def _level_name(club: Club, name: str, other_than: Level | None = None) -> str:
    called = one_line(name)[:60]
    if not called:
        raise NotALevel("Write what the level is called.")
    others = club.levels.filter(name__iexact=called)
    if other_than is not None:
        others = others.exclude(pk=other_than.pk)
    if others.exists():
        raise NotALevel(f"{club} has a level called {called} already. Choose another name.")
    return called


def _fill_level(level: Level, slots: Sequence[SlotSaid], extras: Iterable[str]) -> None:
    if not slots:
        raise SlotUnclear("A level has at least one thing in its box: choose a put-up.")
    for number, slot in enumerate(slots, start=1):
        _refuse_unclear(number, slot)
        made = LevelSlot.objects.create(
            level=level, position=number, pieces=slot.pieces, colourway_number=slot.colourway_number
        )
        SlotPutUp.objects.bulk_create(SlotPutUp(slot=made, put_up=put_up) for put_up in slot.put_ups)
    words = [line for line in (one_line(extra)[:80] for extra in extras) if line]
    LevelExtra.objects.bulk_create(LevelExtra(level=level, words=each) for each in words)


def _refuse_unclear(number: int, slot: SlotSaid) -> None:
    if not slot.put_ups:
        raise SlotUnclear(f"Choose what position {number} comes on, at least one put-up.")
    bases = [put_up.base_id for put_up in slot.put_ups]
    twice = next((put_up for put_up in slot.put_ups if bases.count(put_up.base_id) > 1), None)
    if twice is not None:
        raise SlotUnclear(
            f"Position {number} has two put-ups on {twice.base}, so a member's base would not say which. "
            "Keep one, or make two levels of it."
        )
    if not 1 <= slot.pieces <= MOST_PIECES:
        raise SlotUnclear(f"Position {number} has from 1 to {MOST_PIECES} pieces.")


def next_round_number(club: Club) -> int:
    """The number of the first round that is not frozen yet, whether it is written down or not."""
    open_round = club.rounds.filter(frozen_at=None).order_by("number").first()
    if open_round is not None:
        return open_round.number
    return (club.rounds.aggregate(last=Max("number"))["last"] or 0) + 1


@transaction.atomic
def make_round(*, club: Club, facts: RoundFacts) -> Round:
    """Write down the next round of a club; its colourways are as secret as the round is.

    Raises NotARound, DaysOutOfOrder.
    """
    kept = _round(facts)
    number = (club.rounds.aggregate(last=Max("number"))["last"] or 0) + 1
    made = Round.objects.create(club=club, number=number, **kept)
    _put_colourways(made, facts.colourways)
    return made


@transaction.atomic
def change_round(*, round: Round, facts: RoundFacts) -> Round:
    """Write down what is true of a round now. Raises NotARound, DaysOutOfOrder, ColourwaysFixed once it is frozen."""
    kept = _round(facts)
    locked = Round.objects.select_for_update().select_related("club").get(pk=round.pk)
    before = list(locked.colourways.order_by("number").values_list("colourway", flat=True))
    wanted = [colourway.pk for colourway in facts.colourways]
    if locked.frozen_at is not None and before != wanted:
        raise ColourwaysFixed(
            "The round is frozen, so it keeps as many colourways as it had. One can be put in the place of another."
        )
    for name, value in kept.items():
        setattr(locked, name, value)
    locked.save(update_fields=list(kept))
    if before != wanted:
        locked.colourways.all().delete()
    _put_colourways(locked, facts.colourways, made=before == wanted)
    return locked


def _round(facts: RoundFacts) -> dict[str, Any]:
    kept = {each.name: getattr(facts, each.name) for each in fields(RoundFacts) if each.name != "colourways"}
    kept["called"] = one_line(facts.called)[:60]
    kept["theme"] = one_line(facts.theme)[:120]
    if not kept["called"]:
        raise NotARound("Write what everybody may call the round, such as its month.")
    if not 0 <= facts.spares_percent <= MOST_SPARES_PERCENT:
        raise NotARound(f"Spares are from 0 to {MOST_SPARES_PERCENT} percent of the pieces.")
    days = [
        ("sign-ups open", facts.sign_up_opens),
        ("sign-ups close", facts.sign_up_closes),
        ("payment is due", facts.payment_due),
        ("it ships", facts.ships_on),
    ]
    said = [(words, day) for words, day in days if day is not None]
    for (earlier, first), (later, second) in pairwise(said):
        if second < first:
            raise DaysOutOfOrder(
                f"The day on which {later} is before the day on which {earlier}. Put the days in order."
            )
    return kept


def _put_colourways(round: Round, colourways: Sequence[Colourway], *, made: bool = False) -> None:
    if len({colourway.pk for colourway in colourways}) < len(colourways):
        raise NotARound("The same colourway stands twice in this round. Choose each once.")
    if not made:
        RoundColourway.objects.bulk_create(
            RoundColourway(round=round, number=number, colourway=colourway)
            for number, colourway in enumerate(colourways, start=1)
        )
    until = round.secret_until
    for colourway in colourways:
        if until is not None and (colourway.secret_until is None or colourway.secret_until < until):
            keep_secret(colourway=colourway, until=until)
