"""The invented studio's shows: a fair that was counted back, and a market to come that is begun to be packed."""

from __future__ import annotations

from datetime import datetime, time, timedelta

from django.db.models import F
from django.utils import timezone

from dyehouse.demo.book import demo_key
from dyehouse.ledger.models import Balance, Place
from dyehouse.studio.models import User
from inventory.shows.closing import back_state, close, count_back, say_sold
from inventory.shows.packing import Taking, pack, pack_list, take
from inventory.shows.planning import keep_normal_numbers, plan_show
from inventory.shows.tallying import note_takings
from inventory.shows.things import OF_A_THING, ONE_OFFS, Sort, SortKind, sort_of
from recipes.models import Colourway, DyedYarn

PAST, COMING = "Tarn Mill Wool Fair", "Spring at the Slate Barn"
SORTS = 12
FAIR_ROWS = 12
A_DAY = timedelta(days=1)


def go_to_shows(*, now: datetime, owner: User, helper: User) -> None:
    """Normal numbers of what there is most of; a fair nine days ago, there and back; a market in twelve days."""
    keep_normal_numbers(numbers=_numbers(), who=owner)
    _there_and_back(now=now, owner=owner, helper=helper)
    day = timezone.localdate(now)
    coming = plan_show(
        name=COMING,
        where="The Slate Barn, Holmbeck",
        starts_on=day + 12 * A_DAY,
        ends_on=day + 13 * A_DAY,
        note="Stand 14, set up from eight",
        who=owner,
        now=now - 20 * A_DAY,
    )
    for row in pack_list(coming, user=owner).rows[:3]:
        pack(show=coming, item=row.item, lot=row.lot, place=row.place, pieces=row.pieces, who=helper)


def _numbers() -> dict[Sort, int]:
    """One more than there is of what lies most of on the shelves; two of each kit, two seconds of a base, two one-offs."""
    free: dict[Sort, int] = {}
    rows = Balance.objects.filter(place__kind=Place.Kind.SHELF, on_hand__gt=F("held"))
    for row in rows.select_related(*OF_A_THING).order_by("pk"):
        sort = sort_of(row.item, row.lot)
        if sort is not None:
            free[sort] = free.get(sort, 0) + row.free
    known = set(
        Colourway.objects.filter(secret_until__isnull=True).exclude(name="").values_list("pk", flat=True)
    )
    yarns = [sort for sort in free if sort.kind == SortKind.YARN and sort.first in known]
    yarns.sort(key=lambda sort: (-free[sort], sort.first, sort.second))
    numbers = {sort: min(6, free[sort] + 1) for sort in yarns[:SORTS]}
    numbers |= {sort: 2 for sort in free if sort.kind == SortKind.KIT}
    numbers |= dict.fromkeys([each for each in free if each.kind == SortKind.SECONDS][:1], 2)
    return {**numbers, ONE_OFFS: 2}


def _there_and_back(*, now: datetime, owner: User, helper: User) -> None:
    """A fair of two days: most came back, of every third sort some are missing, of one nobody can tell."""
    first_day = timezone.localdate(now) - 9 * A_DAY
    fair = plan_show(
        name=PAST,
        where="Tarn Mill",
        starts_on=first_day,
        ends_on=first_day + A_DAY,
        who=owner,
        now=now - 60 * A_DAY,
    )
    morning = timezone.make_aware(datetime.combine(first_day, time(7, 10)))
    # What has lain on its shelf since before that morning, so that the past agrees with itself.
    lay_there = (
        Balance.objects.filter(
            place__kind=Place.Kind.SHELF,
            item__dyed__grade=DyedYarn.Grade.GOOD,
            on_hand__gt=F("held"),
            last_line__movement__happened_at__lt=morning,
        )
        .select_related("item", "lot", "place")
        .order_by("-on_hand", "pk")[:FAIR_ROWS]
    )
    take(
        key=demo_key("fair", "taken"),
        show=fair,
        takings=[Taking(row.item, row.lot, row.place, row.free) for row in lay_there],
        who=helper,
        happened_at=morning,
    )
    items = back_state(fair, user=owner).items
    for number, item in enumerate(items):
        back = 0
        for row in item.rows:
            count = row.taken // 2 if row.taken > 1 else number % 2
            count_back(show=fair, item=row.item, lot=row.lot, pieces=count, who=helper)
            back += count
        gone = item.taken - back
        if number != 1:
            say_sold(show=fair, thing=item.thing, pieces=gone - (number % 3 == 2 and gone > 1), who=owner)
    close(
        key=demo_key("fair", "back"),
        show=fair,
        who=owner,
        why="not in the till’s list; the last hour was busy",
        now=morning + A_DAY + timedelta(hours=12),
    )
    note_takings(show=fair, minor=61_250, currency="EUR", who=owner)
