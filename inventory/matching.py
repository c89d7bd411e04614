"""Pieces for one person that belong together: of one lot, else of lots that match by eye, else of as few as can be."""

from __future__ import annotations

from dataclasses import dataclass

from django.db import transaction
from django.db.models import Q
from django.utils import timezone

from dyehouse.ledger.models import Balance, Place
from dyehouse.ledger.places import FIXED_PLACES
from dyehouse.studio.models import User
from dyehouse.studio.refusals import Refused
from inventory.allocation.sets import Lying, leaders, sets
from inventory.models import LotMatch
from recipes.lots.models import DyeLot
from recipes.models import DyedYarn
from recipes.words import one_line

MOST_IN_A_SET = 200
LONGEST_WORDS = 300


class NotAMatch(Refused):
    """Two lots that cannot be said to match."""


class NotASet(Refused):
    """Fewer pieces are free than the set wants, or none is wanted."""


@dataclass(frozen=True, slots=True)
class FromLot:
    """So many pieces of one lot from one place."""

    row: Balance
    pieces: int


@dataclass(frozen=True, slots=True)
class Offer:
    """A set for one person. `groups` are the lots it takes from, those that match by eye as one."""

    taken: list[FromLot]
    groups: list[list[str]]

    @property
    def lots(self) -> list[str]:
        return sorted({each.row.lot.name for each in self.taken})

    @property
    def together(self) -> str:
        """How well it belongs together, in words."""
        if len(self.lots) == 1:
            return "All of one lot."
        if len(self.groups) == 1:
            return f"Of {len(self.lots)} lots that match by eye."
        return f"Of {len(self.groups)} lots that were not found to match: say so, or alternate skeins."


@transaction.atomic
def say_they_match(*, one: DyeLot, other: DyeLot, who: User, words: str = "") -> LotMatch:
    """Record that two lots match by eye; said before, it is that one. Raises NotAMatch for a lot and itself."""
    if one.pk == other.pk:
        raise NotAMatch("A lot matches itself. Choose another lot.")
    if one.colourway_id != other.colourway_id:
        raise NotAMatch(f"Lot {other.code} is of another colourway. Choose a lot of the same one.")
    first, second = sorted((one, other), key=lambda lot: lot.pk)
    match, _ = LotMatch.objects.get_or_create(
        first=first,
        second=second,
        taken_back_at=None,
        defaults={"words": one_line(words)[:LONGEST_WORDS], "said_at": timezone.now(), "by": who},
    )
    return match


@transaction.atomic
def take_match_back(*, match: LotMatch) -> LotMatch:
    """The lots do not match after all; that they were said to stays on record."""
    if match.taken_back_at is None:
        match.taken_back_at = timezone.now()
        match.save(update_fields=["taken_back_at"])
    return match


def matches_of(lot: DyeLot) -> list[LotMatch]:
    """The matches of a lot that hold, with both lots. One query."""
    return list(
        LotMatch.objects.filter(Q(first=lot) | Q(second=lot), taken_back_at__isnull=True)
        .select_related("first", "second", "by")
        .order_by("id")
    )


def offers(*, dyed: DyedYarn, pieces: int) -> list[Offer]:
    """Sets of so many free pieces, none of them a one-off, the best first: refusing one, the next in the list is the next best.

    One lot that is just enough comes first, larger ones after it, then lots that match by eye, then as few lots as can
    be. Two queries. Raises NotASet when fewer are free.
    """
    if not 1 <= pieces <= MOST_IN_A_SET:
        raise NotASet(f"A set has from 1 to {MOST_IN_A_SET} pieces.")
    rows = [
        row
        for row in Balance.objects.filter(
            item=dyed.item_id,
            place__kind__in=(Place.Kind.STAGE, Place.Kind.SHELF),
            place__order__gte=FIXED_PLACES["dry"].order,
            lot__dye_lot__own_name="",
        )
        .select_related("place", "lot__dye_lot", "item")
        .order_by("lot_id", "place__order", "place_id")
        if row.free
    ]
    free = sum(row.free for row in rows)
    if free < pieces:
        raise NotASet(f"{free} of these are free and {pieces} are wanted.")
    lots = {row.lot.dye_lot.pk: row.lot.dye_lot for row in rows}
    # A lot between two others may have sold out, and still makes them match.
    matches = LotMatch.objects.filter(
        taken_back_at__isnull=True, first__colourway__in={lot.colourway_id for lot in lots.values()}
    ).values_list("first", "second")
    leader = leaders(lots, matches)
    lying = [
        Lying(what=row, lot=row.lot_id, place=row.place_id, free=row.free, group=leader[row.lot.dye_lot.pk])
        for row in rows
    ]
    return [_offer(taken) for taken in sets(lying, pieces)]


def _offer(taken: list[tuple[Lying[Balance], int]]) -> Offer:
    groups: dict[int, list[str]] = {}
    for each, _ in taken:
        names = groups.setdefault(each.group, [])
        if each.what.lot.name not in names:
            names.append(each.what.lot.name)
    return Offer([FromLot(each.what, pieces) for each, pieces in taken], list(groups.values()))
