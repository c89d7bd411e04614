"""Back from a show: one count of what returned, and what that makes of the rest: sold, missing, or one of the two."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from dyehouse.ledger.models import Item, Lot, Movement, Place
from dyehouse.ledger.operations import Bucket, Step, post, reverse
from dyehouse.ledger.places import fixed_place
from dyehouse.studio.models import User
from dyehouse.studio.refusals import Refused
from inventory.shows.models import CameBack, Closing, Result, SaidSold, Show
from inventory.shows.packing import LONGEST_REASON, lines_taken, refuse_what_is_over
from inventory.shows.planning import MOST_PIECES
from inventory.shows.tallying import tallied
from inventory.shows.things import Named, Thing, named_thing, thing_of
from recipes.words import one_line


class NotCounted(Refused):
    """What is given is no count of what came back."""


class CountFirst(Refused):
    """Something was neither counted nor said to be gone."""


class DoesNotAddUp(Refused):
    """More came back, or were sold, than were taken."""


class WhyMissing(Refused):
    """What is missing is written off with a reason only."""


class GoesWhere(Refused):
    """Something cannot go back to where it lay."""


@dataclass(slots=True)
class BackRow:
    """One lot of an item: how many were taken from which places, and how many came back; None: not counted yet."""

    item: Item
    lot: Lot
    named: Named
    sources: list[tuple[Place, int]] = field(default_factory=list)
    counted: int | None = None
    counted_at: datetime | None = None
    by: str = ""

    @property
    def taken(self) -> int:
        return sum(pieces for _, pieces in self.sources)

    @property
    def back(self) -> int:
        """How many came back as far as was counted."""
        return self.counted or 0

    @property
    def field(self) -> str:
        return f"n_{self.item.pk}_{self.lot.pk}"


@dataclass(slots=True)
class ItemBack:
    """A thing with its lots: taken less returned is gone; how many of those were sold, where a tally or takings say so."""

    item: Item
    thing: Thing
    named: Named
    rows: list[BackRow] = field(default_factory=list)
    tallied: int | None = None
    said: int | None = None

    @property
    def taken(self) -> int:
        return sum(row.taken for row in self.rows)

    @property
    def returned(self) -> int:
        return sum(row.back for row in self.rows)

    @property
    def gone(self) -> int:
        return self.taken - self.returned

    @property
    def sold(self) -> int | None:
        """By the takings where they were typed, else by the tally; None where neither tells."""
        return self.said if self.said is not None else self.tallied

    @property
    def missing(self) -> int | None:
        return None if self.sold is None else self.gone - self.sold

    @property
    def counted(self) -> bool:
        return all(row.counted is not None for row in self.rows)

    @property
    def field(self) -> str:
        return f"s_{self.thing.key}"


@dataclass(frozen=True, slots=True)
class BackState:
    """Everything of a closing count, item by item."""

    show: Show
    items: list[ItemBack]

    @property
    def rows(self) -> list[BackRow]:
        return [row for item in self.items for row in item.rows]

    @property
    def not_counted(self) -> list[BackRow]:
        return [row for row in self.rows if row.counted is None]

    @property
    def taken(self) -> int:
        return sum(item.taken for item in self.items)

    @property
    def returned(self) -> int:
        return sum(item.returned for item in self.items)


def back_state(show: Show, *, user: User | None) -> BackState:
    """The closing count of a show as it stands. Four queries, however many rows."""
    rows: dict[tuple[int, int], BackRow] = {}
    for line in lines_taken(show):
        row = rows.setdefault(
            (line.item_id, line.lot_id), BackRow(line.item, line.lot, named_thing(line.item, line.lot, user))
        )
        row.sources.append((line.from_place, line.quantity))
    for count in CameBack.objects.filter(show=show).select_related("by").order_by("id"):
        known = rows.get((count.item_id, count.lot_id))
        if known is not None:
            known.counted, known.counted_at, known.by = count.pieces, count.counted_at, str(count.by)
    touches = tallied(show)
    said = {
        Thing(each.item_id, each.lot_id): each.pieces
        for each in SaidSold.objects.filter(show=show).order_by("id")
    }
    items: dict[Thing, ItemBack] = {}
    for row in sorted(rows.values(), key=lambda each: (each.named.order, each.lot.name, each.lot.pk)):
        thing = thing_of(row.item, row.lot)
        item = items.setdefault(
            thing, ItemBack(row.item, thing, row.named, [], touches.get(thing), said.get(thing))
        )
        item.rows.append(row)
    return BackState(show, list(items.values()))


@transaction.atomic
def count_back(*, show: Show, item: Item, lot: Lot, pieces: int, who: User) -> CameBack:
    """Note how many of a lot came back; counting again replaces that. Nothing moves yet. Raises NotCounted, ShowIsOver."""
    locked = refuse_what_is_over(show)
    if not 0 <= pieces <= MOST_PIECES:
        raise NotCounted(f"A count is a whole number from 0 to {MOST_PIECES}.")
    if (item.pk, lot.pk) not in {(line.item_id, line.lot_id) for line in lines_taken(locked)}:
        raise NotCounted("This was not taken to the show by the book.")
    return CameBack.objects.create(
        show=locked, item=item, lot=lot, pieces=pieces, counted_at=timezone.now(), by=who
    )


@transaction.atomic
def say_sold(*, show: Show, thing: Thing, pieces: int | None, who: User) -> SaidSold:
    """How many of something the takings say were sold; None takes that back. Nothing moves yet. Raises NotCounted, ShowIsOver."""
    locked = refuse_what_is_over(show)
    if pieces is not None and not 0 <= pieces <= MOST_PIECES:
        raise NotCounted(f"Write a whole number from 0 to {MOST_PIECES}, or leave it empty.")
    return SaidSold.objects.create(
        show=locked,
        item_id=thing.item_id,
        lot_id=thing.lot_id,
        pieces=pieces,
        said_at=timezone.now(),
        by=who,
    )


@transaction.atomic
def close(
    *,
    key: UUID,
    show: Show,
    who: User,
    why: str = "",
    to: Place | None = None,
    rest_is_gone: bool = False,
    now: datetime | None = None,
) -> Closing:
    """Put the closing count into the book in one movement: what returned lies on shelves and is free, the rest is gone.

    Returned pieces go `to` a shelf place, or each back where it lay. Sold ones go to customers, missing ones are a count
    difference, and what neither tally nor takings tell of is “sold or missing”. With `rest_is_gone` what nobody counted did
    not come back. The same key again gives the first closing. Raises CountFirst, DoesNotAddUp, WhyMissing, GoesWhere.
    """
    first = Closing.objects.filter(movement__key=key).first()
    if first is not None:
        return first
    locked = refuse_what_is_over(show)
    state = back_state(locked, user=None)
    _refuse_what_does_not_add_up(state, rest_is_gone=rest_is_gone)
    reason = one_line(why)[:LONGEST_REASON]
    missing = sum(item.missing or 0 for item in state.items)
    if missing and not reason:
        raise WhyMissing(
            f"{missing} {'is' if missing == 1 else 'are'} missing. Say in a word or two what is known of that."
        )
    ends = _Ends.here(locked)
    steps = [step for item in state.items for step in _steps_of(item, ends, to)]
    movement = post(
        key=key,
        who=who,
        steps=steps,
        why=f"Back from {locked.name}{f': {reason}' if reason else ''}"[:LONGEST_REASON],
        source=f"show:{locked.pk}",
        happened_at=now,
    )
    Place.objects.filter(pk=locked.place_id).update(closed_at=movement.happened_at)
    closing = Closing.objects.create(
        show=locked, movement=movement, closed_at=movement.happened_at, by=who, why=reason
    )
    Result.objects.bulk_create(
        Result(
            closing=closing,
            item=item.item,
            lot_id=item.thing.lot_id,
            taken=item.taken,
            returned=item.returned,
            sold=item.sold or 0,
            missing=item.missing or 0,
            sold_or_missing=item.gone if item.sold is None else 0,
        )
        for item in state.items
    )
    return closing


def _refuse_what_does_not_add_up(state: BackState, *, rest_is_gone: bool) -> None:
    if not state.items:
        raise CountFirst("Nothing was taken to this show by the book.")
    left = state.not_counted
    if left and not rest_is_gone:
        words = "1 row is" if len(left) == 1 else f"{len(left)} rows are"
        raise CountFirst(
            f"{words} not counted yet. Count them, or say that what was not counted did not come back."
        )
    for item in state.items:
        called = _by_code(item)
        if item.gone < 0:
            raise DoesNotAddUp(
                f"Of {called} {item.taken} were taken and {item.returned} came back. "
                "Count again, or take what was missed on the pack list first."
            )
        if item.sold is not None and item.sold > item.gone:
            how = "typed as sold" if item.said is not None else "tallied as sold"
            raise DoesNotAddUp(
                f"Of {called} {item.sold} are {how} and {item.gone} are gone: {item.taken} taken, {item.returned} "
                "back. Count again, or write how many were sold."
            )


def _by_code(item: ItemBack) -> str:
    # Lots are named by their codes, so that no sentence tells a secret name.
    return f"{item.named} ({', '.join(row.lot.name for row in item.rows)})"


@dataclass(frozen=True, slots=True)
class _Ends:
    """Where pieces of a show end."""

    show: Bucket
    sold: Bucket
    difference: Bucket
    untold: Bucket

    @classmethod
    def here(cls, show: Show) -> _Ends:
        return cls(
            Bucket(show.place),
            Bucket(fixed_place("customer")),
            Bucket(fixed_place("count_difference")),
            Bucket(fixed_place("sold_or_missing")),
        )


def _steps_of(item: ItemBack, ends: _Ends, to: Place | None) -> list[Step]:
    """All that becomes of one item: first lots that were mistaken for one another, then what is gone, then what is back."""
    steps: list[Step] = []
    gone = {row.lot.pk: row.taken - row.back for row in item.rows}
    more = sum(-each for each in gone.values() if each < 0)
    for row in item.rows:
        if gone[row.lot.pk] < 0:
            steps.append(Step(item.item, row.lot, -gone[row.lot.pk], ends.difference, ends.show))
            gone[row.lot.pk] = 0
    outcome = [(more, ends.difference)]
    if item.sold is None:
        outcome.append((item.gone, ends.untold))
    else:
        outcome += [(item.sold, ends.sold), (item.gone - item.sold, ends.difference)]
    for pieces, end in outcome:
        steps += _leave(item, gone, pieces, ends.show, end)
    for row in item.rows:
        steps += _home(row, ends.show, to)
    return steps


def _leave(item: ItemBack, gone: dict[int, int], pieces: int, start: Bucket, end: Bucket) -> Sequence[Step]:
    steps = []
    for row in item.rows:
        took = min(pieces, gone[row.lot.pk])
        if took:
            steps.append(Step(item.item, row.lot, took, start, end))
            gone[row.lot.pk] -= took
            pieces -= took
    return steps


def _home(row: BackRow, start: Bucket, to: Place | None) -> list[Step]:
    if not row.back:
        return []
    if to is not None:
        if to.kind != Place.Kind.SHELF or to.closed_at is not None:
            raise GoesWhere(f"{to.name} is not a shelf place that is in use. Choose one that is.")
        return [Step(row.item, row.lot, row.back, start, Bucket(to))]
    homes: dict[int, int] = {}
    places: dict[int, Place] = {}
    left = row.back
    for number, (place, pieces) in enumerate(row.sources, start=1):
        # More of a lot than was taken of it goes with the last.
        took = left if number == len(row.sources) else min(left, pieces)
        homes[place.pk] = homes.get(place.pk, 0) + took
        places[place.pk] = place
        left -= took
    closed = next((places[pk] for pk, pieces in homes.items() if pieces and places[pk].closed_at), None)
    if closed is not None:
        raise GoesWhere(
            f"{closed.name}, where lot {row.lot.name} lay, is no longer in use. Choose one place for all."
        )
    return [
        Step(row.item, row.lot, pieces, start, Bucket(places[pk])) for pk, pieces in homes.items() if pieces
    ]


@transaction.atomic
def open_again(*, key: UUID, closing: Closing, who: User, why: str) -> Movement:
    """Take a closing back with a reason: all of it is at the show again and may be counted anew. The count stays as typed.

    The same key again changes nothing. Raises the ledger's ReasonMissing, AlreadyReversed, and NotEnough when something
    that came back has moved on since.
    """
    first = Movement.objects.filter(key=key).first()
    if first is not None:
        return first
    movement = reverse(movement=closing.movement, key=key, who=who, why=one_line(why)[:LONGEST_REASON])
    Place.objects.filter(show=closing.show_id).update(closed_at=None)
    return movement


def closing_of(show: Show) -> Closing | None:
    """The closing that holds. One query."""
    rows = Closing.objects.filter(show=show, movement__reversed_by__isnull=True)
    return rows.select_related("by", "movement").first()


def sums(results: Sequence[Result]) -> Mapping[str, int]:
    """What all items of a show come to together."""
    kinds = ("taken", "returned", "sold", "missing", "sold_or_missing")
    return {kind: sum(getattr(each, kind) for each in results) for kind in kinds}
