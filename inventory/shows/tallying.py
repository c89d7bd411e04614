"""The tally at the booth: one touch a piece sold. It moves nothing; the closing count is split by it."""

from __future__ import annotations

from dataclasses import dataclass
from uuid import UUID

from django.db import transaction
from django.db.models import Sum
from django.utils import timezone

from dyehouse.studio.models import User
from dyehouse.studio.refusals import Refused
from inventory.shows.models import Show, Takings, Tallied
from inventory.shows.packing import lines_taken, refuse_what_is_over
from inventory.shows.things import Named, Thing, named_thing, thing_of


class NotAtTheShow(Refused):
    """What is tallied was not taken to the show."""


class NoneTallied(Refused):
    """A touch is taken back that nobody made."""


@dataclass(frozen=True, slots=True)
class TallyRow:
    """One thing at a show: how many were taken, and how many touches it has."""

    thing: Thing
    named: Named
    taken: int
    tallied: int


@transaction.atomic
def tally(*, key: UUID, show: Show, thing: Thing, who: User, pieces: int = 1) -> int:
    """One more sold of something, or with −1 one touch taken back; how many are tallied of it now is given back.

    The same key again changes nothing. Raises NotAtTheShow, NoneTallied, and ShowIsOver once it was counted back.
    """
    if Tallied.objects.filter(key=key).exists():
        return tallied(show).get(thing, 0)
    locked = refuse_what_is_over(show)
    if pieces not in (1, -1):
        raise NoneTallied("A touch is one piece.")
    if thing not in {thing_of(line.item, line.lot) for line in lines_taken(locked)}:
        raise NotAtTheShow("This was not taken to the show.")
    so_far = tallied(locked).get(thing, 0)
    if so_far + pieces < 0:
        raise NoneTallied("None of this is tallied, so nothing can be taken back.")
    Tallied.objects.create(
        key=key,
        show=locked,
        item_id=thing.item_id,
        lot_id=thing.lot_id,
        pieces=pieces,
        tallied_at=timezone.now(),
        by=who,
    )
    return so_far + pieces


def tallied(show: Show) -> dict[Thing, int]:
    """How many are tallied of each thing that has a touch at all. One query."""
    rows = Tallied.objects.filter(show=show).order_by().values_list("item", "lot").annotate(Sum("pieces"))
    return {Thing(item, lot): pieces for item, lot, pieces in rows}


def tally_rows(show: Show, *, user: User | None) -> list[TallyRow]:
    """Everything that was taken to a show with its tally, by name. Two queries."""
    taken: dict[Thing, int] = {}
    named: dict[Thing, Named] = {}
    for line in lines_taken(show):
        thing = thing_of(line.item, line.lot)
        taken[thing] = taken.get(thing, 0) + line.quantity
        named.setdefault(thing, named_thing(line.item, line.lot, user))
    touches = tallied(show)
    rows = [TallyRow(thing, named[thing], pieces, touches.get(thing, 0)) for thing, pieces in taken.items()]
    return sorted(rows, key=lambda row: (row.named.order, row.thing.key))


@transaction.atomic
def note_takings(*, show: Show, minor: int, currency: str, who: User) -> Takings:
    """What the show took in money, in the currency's smallest unit; typed again, the newest holds."""
    newest = takings_of(show)
    if newest is not None and (newest.minor, newest.currency) == (minor, currency):
        return newest
    return Takings.objects.create(show=show, minor=minor, currency=currency, typed_at=timezone.now(), by=who)


def takings_of(show: Show) -> Takings | None:
    """The takings that hold. One query."""
    return Takings.objects.filter(show=show).order_by("-id").first()
