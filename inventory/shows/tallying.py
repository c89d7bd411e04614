"""The tally at the booth: one touch a piece sold. It moves nothing; the closing count is split by it."""

from __future__ import annotations

from dataclasses import dataclass
from uuid import UUID

from django.db import transaction
from django.db.models import Sum
from django.utils import timezone

from dyehouse.ledger.models import Item
from dyehouse.studio.models import User
from dyehouse.studio.refusals import Refused
from inventory.shows.models import Show, Takings, Tallied
from inventory.shows.packing import lines_taken, refuse_what_is_over
from inventory.shows.things import Named, named_item


class NotAtTheShow(Refused):
    """What is tallied was not taken to the show."""


class NoneTallied(Refused):
    """A touch is taken back that nobody made."""


@dataclass(frozen=True, slots=True)
class TallyRow:
    """One item at a show: how many were taken, and how many touches it has."""

    item: Item
    named: Named
    taken: int
    tallied: int


@transaction.atomic
def tally(*, key: UUID, show: Show, item: Item, who: User, pieces: int = 1) -> int:
    """One more sold of an item, or with −1 one touch taken back; how many are tallied of it now is given back.

    The same key again changes nothing. Raises NotAtTheShow, NoneTallied, and ShowIsOver once it was counted back.
    """
    if Tallied.objects.filter(key=key).exists():
        return tallied(show).get(item.pk, 0)
    locked = refuse_what_is_over(show)
    if pieces not in (1, -1):
        raise NoneTallied("A touch is one piece.")
    if item.pk not in {line.item_id for line in lines_taken(locked)}:
        raise NotAtTheShow("This was not taken to the show.")
    so_far = tallied(locked).get(item.pk, 0)
    if so_far + pieces < 0:
        raise NoneTallied("None of this is tallied, so nothing can be taken back.")
    Tallied.objects.create(key=key, show=locked, item=item, pieces=pieces, tallied_at=timezone.now(), by=who)
    return so_far + pieces


def tallied(show: Show) -> dict[int, int]:
    """How many are tallied of each item (by its id) that has a touch at all. One query."""
    rows = Tallied.objects.filter(show=show).order_by().values_list("item").annotate(Sum("pieces"))
    return dict(rows)


def tally_rows(show: Show, *, user: User | None) -> list[TallyRow]:
    """Everything that was taken to a show with its tally, by name. Two queries."""
    taken: dict[int, tuple[Item, int]] = {}
    for line in lines_taken(show):
        item, before = taken.get(line.item_id, (line.item, 0))
        taken[line.item_id] = (item, before + line.quantity)
    touches = tallied(show)
    rows = [
        TallyRow(item, named_item(item, user), pieces, touches.get(pk, 0))
        for pk, (item, pieces) in taken.items()
    ]
    return sorted(rows, key=lambda row: (row.named.order, row.item.pk))


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
