"""Dyed yarn after it was judged: onto a shelf, from shelf to shelf, and counted."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any
from uuid import UUID, uuid5

from django.db import IntegrityError, transaction
from django.db.models import Sum
from django.utils import timezone
from django.utils.text import slugify

from dyehouse.ledger.models import Balance, Movement, Place
from dyehouse.ledger.operations import Bucket, Step, post
from dyehouse.ledger.places import fixed_place
from dyehouse.studio.models import User
from dyehouse.studio.refusals import Refused
from recipes.lots.models import DyeLot
from recipes.models import DyedYarn
from recipes.words import one_line

SHELF_ORDER = 200
LONGEST_REASON = 300


class PlaceNameTaken(Refused):
    """A shelf place goes by this name already, or by none at all."""


class NotForTheShelf(Refused):
    """What is not judged, or not there, does not go to a shelf."""


class PlaceNotEmpty(Refused):
    """Something lies in the place that was to be closed."""


class ReasonMissing(Refused):
    """A count that differs from the book needs a word of why."""


@transaction.atomic
def add_shelf_place(*, name: str) -> Place:
    """A new shelf, bin or box by its name; one that was closed under this name is opened again. Raises PlaceNameTaken."""
    tidy = one_line(name)
    closed = Place.objects.filter(kind=Place.Kind.SHELF, name__iexact=tidy, closed_at__isnull=False).first()
    if closed is not None:
        closed.closed_at = None
        closed.save(update_fields=["closed_at"])
        return closed
    _refuse_taken_name(tidy)
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
def rename_shelf_place(*, place: Place, name: str) -> Place:
    """Write another name on a shelf place; what lies there stays. Raises PlaceNameTaken."""
    tidy = one_line(name)
    _refuse_taken_name(tidy, other_than=place)
    place.name = tidy
    place.save(update_fields=["name"])
    return place


@transaction.atomic
def close_shelf_place(*, place: Place) -> Place:
    """Take an empty shelf place out of use; its past stays. Closing it again changes nothing. Raises PlaceNotEmpty."""
    place = Place.objects.select_for_update().get(pk=place.pk)
    pieces = Balance.objects.filter(place=place).aggregate(sum=Sum("on_hand"))["sum"] or 0
    if pieces:
        there = "1 piece lies" if pieces == 1 else f"{pieces} pieces lie"
        raise PlaceNotEmpty(f"{there} in {place.name}. Move all of it to another place first.")
    if place.closed_at is None:
        place.closed_at = timezone.now()
        place.save(update_fields=["closed_at"])
    return place


def _refuse_taken_name(name: str, *, other_than: Place | None = None) -> None:
    if not name:
        raise PlaceNameTaken("Write the name of the place, for example “Shelf A3”.")
    others = Place.objects.filter(kind=Place.Kind.SHELF, name__iexact=name)
    if other_than is not None:
        others = others.exclude(pk=other_than.pk)
    if others.exists():
        raise PlaceNameTaken(f"There is a place called {name} already. Choose another name.")


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
    book_follows: bool = False,
) -> Movement:
    """Put counted pieces of a lot on a shelf place, from where they were judged dry or from another shelf.

    `counts` gives pieces by the id of their DyedYarn. What is counted short of the book stays where it is; with
    `book_follows` the count is right and the book is not: every difference is posted with its reason in the same movement.
    The same key again gives the first movement. Raises NotForTheShelf when nothing is counted, when a piece was not judged
    yet or is to be redyed, and when more are counted than the book has; ReasonMissing when the book follows without one.
    """
    first = Movement.objects.filter(key=key).first()
    if first is not None:
        return first
    if place.kind != Place.Kind.SHELF or place.closed_at is not None:
        raise NotForTheShelf(f"{place.name} is not a shelf place that is in use. Choose one that is.")
    reason = one_line(why)[:LONGEST_REASON]
    if book_follows and not reason:
        raise ReasonMissing("Say in a few words why the count differs, for example “one was given away”.")
    start = source or fixed_place("dry")
    wanted = {pk: pieces for pk, pieces in counts.items() if pieces or book_follows}
    if not any(wanted.values()):
        raise NotForTheShelf("Count at least one piece to put away.")
    steps: list[Step] = []
    for dyed in DyedYarn.objects.filter(pk__in=wanted).select_related("item", "put_up__base").order_by("pk"):
        steps += _steps(dyed, dye_lot, start, place, wanted[dyed.pk], book_follows=book_follows)
    if not steps:
        raise NotForTheShelf("These pieces are not of this lot.")
    return post(key=key, who=who, steps=steps, why=reason or f"To {place.name}", source=f"lot:{dye_lot.code}")


@transaction.atomic
def put_away(
    *,
    key: UUID,
    dye_lot: DyeLot,
    place: Place,
    counts: Mapping[tuple[int, int], int],
    who: User,
    why: str = "",
    book_follows: bool = False,
) -> list[Movement]:
    """Put counted pieces of a lot on a shelf place from wherever they lie: pieces by the ids of DyedYarn and place.

    One movement for each place they come from, all or none. Raises what `move_to_shelf` raises.
    """
    sources: dict[int, dict[int, int]] = {}
    for (dyed, source), pieces in counts.items():
        sources.setdefault(source, {})[dyed] = pieces
    if not book_follows:
        sources = {source: rows for source, rows in sources.items() if any(rows.values())}
    if not sources or not any(counts.values()):
        raise NotForTheShelf("Count at least one piece to put away.")
    places = Place.objects.in_bulk(sources)
    moved = []
    for source, rows in sources.items():
        part: dict[str, Any] = {"key": uuid5(key, str(source)), "dye_lot": dye_lot, "who": who, "why": why}
        if any(rows.values()):
            moved.append(
                move_to_shelf(
                    place=place, counts=rows, source=places[source], book_follows=book_follows, **part
                )
            )
            continue
        for gone in DyedYarn.objects.filter(pk__in=rows).select_related("item"):
            part["key"] = uuid5(key, f"{source} {gone.pk}")
            corrected = correct_count(dyed=gone, place=places[source], counted=0, **part)
            moved += [corrected] if corrected is not None else []
    return moved


def _steps(
    dyed: DyedYarn, dye_lot: DyeLot, start: Place, place: Place, counted: int, *, book_follows: bool
) -> list[Step]:
    if dyed.grade == DyedYarn.Grade.UNJUDGED:
        raise NotForTheShelf("These pieces are not judged yet. Judge them when they are dry.")
    if dyed.grade == DyedYarn.Grade.REDYE:
        raise NotForTheShelf("Pieces to redye stay where they are dry until they are dyed again.")
    there = _on_hand(dyed, dye_lot, start)
    if counted > there and not book_follows:
        raise NotForTheShelf(
            f"{counted} are counted and the book has {there} {dyed.get_grade_display()} in {start.name}. "
            "Count again, or say why the book is wrong."
        )
    here, outside = Bucket(start), Bucket(fixed_place("count_difference"))
    steps = []
    if book_follows and counted > there:
        steps.append(Step(dyed.item, dye_lot.lot, counted - there, outside, here))
    if book_follows and counted < there:
        steps.append(Step(dyed.item, dye_lot.lot, there - counted, here, outside))
    if counted:
        steps.append(Step(dyed.item, dye_lot.lot, counted, here, Bucket(place)))
    return steps


def _on_hand(dyed: DyedYarn, dye_lot: DyeLot, place: Place) -> int:
    rows = Balance.objects.select_for_update().filter(place=place, item=dyed.item_id, lot=dye_lot.lot_id)
    row = rows.first()
    return row.on_hand if row is not None else 0


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
    reason = one_line(why)[:LONGEST_REASON]
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
