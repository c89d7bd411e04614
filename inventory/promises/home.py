"""The first page of promises: what is promised by its day, what asks something, and what is to be packed."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from dataclasses import dataclass

from django.db.models import Count, Q
from django.utils import timezone

from inventory.promises.addresses import has_address
from inventory.promises.boxes import due_on
from inventory.promises.club_queries import Standing, next_of, with_stand
from inventory.promises.models import Box, Club, Membership, Parcel, Round
from inventory.promises.told import what_it_is

ROUNDS_SHOWN_FOR = dt.timedelta(days=60)


@dataclass(frozen=True, slots=True)
class RoundLine:
    """A round that has not all gone: its boxes wanted, held, packed, gone."""

    round: Round
    standing: Standing
    next: str
    late: bool


@dataclass(frozen=True, slots=True)
class DueLine:
    """What else is promised by a day: an order or a product, with its boxes and how they stand."""

    due: dt.date | None
    what: str
    address: str
    standing: Standing
    late: bool


@dataclass(frozen=True, slots=True)
class Home:
    """The page."""

    rounds: list[RoundLine]
    others: list[DueLine]
    clubs: list[Club]
    failed: int
    without_address: int
    to_pack: int

    @property
    def is_empty(self) -> bool:
        return not (self.rounds or self.others or self.clubs)


def home_page() -> Home:
    """What is promised, soonest first. Four queries."""
    today = timezone.localdate()
    rounds = list(
        Round.objects.filter(Q(frozen_at=None) | Q(ships_on__gte=today - ROUNDS_SHOWN_FOR))
        .select_related("club")
        .order_by("ships_on", "pk")
    )
    wanted = Q(round__in=rounds) | Q(round=None)
    boxes = with_stand(Box.objects.filter(wanted, withdrawn_at=None)).select_related(
        "receiver", "replaces", "order_line__order", "order_line__offer__product"
    )
    of_round: dict[int, list[Box]] = defaultdict(list)
    others: list[Box] = []
    for box in boxes:
        if box.round_id is not None:
            of_round[box.round_id].append(box)
        elif box.parcel_state != Parcel.State.GONE:  # type: ignore[attr-defined]
            others.append(box)
    lines = [_line(each, of_round[each.pk], today) for each in rounds]
    shown = [line for line in lines if not line.standing.all_gone]
    going = [box for line in shown for box in of_round[line.round.pk]]
    return Home(
        rounds=shown,
        others=_others(others, today),
        clubs=list(
            Club.objects.filter(retired_at=None)
            .annotate(
                going_on=Count("memberships", filter=Q(memberships__state=Membership.State.ACTIVE)),
                waits=Count("memberships", filter=Q(memberships__state=Membership.State.WAITING)),
            )
            .order_by("name")
        ),
        failed=sum(line.standing.failed for line in shown),
        without_address=sum(not has_address(box.receiver) for box in going),
        to_pack=Parcel.objects.filter(state=Parcel.State.OPEN).count(),
    )


def _line(round: Round, boxes: list[Box], today: dt.date) -> RoundLine:
    standing = Standing.of(boxes)
    return RoundLine(
        round, standing, next_of(round, today), late=round.ships_on < today and not standing.all_gone
    )


def _others(boxes: list[Box], today: dt.date) -> list[DueLine]:
    """What is promised by orders and products, put together by what it is and its day, the soonest first."""
    gathered: dict[tuple[dt.date | None, str, str], list[Box]] = defaultdict(list)
    for box in boxes:
        gathered[due_on(box), *what_it_is(box)].append(box)
    lines = [
        DueLine(due, what, address, Standing.of(there), late=due is not None and due < today)
        for (due, what, address), there in gathered.items()
    ]
    return sorted(lines, key=lambda line: (line.due is None, line.due or today, line.what))


@dataclass(frozen=True, slots=True)
class OfTheDay:
    """What the day's page says of promises: the round that ships next, what it asks, and the parcels to pack."""

    round: Round | None
    to_go: int
    failed: int
    without_address: int
    to_pack: int


def of_the_day() -> OfTheDay:
    """The next round that has not all gone, in three queries."""
    today = timezone.localdate()
    gone = Q(boxes__parcel_boxes__parcel__state=Parcel.State.GONE, boxes__parcel_boxes__taken_out_at=None)
    coming = (
        Round.objects.filter(Q(frozen_at=None) | Q(ships_on__gte=today - ROUNDS_SHOWN_FOR))
        .annotate(
            there=Count("boxes", filter=Q(boxes__withdrawn_at=None), distinct=True),
            on_their_way=Count("boxes", filter=Q(boxes__withdrawn_at=None) & gone, distinct=True),
        )
        .select_related("club")
        .order_by("ships_on", "pk")
    )
    first = next((each for each in coming if each.frozen_at is None or each.on_their_way < each.there), None)
    boxes = Box.objects.filter(round=first, withdrawn_at=None) if first is not None else Box.objects.none()
    rows = list(with_stand(boxes).select_related("receiver"))
    return OfTheDay(
        round=first,
        to_go=first.there - first.on_their_way if first is not None else 0,
        failed=Standing.of(rows).failed,
        without_address=sum(not has_address(box.receiver) for box in rows),
        to_pack=Parcel.objects.filter(state=Parcel.State.OPEN).count(),
    )
