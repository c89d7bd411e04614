"""Pieces put aside by hand: held for somebody until a day, let go or handed over, never silently."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from uuid import UUID, uuid5

from django.db import transaction
from django.utils import timezone

from dyehouse.ledger.models import Held, Movement, Place
from dyehouse.ledger.operations import Bucket, Step, claim_for, hold, post, release
from dyehouse.ledger.places import fixed_place
from dyehouse.ledger.queries import held_for
from dyehouse.studio.models import User
from dyehouse.studio.refusals import Refused
from inventory.models import HandHold
from recipes.lots.models import DyeLot
from recipes.models import DyedYarn
from recipes.words import one_line

LONGEST_NAME = 120
LONGEST_REASON = 300


class NotHeldFor(Refused):
    """Nobody is named, or no piece is put aside."""


class HoldUntilWhen(Refused):
    """The day is not one to hold until."""


class HoldEnded(Refused):
    """The hold was let go or handed over before."""


class HowEnded(Refused):
    """A hold is let go with a reason only."""


@dataclass(frozen=True, slots=True)
class HoldLine:
    """One open hold in a list: what, for whom, where its pieces lie, and whether its day has come."""

    hold: HandHold
    name: str
    places: str
    pieces: int
    due: bool


@transaction.atomic
def hold_by_hand(
    *,
    key: UUID,
    dyed: DyedYarn,
    dye_lot: DyeLot,
    place: Place,
    pieces: int,
    for_whom: str,
    until: dt.date,
    who: User,
    note: str = "",
    now: dt.datetime | None = None,
) -> HandHold:
    """Put free pieces aside for somebody until a day; they stay where they lie and cannot be promised again.

    The same key again gives the first hold. Raises NotHeldFor without a name or a piece, HoldUntilWhen for a day gone by,
    and the ledger's NotEnough when fewer are free.
    """
    claim_key = uuid5(key, "hold")
    first = HandHold.objects.filter(claim__key=claim_key).first()
    if first is not None:
        return first
    name = one_line(for_whom)[:LONGEST_NAME]
    if not name:
        raise NotHeldFor("Write for whom they are put aside.")
    if pieces < 1:
        raise NotHeldFor("Put at least one piece aside.")
    if place.kind == Place.Kind.SHOW:
        raise NotHeldFor(f"These are at {place.name} and not free until they are back. Choose others.")
    at = now or timezone.now()
    if until < timezone.localdate(at):
        raise HoldUntilWhen("This day has gone by. Choose today or a later day.")
    claim = claim_for(key=claim_key, held_for=name)
    made = HandHold.objects.create(
        claim=claim,
        dyed=dyed,
        dye_lot=dye_lot,
        for_whom=name,
        until=until,
        note=one_line(note)[:LONGEST_REASON],
        made_at=at,
        made_by=who,
    )
    post(
        key=key,
        who=who,
        steps=[hold(item=dyed.item, lot=dye_lot.lot, quantity=pieces, place=place, claim=claim)],
        why=f"Held for {name}",
        source=f"lot:{dye_lot.code}",
        happened_at=at,
    )
    return made


@transaction.atomic
def hold_longer(*, held: HandHold, until: dt.date) -> HandHold:
    """Hold until another day. Raises HoldUntilWhen for a day gone by, HoldEnded when it holds nothing any more."""
    held = _open(held)
    if until < timezone.localdate():
        raise HoldUntilWhen("This day has gone by. Choose today or a later day.")
    held.until = until
    held.save(update_fields=["until"])
    return held


@transaction.atomic
def let_go(*, held: HandHold, key: UUID, who: User, why: str) -> Movement:
    """Make all pieces of a hold free again where they lie, with a reason. The same key again changes nothing.

    Raises HowEnded without a reason, HoldEnded when it was let go or handed over before.
    """
    first = Movement.objects.filter(key=key).first()
    if first is not None:
        return first
    held = _open(held)
    reason = one_line(why)[:LONGEST_REASON]
    if not reason:
        raise HowEnded("Say in a word or two why they are let go.")
    steps = [
        release(item=row.item, lot=row.lot, quantity=row.quantity, place=row.place, claim=held.claim)
        for row in held_for(held.claim)
    ]
    return _end(held, key=key, who=who, steps=steps, how=reason, why=f"Let go: {reason}")


@transaction.atomic
def hand_over(*, held: HandHold, key: UUID, who: User) -> Movement:
    """The pieces of a hold go to whom they were held for, and out of the house. The same key again changes nothing.

    Raises HoldEnded when it was let go or handed over before.
    """
    first = Movement.objects.filter(key=key).first()
    if first is not None:
        return first
    held = _open(held)
    customer = Bucket(fixed_place("customer"))
    steps = [
        Step(row.item, row.lot, row.quantity, Bucket(row.place, held.claim), customer)
        for row in held_for(held.claim)
    ]
    return _end(held, key=key, who=who, steps=steps, how="handed over", why=f"Handed over to {held.for_whom}")


def _open(held: HandHold) -> HandHold:
    locked = HandHold.objects.select_for_update().select_related("claim").get(pk=held.pk)
    if locked.ended_at is not None:
        raise HoldEnded(f"This was {locked.ended_how} already; nothing is held any more.")
    return locked


def _end(held: HandHold, *, key: UUID, who: User, steps: list[Step], how: str, why: str) -> Movement:
    if not steps:
        raise HoldEnded("Nothing is held any more.")
    held.ended_at, held.ended_by, held.ended_how = timezone.now(), who, how
    held.save(update_fields=["ended_at", "ended_by", "ended_how"])
    return post(key=key, who=who, steps=steps, why=why, source=f"hold:{held.pk}")


def open_holds(
    *, user: User, due_by: dt.date | None = None, of: Iterable[int] | None = None
) -> list[HoldLine]:
    """The holds that still hold, the one due first at the top; only those due by a day, or of some lots (ids). One query."""
    today = timezone.localdate()
    rows = Held.objects.filter(quantity__gt=0, claim__hand_hold__ended_at__isnull=True)
    rows = rows.filter(claim__hand_hold__isnull=False)
    if due_by is not None:
        rows = rows.filter(claim__hand_hold__until__lte=due_by)
    if of is not None:
        rows = rows.filter(claim__hand_hold__dye_lot__in=list(of))
    lying: dict[HandHold, list[Held]] = {}
    for row in rows.select_related(
        "place",
        "claim__hand_hold__dyed__put_up__base",
        "claim__hand_hold__dye_lot__colourway",
        "claim__hand_hold__made_by",
    ).order_by("claim__hand_hold__until", "claim__hand_hold__id", "place__order"):
        lying.setdefault(row.claim.hand_hold, []).append(row)
    return [
        HoldLine(
            hold=held,
            name=held.dye_lot.shown_name(user),
            places=", ".join(row.place.name for row in there),
            pieces=sum(row.quantity for row in there),
            due=held.until <= today,
        )
        for held, there in lying.items()
    ]
