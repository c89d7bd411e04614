"""Writing an order, sending it, moving its day by the supplier's word, and giving up what will not come."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from uuid import UUID

from django.db import transaction
from django.db.models import Max
from django.utils import timezone

from dyehouse.studio.models import User
from dyehouse.studio.refusals import Refused
from inventory.allocation.reorder import arrives_on, price_of_pack, say_day
from inventory.buying.models import (
    BuyingHabits,
    ClosedShort,
    ExpectedDay,
    Offer,
    Purchase,
    PurchaseLine,
    Supplier,
)
from inventory.buying.queries import lines_came
from inventory.buying.supplying import breaks_of, closed_of
from recipes.words import one_line

MOST_PACKS = 10_000
#: An order of more than ten years ago, or a delivery in more than two, was typed with a wrong year.
OLDEST_DAYS, FARTHEST_DAYS = 3_660, 730


class NothingOrdered(Refused):
    """An order without lines, or a line of no packs."""


class AnotherSuppliersOffer(Refused):
    """The line is of something that this supplier does not sell."""


class NotThatState(Refused):
    """The order is past this, or not there yet."""


class DayOutOfReach(Refused):
    """A day that cannot be meant."""


class ReasonMissing(Refused):
    """Closing an order short, or moving its day, without a word of why."""


@dataclass(frozen=True, slots=True)
class Wanted:
    """So many packs of an offer."""

    offer: Offer
    packs: int


@transaction.atomic
def draft_order(
    *,
    key: UUID,
    supplier: Supplier,
    wanted: Sequence[Wanted],
    who: User,
    note: str = "",
    now: dt.datetime | None = None,
) -> Purchase:
    """Write an order down without sending it. The same key again returns the first.

    Raises NothingOrdered, AnotherSuppliersOffer.
    """
    # The supplier's row lets the same page sent twice at once come one after the other.
    supplier = Supplier.objects.select_for_update().get(pk=supplier.pk)
    first = Purchase.objects.filter(key=key).first()
    if first is not None:
        return first
    purchase = Purchase.objects.create(
        key=key,
        supplier=supplier,
        currency=supplier.currency,
        note=one_line(note)[:300],
        made_at=now or timezone.now(),
        made_by=who,
    )
    _write_lines(purchase, wanted)
    return purchase


@transaction.atomic
def change_draft(*, purchase: Purchase, wanted: Sequence[Wanted], note: str = "") -> Purchase:
    """Write a draft's lines anew, at the prices of today. Raises NotThatState, NothingOrdered, AnotherSuppliersOffer."""
    purchase = _a_draft(purchase)
    purchase.currency, purchase.note = purchase.supplier.currency, one_line(note)[:300]
    purchase.save(update_fields=["currency", "note"])
    purchase.lines.all().delete()
    _write_lines(purchase, wanted)
    return purchase


@transaction.atomic
def add_to_order(*, key: UUID, purchase: Purchase, wanted: Sequence[Wanted]) -> Purchase:
    """More packs, agreed with the supplier after the order was sent, as lines of their own. The same key adds once.

    Raises NotThatState, NothingOrdered, AnotherSuppliersOffer.
    """
    purchase = Purchase.objects.select_for_update(of=("self",)).select_related("supplier").get(pk=purchase.pk)
    if purchase.ordered_on is None:
        raise NotThatState("The order is not sent yet. Change its lines instead.")
    if not PurchaseLine.objects.filter(purchase=purchase, key=key).exists():
        _write_lines(purchase, wanted, key)
    return purchase


def _write_lines(purchase: Purchase, wanted: Sequence[Wanted], key: UUID | None = None) -> None:
    if not wanted:
        raise NothingOrdered("An order has at least one line. Write how many packs of something.")
    last = PurchaseLine.objects.filter(purchase=purchase).aggregate(last=Max("number"))["last"] or 0
    for number, line in enumerate(wanted, start=last + 1):
        if line.offer.supplier_id != purchase.supplier_id:
            raise AnotherSuppliersOffer(f"{purchase.supplier} does not sell {line.offer.item}.")
        if not 1 <= line.packs <= MOST_PACKS:
            raise NothingOrdered(f"Write from 1 to {MOST_PACKS:,} packs of {line.offer.item}.")
        PurchaseLine.objects.create(
            purchase=purchase,
            number=number,
            key=key,
            offer=line.offer,
            item=line.offer.item,
            pack_quantity=line.offer.pack_quantity,
            packs=line.packs,
            price_minor=price_of_pack(line.packs, line.offer.price_minor, breaks_of(line.offer)),
        )


def _a_draft(purchase: Purchase) -> Purchase:
    locked = Purchase.objects.select_for_update(of=("self",)).select_related("supplier").get(pk=purchase.pk)
    if locked.ordered_on is not None:
        raise NotThatState(
            f"This order was sent on {say_day(locked.ordered_on)}. What was sent stays; add lines, or close it short."
        )
    if locked.dropped_at is not None:
        raise NotThatState("This draft was dropped. Write a new one.")
    return locked


@transaction.atomic
def drop_draft(*, purchase: Purchase) -> Purchase:
    """Give up an order that was never sent. Dropping it again changes nothing. Raises NotThatState."""
    if Purchase.objects.filter(pk=purchase.pk, dropped_at__isnull=False).exists():
        return purchase
    purchase = _a_draft(purchase)
    purchase.dropped_at = timezone.now()
    purchase.save(update_fields=["dropped_at"])
    return purchase


@transaction.atomic
def send_order(
    *, purchase: Purchase, ordered_on: dt.date, who: User, now: dt.datetime | None = None
) -> Purchase:
    """The order went out on a day. It is expected after the lead time, past the closed weeks.

    Sent on the same day again it changes nothing. Raises NotThatState, NothingOrdered, DayOutOfReach.
    """
    if Purchase.objects.filter(pk=purchase.pk, ordered_on=ordered_on).exists():
        return Purchase.objects.get(pk=purchase.pk)
    purchase = _a_draft(purchase)
    if not purchase.lines.exists():
        raise NothingOrdered("An order has at least one line. Write how many packs of something.")
    today = timezone.localdate()
    if ordered_on > today:
        raise DayOutOfReach("This day is still to come. Write the day on which the order went out.")
    if (today - ordered_on).days > OLDEST_DAYS:
        raise DayOutOfReach("This is more than ten years ago. Check the year.")
    supplier = purchase.supplier
    expected = arrives_on(ordered=ordered_on, lead_days=supplier.lead_days, closed=closed_of(supplier))
    purchase.ordered_on, purchase.expected_on = ordered_on, expected.value
    purchase.save(update_fields=["ordered_on", "expected_on"])
    _note_day(purchase, expected.value, f"As reckoned: {expected.working.substitution}.", who, now)
    return purchase


@transaction.atomic
def expect_on(*, purchase: Purchase, day: dt.date, why: str, who: User) -> Purchase:
    """The supplier named another day. What was said before is kept. Raises NotThatState, DayOutOfReach, ReasonMissing."""
    why = one_line(why)[:300]
    locked = Purchase.objects.select_for_update().get(pk=purchase.pk)
    if locked.ordered_on is None:
        raise NotThatState("The order is not sent yet, so no day was promised. Send it first.")
    if not why:
        raise ReasonMissing("Write who said so, for example “the mill's mail of today”.")
    if day < locked.ordered_on:
        raise DayOutOfReach(f"This is before the order went out, on {say_day(locked.ordered_on)}.")
    if (day - timezone.localdate()).days > FARTHEST_DAYS:
        raise DayOutOfReach("This is more than two years ahead. Check the year.")
    locked.expected_on = day
    locked.save(update_fields=["expected_on"])
    _note_day(locked, day, why, who)
    return locked


def _note_day(
    purchase: Purchase, day: dt.date, words: str, who: User, now: dt.datetime | None = None
) -> None:
    ExpectedDay.objects.create(purchase=purchase, day=day, words=words, said_at=now or timezone.now(), by=who)


@transaction.atomic
def close_short(
    *, purchase: Purchase, why: str, who: User, line: PurchaseLine | None = None
) -> list[ClosedShort]:
    """The rest of a line, or of the whole order, will not come; nobody counts on it any more.

    Raises NotThatState when nothing is open, ReasonMissing.
    """
    locked = Purchase.objects.select_for_update().get(pk=purchase.pk)
    why = one_line(why)[:300]
    if locked.ordered_on is None:
        raise NotThatState("The order is not sent yet. Drop the draft instead.")
    open_lines = [
        came.line
        for came in lines_came([locked])[locked.pk]
        if came.open and (line is None or came.line.pk == line.pk)
    ]
    if not open_lines:
        raise NotThatState("Nothing of this is open any more.")
    if not why:
        raise ReasonMissing("Write why the rest will not come, for example “the mill has no more of it”.")
    now = timezone.now()
    return [ClosedShort.objects.create(line=each, why=why, said_at=now, by=who) for each in open_lines]


@transaction.atomic
def change_habits(**said: int | bool) -> BuyingHabits:
    """Reckon what to order in another way from now on; names and bounds as in BuyingHabits."""
    habits, _ = BuyingHabits.objects.update_or_create(pk=1, defaults=said)
    return habits
