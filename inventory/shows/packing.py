"""What to take to a show: the normal numbers, where it lies, what is short; and the touch that takes it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.db import transaction
from django.db.models import QuerySet
from django.utils import timezone

from dyehouse.ledger.models import Balance, Item, Line, Lot, Movement, Place
from dyehouse.ledger.operations import Bucket, Step, post, reverse
from dyehouse.studio.codes import tidy
from dyehouse.studio.models import User
from dyehouse.studio.refusals import Refused
from inventory.shows.models import Closing, Load, Packed, Show
from inventory.shows.planning import MOST_PIECES, normal_numbers
from inventory.shows.things import (
    OF_A_THING,
    Named,
    Sort,
    lying_free,
    named_number,
    named_sort,
    named_thing,
    sort_of,
    sort_of_number,
)
from recipes.words import one_line

LONGEST_REASON = 300


class NotTaken(Refused):
    """Nothing is taken, or what is taken is not there."""


class ShowIsOver(Refused):
    """The show was counted back already, or was called off."""


class NotSoMany(Refused):
    """More are packed than are free in a place."""


@dataclass(frozen=True, slots=True)
class PackRow:
    """Free pieces of one lot in one place: how many the list asks for, and how many were packed of them."""

    place: Place
    item: Item
    lot: Lot
    named: Named
    free: int
    suggested: int
    packed: int | None = None
    asked: bool = False

    @property
    def field(self) -> str:
        return f"n_{self.item.pk}_{self.lot.pk}_{self.place.pk}"

    @property
    def pieces(self) -> int:
        """How many go along if nothing else is typed."""
        return self.suggested if self.packed is None else self.packed


@dataclass(frozen=True, slots=True)
class SortLine:
    """One sort on the list: its normal number, what is taken and listed of it, and what is short."""

    sort: Sort | None
    named: Named
    normal: int
    taken: int
    listed: int
    free: int
    held: int

    @property
    def short(self) -> int:
        return max(0, self.normal - self.taken - self.listed)


@dataclass(frozen=True, slots=True)
class PackList:
    """The list in shelf order, what it comes to sort by sort, and what else of a code that was asked for could go along."""

    rows: list[PackRow]
    sorts: list[SortLine]
    asked: str = ""
    elsewhere: tuple[PackRow, ...] = ()

    @property
    def places(self) -> list[tuple[Place, list[PackRow]]]:
        """The rows place by place, in the order one walks along the shelves."""
        by_place: dict[int, tuple[Place, list[PackRow]]] = {}
        for row in self.rows:
            by_place.setdefault(row.place.pk, (row.place, []))[1].append(row)
        return list(by_place.values())

    @property
    def pieces(self) -> int:
        return sum(row.pieces for row in self.rows)

    @property
    def short(self) -> list[SortLine]:
        return [line for line in self.sorts if line.short]

    @property
    def asked_is_here(self) -> bool:
        return any(row.asked for row in self.rows)


What = tuple[int, int, int]


def pack_list(show: Show, *, user: User | None, code: str = "") -> PackList:
    """What to take to a show of what is free now, less what was taken already. Five queries, however many rows.

    Of each sort as few lots as can be are packed, and larger lots stay whole. Held pieces are not offered. `code` marks
    the rows of that lot or kit, or offers what of it is free though nobody asked for it.
    """
    numbers = {sort_of_number(each): each for each in normal_numbers()}
    taken, words = _taken_by_sort(show, user)
    packed = _packed(show)
    asked = tidy(code)[:20]
    by_sort: dict[Sort | None, list[Balance]] = {}
    held: dict[Sort | None, int] = {}
    for balance in lying_free():
        sort = sort_of(balance.item, balance.lot)
        by_sort.setdefault(sort, []).append(balance)
        held[sort] = held.get(sort, 0) + balance.held
        words.setdefault(sort, named_sort(balance.item, balance.lot, user))
    rows: list[PackRow] = []
    elsewhere: list[PackRow] = []
    lines: list[SortLine] = []
    sorts: list[Sort | None] = list(dict.fromkeys([*numbers, *taken, *by_sort]))
    for sort in sorts:
        number = numbers.get(sort) if sort is not None else None
        normal = number.pieces if number is not None else 0
        listed = _rows(by_sort.get(sort, []), max(0, normal - taken.get(sort, 0)), packed, user, asked)
        on_list = [row for row in listed if row.pieces or row.packed is not None]
        rows += on_list
        elsewhere += [row for row in listed if row.asked and row not in on_list]
        if number is None and not on_list and not taken.get(sort):
            continue
        lines.append(
            SortLine(
                sort=sort,
                named=named_number(number, user) if number is not None else words[sort],
                normal=normal,
                taken=taken.get(sort, 0),
                listed=sum(row.pieces for row in on_list),
                free=sum(row.free for row in by_sort.get(sort, [])),
                held=held.get(sort, 0),
            )
        )
    rows.sort(key=_shelf_order)
    lines.sort(key=lambda line: line.named.order)
    found = PackList(rows, lines, asked)
    if not asked or found.asked_is_here:
        return found
    return PackList(rows, lines, asked, tuple(sorted(elsewhere, key=_shelf_order)))


def _shelf_order(row: PackRow) -> tuple[bool, str, int, tuple[str, str], str]:
    """Shelf by shelf by name, then what is still on its way there."""
    on_shelf = row.place.kind == Place.Kind.SHELF
    return (not on_shelf, row.place.name.casefold(), row.place.pk, row.named.order, row.lot.name)


def _rows(
    balances: Sequence[Balance], wanted: int, packed: Mapping[What, int], user: User | None, asked: str
) -> list[PackRow]:
    left = wanted - sum(packed.get((each.item_id, each.lot_id, each.place_id), 0) for each in balances)
    open_rows = [each for each in balances if (each.item_id, each.lot_id, each.place_id) not in packed]
    suggested = _few_lots(open_rows, max(0, left))
    return [
        PackRow(
            place=each.place,
            item=each.item,
            lot=each.lot,
            named=named_thing(each.item, each.lot, user),
            free=each.free,
            suggested=suggested.get(each.pk, 0),
            packed=packed.get((each.item_id, each.lot_id, each.place_id)),
            asked=each.lot.name == asked,
        )
        for each in balances
    ]


def _few_lots(balances: Sequence[Balance], wanted: int) -> dict[int, int]:
    """How many of each balance (by id): one lot that is just enough, else from the largest on."""
    by_lot: dict[int, list[Balance]] = {}
    for each in balances:
        by_lot.setdefault(each.lot_id, []).append(each)
    sizes = {lot: sum(each.free for each in rows) for lot, rows in by_lot.items()}
    chosen: dict[int, int] = {}
    while wanted and sizes:
        enough = [lot for lot, size in sizes.items() if size >= wanted]
        lot = (
            min(enough, key=lambda one: (sizes[one], one))
            if enough
            else max(sizes, key=lambda one: (sizes[one], -one))
        )
        del sizes[lot]
        for each in by_lot[lot]:
            took = min(wanted, each.free)
            if took:
                chosen[each.pk] = took
                wanted -= took
    return chosen


def _packed(show: Show) -> dict[What, int]:
    """The numbers typed since the last load was taken, by item, lot and place."""
    rows = Packed.objects.filter(show=show).order_by("id")
    last = standing_loads(show).order_by("-taken_at").values_list("taken_at", flat=True).first()
    if last is not None:
        rows = rows.filter(packed_at__gt=last)
    return {(each.item_id, each.lot_id, each.place_id): each.pieces for each in rows}


def standing_loads(show: Show) -> QuerySet[Load]:
    """The loads of a show that were not taken back."""
    return Load.objects.filter(show=show, movement__reversed_by__isnull=True)


def lines_taken(show: Show) -> list[Line]:
    """The ledger lines of everything that was taken to a show and not taken back, in their order. One query."""
    return list(
        Line.objects.filter(movement__in=standing_loads(show).values("movement"))
        .select_related("lot", "from_place", *OF_A_THING)
        .order_by("id")
    )


def _taken_by_sort(show: Show, user: User | None) -> tuple[dict[Sort | None, int], dict[Sort | None, Named]]:
    taken: dict[Sort | None, int] = {}
    words: dict[Sort | None, Named] = {}
    for line in lines_taken(show):
        sort = sort_of(line.item, line.lot)
        taken[sort] = taken.get(sort, 0) + line.quantity
        words.setdefault(sort, named_sort(line.item, line.lot, user))
    return taken, words


def refuse_what_is_over(show: Show) -> Show:
    """The show, locked; ShowIsOver once it was counted back or called off."""
    locked = Show.objects.select_for_update().select_related("place").get(pk=show.pk)
    if locked.called_off_at is not None:
        raise ShowIsOver(f"{locked.name} was called off.")
    if Closing.objects.filter(show=locked, movement__reversed_by__isnull=True).exists():
        raise ShowIsOver(f"{locked.name} was counted back already. Open it again first.")
    return locked


@transaction.atomic
def pack(*, show: Show, item: Item, lot: Lot, place: Place, pieces: int, who: User) -> Packed:
    """Note how many of a row are packed; nothing moves yet. Packing it again replaces that. Raises NotSoMany, ShowIsOver."""
    locked = refuse_what_is_over(show)
    if not 0 <= pieces <= MOST_PIECES:
        raise NotSoMany(f"Write a whole number from 0 to {MOST_PIECES}.")
    row = Balance.objects.filter(item=item, lot=lot, place=place).first()
    free = row.free if row is not None else 0
    if pieces > free:
        raise NotSoMany(_too_many(free, place))
    return Packed.objects.create(
        show=locked, item=item, lot=lot, place=place, pieces=pieces, packed_at=timezone.now(), by=who
    )


def _too_many(free: int, place: Place) -> str:
    are = "is" if free == 1 else "are"
    return f"Only {free} {are} free in {place.name} by the book. If more lie there, count the place first."


@dataclass(frozen=True, slots=True)
class Taking:
    """So many pieces of a lot from a place."""

    item: Item
    lot: Lot
    place: Place
    pieces: int


@transaction.atomic
def take(
    *,
    key: UUID,
    show: Show,
    takings: Iterable[Taking],
    who: User,
    happened_at: datetime | None = None,
) -> Load:
    """Everything packed goes to the show at once: from now on it is there, and free nowhere else.

    The same key again gives the first load. Raises NotTaken, ShowIsOver, and the ledger's NotEnough when a piece is not
    free any more.
    """
    first = Load.objects.filter(movement__key=key).first()
    if first is not None:
        return first
    locked = refuse_what_is_over(show)
    chosen = [each for each in takings if each.pieces]
    if not chosen:
        raise NotTaken("Pack at least one piece.")
    there = Bucket(locked.place)
    for each in chosen:
        if each.place.kind not in (Place.Kind.STAGE, Place.Kind.SHELF):
            raise NotTaken(f"What is in {each.place.name} cannot be taken from there.")
    movement = post(
        key=key,
        who=who,
        steps=[Step(each.item, each.lot, each.pieces, Bucket(each.place), there) for each in chosen],
        why=f"To {locked.name}",
        source=f"show:{locked.pk}",
        happened_at=happened_at,
    )
    return Load.objects.create(show=locked, movement=movement, taken_at=happened_at or timezone.now(), by=who)


@transaction.atomic
def not_taken(*, key: UUID, load: Load, who: User, why: str) -> Movement:
    """A load was not taken after all: everything of it lies where it lay, with a reason. The same key again changes nothing.

    Raises ShowIsOver, and the ledger's ReasonMissing and AlreadyReversed.
    """
    first = Movement.objects.filter(key=key).first()
    if first is not None:
        return first
    refuse_what_is_over(load.show)
    return reverse(movement=load.movement, key=key, who=who, why=one_line(why)[:LONGEST_REASON])


def free_rows(*, user: User | None) -> list[PackRow]:
    """Everything free that could be packed, asked for or not. One query."""
    return [
        PackRow(each.place, each.item, each.lot, named_thing(each.item, each.lot, user), each.free, 0)
        for each in lying_free()
    ]
