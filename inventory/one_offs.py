"""One-offs: pieces that are sold once, under a name and a picture of their own.

Each has a lot and a short code of its own in the ledger, so that it is held, kept in a kit, sent and sold as itself, and
never twice: of its lot there are so many pieces and no more.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID, uuid5

from django.db import transaction
from django.db.models import Sum
from django.utils import timezone

from dyehouse.ledger.models import Balance, Item, Lot, Movement, Place
from dyehouse.ledger.operations import Bucket, Step, post, reverse
from dyehouse.ledger.places import FIXED_PLACES, fixed_place
from dyehouse.studio.codes import take_code
from dyehouse.studio.images import CleanPhoto
from dyehouse.studio.models import User
from dyehouse.studio.refusals import Refused
from inventory.models import OneOff
from recipes.lots.lot_queries import INTO_ONE_OFFS
from recipes.lots.models import DyeLot, Photo
from recipes.lots.photos import add_photo
from recipes.models import DyedYarn
from recipes.words import one_line

MOST_AT_ONCE = 60
LONGEST_NAME = 80
LONGEST_WORDS = 300
MAY_BE_SOLD = (DyedYarn.Grade.GOOD, DyedYarn.Grade.SECOND)


class NotAOneOff(Refused):
    """These pieces cannot be sold as one-offs, or none is named."""


class NotHereAnyMore(Refused):
    """The one-off has left the house, lies in a kit, or is held, so it cannot be put back."""


@dataclass(frozen=True, slots=True)
class Named:
    """So many pieces that are one one-off: its name (empty: its code), words and picture."""

    name: str
    pieces: int = 1
    words: str = ""
    photo: CleanPhoto | None = None


@transaction.atomic
def take_one_offs(
    *,
    key: UUID,
    dye_lot: DyeLot,
    dyed: DyedYarn,
    place: Place,
    named: Sequence[Named],
    who: User,
    now: datetime | None = None,
) -> list[OneOff]:
    """Free pieces of a lot become one-offs where they lie: for each one movement from the lot to a lot of its own.

    The same key again gives the first ones. Raises NotAOneOff for what is not judged and dry, is to be redyed or a sample, or
    is a one-off already, and the ledger's NotEnough when fewer are free.
    """
    first = _made_under(key)
    if first:
        return first
    if not 1 <= len(named) <= MOST_AT_ONCE or any(each.pieces < 1 for each in named):
        raise NotAOneOff(f"Make from 1 to {MOST_AT_ONCE} one-offs at once, each of at least one piece.")
    _refuse_what_is_not_sold(dye_lot, dyed, place)
    return [
        _take(key, number, dye_lot, dyed, place, each, who, now or timezone.now())
        for number, each in enumerate(named)
    ]


def _take(
    key: UUID,
    number: int,
    dye_lot: DyeLot,
    dyed: DyedYarn,
    place: Place,
    named: Named,
    who: User,
    at: datetime,
) -> OneOff:
    lot = _lot_of_its_own(dye_lot, named.name)
    here = Bucket(place)
    steps = [
        Step(dyed.item, dye_lot.lot, named.pieces, here, Bucket(fixed_place("consumed"))),
        Step(dyed.item, lot.lot, named.pieces, Bucket(fixed_place("made")), here),
    ]
    movement = post(
        key=uuid5(key, str(number)),
        who=who,
        steps=steps,
        why=f"One-off {lot.code} of its own",
        source=f"{INTO_ONE_OFFS}{lot.code}",
        happened_at=at,
    )
    return _keep(key, number, lot, named, who, movement)


@transaction.atomic
def name_whole_lot(
    *, key: UUID, dye_lot: DyeLot, name: str, who: User, words: str = "", photo: CleanPhoto | None = None
) -> OneOff:
    """All that is here of a small lot is one one-off under a name; nothing moves. The same key again gives the first.

    Raises NotAOneOff when it is one already, or nothing of it is judged and here.
    """
    first = _made_under(key)
    if first:
        return first[0]
    locked = DyeLot.objects.select_for_update().select_related("colourway").get(pk=dye_lot.pk)
    _refuse_one_already(locked)
    rows = Balance.objects.filter(lot=locked.lot_id, on_hand__gt=0)
    pieces = rows.filter(item__dyed__grade__in=MAY_BE_SOLD).aggregate(sum=Sum("on_hand"))["sum"] or 0
    if not pieces:
        raise NotAOneOff(f"Nothing of lot {locked.code} is judged and here. Judge it first.")
    locked.own_name = _name(name, locked.code)
    locked.save(update_fields=["own_name"])
    return _keep(key, 0, locked, Named(name, pieces, words, photo), who, None)


@transaction.atomic
def call_one_off(*, one_off: OneOff, name: str, words: str) -> OneOff:
    """Another name or other words for a one-off; an empty name is its code. Raises NotAOneOff when it is none any more."""
    locked = _open(one_off)
    locked.words = one_line(words)[:LONGEST_WORDS]
    locked.save(update_fields=["words"])
    locked.dye_lot.own_name = _name(name, locked.dye_lot.code)
    locked.dye_lot.save(update_fields=["own_name"])
    return locked


@transaction.atomic
def put_back(*, one_off: OneOff, key: UUID, who: User) -> OneOff:
    """A one-off is one no more: its movement is taken back, and its pieces are of their lot again, where they lie now.

    What went before stays readable in both lots. The same key again changes nothing. Raises NotAOneOff when it was put back
    before, NotHereAnyMore when not all of it lies here, free, and as what it was.
    """
    if Movement.objects.filter(key=key).exists():
        return OneOff.objects.get(pk=one_off.pk)
    locked = _open(one_off)
    lot, parent = locked.dye_lot, locked.dye_lot.taken_from
    if locked.movement is not None and parent is not None:
        _back_to(parent, locked, locked.movement, key, who)
    else:
        lot.own_name = ""
        lot.save(update_fields=["own_name"])
    locked.ended_at, locked.ended_by = timezone.now(), who
    locked.save(update_fields=["ended_at", "ended_by"])
    return locked


def _back_to(parent: DyeLot, one_off: OneOff, movement: Movement, key: UUID, who: User) -> None:
    lot = one_off.dye_lot
    made = movement.lines.select_related("item", "to_place").get(lot=lot.lot_id)
    rows = list(
        Balance.objects.select_for_update(of=("self",))
        .filter(lot=lot.lot_id, on_hand__gt=0, place__kind__in=(Place.Kind.STAGE, Place.Kind.SHELF))
        .select_related("item", "place")
    )
    _refuse_what_is_not_free(one_off, made.item, rows)
    why, source = f"No one-off any more: back to lot {parent.code}", movement.source
    home = Bucket(made.to_place)
    moved = [row for row in rows if row.place_id != made.to_place_id]
    # It is taken back from where it was made, and lies where it lay.
    there = [Step(row.item, lot.lot, row.on_hand, Bucket(row.place), home) for row in moved]
    again = [Step(row.item, parent.lot, row.on_hand, home, Bucket(row.place)) for row in moved]
    if there:
        post(key=uuid5(key, "home"), who=who, steps=there, why=why, source=source)
    reverse(movement=movement, key=key, who=who, why=why)
    if again:
        post(key=uuid5(key, "there"), who=who, steps=again, why=why, source=source)


def _made_under(key: UUID) -> list[OneOff]:
    keys = [uuid5(key, f"one-off {number}") for number in range(MOST_AT_ONCE)]
    return list(OneOff.objects.filter(key__in=keys).select_related("dye_lot__colourway").order_by("id"))


def _refuse_what_is_not_sold(dye_lot: DyeLot, dyed: DyedYarn, place: Place) -> None:
    _refuse_one_already(dye_lot)
    if dyed.grade not in MAY_BE_SOLD or dyed.colourway_id != dye_lot.colourway_id:
        raise NotAOneOff("A one-off is judged good or a second. Judge these first, or choose others.")
    dry = FIXED_PLACES["dry"].order
    if place.kind not in (Place.Kind.STAGE, Place.Kind.SHELF) or place.order < dry:
        raise NotAOneOff("A one-off is made of what is dry or on a shelf. Choose pieces that are.")


def _refuse_one_already(dye_lot: DyeLot) -> None:
    if dye_lot.own_name or dye_lot.taken_from_id is not None:
        raise NotAOneOff(f"Lot {dye_lot.code} is a one-off already. Change its name on its own page.")


def _refuse_what_is_not_free(one_off: OneOff, item: Item, rows: Sequence[Balance]) -> None:
    code = one_off.dye_lot.code
    if any(row.item_id != item.pk for row in rows):
        raise NotHereAnyMore(
            f"{code} was called something else since. Call it {_grade_of(item)} again first."
        )
    if sum(row.on_hand for row in rows) < one_off.pieces:
        raise NotHereAnyMore(f"Not all of {code} is here any more, so it stays what it is.")
    if any(row.held for row in rows):
        raise NotHereAnyMore(f"{code} is held for somebody. Let the hold go first, then put it back.")


def _grade_of(item: Item) -> str:
    return str(item.dyed.get_grade_display())


def _lot_of_its_own(parent: DyeLot, name: str) -> DyeLot:
    code = take_code()
    return DyeLot.objects.create(
        code=code,
        colourway=parent.colourway,
        made_at=parent.made_at,
        lot=Lot.objects.create(kind=Lot.Kind.DYE_LOT, name=code),
        own_name=_name(name, code),
        taken_from=parent,
    )


def _name(name: str, code: str) -> str:
    return one_line(name)[:LONGEST_NAME] or code


def _keep(key: UUID, number: int, lot: DyeLot, named: Named, who: User, movement: Movement | None) -> OneOff:
    one = OneOff.objects.create(
        key=uuid5(key, f"one-off {number}"),
        dye_lot=lot,
        words=one_line(named.words)[:LONGEST_WORDS],
        pieces=named.pieces,
        made_at=movement.happened_at if movement is not None else timezone.now(),
        made_by=who,
        movement=movement,
    )
    if named.photo is not None:
        add_photo(
            key=uuid5(key, f"photo {number}"),
            upload=named.photo,
            kind=Photo.Kind.DAYLIGHT,
            who=who,
            dye_lot=lot,
        )
    return one


def _open(one_off: OneOff) -> OneOff:
    locked = (
        OneOff.objects.select_for_update(of=("self",))
        .select_related("dye_lot__lot", "dye_lot__colourway", "dye_lot__taken_from__lot", "movement")
        .get(pk=one_off.pk)
    )
    if locked.ended_at is not None:
        raise NotAOneOff(f"{locked.dye_lot.code} is no one-off any more.")
    return locked
