"""Counting a place through: stopped and resumed, by several people, with what moved meanwhile told apart."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID, uuid5

from django.db import transaction
from django.utils import timezone

from dyehouse.ledger.models import Balance, Item, Lot, Movement, Place
from dyehouse.ledger.operations import Bucket, Step, agree, post
from dyehouse.ledger.places import fixed_place
from dyehouse.studio.models import User
from dyehouse.studio.refusals import Refused
from inventory.models import Counted, CountRound
from recipes.words import one_line

LONGEST_REASON = 300
MOST_PIECES = 9_999


class NotACount(Refused):
    """What was given is no number of pieces, or not of this place."""


class RoundClosed(Refused):
    """The round was settled before."""


class WhyDiffers(Refused):
    """Differences go into the book with a reason only."""


class HeldMissing(Refused):
    """Fewer were counted than are held for somebody."""


@dataclass(frozen=True, slots=True)
class CountRow:
    """One item and lot in a round: what the book has now, what was counted and what the book had then.

    `moved` is what went in or out by the book since it was counted. The difference is the count against the book of that
    moment, so that whatever moved meanwhile is neither lost nor counted twice.
    """

    item: Item
    lot: Lot
    book_now: int
    held: int
    counted: int | None = None
    book_then: int = 0
    counted_at: datetime | None = None
    by: str = ""

    @property
    def difference(self) -> int:
        return 0 if self.counted is None else self.counted - self.book_then

    @property
    def moved(self) -> int:
        return 0 if self.counted is None else self.book_now - self.book_then

    @property
    def will_be(self) -> int:
        """What the book will have once the round is settled."""
        return self.book_now + self.difference


@dataclass(frozen=True, slots=True)
class RoundState:
    """A round with all its rows, those that lie there and those that were found there."""

    round: CountRound
    rows: list[CountRow]

    @property
    def counted(self) -> list[CountRow]:
        return [row for row in self.rows if row.counted is not None]

    @property
    def not_counted(self) -> list[CountRow]:
        return [row for row in self.rows if row.counted is None and row.book_now]

    @property
    def differing(self) -> list[CountRow]:
        return [row for row in self.counted if row.difference]

    @property
    def agreeing(self) -> list[CountRow]:
        return [row for row in self.counted if not row.difference]


@transaction.atomic
def count_place(*, place: Place, who: User) -> CountRound:
    """The round that is open at a place, or a new one. Raises NotACount for a place outside the house or a show."""
    if place.kind == Place.Kind.BOUNDARY:
        raise NotACount(f"{place.name} is outside the house, so nothing can be counted there.")
    if place.kind == Place.Kind.SHOW:
        raise NotACount(f"What is at {place.name} is counted when it comes back, on the page of the show.")
    found = CountRound.objects.filter(place=place, closed_at__isnull=True).first()
    if found is not None:
        return found
    return CountRound.objects.create(place=place, started_at=timezone.now(), started_by=who)


@transaction.atomic
def count_row(*, round: CountRound, item: Item, lot: Lot, pieces: int, who: User) -> Counted:
    """Note how many of something are really there; counting it again replaces that. Nothing moves in the book yet.

    Raises NotACount for a number below zero or beyond all measure, RoundClosed once the round was settled.
    """
    if not 0 <= pieces <= MOST_PIECES:
        raise NotACount(f"A count is a whole number from 0 to {MOST_PIECES}.")
    locked = CountRound.objects.select_for_update().get(pk=round.pk)
    if locked.closed_at is not None:
        raise RoundClosed("This count was settled already. Start a new one to count again.")
    book = Balance.objects.filter(place=locked.place_id, item=item, lot=lot).values_list("on_hand", flat=True)
    return Counted.objects.create(
        round=locked,
        item=item,
        lot=lot,
        pieces=pieces,
        book_pieces=book.first() or 0,
        counted_at=timezone.now(),
        by=who,
    )


def state_of(round: CountRound) -> RoundState:
    """Everything of a round, row by row, by item and lot. Two queries."""
    balances = Balance.objects.filter(place=round.place_id, on_hand__gt=0).select_related("item", "lot")
    there = {(row.item_id, row.lot_id): row for row in balances}
    newest: dict[tuple[int, int], Counted] = {}
    for row in round.counts.select_related("item", "lot", "by").order_by("id"):
        newest[row.item_id, row.lot_id] = row
    rows = []
    for what in {**there, **newest}:
        balance, count = there.get(what), newest.get(what)
        known = balance or count
        assert known is not None
        rows.append(
            CountRow(
                item=known.item,
                lot=known.lot,
                book_now=balance.on_hand if balance is not None else 0,
                held=balance.held if balance is not None else 0,
                counted=count.pieces if count is not None else None,
                book_then=count.book_pieces if count is not None else 0,
                counted_at=count.counted_at if count is not None else None,
                by=str(count.by) if count is not None else "",
            )
        )
    return RoundState(
        round, sorted(rows, key=lambda row: (row.item.name.casefold(), row.lot.name, row.lot.pk))
    )


@transaction.atomic
def settle(
    *, round: CountRound, key: UUID, who: User, why: str, rest_is_gone: bool = False
) -> Movement | None:
    """Let the book follow the counts: every difference in one movement, with its reason, and the round is closed.

    With `rest_is_gone` what nobody counted is not there; without it, it stays as the book has it. None when nothing
    differs. The same key again changes nothing. Raises WhyDiffers, HeldMissing, RoundClosed, NotACount.
    """
    first = Movement.objects.filter(key=key).first()
    if first is not None:
        return first
    locked = CountRound.objects.select_for_update().select_related("place").get(pk=round.pk)
    if locked.closed_at is not None:
        raise RoundClosed("This count was settled already.")
    state = state_of(locked)
    steps = _steps(state.differing, locked.place)
    if rest_is_gone:
        steps += _steps_gone(state.not_counted, locked.place)
    reason = one_line(why)[:LONGEST_REASON]
    if steps and not reason:
        raise WhyDiffers("Say in a few words why the count differs, for example “sold at the door”.")
    if not state.counted and not steps:
        raise NotACount("Nothing was counted yet.")
    for row in state.agreeing:
        agree(
            key=uuid5(key, f"{row.item.pk} {row.lot.pk}"),
            item=row.item,
            lot=row.lot,
            place=locked.place,
            counted=row.book_now,
            who=who,
        )
    locked.closed_at, locked.closed_by, locked.why = timezone.now(), who, reason
    if steps:
        locked.movement = post(
            key=key, who=who, steps=steps, why=f"Counted: {reason}", source=f"count:{locked.pk}"
        )
    locked.save(update_fields=["closed_at", "closed_by", "why", "movement"])
    return locked.movement


def _steps(rows: Sequence[CountRow], place: Place) -> list[Step]:
    here, outside = Bucket(place), Bucket(fixed_place("count_difference"))
    steps = []
    for row in rows:
        if row.will_be < 0:
            raise NotACount(
                f"Since {row.item}, lot {row.lot}, was counted, more of it left than was counted. Count it again."
            )
        if row.will_be < row.held:
            raise HeldMissing(
                f"{row.held} of {row.item}, lot {row.lot}, are held for somebody, and by the count {row.will_be} are "
                "there. Let go or move what is held first, or count again."
            )
        if row.difference > 0:
            steps.append(Step(row.item, row.lot, row.difference, outside, here))
        else:
            steps.append(Step(row.item, row.lot, -row.difference, here, outside))
    return steps


def _steps_gone(rows: Sequence[CountRow], place: Place) -> list[Step]:
    here, outside = Bucket(place), Bucket(fixed_place("count_difference"))
    for row in rows:
        if row.held:
            raise HeldMissing(
                f"{row.held} of {row.item}, lot {row.lot}, are held for somebody and were not counted. Count them."
            )
    return [Step(row.item, row.lot, row.book_now, here, outside) for row in rows]
