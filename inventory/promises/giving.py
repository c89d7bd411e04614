"""Who gets which skein: worked out for a round or a product, explained, pinned and exchanged. Nothing is held by it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from uuid import UUID

from django.utils import timezone

from dyehouse.studio.models import User
from dyehouse.studio.refusals import Refused
from inventory.allocation.answers import Answer
from inventory.allocation.explaining import unfilled, why_this
from inventory.allocation.pots_to_dye import PotLoad, fewest_pots
from inventory.allocation.solving import allocate
from inventory.allocation.swapping import swap
from inventory.allocation.wants import AllocationError, Month, Piece
from inventory.promises.giving_table import (
    Of,
    Table,
    lay_out,
    nameless,
    of_what,
    pieces_of,
)
from inventory.promises.models import (
    Box,
    Pin,
    Product,
    Round,
    WorkedOut,
)
from recipes.lots.models import DyeLot
from recipes.models import DyedYarn

#: Longer than this nobody waits before a page; the best found by then is shown, and how far it may be off.
SECONDS = 8.0
USUAL_POT_GRAMS = 400


class NothingToGive(Refused):
    """No box of it is waiting for pieces."""


class CannotBe(Refused):
    """What was asked for breaks a rule; nothing changed."""


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


def work_out(*, of: Of, key: UUID, who: User, earlier: WorkedOut | None = None) -> WorkedOut:
    """Work out who gets which; nothing is held yet. What was worked out before moves only where it must.

    The same key again gives the first. Raises NothingToGive when no box waits, CannotBe for pins that cannot all hold.
    """
    done = WorkedOut.objects.filter(key=key).first()
    if done is not None:
        return done
    table = lay_out(of, user=who, earlier=pieces_of(earlier) if earlier is not None else ())
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
        pieces = swap(table.month, pieces_of(worked), one=one, other=other)
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
    month = nameless(table)
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
