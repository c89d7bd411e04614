"""Posting what moved: every change of stock in the house goes through `post` or `reverse`.

The database's triggers have the last word (triggers.py); what is here says beforehand, in words, what they would refuse.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from uuid import UUID

from django.db import IntegrityError, connection, transaction
from django.utils import timezone

from dyehouse.ledger.guard import constraint_of
from dyehouse.ledger.models import (
    LARGEST_QUANTITY,
    AgreedCount,
    Balance,
    Claim,
    Held,
    Item,
    Line,
    Lot,
    Movement,
    Place,
)
from dyehouse.ledger.places import fixed_place
from dyehouse.studio.models import User
from dyehouse.studio.refusals import Refused
from recipes.dyeing.units import format_grams, format_millilitres


@dataclass(frozen=True, slots=True)
class Bucket:
    """Where a quantity is: at a place, free, or held there for a claim."""

    place: Place
    claim: Claim | None = None


@dataclass(frozen=True, slots=True)
class Step:
    """A quantity of one item and lot from one bucket to another: whole pieces, milligrams or microlitres, as the item's.

    ValueError when it is not a whole number from 1, or when it goes nowhere.
    """

    item: Item
    lot: Lot
    quantity: int
    source: Bucket
    target: Bucket

    def __post_init__(self) -> None:
        if type(self.quantity) is not int or not 1 <= self.quantity <= LARGEST_QUANTITY:
            raise ValueError(f"A step takes a whole quantity from 1, not {self.quantity!r}.")
        if _bucket_key(self.source) == _bucket_key(self.target):
            raise ValueError("A step goes from one bucket to another.")


class NotEnough(Refused):
    """More is wanted from a bucket than is free (or held) there; nothing was posted."""

    def __init__(
        self, *, item: Item, lot: Lot, place: Place, wanted: int, free: int, claim: Claim | None = None
    ):
        self.item, self.lot, self.place, self.claim = item, lot, place, claim
        self.wanted, self.free = wanted, free
        state = f"held for {claim}" if claim is not None else "free"
        there = "None" if free == 0 else f"Only {say_quantity(free, item)}"
        super().__init__(
            f"{there} of {item}, lot {lot}, {'is' if free in (0, 1) or item.unit != Item.Unit.PIECE else 'are'} {state} "
            f"in {_in_a_sentence(place.name)}; {say_quantity(wanted, item)} {'is' if wanted == 1 else 'are'} wanted."
        )


class KeyUsedBefore(Refused):
    """The key of a posting was used for another posting with other lines."""


class AlreadyReversed(Refused):
    """The movement was taken back before, or is itself a taking back."""


class ReasonMissing(Refused):
    """A movement is taken back with a reason only."""


def say_quantity(quantity: int, item: Item) -> str:
    """A quantity of an item in words: 3 pieces, 2.5 g, 40 ml."""
    if item.unit == Item.Unit.MILLIGRAM:
        return format_grams(quantity)
    if item.unit == Item.Unit.MICROLITRE:
        return format_millilitres(quantity)
    return "1 piece" if quantity == 1 else f"{quantity} pieces"


def _in_a_sentence(name: str) -> str:
    return name[:1].lower() + name[1:] if name.startswith("The ") else name


def post(
    *,
    key: UUID,
    who: User | None,
    steps: Sequence[Step],
    why: str = "",
    source: str = "",
    happened_at: datetime | None = None,
    find_missing: bool = False,
) -> Movement:
    """Post steps, in their order, as one movement: all of them or none.

    The same key with the same steps gives the first movement again and posts nothing. With `find_missing`, what is
    short at a real place is first brought in from count_difference within the movement ("found at the pot").
    `happened_at` is aware and defaults to now; `source` names what in the house caused it, as kind:key.
    Raises NotEnough, KeyUsedBefore; ValueError without steps or with a naive time.
    """
    if not steps:
        raise ValueError("A movement has at least one step.")
    if happened_at is not None and timezone.is_naive(happened_at):
        raise ValueError("happened_at is an aware time.")
    return _write(
        Movement(
            key=key,
            who=who,
            why=why,
            source=source,
            happened_at=happened_at or timezone.now(),
            digest=digest_of_steps(steps),
        ),
        steps,
        find_missing=find_missing,
    )


def reverse(*, movement: Movement, key: UUID, who: User | None, why: str) -> Movement:
    """Take a movement back, once, with a reason: its lines go the other way, last first, as one movement.

    The same key again gives the first taking back. Raises ReasonMissing, AlreadyReversed, KeyUsedBefore, and NotEnough
    when what it brought has moved on.
    """
    if not why.strip():
        raise ReasonMissing("Say why this is taken back, in a word or two.")
    if movement.reverses_id is not None:
        raise AlreadyReversed("This was itself a taking back. Enter what is right afresh instead.")
    lines = movement.lines.select_related(
        "item", "lot", "from_place", "from_claim", "to_place", "to_claim"
    ).order_by("-id")
    steps = [
        Step(
            line.item,
            line.lot,
            line.quantity,
            Bucket(line.to_place, line.to_claim),
            Bucket(line.from_place, line.from_claim),
        )
        for line in lines
    ]
    return _write(
        Movement(
            key=key,
            who=who,
            why=why.strip(),
            source=movement.source,
            happened_at=timezone.now(),
            digest=digest_of_steps(steps, reverses_id=movement.pk),
            reverses=movement,
        ),
        steps,
    )


def claim_for(*, key: UUID, held_for: str) -> Claim:
    """What pieces are to be held for; the same key gives the same claim, which never changes."""
    claim, _ = Claim.objects.get_or_create(
        key=key, defaults={"held_for": held_for, "made_at": timezone.now()}
    )
    return claim


def hold(*, item: Item, lot: Lot, quantity: int, place: Place, claim: Claim) -> Step:
    """The step that holds a free quantity for a claim where it lies."""
    return Step(item, lot, quantity, Bucket(place), Bucket(place, claim))


def release(*, item: Item, lot: Lot, quantity: int, place: Place, claim: Claim) -> Step:
    """The step that makes a held quantity free again where it lies."""
    return Step(item, lot, quantity, Bucket(place, claim), Bucket(place))


def agree(*, key: UUID, item: Item, lot: Lot, place: Place, counted: int, who: User) -> AgreedCount:
    """Keep that a count found just what the book has. Nothing moves; the same key again gives the first."""
    agreed, _ = AgreedCount.objects.get_or_create(
        key=key,
        defaults={
            "item": item,
            "lot": lot,
            "place": place,
            "quantity": counted,
            "recorded_at": timezone.now(),
            "who": who,
        },
    )
    return agreed


def digest_of_steps(steps: Iterable[Step], *, reverses_id: int | None = None) -> str:
    """A digest of the steps as asked for (without what was found), to tell another posting under the same key."""
    return digest_of_rows(
        (
            (
                step.item.pk,
                step.lot.pk,
                step.quantity,
                *_bucket_key(step.source),
                *_bucket_key(step.target),
            )
            for step in steps
        ),
        reverses_id=reverses_id,
    )


def digest_of_rows(rows: Iterable[tuple[int | None, ...]], *, reverses_id: int | None) -> str:
    """The digest of lines given as item, lot, quantity, from place, from claim, to place, to claim (ids)."""
    text = "\n".join([f"reverses {reverses_id}", *(" ".join(map(str, row)) for row in rows)])
    return hashlib.sha256(text.encode()).hexdigest()


def _bucket_key(bucket: Bucket) -> tuple[int, int | None]:
    return bucket.place.pk, bucket.claim.pk if bucket.claim is not None else None


def _write(movement: Movement, steps: Sequence[Step], *, find_missing: bool = False) -> Movement:
    try:
        with transaction.atomic():
            return _write_once(movement, steps, find_missing=find_missing)
    except IntegrityError as error:
        # Somebody who does not post through here took it in between: say so in words.
        if not constraint_of(error).startswith("line_takes_more_than_is_"):
            raise
        short = _shortages(steps)
        if not short:
            raise
        raise _not_enough(short[0]) from error


def _write_once(movement: Movement, steps: Sequence[Step], *, find_missing: bool) -> Movement:
    _take_turns(movement.key, steps)
    first = Movement.objects.filter(key=movement.key).first()
    if first is not None:
        if first.digest != movement.digest:
            raise KeyUsedBefore(
                "This was entered before with other amounts. Open the page afresh and enter it again."
            )
        return first
    if movement.reverses_id is not None and Movement.objects.filter(reverses=movement.reverses_id).exists():
        raise AlreadyReversed("This was taken back before.")
    short = _shortages(steps)
    if short and not find_missing:
        raise _not_enough(short[0])
    found = _found(short)
    movement.recorded_at = timezone.now()
    movement.found_count = len(found)
    movement.line_count = len(found) + len(steps)
    movement.save(force_insert=True)
    Line.objects.bulk_create(
        Line(
            movement=movement,
            number=number,
            item=step.item,
            lot=step.lot,
            quantity=step.quantity,
            from_place=step.source.place,
            from_claim=step.source.claim,
            to_place=step.target.place,
            to_claim=step.target.claim,
        )
        for number, step in enumerate([*found, *steps], start=1)
    )
    return movement


def _take_turns(key: UUID, steps: Sequence[Step]) -> None:
    """Wait for whoever else posts the same key, item or lot, so that what is read next still holds when written.

    SQLite's immediate transactions do that by themselves. On PostgreSQL the locks are taken in one order, so that no
    two postings wait for each other; they end with the transaction.
    """
    if connection.vendor != "postgresql":
        return
    pairs = sorted({(step.item.pk, step.lot.pk) for step in steps})
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_advisory_xact_lock(%s)", [key.int % 2**63])
        # unnest keeps the order of the arrays, so the locks are taken in it.
        cursor.execute(
            "SELECT pg_advisory_xact_lock(i, l) FROM unnest(%s::int[], %s::int[]) AS pair (i, l)",
            [[item_id % 2**31 for item_id, _ in pairs], [lot_id % 2**31 for _, lot_id in pairs]],
        )


@dataclass(frozen=True, slots=True)
class _Shortage:
    step: Step
    free: int
    missing: int


def _shortages(steps: Sequence[Step]) -> list[_Shortage]:
    """Where the steps, taken in order, ask more of a real bucket than is there by then."""
    there = _what_is_there(steps)
    short = []
    for step in steps:
        what = (step.item.pk, step.lot.pk)
        source, target = (what, _bucket_key(step.source)), (what, _bucket_key(step.target))
        if step.source.place.kind != Place.Kind.BOUNDARY:
            free = there.get(source, 0)
            missing = max(0, step.quantity - free)
            if missing:
                short.append(_Shortage(step, free, missing))
            there[source] = free + missing - step.quantity
        there[target] = there.get(target, 0) + step.quantity
    return short


def _what_is_there(
    steps: Sequence[Step],
) -> dict[tuple[tuple[int, int], tuple[int, int | None]], int]:
    items, lots = {step.item.pk for step in steps}, {step.lot.pk for step in steps}
    there: dict[tuple[tuple[int, int], tuple[int, int | None]], int] = {}
    balances = Balance.objects.filter(lot__in=lots, item__in=items, on_hand__gt=0)
    columns = ("item_id", "lot_id", "place_id", "on_hand", "held")
    for item_id, lot_id, place_id, on_hand, held_there in balances.values_list(*columns):
        there[(item_id, lot_id), (place_id, None)] = on_hand - held_there
    claims = {step.source.claim.pk for step in steps if step.source.claim is not None}
    if claims:
        for held in Held.objects.filter(claim__in=claims, lot__in=lots, item__in=items):
            there[(held.item_id, held.lot_id), (held.place_id, held.claim_id)] = held.quantity
    return there


def _not_enough(short: _Shortage) -> NotEnough:
    step = short.step
    return NotEnough(
        item=step.item,
        lot=step.lot,
        place=step.source.place,
        claim=step.source.claim,
        wanted=step.quantity,
        free=short.free,
    )


def _found(short: Sequence[_Shortage]) -> list[Step]:
    """One step a bucket that brings in all that is missing there."""
    if not short:
        return []
    outside = Bucket(fixed_place("count_difference"))
    found: dict[tuple[int, int, tuple[int, int | None]], Step] = {}
    for shortage in short:
        step = shortage.step
        where = (step.item.pk, step.lot.pk, _bucket_key(step.source))
        before = found.get(where)
        found[where] = (
            replace(before, quantity=before.quantity + shortage.missing)
            if before is not None
            else Step(step.item, step.lot, shortage.missing, outside, step.source)
        )
    return list(found.values())
