"""What lies on the table when skeins are given out: boxes that wait, lots that are free, and what the dyer decided."""

from __future__ import annotations

import datetime as dt
from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from math import ceil

from django.utils import timezone

from dyehouse.ledger.models import Balance, Line, Place
from dyehouse.ledger.places import FIXED_PLACES
from dyehouse.studio.models import User
from inventory.allocation import wants
from inventory.allocation.rules import why_not
from inventory.allocation.sets import leaders
from inventory.allocation.wants import Month, Piece
from inventory.models import LotMatch, OneOff
from inventory.promises.boxes import Stand, standing_boxes, stands
from inventory.promises.models import (
    BoxPart,
    Pin,
    Product,
    Round,
    RoundColourway,
    Spares,
    WorkedOut,
)
from recipes.lots.models import DyeLot
from recipes.models import DyedYarn

Of = Round | Product


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


def pieces_of(worked: WorkedOut) -> tuple[Piece, ...]:
    return tuple(Piece(box, slot, lot, pieces) for box, slot, lot, pieces in worked.pieces)


def of_what(worked: WorkedOut) -> Of:
    """The round or product that an answer is for."""
    of = worked.round or worked.product
    assert of is not None
    return of


def nameless(table: Table) -> Month:
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
