"""Boxes of days: how each day stands, which boxes it is in, and what the leftovers tell after packing."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from django.db import transaction
from django.utils import timezone

from dyehouse.ledger.models import Balance, Held, Line, Place
from dyehouse.studio.models import User
from dyehouse.studio.refusals import Refused
from inventory.allocation import advents
from inventory.allocation.advents import BoxesStanding, Day, LaidOut, Leftovers, boxes_standing, runs
from inventory.allocation.wants import AllocationError
from inventory.models import KitPart
from inventory.promises.models import Box, LaidDay, Offer
from recipes.models import DyedYarn

Kind = tuple[int, int]


class CannotLayOut(Refused):
    """A day cannot be laid out so; nothing changed."""


@dataclass(frozen=True, slots=True)
class DayRow:
    """One day of the boxes: what it is, how it stands, and which boxes it is in."""

    part: KitPart
    name: str
    day: Day
    needed: int
    missing: int
    laid: LaidOut

    @property
    def boxes_inside(self) -> str:
        return runs(self.laid.inside) if self.laid.inside else "none yet"

    @property
    def boxes_without(self) -> str:
        return runs(frozenset(self.laid.without))


@dataclass(frozen=True, slots=True)
class DaysPage:
    """All days of one choice of a product."""

    offer: Offer
    boxes: list[Box]
    rows: list[DayRow]
    standing: BoxesStanding

    @property
    def scarcest(self) -> list[DayRow]:
        return [row for row in self.rows if row.day.number in self.standing.scarcest]

    @property
    def laid_out(self) -> int:
        return sum(row.laid.complete for row in self.rows)


def days_page(offer: Offer, *, user: User | None) -> DaysPage:
    """How the days of a choice stand. At most eight queries, however many days and boxes there are.

    A day's good pieces are those free anywhere in the house, those held for these boxes, and those that went with them.
    """
    boxes = boxes_in_order(offer)
    parts = _parts(offer)
    counts = _counts({(part.colourway_id, part.put_up_id) for part in parts}, offer)
    inside = _inside(offer)
    days = []
    # A colourway that stands for two days shares its pieces: the earlier day has them first.
    used: dict[Kind, int] = defaultdict(int)
    for part in parts:
        kind = (part.colourway_id, part.put_up_id)
        dyed, good = counts[kind]
        wanted = len(boxes) * part.pieces
        later = (
            sum(each.pieces for each in parts if (each.colourway_id, each.put_up_id) == kind) > part.pieces
        )
        mine = min(wanted, max(0, good - used[kind])) if later else max(0, good - used[kind])
        used[kind] += mine
        days.append(
            Day(
                number=part.position,
                dyed=mine + max(0, dyed - good),
                good=mine,
                wrapped=min(mine, len(inside[part.position]) * part.pieces),
                each=part.pieces,
            )
        )
    standing = boxes_standing(boxes=len(boxes), days=days)
    rows = [
        DayRow(
            part=part,
            name=part.colourway.shown_name(user),
            day=each.day,
            needed=each.needed,
            missing=each.missing,
            laid=LaidOut(
                day=part.position,
                boxes=len(boxes),
                inside=inside[part.position],
                without=tuple(n for n in range(1, len(boxes) + 1) if n not in inside[part.position]),
            ),
        )
        for part, each in zip(parts, standing.days, strict=True)
    ]
    return DaysPage(offer, boxes, rows, standing)


def boxes_in_order(offer: Offer) -> list[Box]:
    """The boxes of a choice, by which they are numbered from 1. Withdrawn ones have no number."""
    return list(
        Box.objects.filter(order_line__offer=offer, withdrawn_at=None)
        .select_related("receiver")
        .order_by("pk")
    )


def _parts(offer: Offer) -> list[KitPart]:
    if offer.kit is None:
        return []
    return list(offer.kit.parts.select_related("colourway", "put_up__base").order_by("position"))


def _counts(kinds: Iterable[Kind], offer: Offer) -> dict[Kind, tuple[int, int]]:
    """By colourway and put-up: pieces dyed that are here or went with these boxes, and the good ones that boxes may have."""
    wanted = list(kinds)
    dyed: dict[Kind, int] = defaultdict(int)
    good: dict[Kind, int] = defaultdict(int)
    rows = Balance.objects.filter(
        item__dyed__colourway__in=[colourway for colourway, _ in wanted],
        item__dyed__put_up__in=[put_up for _, put_up in wanted],
        place__kind__in=(Place.Kind.STAGE, Place.Kind.SHELF),
        on_hand__gt=0,
    )
    for colourway, put_up, grade, on_hand, held in rows.values_list(
        "item__dyed__colourway", "item__dyed__put_up", "item__dyed__grade", "on_hand", "held"
    ):
        dyed[colourway, put_up] += on_hand
        if grade == DyedYarn.Grade.GOOD:
            good[colourway, put_up] += on_hand - held
    mine = {"claim__box__order_line__offer": offer, "quantity__gt": 0, "item__dyed__isnull": False}
    for colourway, put_up, pieces in Held.objects.filter(**mine).values_list(
        "item__dyed__colourway", "item__dyed__put_up", "quantity"
    ):
        good[colourway, put_up] += pieces
    gone = Line.objects.filter(
        from_claim__box__order_line__offer=offer, to_place__code="customer", item__dyed__isnull=False
    )
    for colourway, put_up, pieces in gone.values_list(
        "item__dyed__colourway", "item__dyed__put_up", "quantity"
    ):
        good[colourway, put_up] += pieces
        dyed[colourway, put_up] += pieces
    return {kind: (dyed[kind], good[kind]) for kind in wanted}


def _inside(offer: Offer) -> dict[int, frozenset[int]]:
    found: dict[int, frozenset[int]] = defaultdict(frozenset)
    for row in LaidDay.objects.filter(offer=offer).order_by("pk"):
        found[row.day] = frozenset(row.inside)
    return found


@transaction.atomic
def lay_out(
    *, offer: Offer, day: int, first: int, last: int, who: User, but_not: Sequence[int] = ()
) -> LaidDay:
    """A day is in the boxes from `first` to `last`, but not in some. Raises CannotLayOut."""
    Offer.objects.select_for_update().get(pk=offer.pk)
    page = days_page(offer, user=who)
    row = next((row for row in page.rows if row.day.number == day), None)
    if row is None:
        raise CannotLayOut(f"There is no day {day} in these boxes.")
    try:
        laid = advents.lay_out(
            day=day,
            boxes=len(page.boxes),
            first=first,
            last=last,
            but_not=but_not,
            before=row.laid.inside,
            pieces=row.day.good,
            each=row.day.each,
        )
    except AllocationError as amiss:
        raise CannotLayOut(str(amiss)) from None
    return _keep(offer, day, laid.inside, who)


@transaction.atomic
def take_out(*, offer: Offer, day: int, boxes: Sequence[int], who: User) -> LaidDay:
    """A day is not in some boxes after all. Raises CannotLayOut for boxes that it is not in."""
    Offer.objects.select_for_update().get(pk=offer.pk)
    inside = _inside(offer)[day]
    missing = sorted(set(boxes) - inside)
    if not boxes or missing:
        raise CannotLayOut(
            f"Day {day} is not in box {missing[0]}." if missing else "Write which boxes it is not in."
        )
    return _keep(offer, day, inside - set(boxes), who)


def _keep(offer: Offer, day: int, inside: frozenset[int], who: User) -> LaidDay:
    return LaidDay.objects.create(offer=offer, day=day, inside=sorted(inside), at=timezone.now(), by=who)


def leftovers(page: DaysPage, counted: Mapping[int, int]) -> Leftovers:
    """What the counted leftovers of each day tell: counted less (good less packed) is 0 where all boxes are right."""
    return advents.check_leftovers(
        good={row.day.number: row.day.good for row in page.rows},
        packed={row.day.number: len(row.laid.inside) * row.day.each for row in page.rows},
        counted=counted,
    )
