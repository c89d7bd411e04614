"""Yarn, dye and places for the ledger's own tests, and the refusals of the database by their names."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from datetime import datetime
from typing import Any

from django.db import IntegrityError, connection, transaction

from dyehouse.ledger.guard import constraint_of
from dyehouse.ledger.models import Balance, Held, Item, Lot, Movement, Place
from dyehouse.ledger.operations import Bucket, Step, post
from dyehouse.ledger.places import fixed_place


def yarn(name: str = "Fell DK, 100 g") -> Item:
    return Item.objects.create(kind=Item.Kind.UNDYED, unit=Item.Unit.PIECE, name=name)


def dye(name: str = "Madder brown") -> Item:
    return Item.objects.create(kind=Item.Kind.DYE, unit=Item.Unit.MILLIGRAM, name=name)


def mill_lot(name: str = "77") -> Lot:
    return Lot.objects.create(kind=Lot.Kind.MILL, name=name)


def shelf(code: str = "shelf-a") -> Place:
    return Place.objects.create(kind=Place.Kind.SHELF, code=code, name=f"Shelf {code}")


def at(code: str) -> Bucket:
    return Bucket(fixed_place(code))


def move(*steps: Step, key: uuid.UUID | None = None, **words: Any) -> Movement:
    return post(key=key or uuid.uuid4(), who=None, steps=steps, **words)


def arrive(item: Item, lot: Lot, quantity: int, *, happened_at: datetime | None = None) -> Movement:
    return move(Step(item, lot, quantity, at("supplier"), at("store")), happened_at=happened_at)


def book(item: Item, lot: Lot, place: Place | str) -> tuple[int, int]:
    """On hand and held, as kept."""
    code = place if isinstance(place, str) else place.code
    row = Balance.objects.filter(item=item, lot=lot, place__code=code).first()
    return (row.on_hand, row.held) if row is not None else (0, 0)


def everything_kept() -> tuple[set[tuple[int, ...]], set[tuple[int, ...]]]:
    """All balances and holds above zero."""
    return (
        set(
            Balance.objects.filter(on_hand__gt=0).values_list(
                "place_id", "item_id", "lot_id", "on_hand", "held"
            )
        ),
        set(
            Held.objects.filter(quantity__gt=0).values_list(
                "claim_id", "place_id", "item_id", "lot_id", "quantity"
            )
        ),
    )


def refusal(sql: str, parameters: Sequence[object] = ()) -> str:
    """Run raw SQL; the name of the constraint that refused it, or 'done'."""
    try:
        with transaction.atomic(), connection.cursor() as cursor:
            cursor.execute(sql, parameters)
    except IntegrityError as error:
        return constraint_of(error)
    return "done"
