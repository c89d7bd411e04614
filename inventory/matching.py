"""Pieces for one person that belong together: of one lot, else of lots that match by eye, else of as few as can be."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.db import transaction
from django.db.models import Q
from django.utils import timezone

from dyehouse.ledger.models import Balance, Place
from dyehouse.ledger.places import FIXED_PLACES
from dyehouse.studio.models import User
from dyehouse.studio.refusals import Refused
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
    """Sets of so many free pieces, the best first: refusing one, the next in the list is the next best.

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
        )
        .select_related("place", "lot__dye_lot", "item")
        .order_by("lot_id", "place__order", "place_id")
        if row.free
    ]
    free = sum(row.free for row in rows)
    if free < pieces:
        raise NotASet(f"{free} of these are free and {pieces} are wanted.")
    lots = {row.lot.dye_lot.pk: row.lot.dye_lot for row in rows}
    groups = _groups(rows, lots)
    found = [
        *_of_one_lot(rows, pieces),
        *_of_one_group(groups, pieces),
        *_of_few_groups(groups, pieces),
    ]
    # The first set of each choice of lots; a dictionary keeps their order.
    first: dict[tuple[str, ...], Offer] = {}
    for each in found:
        first.setdefault(tuple(each.lots), each)
    return list(first.values())


def _of_one_lot(rows: Sequence[Balance], pieces: int) -> list[Offer]:
    by_lot: dict[int, list[Balance]] = {}
    for row in rows:
        by_lot.setdefault(row.lot_id, []).append(row)
    enough = [each for each in by_lot.values() if _free(each) >= pieces]
    return [_take([each], pieces) for each in sorted(enough, key=lambda each: (_free(each), each[0].lot_id))]


def _of_one_group(groups: Sequence[list[Balance]], pieces: int) -> list[Offer]:
    enough = [each for each in groups if _free(each) >= pieces]
    return [_take([each], pieces) for each in sorted(enough, key=lambda each: (_free(each), each[0].lot_id))]


def _of_few_groups(groups: Sequence[list[Balance]], pieces: int) -> list[Offer]:
    """From the largest on, which takes the fewest; each next one leaves the largest so far out."""
    ordered = sorted(groups, key=lambda each: (-_free(each), each[0].lot_id))
    found = []
    for start in range(len(ordered)):
        rest = ordered[start:]
        if sum(_free(each) for each in rest) < pieces:
            break
        found.append(_take(rest, pieces))
    return found


def _take(groups: Iterable[list[Balance]], pieces: int) -> Offer:
    taken: list[FromLot] = []
    used: list[list[str]] = []
    for group in groups:
        names: list[str] = []
        # The largest lot of a group first, so that a set is of few lots.
        sizes: dict[int, int] = {}
        for row in group:
            sizes[row.lot_id] = sizes.get(row.lot_id, 0) + row.free
        for row in sorted(group, key=lambda row: (-sizes[row.lot_id], row.lot_id, row.place_id)):
            took = min(pieces, row.free)
            if took:
                taken.append(FromLot(row, took))
                pieces -= took
                if row.lot.name not in names:
                    names.append(row.lot.name)
        if names:
            used.append(names)
    return Offer(taken, used)


def _free(rows: Iterable[Balance]) -> int:
    return sum(row.free for row in rows)


def _groups(rows: Sequence[Balance], lots: dict[int, DyeLot]) -> list[list[Balance]]:
    """The rows by lots that match by eye: whatever matches something matches all of its group."""
    leader = {pk: pk for pk in lots}

    def lead(pk: int) -> int:
        while leader[pk] != pk:
            pk = leader[pk]
        return pk

    # A lot between two others may have sold out, and still makes them match.
    for first, second in LotMatch.objects.filter(
        taken_back_at__isnull=True, first__colourway__in={lot.colourway_id for lot in lots.values()}
    ).values_list("first", "second"):
        leader.setdefault(first, first)
        leader.setdefault(second, second)
        leader[lead(first)] = lead(second)
    groups: dict[int, list[Balance]] = {}
    for row in rows:
        groups.setdefault(lead(row.lot.dye_lot.pk), []).append(row)
    return list(groups.values())
