"""A show is written down, put right or called off; and the numbers that usually go to one."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import Any

from django.db import transaction
from django.utils import timezone

from dyehouse.ledger.models import Balance, Place
from dyehouse.studio.models import User
from dyehouse.studio.refusals import Refused
from inventory.shows.models import Closing, NormalNumber, Show
from inventory.shows.things import Sort, SortKind, sort_of_number
from recipes.words import one_line

SHOW_ORDER = 250
LONGEST_NAME = 50
LONGEST_NOTE = 300
MOST_PIECES = 9_999


class NotAShow(Refused):
    """A show without a name."""


class WrongDays(Refused):
    """A show that ends before it starts."""


class NotEmpty(Refused):
    """What was taken to a show has not come back."""


class NotANumber(Refused):
    """A normal number that is none."""


@transaction.atomic
def plan_show(
    *,
    name: str,
    starts_on: dt.date,
    ends_on: dt.date | None = None,
    where: str = "",
    note: str = "",
    who: User,
    now: dt.datetime | None = None,
) -> Show:
    """Write a show down, with a place in the ledger for what will be taken. Raises NotAShow, WrongDays."""
    called, until = _checked(name, starts_on, ends_on)
    place = Place.objects.create(
        kind=Place.Kind.SHOW,
        code=f"show-{Place.objects.filter(kind=Place.Kind.SHOW).count() + 1}",
        name=_place_name(called),
        order=SHOW_ORDER,
    )
    return Show.objects.create(
        name=called,
        where=one_line(where)[:80],
        starts_on=starts_on,
        ends_on=until,
        note=one_line(note)[:LONGEST_NOTE],
        place=place,
        made_at=now or timezone.now(),
        made_by=who,
    )


@transaction.atomic
def change_show(
    *,
    show: Show,
    name: str,
    starts_on: dt.date,
    ends_on: dt.date | None = None,
    where: str = "",
    note: str = "",
) -> Show:
    """Put right what is known of a show. Raises NotAShow, WrongDays."""
    show.name, show.ends_on = _checked(name, starts_on, ends_on)
    show.starts_on, show.where, show.note = starts_on, one_line(where)[:80], one_line(note)[:LONGEST_NOTE]
    show.save(update_fields=["name", "starts_on", "ends_on", "where", "note"])
    Place.objects.filter(pk=show.place_id).update(name=_place_name(show.name))
    return show


@transaction.atomic
def call_off(*, show: Show) -> Show:
    """The show does not take place, or not with us; nothing of ours may be there. Again changes nothing. Raises NotEmpty."""
    show = Show.objects.select_for_update().get(pk=show.pk)
    if show.called_off_at is not None:
        return show
    if Balance.objects.filter(place=show.place_id, on_hand__gt=0).exists():
        raise NotEmpty(f"Yarn is at {show.name} by the book. Count it back first.")
    if Closing.objects.filter(show=show, movement__reversed_by__isnull=True).exists():
        raise NotEmpty(f"{show.name} is over and counted. It stays on record.")
    show.called_off_at = timezone.now()
    show.save(update_fields=["called_off_at"])
    return show


def _checked(name: str, starts_on: dt.date, ends_on: dt.date | None) -> tuple[str, dt.date]:
    called = one_line(name)[:LONGEST_NAME]
    if not called:
        raise NotAShow("Write what the show is called.")
    until = ends_on or starts_on
    if until < starts_on:
        raise WrongDays("It ends before it starts. Write the last day as the later one.")
    return called, until


def _place_name(name: str) -> str:
    return f"{name} (show)"


def normal_numbers() -> list[NormalNumber]:
    """All normal numbers, ready to be named. One query."""
    return list(
        NormalNumber.objects.select_related("colourway", "put_up__base", "kit", "seconds_of").order_by("id")
    )


@transaction.atomic
def keep_normal_numbers(*, numbers: Mapping[Sort, int], who: User) -> int:
    """Keep how many of each sort usually go to a show; 0 forgets it. Those not named stay. How many changed is given back.

    Raises NotANumber.
    """
    if any(not 0 <= pieces <= MOST_PIECES for pieces in numbers.values()):
        raise NotANumber(f"A normal number is a whole number from 0 to {MOST_PIECES}.")
    known = {sort_of_number(each): each for each in NormalNumber.objects.select_for_update()}
    changed = 0
    for sort, pieces in numbers.items():
        before = known.get(sort)
        if (before.pieces if before is not None else 0) == pieces:
            continue
        changed += 1
        if before is None:
            NormalNumber.objects.create(pieces=pieces, said_at=timezone.now(), by=who, **_of(sort))
        elif pieces:
            before.pieces, before.said_at, before.by = pieces, timezone.now(), who
            before.save(update_fields=["pieces", "said_at", "by"])
        else:
            before.delete()
    return changed


def _of(sort: Sort) -> dict[str, Any]:
    if sort.kind == SortKind.YARN:
        return {"colourway_id": sort.first, "put_up_id": sort.second}
    if sort.kind == SortKind.KIT:
        return {"kit_id": sort.first}
    return {"seconds_of_id": sort.first} if sort.kind == SortKind.SECONDS else {}
