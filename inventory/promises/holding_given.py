"""What was worked out is held in one movement, checked anew against the shelf as it is then, and taken back as one."""

from __future__ import annotations

from collections.abc import Sequence
from uuid import UUID, uuid5

from django.db import transaction
from django.utils import timezone

from dyehouse.ledger.models import Movement, Place
from dyehouse.ledger.operations import Step, claim_for, hold, post, release, reverse
from dyehouse.studio.models import User
from dyehouse.studio.refusals import Refused
from inventory.allocation.explaining import why_this
from inventory.allocation.rules import breaches
from inventory.allocation.wants import Piece
from inventory.promises.boxes import OF_BOXES
from inventory.promises.giving import NothingToGive
from inventory.promises.giving_table import (
    Of,
    Table,
    lay_out,
    nameless,
    of_what,
    pieces_of,
)
from inventory.promises.models import (
    BoxPart,
    Parcel,
    ParcelBox,
    Round,
    Spares,
    WhyHeld,
    WorkedOut,
)
from recipes.words import one_line


class StockMoved(Refused):
    """What was worked out cannot be held any more, since something of it went elsewhere."""


class CannotTakeBack(Refused):
    """What was held cannot be taken back."""


@transaction.atomic
def hold_all(*, worked: WorkedOut, key: UUID, who: User) -> Movement:
    """Hold every piece of an answer for its box, and the spares, in one movement. Held before, nothing changes.

    Raises StockMoved when something of it went elsewhere meanwhile, CannotBe when it breaks a rule; nothing is held then.
    """
    locked = WorkedOut.objects.select_for_update(of=("self",)).get(pk=worked.pk)
    if locked.movement is not None:
        return locked.movement
    of = of_what(locked)
    # Two who hold for the same round take turns, so that each sees what the other held.
    type(of)._default_manager.select_for_update(of=("self",)).get(pk=of.pk)
    table = lay_out(of, user=who)
    pieces = pieces_of(locked)
    if not pieces:
        raise NothingToGive("Nothing is given to anybody in this answer, so there is nothing to hold.")
    if any(piece.box not in table.stands or piece.lot not in table.lots for piece in pieces):
        raise StockMoved("Something of this was held, sold or moved elsewhere meanwhile. Work it out again.")
    wrong = breaches(table.month, pieces)
    if wrong:
        raise StockMoved(f"This does not hold any more: {wrong[0]} Work it out again.")
    steps = [*_released(table, pieces), *_held(table, pieces), *_spare_steps(table, pieces, who)]
    movement = post(
        key=key,
        who=who,
        steps=steps,
        why=f"Held for {of}",
        source=f"given:{locked.key}",
        happened_at=timezone.now(),
    )
    settled = _settle(table, pieces)
    _write_reasons(table, pieces, movement)
    locked.movement, locked.settled = movement, settled
    locked.save(update_fields=["movement", "settled"])
    return movement


def _released(table: Table, pieces: Sequence[Piece]) -> list[Step]:
    """What boxes held in part is free again first; the answer counted it as free."""
    return [
        release(
            item=row.item,
            lot=row.lot,
            quantity=row.pieces,
            place=row.place,
            claim=table.stands[code].box.claim,
        )
        for code in sorted({piece.box for piece in pieces})
        for row in table.stands[code].held
    ]


def _held(table: Table, pieces: Sequence[Piece]) -> list[Step]:
    left = _where_free(table, pieces)
    steps = []
    for piece in pieces:
        lot, claim = table.lots[piece.lot], table.stands[piece.box].box.claim
        for place, taken in _take(left[piece.lot], piece.pieces):
            steps.append(
                hold(item=lot.dyed.item, lot=lot.dye_lot.lot, quantity=taken, place=place, claim=claim)
            )
    return steps


def _where_free(table: Table, pieces: Sequence[Piece]) -> dict[str, list[list[Place | int]]]:
    """By lot: where its pieces are free once the boxes of the answer let go of what they held in part."""
    left: dict[str, list[list[Place | int]]] = {
        key: [[place, free] for place, free in lot.rows] for key, lot in table.lots.items()
    }
    for code in {piece.box for piece in pieces}:
        for row in table.stands[code].held:
            left[f"{row.item.pk}-{row.lot.pk}"].append([row.place, row.pieces])
    return left


def _take(rows: list[list[Place | int]], pieces: int) -> list[tuple[Place, int]]:
    taken: list[tuple[Place, int]] = []
    for row in rows:
        place, there = row
        assert isinstance(place, Place)
        assert isinstance(there, int)
        part = min(there, pieces)
        if part:
            row[1] = there - part
            pieces -= part
            taken.append((place, part))
        if not pieces:
            return taken
    raise StockMoved("Something of this was held, sold or moved elsewhere meanwhile. Work it out again.")


def _spare_steps(table: Table, pieces: Sequence[Piece], who: User) -> list[Step]:
    """The spares that can be put by once every box has its own, the fullest lot first."""
    left = _where_free(table, pieces)
    for piece in pieces:
        _take(left[piece.lot], piece.pieces)
    steps: list[Step] = []
    for (colourway, put_up), wanted in sorted(table.spares_kept.items()):
        rows = [
            (sum(int(row[1]) for row in left[key] if isinstance(row[1], int)), key)
            for key, lot in table.lots.items()
            if lot.dyed.colourway_id == colourway and lot.dyed.put_up_id == put_up
        ]
        for there, key in sorted(rows, reverse=True):
            part = min(there, wanted)
            if part <= 0:
                continue
            wanted -= part
            lot, claim = table.lots[key], _spares_of(table.of).claim
            for place, taken in _take(left[key], part):
                steps.append(
                    hold(item=lot.dyed.item, lot=lot.dye_lot.lot, quantity=taken, place=place, claim=claim)
                )
    return steps


def _spares_of(of: Of) -> Spares:
    key = {"round": of} if isinstance(of, Round) else {"product": of}
    found = Spares.objects.filter(**key, released_at=None).select_related("claim").first()
    if found is not None:
        return found
    number = Spares.objects.filter(**key).count()
    claim_key = uuid5(OF_BOXES, f"spares of {type(of).__name__} {of.pk}, {number}")
    claim = claim_for(key=claim_key, held_for=f"spares of {of}"[:200])
    return Spares.objects.create(**key, claim=claim, until=of.spares_until, made_at=timezone.now())


def _settle(table: Table, pieces: Sequence[Piece]) -> list[int]:
    settled = []
    for piece in pieces:
        part = table.stands[piece.box].parts[piece.slot]
        if part.colourway_id is None:
            part.colourway = table.lots[piece.lot].dyed.colourway
            part.save(update_fields=["colourway"])
            settled.append(part.pk)
    return settled


def _write_reasons(table: Table, pieces: Sequence[Piece], movement: Movement) -> None:
    month = nameless(table)
    rows = []
    for code in sorted({piece.box for piece in pieces}):
        mine = [piece for piece in pieces if piece.box == code]
        for piece, words in zip(mine, why_this(month, pieces, code), strict=True):
            rows.append(
                WhyHeld(
                    box=table.stands[code].box,
                    movement=movement,
                    position=piece.slot + 1,
                    dye_lot=table.lots[piece.lot].dye_lot,
                    pieces=piece.pieces,
                    words=words[:300],
                )
            )
    WhyHeld.objects.bulk_create(rows)


@transaction.atomic
def take_back(*, worked: WorkedOut, key: UUID, who: User, why: str) -> WorkedOut:
    """Undo a holding in one reversing movement, with a reason; colourways it settled are open again.

    Raises CannotTakeBack without a reason, when a box of it is in a parcel, or when it is not held (any more).
    """
    locked = WorkedOut.objects.select_for_update(of=("self",)).select_related("movement").get(pk=worked.pk)
    if locked.movement is None or locked.taken_back_at is not None:
        raise CannotTakeBack("Nothing is held by this any more.")
    reason = one_line(why)[:300]
    if not reason:
        raise CannotTakeBack("Say in a word or two why.")
    codes = {box for box, *_ in locked.pieces}
    inside = ParcelBox.objects.filter(
        box__code__in=codes, taken_out_at=None, parcel__state__in=(Parcel.State.PACKED, Parcel.State.GONE)
    ).select_related("box", "parcel")
    first = inside.first()
    if first is not None:
        raise CannotTakeBack(
            f"Box {first.box.code} is {first.parcel.get_state_display()} in parcel {first.parcel.code}."
        )
    reverse(movement=locked.movement, key=key, who=who, why=reason)
    BoxPart.objects.filter(pk__in=locked.settled).update(colourway=None)
    locked.taken_back_at = timezone.now()
    locked.save(update_fields=["taken_back_at"])
    return locked
