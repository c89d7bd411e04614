"""Dyed yarn after it was judged: onto a shelf, from shelf to shelf, and counted."""

from __future__ import annotations

from collections.abc import Mapping
from uuid import UUID

from django.db import IntegrityError, transaction
from django.utils.text import slugify

from dyehouse.ledger.models import Balance, Movement, Place
from dyehouse.ledger.operations import Bucket, Step, post
from dyehouse.ledger.places import fixed_place
from dyehouse.studio.models import User
from dyehouse.studio.refusals import Refused
from recipes.lots.models import DyeLot
from recipes.models import DyedYarn

SHELF_ORDER = 200
LONGEST_REASON = 300


class PlaceNameTaken(Refused):
    """A shelf place goes by this name already, or by none at all."""


class NotForTheShelf(Refused):
    """What is not judged, or not there, does not go to a shelf."""


class ReasonMissing(Refused):
    """A count that differs from the book needs a word of why."""


@transaction.atomic
def add_shelf_place(*, name: str) -> Place:
    """A new shelf, bin or box by its name. Raises PlaceNameTaken."""
    tidy = " ".join(name.split())
    if not tidy:
        raise PlaceNameTaken("Write the name of the place, for example “Shelf A3”.")
    if Place.objects.filter(kind=Place.Kind.SHELF, name__iexact=tidy).exists():
        raise PlaceNameTaken(f"There is a place called {tidy} already. Choose another name.")
    code = f"shelf-{slugify(tidy) or 'place'}"[:34]
    try:
        with transaction.atomic():
            return Place.objects.create(kind=Place.Kind.SHELF, code=code, name=tidy, order=SHELF_ORDER)
    except IntegrityError:
        taken = Place.objects.filter(code__startswith=code).count()
        return Place.objects.create(
            kind=Place.Kind.SHELF, code=f"{code}-{taken + 1}", name=tidy, order=SHELF_ORDER
        )


@transaction.atomic
def move_to_shelf(
    *,
    key: UUID,
    dye_lot: DyeLot,
    place: Place,
    counts: Mapping[int, int],
    who: User,
    source: Place | None = None,
    why: str = "",
) -> Movement:
    """Put counted pieces of a lot on a shelf place, from where they were judged dry or from another shelf.

    `counts` gives pieces by the id of their DyedYarn. The same key again gives the first movement. Raises NotForTheShelf
    when nothing is counted, when a piece was not judged yet, and when more are counted than the book has: then the count
    is corrected first.
    """
    first = Movement.objects.filter(key=key).first()
    if first is not None:
        return first
    if place.kind != Place.Kind.SHELF or place.closed_at is not None:
        raise NotForTheShelf(f"{place.name} is not a shelf place that is in use. Choose one that is.")
    start = source or fixed_place("dry")
    wanted = {pk: pieces for pk, pieces in counts.items() if pieces}
    if not wanted:
        raise NotForTheShelf("Count at least one piece to put away.")
    steps = []
    for dyed in DyedYarn.objects.filter(pk__in=wanted).select_related("item", "put_up__base").order_by("pk"):
        if dyed.grade == DyedYarn.Grade.UNJUDGED:
            raise NotForTheShelf("These pieces are not judged yet. Judge them when they are dry.")
        there = _on_hand(dyed, dye_lot, start)
        if wanted[dyed.pk] > there:
            raise NotForTheShelf(
                f"{wanted[dyed.pk]} are counted and the book has {there} {dyed.get_grade_display()} in {start.name}. "
                "Count again, or correct the count with a reason."
            )
        steps.append(Step(dyed.item, dye_lot.lot, wanted[dyed.pk], Bucket(start), Bucket(place)))
    if not steps:
        raise NotForTheShelf("These pieces are not of this lot.")
    return post(key=key, who=who, steps=steps, why=why or f"To {place.name}", source=f"lot:{dye_lot.code}")


def _on_hand(dyed: DyedYarn, dye_lot: DyeLot, place: Place) -> int:
    row = (
        Balance.objects.filter(place=place, item=dyed.item_id, lot=dye_lot.lot_id)
        .values_list("on_hand")
        .first()
    )
    return row[0] if row is not None else 0


@transaction.atomic
def correct_count(
    *, key: UUID, dyed: DyedYarn, dye_lot: DyeLot, place: Place, counted: int, who: User, why: str
) -> Movement | None:
    """Make the book say what was counted at a place; the difference is posted with its reason.

    None when the book was right. The same key again gives the first movement. Raises ReasonMissing and NotForTheShelf.
    """
    first = Movement.objects.filter(key=key).first()
    if first is not None:
        return first
    reason = " ".join(why.split())[:LONGEST_REASON]
    if not reason:
        raise ReasonMissing("Say in a few words why the count differs, for example “sold at the door”.")
    if counted < 0:
        raise NotForTheShelf("A count is 0 or more. Write what is really there.")
    row = (
        Balance.objects.select_for_update().filter(place=place, item=dyed.item_id, lot=dye_lot.lot_id).first()
    )
    on_hand, held = (row.on_hand, row.held) if row is not None else (0, 0)
    if counted < held:
        raise NotForTheShelf(f"{held} of these are held for somebody. Release them first, or count again.")
    if counted == on_hand:
        return None
    here, outside = Bucket(place), Bucket(fixed_place("count_difference"))
    step = (
        Step(dyed.item, dye_lot.lot, counted - on_hand, outside, here)
        if counted > on_hand
        else Step(dyed.item, dye_lot.lot, on_hand - counted, here, outside)
    )
    return post(key=key, who=who, steps=[step], why=reason, source=f"lot:{dye_lot.code}")
