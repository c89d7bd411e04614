"""Who gets which skein: worked out for a round or a product, changed by hand, held in one movement, taken back."""

from __future__ import annotations

import datetime as dt
from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from math import ceil
from uuid import UUID, uuid5

from django.db import transaction
from django.utils import timezone

from dyehouse.ledger.models import Balance, Line, Movement, Place
from dyehouse.ledger.operations import Step, claim_for, hold, post, release, reverse
from dyehouse.ledger.places import FIXED_PLACES
from dyehouse.studio.models import User
from dyehouse.studio.refusals import Refused
from inventory.allocation import wants
from inventory.allocation.answers import Answer
from inventory.allocation.explaining import unfilled, why_this
from inventory.allocation.pots_to_dye import PotLoad, fewest_pots
from inventory.allocation.rules import breaches, why_not
from inventory.allocation.sets import leaders
from inventory.allocation.solving import allocate
from inventory.allocation.swapping import swap
from inventory.allocation.wants import AllocationError, Month, Piece
from inventory.models import LotMatch, OneOff
from inventory.promises.boxes import OF_BOXES, Stand, standing_boxes, stands
from inventory.promises.models import (
    Box,
    BoxPart,
    Parcel,
    ParcelBox,
    Pin,
    Product,
    Round,
    RoundColourway,
    Spares,
    WhyHeld,
    WorkedOut,
)
from recipes.lots.models import DyeLot
from recipes.models import DyedYarn
from recipes.words import one_line

#: Longer than this nobody waits before a page; the best found by then is shown, and how far it may be off.
SECONDS = 8.0
USUAL_POT_GRAMS = 400
Of = Round | Product


class NothingToGive(Refused):
    """No box of it is waiting for pieces."""


class CannotBe(Refused):
    """What was asked for breaks a rule; nothing changed."""


class StockMoved(Refused):
    """What was worked out cannot be held any more, since something of it went elsewhere."""


class CannotTakeBack(Refused):
    """What was held cannot be taken back."""


@dataclass(frozen=True, slots=True)
class FreeLot:
    """Free pieces of one lot, by where they lie, in shelf order."""

    dyed: DyedYarn
    dye_lot: DyeLot
    rows: list[tuple[Place, int]]
    from_boxes: int = 0


@dataclass(slots=True)
class Table:
    """Everything on the table when skeins are given out: the month as the rules see it, and what its ids stand for."""

    of: Of
    month: Month
    stands: dict[str, Stand] = field(default_factory=dict)
    lots: dict[str, FreeLot] = field(default_factory=dict)
    spares_kept: dict[tuple[int, int], int] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class GivenLot:
    """Pieces of a lot that a box gets at one of its positions."""

    dyed: DyedYarn
    dye_lot: DyeLot
    position: int
    pieces: int


@dataclass(frozen=True, slots=True)
class GivenBox:
    """A box in the answer: what it gets and why, or what stands in the way."""

    box: Box
    lots: tuple[GivenLot, ...]
    why: tuple[str, ...]
    in_the_way: tuple[str, ...]
    ruled_out: tuple[str, ...]
    pins: tuple[Pin, ...]


@dataclass(slots=True)
class GivingPage:
    """An answer as its page shows it."""

    worked: WorkedOut
    boxes: list[GivenBox]

    @property
    def filled(self) -> list[GivenBox]:
        return [each for each in self.boxes if each.lots]

    @property
    def unfilled(self) -> list[GivenBox]:
        return [each for each in self.boxes if not each.lots]

    @property
    def alike(self) -> list[tuple[GivenBox, list[GivenBox]]]:
        """Boxes that got nothing, those put together that the very same things stand in the way of."""
        groups: dict[tuple[tuple[str, ...], tuple[str, ...]], list[GivenBox]] = {}
        for each in self.unfilled:
            groups.setdefault((each.in_the_way, each.ruled_out), []).append(each)
        return [(each[0], each) for each in groups.values()]

    @property
    def pieces(self) -> int:
        return sum(lot.pieces for each in self.boxes for lot in each.lots)

    @property
    def lots(self) -> dict[str, DyedYarn]:
        """The lots that are given of, by their code."""
        return {lot.dye_lot.code: lot.dyed for each in self.boxes for lot in each.lots}


def boxes_waiting(of: Of) -> list[Stand]:
    """The boxes of a round or product that are not held whole and not packed, the oldest first."""
    boxes = standing_boxes()
    boxes = boxes.filter(round=of) if isinstance(of, Round) else boxes.filter(order_line__offer__product=of)
    found = stands(boxes.order_by("pk"))
    return [stand for stand in found if not stand.is_filled and not stand.is_packed]


def lay_out(of: Of, *, user: User | None, earlier: Iterable[Piece] = ()) -> Table:
    """Everything that one giving out looks at, as the house is now. A set number of queries."""
    waiting = boxes_waiting(of)
    open_to = (
        frozenset(
            str(pk) for pk in RoundColourway.objects.filter(round=of).values_list("colourway", flat=True)
        )
        if isinstance(of, Round)
        else frozenset()
    )
    put_ups = {part.put_up_id for stand in waiting for part in stand.parts}
    lots = _free_lots(put_ups, waiting)
    had = _had(waiting, of)
    luck = _luck(of)
    names: dict[str, str] = {}
    boxes = []
    # Somebody who gets a single piece has it from one pot anyhow.
    pieces_of = Counter[int]()
    for stand in waiting:
        pieces_of[stand.box.receiver_id] += stand.wanted_pieces
    for stand in waiting:
        receiver = stand.box.receiver
        names[stand.box.code] = f"{stand.box.code} ({receiver})"
        boxes.append(
            wants.Box(
                id=stand.box.code,
                member=receiver.code,
                order=_order(stand),
                slots=tuple(_slot(part, open_to) for part in stand.parts),
                avoids_fibres=frozenset(receiver.avoids_fibres),
                avoids_families=frozenset(receiver.avoids_families),
                had=had[receiver.pk],
                same_pot=bool(stand.box.same_pot) and pieces_of[receiver.pk] > 1,
                ship_together=not receiver.ships_apart,
                liked_families=frozenset(receiver.likes_families),
                luck=luck.get(receiver.code, 0),
            )
        )
    matched = leaders(
        [lot.dye_lot.pk for lot in lots.values()],
        LotMatch.objects.filter(taken_back_at=None).values_list("first", "second"),
    )
    one_offs = set(OneOff.objects.filter(ended_at=None).values_list("dye_lot", flat=True))
    offered = []
    for key, lot in lots.items():
        colourway, put_up = lot.dyed.colourway, lot.dyed.put_up
        names[key] = lot.dye_lot.code
        names[str(colourway.pk)] = colourway.shown_name(user)
        names[str(put_up.pk)] = str(put_up)
        offered.append(
            wants.Lot(
                id=key,
                colourway=str(colourway.pk),
                put_up=str(put_up.pk),
                free=sum(pieces for _, pieces in lot.rows) + lot.from_boxes,
                pot=f"{matched.get(lot.dye_lot.pk, lot.dye_lot.pk)}",
                families=frozenset(colourway.families),
                fibres=frozenset(fibre.fibre for fibre in put_up.base.fibres.all()),
                one_off=lot.dye_lot.pk in one_offs,
            )
        )
    for stand in waiting:
        for part in stand.parts:
            names.setdefault(str(part.put_up_id), str(part.put_up))
            if part.colourway is not None:
                names.setdefault(str(part.colourway_id), part.colourway.shown_name(user))
    spares = _spares_wanted(of)
    month = Month(
        boxes=tuple(boxes),
        lots=tuple(offered),
        spares={(str(colourway), str(put_up)): pieces for (colourway, put_up), pieces in spares.items()},
        earlier=tuple(piece for piece in earlier if piece.lot in lots),
        months=of.club.not_again_months if isinstance(of, Round) else 0,
        names=names,
    )
    table = Table(of, month, {stand.box.code: stand for stand in waiting}, lots, spares)
    pins, forbids = _decisions(table)
    if pins or forbids:
        table.month = Month(
            boxes=month.boxes,
            lots=month.lots,
            spares=month.spares,
            pins=pins,
            forbids=forbids,
            earlier=month.earlier,
            months=month.months,
            names=names,
        )
    return table


def _slot(part: BoxPart, open_to: frozenset[str]) -> wants.Slot:
    colourways = frozenset({str(part.colourway_id)}) if part.colourway_id is not None else (open_to or None)
    return wants.Slot(put_up=str(part.put_up_id), pieces=part.pieces, colourways=colourways)


def _order(stand: Stand) -> int:
    """The place in the sign-up: the moment of it, those let in late after all others."""
    box = stand.box
    signed = box.membership.signed_up_at if box.membership is not None else box.made_at
    if box.order_line is not None:
        signed = box.order_line.order.placed_at
    return int(signed.timestamp()) + (10**10 if box.late else 0)


def _free_lots(put_ups: Iterable[int], waiting: Sequence[Stand]) -> dict[str, FreeLot]:
    rows = (
        Balance.objects.filter(
            item__dyed__put_up__in=list(put_ups),
            item__dyed__grade=DyedYarn.Grade.GOOD,
            place__kind__in=(Place.Kind.STAGE, Place.Kind.SHELF),
            place__order__gte=FIXED_PLACES["dry"].order,
            lot__dye_lot__isnull=False,
            on_hand__gt=0,
        )
        .select_related("place", "item__dyed__colourway", "item__dyed__put_up__base", "lot__dye_lot")
        .prefetch_related("item__dyed__put_up__base__fibres")
        .order_by("place__order", "place_id", "lot_id")
    )
    held = Counter(
        (row.item.pk, row.lot.pk) for stand in waiting for row in stand.held for _ in range(row.pieces)
    )
    found: dict[str, FreeLot] = {}
    for row in rows:
        key = f"{row.item_id}-{row.lot_id}"
        if key not in found:
            mine = held[row.item_id, row.lot_id]
            found[key] = FreeLot(row.item.dyed, row.lot.dye_lot, [], mine)
        if row.free > 0:
            found[key].rows.append((row.place, row.free))
    return {key: lot for key, lot in found.items() if lot.rows or lot.from_boxes}


def _had(waiting: Sequence[Stand], of: Of) -> dict[int, frozenset[str]]:
    """By person (id): the colourways sent to them within the months in which none comes again."""
    if not isinstance(of, Round) or not of.club.not_again_months:
        return defaultdict(frozenset)
    since = timezone.now() - dt.timedelta(days=of.club.not_again_months * 365 // 12)
    sent: dict[int, set[str]] = defaultdict(set)
    rows = Line.objects.filter(
        to_place__code="customer",
        from_claim__box__receiver__in={stand.box.receiver_id for stand in waiting},
        item__dyed__isnull=False,
        movement__happened_at__gte=since,
    )
    for receiver, colourway in rows.values_list("from_claim__box__receiver", "item__dyed__colourway"):
        sent[receiver].add(str(colourway))
    found: dict[int, frozenset[str]] = defaultdict(frozenset)
    found.update({receiver: frozenset(colourways) for receiver, colourways in sent.items()})
    return found


def _luck(of: Of) -> dict[str, int]:
    """What people bring from the last round that was held: how much worse than could be they came off."""
    if not isinstance(of, Round):
        return {}
    last = (
        WorkedOut.objects.filter(
            round__club=of.club, round__number__lt=of.number, movement__isnull=False, taken_back_at=None
        )
        .order_by("-pk")
        .first()
    )
    return {} if last is None else dict(last.luck)


def _spares_wanted(of: Of) -> dict[tuple[int, int], int]:
    """By colourway and put-up: the spares that are still to be put by, over all boxes not withdrawn."""
    if not of.spares_percent:
        return {}
    parts = BoxPart.objects.filter(box__withdrawn_at=None, colourway__isnull=False)
    parts = (
        parts.filter(box__round=of)
        if isinstance(of, Round)
        else parts.filter(box__order_line__offer__product=of)
    )
    wanted: Counter[tuple[int, int]] = Counter()
    for colourway, put_up, pieces in parts.values_list("colourway", "put_up", "pieces"):
        wanted[colourway, put_up] += pieces
    spares = {kind: ceil(Fraction(pieces * of.spares_percent, 100)) for kind, pieces in wanted.items()}
    mine = Spares.objects.filter(round=of) if isinstance(of, Round) else Spares.objects.filter(product=of)
    there = mine.filter(claim__held__quantity__gt=0).values_list(
        "claim__held__item__dyed__colourway", "claim__held__item__dyed__put_up", "claim__held__quantity"
    )
    for colourway, put_up, pieces in there:
        spares[colourway, put_up] = max(0, spares.get((colourway, put_up), 0) - pieces)
    return spares


def _decisions(table: Table) -> tuple[tuple[wants.Pin, ...], tuple[wants.Forbid, ...]]:
    """What the dyer pinned and forbade, slot by slot; a pin that no slot of its box can follow is left out."""
    by_dye_lot: dict[int, list[str]] = defaultdict(list)
    for key, lot in table.lots.items():
        by_dye_lot[lot.dye_lot.pk].append(key)
    pins: list[wants.Pin] = []
    forbids: list[wants.Forbid] = []
    for pin in Pin.objects.filter(box__code__in=table.stands).select_related("box"):
        for key in by_dye_lot[pin.dye_lot_id]:
            if not pin.must:
                forbids.append(wants.Forbid(box=pin.box.code, lot=key))
                continue
            box = table.month.box[pin.box.code]
            for slot in range(len(box.slots)):
                if why_not(table.month, box, slot, table.month.lot[key]) is None:
                    pins.append(wants.Pin(box=box.id, slot=slot, lot=key))
    return tuple(pins), tuple(forbids)


def work_out(*, of: Of, key: UUID, who: User, earlier: WorkedOut | None = None) -> WorkedOut:
    """Work out who gets which; nothing is held yet. What was worked out before moves only where it must.

    The same key again gives the first. Raises NothingToGive when no box waits, CannotBe for pins that cannot all hold.
    """
    done = WorkedOut.objects.filter(key=key).first()
    if done is not None:
        return done
    table = lay_out(of, user=who, earlier=_pieces(earlier) if earlier is not None else ())
    if not table.month.boxes:
        raise NothingToGive("Every box of it is held whole, or there is none yet.")
    try:
        answer = allocate(table.month, seconds=SECONDS)
    except AllocationError as amiss:
        raise CannotBe(str(amiss)) from None
    return _keep(table, key, who, answer)


def _keep(table: Table, key: UUID, who: User, answer: Answer) -> WorkedOut:
    told, pots = _tell(table, answer.pieces)
    return WorkedOut.objects.create(
        key=key,
        round=table.of if isinstance(table.of, Round) else None,
        product=table.of if isinstance(table.of, Product) else None,
        pieces=[[piece.box, piece.slot, piece.lot, piece.pieces] for piece in answer.pieces],
        told=told,
        pots=pots,
        standing=answer.standing,
        terms=[term.words for term in answer.terms],
        luck={code: luck for code, luck in answer.luck_next.items() if luck},
        made_at=timezone.now(),
        by=who,
    )


def _pieces(worked: WorkedOut) -> tuple[Piece, ...]:
    return tuple(Piece(box, slot, lot, pieces) for box, slot, lot, pieces in worked.pieces)


def of_what(worked: WorkedOut) -> Of:
    """The round or product that an answer is for."""
    of = worked.round or worked.product
    assert of is not None
    return of


def pin(*, box: Box, dye_lot: DyeLot, must: bool, who: User) -> Pin:
    """Say that a box must get of a lot, or must not. Said before, the newer word holds."""
    made, _ = Pin.objects.update_or_create(
        box=box, dye_lot=dye_lot, defaults={"must": must, "by": who, "at": timezone.now()}
    )
    return made


def unpin(*, box: Box, dye_lot: DyeLot) -> None:
    """Take a pin back."""
    Pin.objects.filter(box=box, dye_lot=dye_lot).delete()


def exchange(*, worked: WorkedOut, one: str, other: str, key: UUID, who: User) -> WorkedOut:
    """Two boxes exchange what they get. Raises CannotBe where a rule forbids it; the answer stays as it was."""
    table = lay_out(of_what(worked), user=who)
    try:
        pieces = swap(table.month, _pieces(worked), one=one, other=other)
    except AllocationError as amiss:
        raise CannotBe(str(amiss)) from None
    told, pots = _tell(table, pieces)
    return WorkedOut.objects.create(
        key=key,
        round=worked.round,
        product=worked.product,
        pieces=[[piece.box, piece.slot, piece.lot, piece.pieces] for piece in pieces],
        told=told,
        pots=pots,
        standing="Two boxes were exchanged by hand since it was worked out.",
        terms=worked.terms,
        luck=worked.luck,
        made_at=timezone.now(),
        by=who,
    )


def _tell(table: Table, pieces: Sequence[Piece]) -> tuple[dict[str, dict[str, list[str]]], str]:
    """Box by box why it gets what it gets or what stands in the way, and which pots would help. Nobody is named."""
    month = _nameless(table)
    empty = {each.box: each for each in unfilled(month, pieces)}
    told: dict[str, dict[str, list[str]]] = {}
    for code in table.stands:
        if code in empty:
            told[code] = {
                "in_the_way": list(empty[code].sentences),
                "ruled_out": [f"Lot {month.name(lot)} {why}." for lot, why in empty[code].excluded],
            }
        else:
            told[code] = {"why": why_this(month, pieces, code)}
    return told, _pots_to_dye(table, month) if empty else ""


def _nameless(table: Table) -> Month:
    """The month with boxes by their codes alone, for words that are kept."""
    month = table.month
    return Month(
        boxes=month.boxes,
        lots=month.lots,
        spares=month.spares,
        pins=month.pins,
        forbids=month.forbids,
        earlier=month.earlier,
        months=month.months,
        names={**month.names, **{code: code for code in table.stands}},
    )


def giving_page(worked: WorkedOut) -> GivingPage:
    """An answer with its reasons. Four queries, however many boxes there are."""
    codes = list(worked.told)
    boxes = {box.code: box for box in Box.objects.filter(code__in=codes).select_related("receiver")}
    keys = {key for _, _, key, _ in worked.pieces}
    items = {int(key.split("-")[0]) for key in keys}
    lots = {int(key.split("-")[1]) for key in keys}
    dyed = {
        each.item_id: each
        for each in DyedYarn.objects.filter(item__in=items).select_related("colourway", "put_up__base")
    }
    dye_lots = {each.lot_id: each for each in DyeLot.objects.filter(lot__in=lots)}
    pins: dict[int, list[Pin]] = defaultdict(list)
    for each in Pin.objects.filter(box__in=boxes.values()).select_related("dye_lot"):
        pins[each.box_id].append(each)
    given: dict[str, list[GivenLot]] = defaultdict(list)
    for code, slot, key, pieces in worked.pieces:
        item, lot = (int(part) for part in key.split("-"))
        given[code].append(GivenLot(dyed[item], dye_lots[lot], slot + 1, pieces))
    return GivingPage(
        worked,
        [
            GivenBox(
                box=boxes[code],
                lots=tuple(given[code]),
                why=tuple(worked.told[code].get("why", ())),
                in_the_way=tuple(worked.told[code].get("in_the_way", ())),
                ruled_out=tuple(worked.told[code].get("ruled_out", ())),
                pins=tuple(pins[boxes[code].pk]),
            )
            for code in codes
            if code in boxes
        ],
    )


def _pots_to_dye(table: Table, month: Month) -> str:
    """The fewest pots whose dyeing would fill all, over pots of the usual weight of everything that a box may get."""
    kinds = {
        (colourway, slot.put_up)
        for box in table.month.boxes
        for slot in box.slots
        for colourway in slot.colourways or {lot.colourway for lot in table.month.lots}
    }
    families = {lot.colourway: lot.families for lot in table.month.lots}
    fibres = {lot.put_up: lot.fibres for lot in table.month.lots}
    grams = {
        str(part.put_up_id): part.put_up.nominal_milligrams // 1000
        for stand in table.stands.values()
        for part in stand.parts
    }
    loads = [
        PotLoad(
            id=f"{colourway}-{put_up}",
            colourway=colourway,
            put_up=put_up,
            pieces=max(1, USUAL_POT_GRAMS // max(1, grams.get(put_up, 100))),
            families=families.get(colourway, frozenset()),
            fibres=fibres.get(put_up, frozenset()),
        )
        for colourway, put_up in sorted(kinds)
    ]
    return fewest_pots(month, loads, seconds=2.0).words(month)


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
    pieces = _pieces(locked)
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
    month = _nameless(table)
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
