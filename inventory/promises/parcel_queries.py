"""What the packing table shows: what is ready for parcels, what stands in the way, batches, and one parcel."""

from __future__ import annotations

import datetime as dt
from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from django.db.models import Count, Q
from django.utils import timezone

from dyehouse.ledger.models import Lot, Place
from dyehouse.studio.models import User
from inventory.allocation.sets import leaders
from inventory.models import LotMatch
from inventory.promises.addresses import address_faults_of, address_lines, has_address
from inventory.promises.boxes import Stand, due_on, standing_boxes, stands
from inventory.promises.models import Box, LevelExtra, PackedPieces, Parcel, ParcelEvent, PickBatch
from inventory.promises.parcels import ToPick, boxes_of, to_pick
from inventory.promises.told import what_it_is
from recipes.models import DyedYarn

ROWS_SHOWN = 100
BATCHES_SHOWN = 12
State = Parcel.State


@dataclass(frozen=True, slots=True)
class InTheWay:
    """A box that cannot go into a parcel yet, and why."""

    stand: Stand
    reasons: list[str]


@dataclass(slots=True)
class Group:
    """The boxes of one round, product or order: ready for parcels, in the way, and whether packed comes to paid."""

    key: str
    what: str
    address: str
    due: dt.date | None
    ready: list[Stand] = field(default_factory=list)
    asked: list[InTheWay] = field(default_factory=list)
    waiting: list[InTheWay] = field(default_factory=list)
    in_parcels: int = 0
    paid: int = 0
    packed: int = 0
    paid_not_packed: list[Stand] = field(default_factory=list)
    packed_not_paid: list[Stand] = field(default_factory=list)

    @property
    def equal(self) -> bool:
        return not self.paid_not_packed and not self.packed_not_paid

    @property
    def reasons(self) -> list[tuple[str, int]]:
        """Each thing that stands in the way, and for how many boxes."""
        return Counter(reason for each in self.waiting for reason in each.reasons).most_common()

    @property
    def shown(self) -> list[InTheWay]:
        return self.waiting[:ROWS_SHOWN]

    @property
    def not_shown(self) -> int:
        return max(0, len(self.waiting) - ROWS_SHOWN)


@dataclass(frozen=True, slots=True)
class PackingTable:
    """The page of parcels."""

    groups: list[Group]
    batches: Sequence[PickBatch]
    loose: list[Parcel]


def groups_to_pack() -> list[Group]:
    """Everything that is not all on its way, by round, product or order, the soonest first. Four queries."""
    standing = standing_boxes()
    wanted = (
        Q(pk__in=standing.values("pk"))
        | Q(round__in=standing.filter(round__isnull=False).values("round"))
        | Q(
            order_line__offer__product__in=standing.filter(order_line__offer__isnull=False).values(
                "order_line__offer__product"
            )
        )
    )
    found: dict[str, Group] = {}
    faults: dict[int, str] = {}
    for stand in stands(Box.objects.filter(wanted, withdrawn_at=None).order_by("receiver__name", "pk")):
        key = _key(stand.box)
        due = due_on(stand.box)
        if key not in found:
            found[key] = Group(key, *_what(stand.box), due)
        group = found[key]
        if due is not None and (group.due is None or due < group.due):
            group.due = due
        _sort_in(group, stand, faults)
    today = timezone.localdate()
    return sorted(found.values(), key=lambda group: (group.due is None, group.due or today, group.what))


def _key(box: Box) -> str:
    if box.round_id is not None:
        return f"round-{box.round_id}"
    line = box.order_line
    if line is not None and line.offer is not None:
        return f"product-{line.offer.product_id}"
    return f"order-{line.order_id}" if line is not None else "replacements"


def _what(box: Box) -> tuple[str, str]:
    return what_it_is(box) if box.replaces_id is None else ("Replacements", "")


def _sort_in(group: Group, stand: Stand, faults: dict[int, str]) -> None:
    _tally(group, stand)
    if stand.parcel is not None:
        group.in_parcels += not stand.is_gone
        return
    reasons = in_the_way(stand)
    if reasons:
        group.waiting.append(InTheWay(stand, reasons))
        return
    receiver = stand.box.receiver
    if receiver.pk not in faults:
        faults[receiver.pk] = " ".join(address_faults_of(receiver).values())
    if faults[receiver.pk]:
        group.asked.append(InTheWay(stand, [faults[receiver.pk]]))
    else:
        group.ready.append(stand)


def _tally(group: Group, stand: Stand) -> None:
    owed = stand.is_paid or stand.box.replaces_id is not None
    group.paid += owed
    group.packed += stand.is_packed
    if owed and not stand.is_packed:
        group.paid_not_packed.append(stand)
    elif stand.is_packed and not owed:
        group.packed_not_paid.append(stand)


def in_the_way(stand: Stand) -> list[str]:
    """Why a box cannot go into a parcel yet, a few words each; nothing for one that can."""
    reasons = []
    if not stand.is_filled:
        reasons.append("not held whole")
    if not stand.is_paid and stand.box.replaces_id is None:
        reasons.append("payment failed" if stand.paid == "failed" else "not paid")
    if not has_address(stand.box.receiver):
        reasons.append("no address")
    return reasons


def packing_table() -> PackingTable:
    """What is ready, what stands in the way, and the batches that are there. Six queries."""
    batches = (
        PickBatch.objects.annotate(
            all_parcels=_parcels(Q(parcels__state__in=(State.OPEN, State.PACKED, State.GONE))),
            to_pack=_parcels(Q(parcels__state=State.OPEN)),
            packed=_parcels(Q(parcels__state=State.PACKED)),
            gone=_parcels(Q(parcels__state=State.GONE)),
        )
        .filter(all_parcels__gt=0)
        .select_related("by")
        .order_by("-pk")
    )
    # Those that still want something come first, then the newest that have gone.
    rows = sorted(batches, key=lambda row: row.gone == row.all_parcels)
    going = sum(row.gone < row.all_parcels for row in rows)
    loose = Parcel.objects.filter(batch=None, state__in=(State.OPEN, State.PACKED))
    return PackingTable(
        groups=[group for group in groups_to_pack() if not _all_gone(group)],
        batches=rows[: max(going, BATCHES_SHOWN)],
        loose=list(loose.select_related("receiver").order_by("pk")),
    )


def _parcels(which: Q) -> Count:
    return Count("parcels", filter=which, distinct=True)


def _all_gone(group: Group) -> bool:
    return not (group.ready or group.asked or group.waiting or group.in_parcels)


@dataclass(frozen=True, slots=True)
class ParcelLine:
    """A parcel in a list: how many boxes and pieces, and whether its sets match."""

    parcel: Parcel
    boxes: int
    pieces: int
    refused: str
    unmatched: list[Unmatched]


@dataclass(frozen=True, slots=True)
class BatchPage:
    """A batch: what is picked in shelf order, its parcels, and how far it is."""

    batch: PickBatch
    lines: list[ToPick]
    parcels: list[ParcelLine]

    @property
    def places(self) -> list[tuple[Place, list[ToPick]]]:
        by_place: dict[Place, list[ToPick]] = defaultdict(list)
        for line in self.lines:
            by_place[line.place].append(line)
        return list(by_place.items())

    @property
    def to_pick(self) -> int:
        return sum(line.pieces for line in self.lines)

    def count(self, state: str) -> int:
        return sum(line.parcel.state == state for line in self.parcels)

    @property
    def to_pack(self) -> int:
        return self.count(State.OPEN)

    @property
    def packed(self) -> int:
        return self.count(State.PACKED)

    @property
    def gone(self) -> int:
        return self.count(State.GONE)

    @property
    def first(self) -> Parcel | None:
        """The parcel with which packing begins."""
        return next((line.parcel for line in self.parcels if line.parcel.state == State.OPEN), None)

    @property
    def pieces(self) -> int:
        return sum(line.pieces for line in self.parcels)

    @property
    def unmatched(self) -> list[ParcelLine]:
        return [line for line in self.parcels if line.unmatched and line.parcel.state != State.GONE]


def batch_page(batch: PickBatch) -> BatchPage:
    """A batch with its pick list. Nine queries at most."""
    parcels = list(
        batch.parcels.exclude(state=State.UNDONE)
        .select_related("receiver")
        .annotate(boxes_in=Count("boxes", filter=Q(boxes__taken_out_at=None)))
        .order_by("pk")
    )
    contents = boxes_of(parcels)
    gone: Counter[int] = Counter()
    rows = PackedPieces.objects.filter(parcel__in=parcels, parcel__state=State.GONE)
    for parcel_id, pieces in rows.values_list("parcel", "pieces"):
        gone[parcel_id] += pieces
    matched = matched_lots([stand for each in contents.values() for stand in each])
    lines = [
        ParcelLine(
            parcel=parcel,
            boxes=len(contents[parcel.pk]),
            pieces=gone[parcel.pk] or sum(stand.held_pieces for stand in contents[parcel.pk]),
            refused=_refused(contents[parcel.pk]) if parcel.state == State.OPEN else "",
            unmatched=[each for stand in contents[parcel.pk] for each in unmatched(stand, matched)],
        )
        for parcel in parcels
    ]
    return BatchPage(batch, to_pick(parcels, contents), lines)


def _refused(standing: Iterable[Stand]) -> str:
    reasons = dict.fromkeys(reason for stand in standing for reason in in_the_way(stand))
    return ", ".join(reasons)


@dataclass(frozen=True, slots=True)
class Unmatched:
    """Pieces of one colourway in a box that come from pots nobody found to match."""

    box: Box
    dyed: DyedYarn
    lots: list[str]
    pieces: int


def _lots_of(stand: Stand) -> dict[int, list[tuple[DyedYarn, Lot, int]]]:
    found: dict[int, list[tuple[DyedYarn, Lot, int]]] = defaultdict(list)
    for row in stand.held:
        found[row.item.pk].append((row.item.dyed, row.lot, row.pieces))
    return {item: rows for item, rows in found.items() if len({lot.pk for _, lot, _ in rows}) > 1}


def matched_lots(standing: Iterable[Stand]) -> list[tuple[int, int]]:
    """Which lots of these boxes match by eye, by the ids of their lots. One query, none where every box has one lot of each."""
    several = {lot.pk for stand in standing for rows in _lots_of(stand).values() for _, lot, _ in rows}
    if not several:
        return []
    return list(LotMatch.objects.filter(taken_back_at=None).values_list("first__lot", "second__lot"))


def unmatched(stand: Stand, matched: Iterable[tuple[int, int]]) -> list[Unmatched]:
    """The sets of a box that do not match: several pieces of one colourway from pots that were not found to match."""
    pairs = list(matched)
    found = []
    for rows in _lots_of(stand).values():
        leader = leaders({lot.pk for _, lot, _ in rows}, pairs)
        if len({leader[lot.pk] for _, lot, _ in rows}) > 1:
            lots = sorted({lot.name for _, lot, _ in rows})
            found.append(Unmatched(stand.box, rows[0][0], lots, sum(pieces for *_, pieces in rows)))
    return found


@dataclass(frozen=True, slots=True)
class Inside:
    """Pieces of one lot that belong in a parcel: how many, from where, and how many are in it."""

    dyed: DyedYarn
    lot: Lot
    place: Place | None
    pieces: int
    there: int

    @property
    def is_in(self) -> bool:
        return self.there >= self.pieces


@dataclass(frozen=True, slots=True)
class BoxInside:
    """A box in a parcel: what it is of, its pieces, and what goes along."""

    stand: Stand
    what: str
    lines: list[Inside]
    gift_note: str
    extras: list[str]
    unmatched: list[Unmatched]
    in_the_way: list[str]


@dataclass(frozen=True, slots=True)
class ParcelPage:
    """One parcel at the packing table."""

    parcel: Parcel
    boxes: list[BoxInside]
    address: list[str]
    number: int
    of: int
    next: Parcel | None
    events: list[ParcelEvent]

    @property
    def pieces(self) -> int:
        return sum(line.pieces for box in self.boxes for line in box.lines)

    @property
    def there(self) -> int:
        return sum(min(line.there, line.pieces) for box in self.boxes for line in box.lines)

    @property
    def in_the_way(self) -> bool:
        return any(box.in_the_way for box in self.boxes)


def next_to_pack(parcel: Parcel) -> Parcel | None:
    """The parcel of the same batch that is packed after this one, round and round until none is left. One query."""
    return _next([each for each in _siblings(parcel) if each.state == State.OPEN], parcel)


def _siblings(parcel: Parcel) -> list[Parcel]:
    return list(Parcel.objects.filter(batch=parcel.batch_id).exclude(state=State.UNDONE).order_by("pk"))


def _next(waiting: Sequence[Parcel], parcel: Parcel) -> Parcel | None:
    others = [each for each in waiting if each.pk != parcel.pk]
    return next((each for each in others if each.pk > parcel.pk), others[0] if others else None)


def parcel_page(parcel: Parcel, *, user: User, sent_from: str) -> ParcelPage:
    """One parcel, read with its receiver and batch. Nine queries at most.

    A helper is told name and address only while it is being packed.
    """
    gone = parcel.state == State.GONE
    siblings = [] if gone or parcel.batch_id is None else _siblings(parcel)
    inside = Box.objects.filter(parcel_boxes__parcel=parcel, parcel_boxes__taken_out_at=None).order_by("pk")
    standing = stands(inside)
    packed: dict[int, list[PackedPieces]] = defaultdict(list)
    rows = PackedPieces.objects.filter(parcel=parcel).select_related(
        "item__dyed__colourway", "item__dyed__put_up__base", "lot"
    )
    for row in rows.order_by("pk"):
        packed[row.box_id].append(row)
    matched = matched_lots(standing)
    extras = _extras(standing)
    may_see = user.is_owner or parcel.state == State.OPEN
    waiting = [each for each in siblings if each.state == State.OPEN]
    return ParcelPage(
        parcel=parcel,
        boxes=[
            BoxInside(
                stand=stand,
                what=what_it_is(stand.box)[0],
                lines=_inside(stand, packed[stand.box.pk]),
                gift_note=_gift_note(stand.box) if may_see else "",
                extras=extras.get(stand.box.membership.level_id, []) if stand.box.membership else [],
                unmatched=unmatched(stand, matched),
                in_the_way=in_the_way(stand) if parcel.state == State.OPEN else [],
            )
            for stand in standing
        ],
        address=address_lines(parcel.receiver, sent_from=sent_from) if may_see else [],
        number=1 + next((at for at, each in enumerate(siblings) if each.pk == parcel.pk), 0),
        of=len(siblings),
        next=_next(waiting, parcel),
        events=list(parcel.events.order_by("pk")) if gone and user.is_owner else [],
    )


def _inside(stand: Stand, packed: Sequence[PackedPieces]) -> list[Inside]:
    there = Counter({(row.item_id, row.lot_id): row.pieces for row in packed})
    if stand.is_gone:
        return [Inside(row.item.dyed, row.lot, None, row.pieces, row.pieces) for row in packed]
    lines = []
    for row in stand.held:
        key = (row.item.pk, row.lot.pk)
        taken = min(row.pieces, there[key])
        there[key] -= taken
        lines.append(Inside(row.item.dyed, row.lot, row.place, row.pieces, taken))
    return lines


def _gift_note(box: Box) -> str:
    if box.membership is not None:
        return box.membership.gift_note
    return box.order_line.order.gift_note if box.order_line is not None else ""


def _extras(standing: Iterable[Stand]) -> dict[int, list[str]]:
    levels = {stand.box.membership.level_id for stand in standing if stand.box.membership is not None}
    found: dict[int, list[str]] = defaultdict(list)
    if levels:
        for level, words in (
            LevelExtra.objects.filter(level__in=levels).order_by("pk").values_list("level", "words")
        ):
            found[level].append(words)
    return found


@dataclass(frozen=True, slots=True)
class BoxPage:
    """One box: what it is of, how it stands, what it replaces and what replaces it."""

    stand: Stand
    what: str
    address: str
    again: list[Stand]
    in_place_of: Box | None
    was_sent: bool


def box_page(box: Box) -> BoxPage:
    """A box with both sides of a replacement. Eight queries."""
    (stand,) = stands(Box.objects.filter(pk=box.pk))
    again = stands(Box.objects.filter(replaces=box).order_by("pk"))
    return BoxPage(stand, *what_it_is(stand.box), again, stand.box.replaces, stand.is_gone)
