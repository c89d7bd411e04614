"""Parcels: all that is ready for one person, packed in one touch or piece by piece, unpacked, sent, replaced."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from uuid import UUID, uuid5

from django.db import transaction
from django.utils import timezone

from dyehouse.ledger.models import Item, Lot, Place
from dyehouse.ledger.operations import Bucket, Step, hold, post
from dyehouse.ledger.places import fixed_place
from dyehouse.ledger.queries import held_for, stock
from dyehouse.studio.codes import take_code, tidy
from dyehouse.studio.models import User
from dyehouse.studio.refusals import Refused
from inventory.promises.boxes import PartWanted, Stand, make_box, standing_boxes, stands
from inventory.promises.models import (
    Box,
    PackedPieces,
    Parcel,
    ParcelBox,
    ParcelEvent,
    PickBatch,
    Spares,
)
from recipes.lots.models import DyeLot
from recipes.models import DyedYarn
from recipes.words import one_line

MOST_IN_A_BATCH = 200
State = Parcel.State
Kind = ParcelEvent.Kind


class NothingReady(Refused):
    """Nothing of what was chosen can be packed."""


class NotToPack(Refused):
    """The parcel cannot be packed as it is: something is not held whole, or not paid."""


class WrongPiece(Refused):
    """The piece does not belong in this parcel. Nothing was packed."""


class ParcelGone(Refused):
    """The parcel is on its way, or was taken apart."""


class NotGone(Refused):
    """The parcel has not been sent."""


class NoSpare(Refused):
    """No spare and no free piece is there for a replacement."""


@dataclass(frozen=True, slots=True)
class ToPick:
    """Pieces of one lot at one place that a batch of parcels takes, and how many go into each parcel."""

    place: Place
    item: Item
    lot: Lot
    pieces: int
    parcels: tuple[tuple[Parcel, int], ...]


@transaction.atomic
def open_parcels(*, boxes: Iterable[Box], who: User) -> list[Parcel]:
    """Put boxes that are held whole into parcels: one a person, one a box for who wants them apart.

    A person's parcel that is still to be packed takes the new boxes in. Boxes in a parcel already stay there. Raises
    NothingReady when none of them is held whole and in no parcel.
    """
    wanted = [box.pk for box in boxes]
    list(Box.objects.select_for_update().filter(pk__in=wanted).order_by("pk").values_list("pk"))
    ready = [
        stand
        for stand in stands(standing_boxes().filter(pk__in=wanted).order_by("receiver_id", "pk"))
        if stand.is_filled and stand.parcel is None
    ]
    if not ready:
        raise NothingReady("None of these boxes is held whole and waiting for a parcel.")
    found: list[Parcel] = []
    of: dict[int, Parcel] = {
        parcel.receiver_id: parcel
        for parcel in Parcel.objects.filter(
            receiver__in={stand.box.receiver_id for stand in ready},
            state=State.OPEN,
            receiver__ships_apart=False,
        )
    }
    for stand in ready:
        receiver = stand.box.receiver
        parcel = None if receiver.ships_apart else of.get(receiver.pk)
        if parcel is None:
            parcel = Parcel.objects.create(code=take_code(), receiver=receiver, made_at=timezone.now())
            of[receiver.pk] = parcel
        ParcelBox.objects.create(parcel=parcel, box=stand.box)
        if parcel not in found:
            found.append(parcel)
    return found


@transaction.atomic
def make_batch(*, parcels: Iterable[Parcel], who: User) -> PickBatch:
    """Parcels that are picked in one walk along the shelf. Those of another batch, packed or gone, stay out.

    Raises NothingReady when none is left, or when they are more than a table holds.
    """
    wanted = [parcel.pk for parcel in parcels]
    free = Parcel.objects.select_for_update().filter(pk__in=wanted, state=State.OPEN, batch=None)
    chosen = list(free.order_by("pk"))
    if not chosen:
        raise NothingReady("Every one of these parcels is in a batch already, or packed.")
    if len(chosen) > MOST_IN_A_BATCH:
        raise NothingReady(f"A batch takes up to {MOST_IN_A_BATCH} parcels. Choose fewer.")
    batch = PickBatch.objects.create(code=take_code(), made_at=timezone.now(), by=who)
    Parcel.objects.filter(pk__in=[parcel.pk for parcel in chosen]).update(batch=batch)
    return batch


def to_pick(parcels: Sequence[Parcel], contents: Mapping[int, Sequence[Stand]] | None = None) -> list[ToPick]:
    """What parcels that are still to be packed take, in shelf order: by place along the way, item and lot."""
    contents = boxes_of(parcels) if contents is None else contents
    by_parcel = {parcel.pk: parcel for parcel in parcels}
    taken: dict[tuple[int, int, int], Counter[int]] = defaultdict(Counter)
    rows = {}
    for parcel_id, standing in contents.items():
        if by_parcel[parcel_id].state != State.OPEN:
            continue
        for stand in standing:
            for row in stand.held:
                key = (row.place.pk, row.item.pk, row.lot.pk)
                taken[key][parcel_id] += row.pieces
                rows[key] = row
    lines = [
        ToPick(
            place=rows[key].place,
            item=rows[key].item,
            lot=rows[key].lot,
            pieces=sum(each.values()),
            parcels=tuple((by_parcel[pk], pieces) for pk, pieces in sorted(each.items())),
        )
        for key, each in taken.items()
    ]
    return sorted(lines, key=lambda line: (line.place.order, line.place.name, line.item.name, line.lot.name))


def boxes_of(parcels: Sequence[Parcel]) -> dict[int, list[Stand]]:
    """By parcel (its id) the boxes that are in it. Five queries."""
    inside = dict(
        ParcelBox.objects.filter(parcel__in=parcels, taken_out_at=None).values_list("box", "parcel")
    )
    found: dict[int, list[Stand]] = {parcel.pk: [] for parcel in parcels}
    for stand in stands(Box.objects.filter(pk__in=inside).order_by("pk")):
        found[inside[stand.box.pk]].append(stand)
    return found


def contents_of(parcel: Parcel) -> list[Stand]:
    """The boxes of a parcel with what is held for them."""
    return boxes_of([parcel])[parcel.pk]


@transaction.atomic
def pack_whole(*, parcel: Parcel, key: UUID, who: User) -> Parcel:
    """Pack all of a parcel in one touch. Packed before, nothing changes.

    Raises NotToPack when a box is not held whole or not paid, ParcelGone for one that is on its way or taken apart.
    """
    locked = _locked(parcel)
    if locked.state == State.PACKED or ParcelEvent.objects.filter(key=key).exists():
        return locked
    _refuse_gone(locked)
    standing = contents_of(locked)
    _refuse_unready(standing)
    there = _packed_already(locked)
    for stand in standing:
        for row in stand.held:
            missing = row.pieces - there[stand.box.pk, row.item.pk, row.lot.pk]
            if missing > 0:
                _put_in(locked, stand.box, row.item, row.lot, missing, who, checked=False)
                there[stand.box.pk, row.item.pk, row.lot.pk] += missing
    return _packed(locked, key, who)


@transaction.atomic
def pack_piece(*, parcel: Parcel, code: str, key: UUID, who: User) -> Parcel:
    """Put one piece of a lot into a parcel by its code; the parcel is packed with the last one.

    The same key again changes nothing. Raises WrongPiece when the lot is not wanted (any more), NotToPack, ParcelGone.
    """
    locked = _locked(parcel)
    if ParcelEvent.objects.filter(key=key).exists():
        return locked
    if locked.state == State.PACKED:
        raise WrongPiece("This parcel is packed. Unpack it to change what is in it.")
    _refuse_gone(locked)
    standing = contents_of(locked)
    _refuse_unready(standing)
    said = tidy(code)
    there = _packed_already(locked)
    wanted = [
        (stand.box, row)
        for stand in standing
        for row in stand.held
        if row.pieces > there[stand.box.pk, row.item.pk, row.lot.pk]
    ]
    found = next(((box, row) for box, row in wanted if row.lot.name == said), None)
    if found is None:
        raise WrongPiece(_why_wrong(said, standing, wanted))
    box, row = found
    _put_in(locked, box, row.item, row.lot, 1, who, checked=True)
    missing = sum(each.pieces - there[of.pk, each.item.pk, each.lot.pk] for of, each in wanted)
    if missing == 1:
        return _packed(locked, key, who)
    _keep(locked, Kind.PIECE, key, who, said)
    return locked


def _why_wrong(said: str, standing: Sequence[Stand], wanted: Sequence[tuple[Box, object]]) -> str:
    still = ", ".join(dict.fromkeys(row.lot.name for _, row in wanted))  # type: ignore[attr-defined]
    if any(row.lot.name == said for stand in standing for row in stand.held):
        return f"All of lot {said} are in this parcel already. Still wanted: {still}."
    return f"Lot {said or '–'} does not belong in this parcel. Wanted: {still}."


def _packed_already(parcel: Parcel) -> Counter[tuple[int, int, int]]:
    return Counter(
        {
            (row.box_id, row.item_id, row.lot_id): row.pieces
            for row in PackedPieces.objects.filter(parcel=parcel)
        }
    )


def _put_in(parcel: Parcel, box: Box, item: Item, lot: Lot, pieces: int, who: User, *, checked: bool) -> None:
    row, made = PackedPieces.objects.get_or_create(
        parcel=parcel,
        box=box,
        item=item,
        lot=lot,
        defaults={"pieces": pieces, "checked": checked, "at": timezone.now(), "by": who},
    )
    if not made:
        row.pieces += pieces
        row.checked = row.checked and checked
        row.save(update_fields=["pieces", "checked"])


def _packed(parcel: Parcel, key: UUID, who: User) -> Parcel:
    parcel.state, parcel.packed_at = State.PACKED, timezone.now()
    parcel.save(update_fields=["state", "packed_at"])
    _keep(parcel, Kind.PACKED, key, who)
    return parcel


def _refuse_unready(standing: Sequence[Stand]) -> None:
    if not standing:
        raise NotToPack("Nothing is in this parcel any more.")
    for stand in standing:
        if not stand.is_filled:
            raise NotToPack(
                f"Box {stand.box.code} is not held whole: {stand.held_pieces} of {stand.wanted_pieces} pieces."
            )
        if not stand.is_paid and stand.box.replaces_id is None:
            raise NotToPack(
                f"Box {stand.box.code} is not paid. Take it out of the parcel, or say that it was paid."
            )


@transaction.atomic
def unpack(*, parcel: Parcel, key: UUID, who: User, why: str = "") -> Parcel:
    """Open a packed parcel again: its pieces are held as before. Raises ParcelGone for one that is on its way."""
    locked = _locked(parcel)
    if ParcelEvent.objects.filter(key=key).exists():
        return locked
    _refuse_gone(locked)
    PackedPieces.objects.filter(parcel=locked).delete()
    if locked.state == State.PACKED:
        locked.state, locked.packed_at = State.OPEN, None
        locked.save(update_fields=["state", "packed_at"])
    _keep(locked, Kind.UNPACKED, key, who, why)
    return locked


@transaction.atomic
def take_box_out(*, parcel: Parcel, box: Box, key: UUID, who: User) -> Parcel:
    """Take a box out of a parcel that is not packed; it waits for another. An empty parcel is taken apart.

    Raises ParcelGone for a packed one or one on its way.
    """
    locked = _locked(parcel)
    if ParcelEvent.objects.filter(key=key).exists():
        return locked
    if locked.state != State.OPEN:
        raise ParcelGone("Unpack the parcel first.")
    PackedPieces.objects.filter(parcel=locked, box=box).delete()
    ParcelBox.objects.filter(parcel=locked, box=box, taken_out_at=None).update(taken_out_at=timezone.now())
    if not ParcelBox.objects.filter(parcel=locked, taken_out_at=None).exists():
        locked.state = State.UNDONE
        locked.save(update_fields=["state"])
    _keep(locked, Kind.UNPACKED, key, who, f"box {box.code} taken out")
    return locked


@transaction.atomic
def send_off(*, parcels: Iterable[Parcel], key: UUID, who: User) -> int:
    """Packed parcels leave the house: what was held for them goes to the customers, a movement a parcel. How many left.

    The same key again sends nothing twice. Raises NothingReady when none of them is packed.
    """
    wanted = [parcel.pk for parcel in parcels]
    locked = list(
        Parcel.objects.select_for_update(of=("self",))
        .filter(pk__in=wanted, state=State.PACKED)
        .order_by("pk")
    )
    if not locked:
        if Parcel.objects.filter(pk__in=wanted, state=State.GONE).exists():
            return 0
        raise NothingReady("None of these parcels is packed.")
    customer = Bucket(fixed_place("customer"))
    now = timezone.now()
    contents = boxes_of(locked)
    for parcel in locked:
        steps = [
            Step(row.item, row.lot, row.quantity, Bucket(row.place, stand.box.claim), customer)
            for stand in contents[parcel.pk]
            for row in held_for(stand.box.claim)
        ]
        post(
            key=uuid5(key, parcel.code),
            who=who,
            steps=steps,
            why=f"Sent in parcel {parcel.code}",
            source=f"parcel:{parcel.code}",
            happened_at=now,
        )
        parcel.state, parcel.gone_at = State.GONE, now
        parcel.save(update_fields=["state", "gone_at"])
        _keep(parcel, Kind.GONE, uuid5(key, f"gone {parcel.code}"), who)
    return len(locked)


@transaction.atomic
def say_tracking(*, parcel: Parcel, carrier: str, tracking: str, key: UUID, who: User) -> Parcel:
    """Keep by whom a parcel is carried and under which number."""
    locked = _locked(parcel)
    locked.carrier, locked.tracking = one_line(carrier)[:60], one_line(tracking)[:80]
    locked.save(update_fields=["carrier", "tracking"])
    if not ParcelEvent.objects.filter(key=key).exists():
        _keep(locked, Kind.TRACKED, key, who, locked.tracking)
    return locked


@transaction.atomic
def say_lost(*, parcel: Parcel, key: UUID, who: User, came_back: bool = False, why: str = "") -> Parcel:
    """Keep that a parcel was lost or damaged, or came back. Raises NotGone for one that was not sent."""
    locked = _locked(parcel)
    if locked.state != State.GONE:
        raise NotGone("This parcel has not been sent.")
    if not ParcelEvent.objects.filter(key=key).exists():
        _keep(locked, Kind.BACK if came_back else Kind.LOST, key, who, why)
    return locked


@transaction.atomic
def replace_box(*, box: Box, key: UUID, who: User) -> Box:
    """Promise what was lost once more, held at once: from the spares of its round or product, else from what is free.

    The same key again gives the first. Raises NoSpare when there is not enough; nothing is promised then.
    """
    claim_key = uuid5(key, "replacement")
    done = Box.objects.filter(replaces=box, reasons__movement__key=claim_key).first()
    if done is not None:
        return done
    parts = list(box.parts.select_related("put_up", "colourway").order_by("position"))
    made = make_box(
        receiver=box.receiver,
        replaces=box,
        number=box.number,
        same_pot=box.same_pot,
        parts=[PartWanted(part.put_up, part.pieces, part.colourway) for part in parts],
    )
    steps: list[Step] = []
    used: Counter[tuple[int, int, int, int]] = Counter()
    for part in parts:
        steps += _spare_steps(made, box, part.put_up_id, part.colourway_id, part.pieces, used)
    movement = post(
        key=claim_key, who=who, steps=steps, why=f"Replaces box {box.code}", source=f"box:{made.code}"
    )
    for step in steps:
        dye_lot = getattr(step.lot, "dye_lot", None)
        if dye_lot is not None:
            made.reasons.create(
                movement=movement,
                position=1,
                dye_lot=dye_lot,
                pieces=step.quantity,
                words=f"in place of box {box.code}",
            )
    return made


def _spare_steps(
    made: Box,
    box: Box,
    put_up_id: int,
    colourway_id: int | None,
    pieces: int,
    used: Counter[tuple[int, int, int, int]],
) -> list[Step]:
    """The steps that hold so many pieces for a replacement: spares first, then free good pieces, the oldest lot first."""
    items = DyedYarn.objects.filter(put_up=put_up_id, grade=DyedYarn.Grade.GOOD)
    if colourway_id is not None:
        items = items.filter(colourway=colourway_id)
    item_ids = set(items.values_list("item", flat=True))
    steps: list[Step] = []
    missing = pieces
    for spares in _spares_behind(box):
        for row in held_for(spares.claim):
            key = (spares.claim_id, row.place_id, row.item_id, row.lot_id)
            there = row.quantity - used[key]
            if row.item_id not in item_ids or there <= 0 or missing <= 0:
                continue
            taken = min(missing, there)
            used[key] += taken
            missing -= taken
            steps.append(
                Step(row.item, row.lot, taken, Bucket(row.place, spares.claim), Bucket(row.place, made.claim))
            )
    lying = sorted(stock(items=item_ids), key=lambda row: row.lot.pk)
    one_offs = DyeLot.objects.filter(lot__in=[row.lot.pk for row in lying]).exclude(own_name="")
    named = set(one_offs.values_list("lot", flat=True))
    for free in lying:
        if free.lot.pk in named:
            continue
        key = (0, free.place.pk, free.item.pk, free.lot.pk)
        there = free.free - used[key]
        if missing <= 0 or there <= 0 or free.place.kind != Place.Kind.SHELF:
            continue
        taken = min(missing, there)
        used[key] += taken
        missing -= taken
        steps.append(hold(item=free.item, lot=free.lot, quantity=taken, place=free.place, claim=made.claim))
    if missing:
        raise NoSpare(
            f"{missing} {'piece is' if missing == 1 else 'pieces are'} missing for a replacement: neither the spares nor the "
            "shelf has enough. Dye more first."
        )
    return steps


def _spares_behind(box: Box) -> list[Spares]:
    of = box if box.replaces is None else box.replaces
    if of.round_id is not None:
        found = Spares.objects.filter(round=of.round_id)
    elif of.order_line is not None and of.order_line.offer is not None:
        found = Spares.objects.filter(product=of.order_line.offer.product_id)
    else:
        return []
    return list(found.select_related("claim").order_by("pk"))


def _locked(parcel: Parcel) -> Parcel:
    return Parcel.objects.select_for_update(of=("self",)).select_related("receiver").get(pk=parcel.pk)


def _refuse_gone(parcel: Parcel) -> None:
    if parcel.state == State.GONE:
        raise ParcelGone("This parcel is on its way.")
    if parcel.state == State.UNDONE:
        raise ParcelGone("This parcel was taken apart.")


def _keep(parcel: Parcel, kind: str, key: UUID, who: User, words: str = "") -> None:
    ParcelEvent.objects.create(
        key=key, parcel=parcel, kind=kind, words=one_line(words)[:200], at=timezone.now(), by=who
    )
