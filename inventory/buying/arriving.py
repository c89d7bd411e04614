"""What comes of an order: into the store by mill lot or jar, in part or whole, and what was charged for it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from uuid import UUID, uuid5

from django.db import transaction
from django.utils import timezone

from dyehouse.ledger.models import Lot, Movement
from dyehouse.ledger.operations import reverse
from dyehouse.studio.models import User
from dyehouse.studio.refusals import Refused
from inventory.allocation.reorder import say_day
from inventory.buying.models import Arrival, Bill, BillLine, Delivery, Purchase, PurchaseLine
from inventory.buying.ordering import DayOutOfReach, NotThatState
from inventory.buying.queries import arrivals_that_count
from recipes.dyestuff import add_jar, finish_jar, receive_auxiliary
from recipes.models import Auxiliary, Dye, Jar, MillLot, PutUp
from recipes.words import one_line
from recipes.yarn import add_mill_lot, receive_yarn, unknown_mill_lot

#: More jars at once than anybody opens: a number typed into the wrong field.
MOST_JARS = 50


class NothingCame(Refused):
    """A delivery without anything in it."""


class TooManyJars(Refused):
    """More jars in one line than a delivery brings."""


class NotOfThisDelivery(Refused):
    """A price for something that did not come with the delivery."""


@dataclass(frozen=True, slots=True)
class Came:
    """What came of a line in one lot: whole packs, and loose pieces (or mg, µl) beside them.

    `number` is the mill's lot, or the lot on the jars; empty is not known.
    """

    line: PurchaseLine
    packs: int = 0
    loose: int = 0
    number: str = ""

    @property
    def quantity(self) -> int:
        return self.packs * self.line.pack_quantity + self.loose


@dataclass(frozen=True, slots=True)
class Charged:
    """What was charged for a delivery, in the smallest units of the order's currency.

    `goods` by arrival (its id), all of it together; an arrival left out costs what was agreed. `rate_millionths` is the
    studio's currency for one of the order's, times a million; None where that is the same, or not known.
    """

    goods: Mapping[int, int]
    freight_minor: int = 0
    other_minor: int = 0
    rate_millionths: int | None = None


@transaction.atomic
def take_in(
    *,
    key: UUID,
    purchase: Purchase,
    came: Sequence[Came],
    arrived_on: dt.date,
    who: User,
    note: str = "",
    now: dt.datetime | None = None,
) -> Delivery:
    """Take what came of an order into the store. Each pack of a dye is a jar of its own.

    More than was ordered is taken in as well: what came is there. The same key again returns the first delivery.
    Raises NotThatState, NothingCame, TooManyJars, DayOutOfReach.
    """
    locked = Purchase.objects.select_for_update().get(pk=purchase.pk)
    first = Delivery.objects.filter(key=key).first()
    if first is not None:
        return first
    if locked.ordered_on is None:
        raise NotThatState("The order is not sent yet. Write down when it went out, then take it in.")
    if arrived_on > timezone.localdate():
        raise DayOutOfReach("This day is still to come. Write the day on which it came.")
    if arrived_on < locked.ordered_on:
        raise DayOutOfReach(f"This is before the order went out, on {say_day(locked.ordered_on)}.")
    rows = [each for each in came if each.quantity]
    if not rows or any(each.packs < 0 or each.loose < 0 for each in rows):
        raise NothingCame("Write how many packs or pieces came, in one line at least.")
    delivery = Delivery.objects.create(
        key=key,
        purchase=locked,
        arrived_on=arrived_on,
        note=one_line(note)[:300],
        made_at=now or timezone.now(),
        made_by=who,
    )
    for number, row in enumerate(rows):
        for lot, movement, quantity in _into_store(delivery, row, str(number), who):
            Arrival.objects.create(
                delivery=delivery, line=row.line, lot=lot, movement=movement, quantity=quantity
            )
    return delivery


def _into_store(delivery: Delivery, row: Came, part: str, who: User) -> Iterator[tuple[Lot, Movement, int]]:
    """Post one row of a delivery: one lot of yarn or of an auxiliary, or a jar for each pack of dye."""
    item, at = row.line.item, _noon(delivery.arrived_on)
    put_up: PutUp | None = getattr(item, "put_up", None)
    auxiliary: Auxiliary | None = getattr(item, "auxiliary", None)
    key = uuid5(delivery.key, part)
    if put_up is not None:
        lot = mill_lot_called(put_up, row.number, arrived_on=delivery.arrived_on)
        movement = receive_yarn(
            key=key, put_up=put_up, mill_lot=lot, pieces=row.quantity, who=who, happened_at=at
        )
        yield lot.lot, movement, row.quantity
    elif auxiliary is not None:
        movement = receive_auxiliary(
            key=key, auxiliary=auxiliary, amount=row.quantity, who=who, happened_at=at
        )
        yield auxiliary.lot, movement, row.quantity
    else:
        yield from _jars(item.dye, row, key, at, who)


def _jars(
    dye: Dye, row: Came, key: UUID, at: dt.datetime | None, who: User
) -> Iterator[tuple[Lot, Movement, int]]:
    contents = [row.line.pack_quantity] * row.packs + ([row.loose] if row.loose else [])
    if len(contents) > MOST_JARS:
        raise TooManyJars(f"That is {len(contents)} jars at once. Check the number of packs of {dye}.")
    for number, milligrams in enumerate(contents):
        key_of_jar = uuid5(key, str(number))
        jar = add_jar(
            key=key_of_jar,
            dye=dye,
            label=free_label(dye, row.number),
            milligrams=milligrams,
            who=who,
            happened_at=at,
        )
        yield jar.lot, Movement.objects.get(key=key_of_jar), milligrams


def mill_lot_called(put_up: PutUp, number: str, *, arrived_on: dt.date) -> MillLot:
    """The mill lot of this number, however it is capitalised; a new one, or the unknown one for no number."""
    number = one_line(number)
    if not number:
        return unknown_mill_lot(put_up.base)
    known = MillLot.objects.filter(base=put_up.base_id, number__iexact=number).select_related("lot").first()
    return known or add_mill_lot(base=put_up.base, number=number, arrived_on=arrived_on)


def free_label(dye: Dye, number: str) -> str:
    """The lot on the jar; of further jars of that lot with the jar's number behind it. Empty stays empty."""
    number = one_line(number)[:50]
    if not number:
        return ""
    taken = {label.casefold() for label in Jar.objects.filter(dye=dye).values_list("label", flat=True)}
    label, jar = number, 1
    while label.casefold() in taken:
        jar += 1
        label = f"{number}, jar {jar}"
    return label


def _noon(day: dt.date) -> dt.datetime | None:
    """A moment of a day that is past; None for today, which is now."""
    if day == timezone.localdate():
        return None
    return timezone.make_aware(dt.datetime.combine(day, dt.time(12)))


@transaction.atomic
def take_back(*, key: UUID, arrival: Arrival, why: str, who: User) -> Movement:
    """An arrival was entered wrongly: it leaves the store again as if it had not come.

    A jar that came by it is put away. Raises ReasonMissing, AlreadyReversed, NotEnough when some of it was used.
    """
    movement = reverse(movement=arrival.movement, key=key, who=who, why=why)
    jar = Jar.objects.filter(lot=arrival.lot_id, finished_at=None).first()
    if jar is not None:
        finish_jar(key=uuid5(key, "jar"), jar=jar, who=who, why="Entered wrongly")
    return movement


@transaction.atomic
def write_bill(*, delivery: Delivery, charged: Charged, who: User, now: dt.datetime | None = None) -> Bill:
    """Write down what was charged for a delivery. A later one holds instead; what was written before is kept.

    Raises NotOfThisDelivery.
    """
    theirs = {each.pk: each for each in arrivals_that_count().filter(delivery=delivery)}
    if set(charged.goods) - set(theirs):
        raise NotOfThisDelivery(
            "A price is of something that did not come with this delivery. Open it again."
        )
    bill = Bill.objects.create(
        delivery=delivery,
        freight_minor=charged.freight_minor,
        other_minor=charged.other_minor,
        rate_millionths=charged.rate_millionths,
        said_at=now or timezone.now(),
        by=who,
    )
    BillLine.objects.bulk_create(
        BillLine(bill=bill, arrival=theirs[pk], goods_minor=minor) for pk, minor in charged.goods.items()
    )
    return bill
