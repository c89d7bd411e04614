"""What pages ask of the ledger: what is where, what is free, what happened to a lot, what was there on a day.

Each is a fixed number of queries, however many rows there are. Quantities are whole pieces, milligrams or microlitres,
as the item's unit says.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any, TypeVar

from django.db import connection
from django.db.models import Exists, F, OuterRef, Q, QuerySet, Sum
from django.db.models.functions import Coalesce
from django.utils import timezone

from dyehouse.ledger.models import AgreedCount, Balance, Claim, Held, Item, Line, Lot, Movement, Place

Rows = TypeVar("Rows", bound=QuerySet[Any])


@dataclass(frozen=True, slots=True)
class Amount:
    """So much lies there, and so much of it is held."""

    on_hand: int = 0
    held: int = 0

    @property
    def free(self) -> int:
        return self.on_hand - self.held


@dataclass(frozen=True, slots=True)
class StockRow:
    """What lies at one place of one item and lot, and when it last changed."""

    place: Place
    item: Item
    lot: Lot
    on_hand: int
    held: int
    last_moved_at: datetime
    last_movement_id: int

    @property
    def free(self) -> int:
        return self.on_hand - self.held


@dataclass(frozen=True, slots=True)
class HistoryRow:
    """One line of the past: what went from where to where, when, by whom and why."""

    movement: Movement
    item: Item
    lot: Lot
    quantity: int
    from_place: Place
    from_claim: Claim | None
    to_place: Place
    to_claim: Claim | None
    found: bool
    taken_back: bool

    @property
    def happened_at(self) -> datetime:
        return self.movement.happened_at


@dataclass(frozen=True, slots=True)
class FoundRow:
    """What was used without being on the books, and brought in on the spot."""

    item: Item
    lot: Lot
    place: Place
    quantity: int
    happened_at: datetime
    source: str
    movement: Movement


def amount(*, item: Item, lot: Lot, place: Place) -> Amount:
    """On hand and held of one item and lot at one place: one indexed read."""
    row = Balance.objects.filter(place=place, item=item, lot=lot).values_list("on_hand", "held").first()
    return Amount(*row) if row is not None else Amount()


def free(*, item: Item, lot: Lot, place: Place) -> int:
    """How much of one item and lot is free at one place: one indexed read."""
    return amount(item=item, lot=lot, place=place).free


def amounts_by_item(
    items: Iterable[Item | int], *, place_codes: Collection[str] | None = None
) -> dict[int, Amount]:
    """On hand and held of each item (by its id) over all its lots, at all real places or those named. One query."""
    rows = Balance.objects.filter(item__in=[_id(item) for item in items], on_hand__gt=0)
    if place_codes is not None:
        rows = rows.filter(place__code__in=place_codes)
    sums = rows.values("item").annotate(on_hand_sum=Sum("on_hand"), held_sum=Sum("held"))
    return {row["item"]: Amount(row["on_hand_sum"], row["held_sum"]) for row in sums}


def amounts_by_lot(
    lots: Iterable[Lot | int], *, place_codes: Collection[str] | None = None
) -> dict[int, Amount]:
    """On hand and held of each lot (by its id) over all its items, at all real places or those named. One query.

    For lots of one unit only, such as jars and bottles: it adds what is there, whatever it is.
    """
    rows = Balance.objects.filter(lot__in=[_id(lot) for lot in lots], on_hand__gt=0)
    if place_codes is not None:
        rows = rows.filter(place__code__in=place_codes)
    sums = rows.values("lot").annotate(on_hand_sum=Sum("on_hand"), held_sum=Sum("held"))
    return {row["lot"]: Amount(row["on_hand_sum"], row["held_sum"]) for row in sums}


def stock(
    *,
    place_codes: Collection[str] | None = None,
    place_kinds: Collection[str] | None = None,
    kinds: Collection[str] | None = None,
    items: Iterable[Item | int] | None = None,
    lots: Iterable[Lot | int] | None = None,
) -> list[StockRow]:
    """What lies where, above zero: by place along the way, then by item and lot. One query.

    Each argument narrows it: codes or kinds of places, kinds of items, items, lots.
    """
    rows = Balance.objects.filter(on_hand__gt=0)
    if place_codes is not None:
        rows = rows.filter(place__code__in=place_codes)
    if place_kinds is not None:
        rows = rows.filter(place__kind__in=place_kinds)
    if kinds is not None:
        rows = rows.filter(item__kind__in=kinds)
    if items is not None:
        rows = rows.filter(item__in=[_id(item) for item in items])
    if lots is not None:
        rows = rows.filter(lot__in=[_id(lot) for lot in lots])
    rows = rows.select_related("place", "item", "lot", "last_line__movement").order_by(
        "place__order", "place_id", "item_id", "lot_id"
    )
    return [
        StockRow(
            place=row.place,
            item=row.item,
            lot=row.lot,
            on_hand=row.on_hand,
            held=row.held,
            last_moved_at=row.last_line.movement.happened_at,
            last_movement_id=row.last_line.movement_id,
        )
        for row in rows
    ]


def held_for(claim: Claim) -> list[Held]:
    """What a claim holds, above zero, with place, item and lot. One query."""
    return list(
        Held.objects.filter(claim=claim, quantity__gt=0)
        .select_related("place", "item", "lot")
        .order_by("place__order", "item_id", "lot_id")
    )


def as_of(
    when: datetime,
    *,
    place_codes: Collection[str] | None = None,
    kinds: Collection[str] | None = None,
) -> dict[tuple[int, int, int], Amount]:
    """On hand and held at a moment, by (place, item, lot) ids, without what was zero. One query.

    It starts from today's balances and takes back the lines of movements that happened later, so that it counts things
    at the moment they are said to have happened, whenever they were entered. ValueError for a naive time.
    """
    if timezone.is_naive(when):
        raise ValueError("when is an aware time.")
    balances = Balance.objects.filter(on_hand__gt=0)
    # As subqueries rather than joins: SQLite then reads the later movements' lines only, not every line.
    lines = Line.objects.filter(movement__in=Movement.objects.filter(happened_at__gt=when).values("pk"))
    outside = Place.objects.filter(kind=Place.Kind.BOUNDARY).values("pk")
    if kinds is not None:
        balances = balances.filter(item__kind__in=kinds)
        lines = lines.filter(item__kind__in=kinds)
    there = _at(balances, "place", place_codes).values_list(
        "place_id", "item_id", "lot_id", "on_hand", "held"
    )
    ends = (
        _at(lines, f"{end}_place", place_codes)
        .exclude(**{f"{end}_place__in": outside})
        .values_list(f"{end}_place_id", "item_id", "lot_id")
        .annotate(
            all=sign * Sum("quantity"),
            claimed=sign * Coalesce(Sum("quantity", filter=Q(**{f"{end}_claim__isnull": False})), 0),
        )
        for end, sign in (("from", 1), ("to", -1))
    )
    sql, values = there.union(*ends, all=True).query.sql_with_params()
    # Summed where it lies: most of what happened later came and went, and is not worth handing over.
    with connection.cursor() as cursor:
        cursor.execute(
            f"SELECT place_id, item_id, lot_id, SUM(on_hand), SUM(held) FROM ({sql}) AS ends "  # noqa: S608
            "GROUP BY place_id, item_id, lot_id HAVING SUM(on_hand) <> 0 OR SUM(held) <> 0",
            values,
        )
        rows = cursor.fetchall()
    return {(place, item, lot): Amount(int(on_hand), int(held)) for place, item, lot, on_hand, held in rows}


def history(*, lot: Lot | None = None, item: Item | None = None, limit: int = 200) -> list[HistoryRow]:
    """The lines of a lot, an item or both, newest first (by entry, not by clock). One query."""
    lines = Line.objects.all()
    if lot is not None:
        lines = lines.filter(lot=lot)
    if item is not None:
        lines = lines.filter(item=item)
    lines = _whole(lines).annotate(reversal=F("movement__reversed_by")).order_by("-id")[:limit]
    return [
        HistoryRow(
            movement=line.movement,
            item=line.item,
            lot=line.lot,
            quantity=line.quantity,
            from_place=line.from_place,
            from_claim=line.from_claim,
            to_place=line.to_place,
            to_claim=line.to_claim,
            found=line.number <= line.movement.found_count,
            taken_back=line.reversal is not None,
        )
        for line in lines
    ]


def found_at_the_pot(*, since: datetime | None = None, limit: int = 200) -> list[FoundRow]:
    """What was used without being on the books and not taken back, newest first; `since` by when it happened. One query.

    A later count of the same item and lot settles it, whether it differed from the book or agreed: it is no longer listed.
    """
    counted = Line.objects.filter(
        Q(from_place__code="count_difference", number__gt=F("movement__found_count"))
        | Q(to_place__code="count_difference"),
        item=OuterRef("item"),
        lot=OuterRef("lot"),
        id__gt=OuterRef("id"),
        movement__reverses__isnull=True,
    )
    agreed = AgreedCount.objects.filter(
        item=OuterRef("item"), lot=OuterRef("lot"), recorded_at__gte=OuterRef("movement__recorded_at")
    )
    movements = Movement.objects.filter(found_count__gt=0, reversed_by__isnull=True)
    if since is not None:
        movements = movements.filter(happened_at__gte=since)
    lines = Line.objects.filter(
        ~Exists(counted),
        ~Exists(agreed),
        movement__in=movements.values("pk"),
        number__lte=F("movement__found_count"),
    )
    return [
        FoundRow(
            item=line.item,
            lot=line.lot,
            place=line.to_place,
            quantity=line.quantity,
            happened_at=line.movement.happened_at,
            source=line.movement.source,
            movement=line.movement,
        )
        for line in _whole(lines).order_by("-id")[:limit]
    ]


def _id(record: Item | Lot | int) -> int:
    return record if isinstance(record, int) else record.pk


def _at(rows: Rows, place: str, codes: Collection[str] | None) -> Rows:
    return rows if codes is None else rows.filter(**{f"{place}__code__in": codes})


def _whole(lines: QuerySet[Line]) -> QuerySet[Line]:
    return lines.select_related(
        "movement__who", "item", "lot", "from_place", "from_claim", "to_place", "to_claim"
    )
