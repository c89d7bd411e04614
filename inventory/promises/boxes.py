"""Boxes: made with what they want, holding what was found for them, withdrawn, and how each stands."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from uuid import UUID, uuid4, uuid5

from django.db import transaction
from django.db.models import Exists, F, OuterRef, QuerySet, Subquery, Value
from django.db.models.functions import Coalesce
from django.utils import timezone

from dyehouse.ledger.models import Claim, Held, Item, Lot, Movement, Place
from dyehouse.ledger.operations import post, release
from dyehouse.ledger.queries import held_for
from dyehouse.studio.codes import take_codes
from dyehouse.studio.models import User
from dyehouse.studio.refusals import Refused
from inventory.promises.models import (
    Box,
    BoxPart,
    Membership,
    OrderLine,
    Parcel,
    ParcelBox,
    Payment,
    Person,
    Round,
)
from recipes.models import Colourway, PutUp
from recipes.words import one_line

# Boxes know their claims by a key made from their code, so that the same box never has two.
OF_BOXES = UUID("5f0c1c5e-6a0c-4e0b-9b9e-7b1f3f0a2d41")


class NothingInIt(Refused):
    """A box that wants nothing."""


class BoxPacked(Refused):
    """The box is packed or on its way, so it cannot be withdrawn."""


@dataclass(frozen=True, slots=True)
class PartWanted:
    """One thing a box wants: pieces of a put-up, in a colourway or (None) in one that is settled later."""

    put_up: PutUp
    pieces: int = 1
    colourway: Colourway | None = None


@dataclass(frozen=True, slots=True)
class HeldPieces:
    """Pieces that a box's claim holds: of what, of which lot, where."""

    item: Item
    lot: Lot
    place: Place
    pieces: int
    put_up_id: int
    colourway_id: int


@dataclass(slots=True)
class Stand:
    """How a box stands: what it wants, what is held for it, whether it was paid, and the parcel that it is in."""

    box: Box
    parts: list[BoxPart] = field(default_factory=list)
    held: list[HeldPieces] = field(default_factory=list)
    paid: str = Payment.Kind.DUE
    parcel: Parcel | None = None

    @property
    def wanted_pieces(self) -> int:
        return sum(part.pieces for part in self.parts)

    @property
    def held_pieces(self) -> int:
        return sum(row.pieces for row in self.held)

    @property
    def is_filled(self) -> bool:
        return self.held_pieces >= self.wanted_pieces

    @property
    def is_packed(self) -> bool:
        return self.parcel is not None and self.parcel.state in (Parcel.State.PACKED, Parcel.State.GONE)

    @property
    def is_gone(self) -> bool:
        return self.parcel is not None and self.parcel.state == Parcel.State.GONE

    @property
    def is_paid(self) -> bool:
        return self.paid == Payment.Kind.PAID


@dataclass(frozen=True, slots=True, kw_only=True)
class BoxWanted:
    """A box that is to be made: for whom, of what, with what in it. `number` tells those alike apart."""

    receiver: Person
    parts: Sequence[PartWanted]
    round: Round | None = None
    membership: Membership | None = None
    order_line: OrderLine | None = None
    replaces: Box | None = None
    number: int = 1
    same_pot: bool | None = None
    late: bool = False

    @property
    def of(self) -> object:
        """What it is of, in the words of its claim."""
        line = self.order_line
        return (
            self.round
            or (line and (line.offer or line.order))
            or (self.replaces and f"for {self.replaces.code}")
        )


def make_box(
    *,
    receiver: Person,
    parts: Sequence[PartWanted],
    round: Round | None = None,
    membership: Membership | None = None,
    order_line: OrderLine | None = None,
    replaces: Box | None = None,
    number: int = 1,
    same_pot: bool | None = None,
    late: bool = False,
) -> Box:
    """Promise somebody a box: of a round, of an order line, or in place of another box. It holds nothing yet.

    Raises NothingInIt when it wants no piece. Its claim's words name the box and what it is of, never a person.
    """
    wanted = BoxWanted(
        receiver=receiver,
        parts=parts,
        round=round,
        membership=membership,
        order_line=order_line,
        replaces=replaces,
        number=number,
        same_pot=same_pot,
        late=late,
    )
    return make_boxes([wanted])[0]


@transaction.atomic
def make_boxes(wanted: Sequence[BoxWanted]) -> list[Box]:
    """Promise many boxes at once, in their order; all of them or none. As `make_box`, in a set number of queries."""
    if any(not each.parts or any(part.pieces < 1 for part in each.parts) for each in wanted):
        raise NothingInIt("A box has at least one piece in it.")
    now = timezone.now()
    codes = take_codes(len(wanted))
    claims = Claim.objects.bulk_create(
        Claim(key=uuid5(OF_BOXES, code), held_for=f"box {code}, {each.of}"[:200], made_at=now)
        for code, each in zip(codes, wanted, strict=True)
    )
    made = Box.objects.bulk_create(
        Box(
            code=code,
            round=each.round,
            membership=each.membership,
            order_line=each.order_line,
            replaces=each.replaces,
            number=each.number,
            receiver=each.receiver,
            claim=claim,
            same_pot=each.same_pot,
            late=each.late,
            made_at=now,
        )
        for code, claim, each in zip(codes, claims, wanted, strict=True)
    )
    BoxPart.objects.bulk_create(
        part for box, each in zip(made, wanted, strict=True) for part in _parts(box, each.parts)
    )
    return made


def _parts(box: Box, parts: Sequence[PartWanted]) -> list[BoxPart]:
    return [
        BoxPart(box=box, position=position, put_up=part.put_up, colourway=part.colourway, pieces=part.pieces)
        for position, part in enumerate(parts, start=1)
    ]


def write_parts(box: Box, parts: Sequence[PartWanted]) -> None:
    """What a box wants, position by position from 1, in place of what it wanted before."""
    box.parts.all().delete()
    BoxPart.objects.bulk_create(_parts(box, parts))


@transaction.atomic
def withdraw_box(*, box: Box, key: UUID, who: User, why: str) -> Box:
    """Take a promise back: what its claim holds is free again where it lies. Withdrawn before, nothing changes.

    Raises BoxPacked while it lies in a packed parcel or is on its way.
    """
    box = Box.objects.select_for_update().select_related("claim").get(pk=box.pk)
    if box.withdrawn_at is not None:
        return box
    inside = ParcelBox.objects.filter(box=box, taken_out_at__isnull=True).select_related("parcel").first()
    if inside is not None and inside.parcel.state in (Parcel.State.PACKED, Parcel.State.GONE):
        raise BoxPacked(
            f"Box {box.code} is {inside.parcel.get_state_display()} in parcel {inside.parcel.code}. Unpack it first."
            if inside.parcel.state == Parcel.State.PACKED
            else f"Box {box.code} is on its way in parcel {inside.parcel.code}."
        )
    release_all(box=box, key=key, who=who, why=why)
    if inside is not None:
        inside.taken_out_at = timezone.now()
        inside.save(update_fields=["taken_out_at"])
    box.withdrawn_at = timezone.now()
    box.save(update_fields=["withdrawn_at"])
    return box


def release_all(*, box: Box, key: UUID, who: User, why: str) -> Movement | None:
    """Make everything free that is held for a box, in one movement; None where nothing is."""
    steps = [
        release(item=row.item, lot=row.lot, quantity=row.quantity, place=row.place, claim=box.claim)
        for row in held_for(box.claim)
    ]
    if not steps:
        return None
    return post(key=key, who=who, steps=steps, why=one_line(why)[:300], source=f"box:{box.code}")


def release_beyond(*, box: Box, pieces: int, who: User, why: str) -> Movement | None:
    """Make free what a box holds beyond so many pieces, what was held last first; None where it holds no more than that."""
    held = held_for(box.claim)
    too_many = sum(row.quantity for row in held) - pieces
    steps = []
    for row in sorted(held, key=lambda row: -row.last_line_id):
        if too_many <= 0:
            break
        freed = min(row.quantity, too_many)
        too_many -= freed
        steps.append(release(item=row.item, lot=row.lot, quantity=freed, place=row.place, claim=box.claim))
    if not steps:
        return None
    return post(key=uuid4(), who=who, steps=steps, why=one_line(why)[:300], source=f"box:{box.code}")


def standing_boxes() -> QuerySet[Box]:
    """The boxes that are still to be kept: neither withdrawn nor on their way."""
    gone = ParcelBox.objects.filter(
        box=OuterRef("pk"), taken_out_at__isnull=True, parcel__state=Parcel.State.GONE
    )
    return Box.objects.filter(~Exists(gone), withdrawn_at__isnull=True)


def paid_kinds(boxes: Iterable[int]) -> dict[int, str]:
    """The newest payment of each box (by id): its own, else its order's. A box of which nothing is said is left out."""
    ids = list(boxes)
    kinds = dict(
        Payment.objects.filter(order__lines__boxes__in=ids)
        .order_by("id")
        .values_list("order__lines__boxes", "kind")
    )
    kinds |= dict(Payment.objects.filter(box__in=ids).order_by("id").values_list("box", "kind"))
    return {box: kinds[box] for box in ids if box in kinds}


def due_on(box: Box) -> dt.date | None:
    """The day a box should leave: its round's, its order's, or its product's; None where no day was said."""
    if box.round is not None:
        return box.round.ships_on
    if box.order_line is not None:
        offer = box.order_line.offer
        return box.order_line.order.due or (offer.product.ships_on if offer is not None else None)
    return None


def stands(boxes: QuerySet[Box]) -> list[Stand]:
    """How these boxes stand, in their order. Four queries, however many there are."""
    own = Payment.objects.filter(box=OuterRef("pk")).order_by("-id").values("kind")[:1]
    of_order = Payment.objects.filter(order__lines=OuterRef("order_line")).order_by("-id").values("kind")[:1]
    paid = Coalesce(Subquery(own), Subquery(of_order), Value(Payment.Kind.DUE.value))
    found = {
        box.pk: Stand(box=box, paid=box.newest_payment)
        for box in boxes.annotate(newest_payment=paid).select_related(
            "receiver",
            "round__club",
            "membership__level",
            "order_line__order",
            "order_line__offer__product",
            "claim",
            "replaces__round__club",
            "replaces__order_line__offer__product",
        )
    }
    wanted = BoxPart.objects.filter(box__in=found).select_related("put_up__base", "colourway")
    for part in wanted.order_by("position"):
        found[part.box_id].parts.append(part)
    for box_id, row in held_by_box(found):
        found[box_id].held.append(row)
    inside = ParcelBox.objects.filter(box__in=found, taken_out_at__isnull=True).select_related("parcel")
    for packed in inside:
        found[packed.box_id].parcel = packed.parcel
    return list(found.values())


def held_by_box(boxes: Iterable[int]) -> list[tuple[int, HeldPieces]]:
    """What is held for boxes (by id), in shelf order, its colourway and put-up read with it. One query."""
    rows = (
        Held.objects.filter(claim__box__in=list(boxes), quantity__gt=0, item__dyed__isnull=False)
        .annotate(of_box=F("claim__box"))
        .select_related("place", "item__dyed__colourway", "item__dyed__put_up__base", "lot")
        .order_by("place__order", "place_id", "item_id", "lot_id")
    )
    return [
        (
            row.of_box,
            HeldPieces(
                item=row.item,
                lot=row.lot,
                place=row.place,
                pieces=row.quantity,
                put_up_id=row.item.dyed.put_up_id,
                colourway_id=row.item.dyed.colourway_id,
            ),
        )
        for row in rows
    ]
