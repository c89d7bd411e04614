"""Counting what is in the store: the book follows the count, and the difference stays visible with its reason."""

from __future__ import annotations

import datetime as dt
from uuid import UUID

from django.db import transaction

from dyehouse.ledger.models import AgreedCount, Balance, Item, Lot, Movement
from dyehouse.ledger.operations import Bucket, Step, agree, post
from dyehouse.ledger.places import fixed_place
from dyehouse.studio.models import User
from dyehouse.studio.refusals import Refused
from recipes.words import one_line


class ReasonMissing(Refused):
    """A correction without a word of why."""


class CannotBeThere(Refused):
    """A count below zero, or below what is held for somebody."""


def in_store(*, item: Item, lot: Lot) -> int:
    """How much of a lot the book says is in the store, in the item's unit."""
    return _balance(item, lot)[0]


@transaction.atomic
def count_in_store(
    *,
    key: UUID,
    item: Item,
    lot: Lot,
    counted: int,
    who: User,
    why: str,
    happened_at: dt.datetime | None = None,
) -> Movement | None:
    """Make the book say what was counted, in the item's unit. The difference is posted with its reason.

    Returns None when the book was right; that it was counted is kept. The same key again changes nothing.
    Raises ReasonMissing, CannotBeThere.
    """
    posted = Movement.objects.filter(key=key).first()
    if posted is not None or AgreedCount.objects.filter(key=key).exists():
        return posted
    why = one_line(why)
    if not why:
        raise ReasonMissing(
            "Say in a few words why the count differs, for example “spilt” or “counted again”."
        )
    if counted < 0:
        raise CannotBeThere("A count is 0 or more. Write what is really there.")
    on_hand, held = _balance(item, lot, lock=True)
    if counted < held:
        raise CannotBeThere(f"{held} of these are held for somebody. Release them first, or count again.")
    if counted == on_hand:
        agree(key=key, item=item, lot=lot, place=fixed_place("store"), counted=counted, who=who)
        return None
    store, difference = Bucket(fixed_place("store")), Bucket(fixed_place("count_difference"))
    source, target = (difference, store) if counted > on_hand else (store, difference)
    return post(
        key=key,
        who=who,
        steps=[Step(item, lot, abs(counted - on_hand), source, target)],
        why=why,
        source="store:count",
        happened_at=happened_at,
    )


def _balance(item: Item, lot: Lot, *, lock: bool = False) -> tuple[int, int]:
    rows = Balance.objects.filter(item=item, lot=lot, place__code="store")
    if lock:
        rows = rows.select_for_update(of=("self",))
    row = rows.first()
    return (0, 0) if row is None else (row.on_hand, row.held)
