"""Undyed yarn: bases, the weights they are put up in, mill lots, and what arrives of them."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from dyehouse.ledger.models import Item, Lot, Movement
from dyehouse.ledger.operations import Bucket, Step, post
from dyehouse.ledger.places import fixed_place
from dyehouse.studio.models import User
from dyehouse.studio.refusals import Refused
from recipes.dyeing.fibres import BY_SLUG
from recipes.dyeing.units import format_grams, format_number
from recipes.models import Base, BaseFibre, MillLot, PutUp
from recipes.words import one_line

UNKNOWN_LOT = "unknown"
WHOLE = 1000


class BaseNameTaken(Refused):
    """Another base has this name."""


class FibresDoNotAddUp(Refused):
    """The shares of the fibres are not the whole yarn, or a fibre has no known name."""


class PutUpTaken(Refused):
    """The base is put up in this weight already."""


class MillLotTaken(Refused):
    """The base has a mill lot of this number already."""


class NothingArrived(Refused):
    """A delivery of no pieces, or of a lot that belongs to another base."""


@transaction.atomic
def add_base(
    *,
    name: str,
    fibres: Mapping[str, int] | None = None,
    metres_per_100g: int | None = None,
    category: int | None = None,
    superwash: bool | None = None,
    hank_circumference_millimetres: int | None = None,
    spun_in: str = "",
) -> Base:
    """Write down an undyed yarn line. A name is enough.

    `fibres` gives tenths of a percent by fibre (`{"wool": 750, "nylon": 250}`), summing to 1000; leave it out when the
    composition is not known. Raises BaseNameTaken, FibresDoNotAddUp.
    """
    name = one_line(name)
    refuse_taken_base_name(name)
    base = Base.objects.create(
        name=name,
        metres_per_100g=metres_per_100g,
        category=category,
        superwash=superwash,
        hank_circumference_millimetres=hank_circumference_millimetres,
        spun_in=spun_in,
    )
    _write_fibres(base, fibres)
    return base


@transaction.atomic
def change_base(
    *,
    base: Base,
    name: str,
    fibres: Mapping[str, int] | None = None,
    metres_per_100g: int | None = None,
    category: int | None = None,
    superwash: bool | None = None,
    hank_circumference_millimetres: int | None = None,
    spun_in: str = "",
) -> Base:
    """Put right what is known of a base; what is left out becomes unknown. Raises BaseNameTaken, FibresDoNotAddUp."""
    base = Base.objects.select_for_update().get(pk=base.pk)
    name = one_line(name)
    refuse_taken_base_name(name, other_than=base)
    base.name = name
    base.metres_per_100g = metres_per_100g
    base.category = category
    base.superwash = superwash
    base.hank_circumference_millimetres = hank_circumference_millimetres
    base.spun_in = spun_in
    base.save()
    base.fibres.all().delete()
    _write_fibres(base, fibres)
    for put_up in base.put_ups.select_related("item"):
        put_up.base = base
        Item.objects.filter(pk=put_up.item_id).update(name=str(put_up))
    return base


def refuse_taken_base_name(name: str, *, other_than: Base | None = None) -> None:
    """Raise BaseNameTaken when another base has this name, however it is capitalised."""
    others = Base.objects.filter(name__iexact=name)
    if other_than is not None:
        others = others.exclude(pk=other_than.pk)
    if others.exists():
        raise BaseNameTaken(f"There is a base called {name} already. Choose another name, or open that one.")


def check_fibres(fibres: Mapping[str, int]) -> None:
    """Raise FibresDoNotAddUp unless the fibres are known and their tenths of a percent sum to 1000."""
    unknown = [slug for slug in fibres if slug not in BY_SLUG]
    if unknown:
        raise FibresDoNotAddUp(
            f"{', '.join(unknown)} is not a fibre name of this house. Choose one from the list."
        )
    if any(share <= 0 for share in fibres.values()):
        raise FibresDoNotAddUp("Every fibre needs a share above 0 %. Leave out what is not in the yarn.")
    total = sum(fibres.values())
    if total != WHOLE:
        percent = format_number(_percent(total), 1)
        off = format_number(_percent(abs(WHOLE - total)), 1)
        way = "missing" if total < WHOLE else "too many"
        raise FibresDoNotAddUp(
            f"The fibres sum to {percent} %, and {off} % is {way}. They must sum to 100 %."
        )


def _percent(per_mille: int) -> Decimal:
    return Decimal(per_mille) / 10


def _write_fibres(base: Base, fibres: Mapping[str, int] | None) -> None:
    if not fibres:
        return
    check_fibres(fibres)
    BaseFibre.objects.bulk_create(
        BaseFibre(base=base, fibre=slug, per_mille=share) for slug, share in fibres.items()
    )


@transaction.atomic
def add_put_up(*, base: Base, nominal_milligrams: int, metres: int | None = None, name: str = "") -> PutUp:
    """Put a base up in a weight per piece, with its metres where known. Raises PutUpTaken."""
    if PutUp.objects.filter(base=base, nominal_milligrams=nominal_milligrams).exists():
        raise PutUpTaken(
            f"{base.name} is put up in {format_grams(nominal_milligrams)} already. Write another weight, or use that one."
        )
    put_up = PutUp(base=base, nominal_milligrams=nominal_milligrams, metres=metres, name=one_line(name))
    put_up.item = Item.objects.create(kind=Item.Kind.UNDYED, unit=Item.Unit.PIECE, name=str(put_up))
    put_up.save()
    return put_up


@transaction.atomic
def change_put_up(*, put_up: PutUp, metres: int | None, name: str) -> PutUp:
    """Put right the metres and the name of a put-up. Its weight stays: another weight is another put-up."""
    put_up.metres = metres
    put_up.name = one_line(name)
    put_up.save(update_fields=["metres", "name"])
    return put_up


@transaction.atomic
def add_mill_lot(*, base: Base, number: str, arrived_on: dt.date | None = None) -> MillLot:
    """Write down a lot as the mill numbered it. Raises MillLotTaken."""
    number = one_line(number)
    if MillLot.objects.filter(base=base, number__iexact=number).exists():
        raise MillLotTaken(f"{base.name} has a mill lot {number} already. Choose it from the list.")
    lot = Lot.objects.create(kind=Lot.Kind.MILL, name=number)
    return MillLot.objects.create(base=base, number=number, arrived_on=arrived_on, lot=lot)


@transaction.atomic
def unknown_mill_lot(base: Base) -> MillLot:
    """The lot of a base for yarn whose mill lot nobody knows; made when first asked for."""
    # The base's row serialises two people who ask for the first time at once.
    Base.objects.select_for_update().get(pk=base.pk)
    known = MillLot.objects.filter(base=base, unknown=True).first()
    if known is not None:
        return known
    lot = Lot.objects.create(kind=Lot.Kind.MILL, name=UNKNOWN_LOT)
    return MillLot.objects.create(base=base, number=UNKNOWN_LOT, unknown=True, lot=lot)


@transaction.atomic
def receive_yarn(
    *,
    key: UUID,
    put_up: PutUp,
    mill_lot: MillLot,
    pieces: int,
    who: User,
    from_before: bool = False,
    happened_at: dt.datetime | None = None,
) -> Movement:
    """Take pieces of undyed yarn into the store, from the supplier or as stock from before the house.

    The same key again changes nothing. Raises NothingArrived.
    """
    if pieces < 1:
        raise NothingArrived("At least one piece must arrive. Write how many there are.")
    if mill_lot.base_id != put_up.base_id:
        raise NothingArrived(
            f"Mill lot {mill_lot.number} belongs to another base. Choose a lot of {put_up.base.name}."
        )
    came_from = fixed_place("before_the_house" if from_before else "supplier")
    return post(
        key=key,
        who=who,
        steps=[Step(put_up.item, mill_lot.lot, pieces, Bucket(came_from), Bucket(fixed_place("store")))],
        why="There before the house" if from_before else "Arrived",
        source="store:yarn",
        happened_at=happened_at,
    )


@transaction.atomic
def stock_new_base(
    *,
    key: UUID,
    who: User,
    nominal_milligrams: int,
    metres: int | None = None,
    pieces: int = 0,
    mill_lot_number: str = "",
    from_before: bool = False,
    **facts: Any,
) -> Base:
    """Write down a base with its first put-up and what is in the store of it; `facts` as `add_base` takes them.

    The same key again, once pieces came in by it, returns the base that the first call made.
    Raises BaseNameTaken, FibresDoNotAddUp.
    """
    first = Movement.objects.filter(key=key).first()
    if first is not None:
        return Base.objects.get(put_ups__item__lines__movement=first)
    base = add_base(**facts)
    put_up = add_put_up(base=base, nominal_milligrams=nominal_milligrams, metres=metres)
    if pieces:
        yarn_in(
            key=key,
            who=who,
            put_up=put_up,
            lot=None,
            new_number=mill_lot_number,
            pieces=pieces,
            from_before=from_before,
        )
    return base


@transaction.atomic
def yarn_in(
    *,
    key: UUID,
    who: User,
    put_up: PutUp,
    lot: MillLot | None,
    new_number: str = "",
    pieces: int,
    from_before: bool = False,
) -> Movement:
    """Take pieces into the store in a known lot, in a new one by its number, or in the unknown one when both are left out.

    The same key again changes nothing. Raises MillLotTaken, NothingArrived.
    """
    first = Movement.objects.filter(key=key).first()
    if first is not None:
        return first
    if lot is None:
        base = put_up.base
        arrived_on = None if from_before else timezone.localdate()
        lot = (
            add_mill_lot(base=base, number=new_number, arrived_on=arrived_on)
            if one_line(new_number)
            else unknown_mill_lot(base)
        )
    return receive_yarn(key=key, put_up=put_up, mill_lot=lot, pieces=pieces, who=who, from_before=from_before)
