"""The page of one colourway on one put-up, and that of a put-up's undyed yarn: piece by piece what the counts are made of."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Exists, OuterRef, Q, QuerySet
from django.urls import reverse

from dyehouse.ledger.models import Balance, Claim, Held, Item, Line, Lot, Place
from dyehouse.studio.models import User
from inventory.shown import Shown, shown
from inventory.spoken_for import spoken_for
from inventory.standing import (
    DyedCounts,
    DyedStanding,
    House,
    YarnCounts,
    YarnStanding,
    recent_yield,
    stand,
)
from recipes.lots.models import DyeLot, Pot, PotLoad
from recipes.models import Colourway, DyedYarn, PutUp


@dataclass(frozen=True, slots=True)
class LyingLot:
    """Pieces of one lot and grade at one place."""

    lot: DyeLot
    name: str
    place: Place
    grade: str
    is_good: bool
    pieces: int
    held: int


@dataclass(frozen=True, slots=True)
class HeldFor:
    """So many pieces held for one claim: in which lots and places, and the page of the hold where it has one."""

    claim: Claim
    pieces: int
    where: list[str]
    address: str


@dataclass(frozen=True, slots=True)
class PotInWork:
    """Pieces in a pot that is planned or in work."""

    pot: Pot
    name: str
    pieces: int
    was: str

    @property
    def since(self) -> datetime:
        return self.pot.loaded_at or self.pot.made_at


@dataclass(frozen=True, slots=True)
class DyedDetail:
    """Everything about one colourway on one put-up."""

    standing: DyedStanding
    lots: list[LyingLot]
    holds: list[HeldFor]
    pots: list[PotInWork]
    shown: list[Shown]
    in_kits: int

    @property
    def owned(self) -> int:
        return self.standing.counts.owned + self.in_kits

    @property
    def shown_pieces(self) -> int:
        return sum(each.pieces for each in self.shown)


@dataclass(frozen=True, slots=True)
class MillLotLying:
    """Undyed pieces of one mill lot at one place."""

    lot: Lot
    place: Place
    words: str
    address: str
    pieces: int
    held: int


@dataclass(frozen=True, slots=True)
class YarnDetail:
    """Everything about the undyed yarn of one put-up."""

    standing: YarnStanding
    lots: list[MillLotLying]
    pots: list[PotInWork]


def dyed_detail(*, colourway: Colourway, put_up: PutUp, user: User) -> DyedDetail:
    """One colourway on one put-up. At most five queries beside those of the rooms that tell promises."""
    rows = (
        Balance.objects.filter(
            item__dyed__colourway=colourway, item__dyed__put_up=put_up, on_hand__gt=0, lot__dye_lot__isnull=False
        )
        .select_related("place", "item__dyed", "lot__dye_lot__colourway")
        .order_by("place__order", "lot__dye_lot__made_at", "lot_id", "item_id")
    )  # fmt: skip
    counts = DyedCounts()
    lying = list(rows)
    for row in lying:
        counts.add(
            grade=row.item.dyed.grade,
            kind=row.place.kind,
            order=row.place.order,
            own_name=row.lot.dye_lot.own_name,
            here=row.on_hand,
            held=row.held,
        )
    loads = list(
        _loads(put_up).filter(Q(pot__colourway=colourway) | Q(was__colourway=colourway, pot__loaded_at=None))
    )
    pots = _pots([load for load in loads if load.pot.colourway_id == colourway.pk], user)
    for each in pots:
        if each.pot.loaded_at is not None:
            counts.in_pots += each.pieces
        else:
            counts.planned += each.pieces
    counts.to_overdye = sum(
        load.pieces
        for load in loads
        if load.pot.loaded_at is None
        and load.was is not None
        and (load.was.colourway_id, load.was.grade) == (colourway.pk, DyedYarn.Grade.GOOD)
    )
    promises = [
        each for each in spoken_for() if (each.colourway_id, each.put_up_id) == (colourway.pk, put_up.pk)
    ]
    standing = stand(
        colourway=colourway,
        put_up=put_up,
        counts=counts,
        promises=promises,
        expected=recent_yield().of(counts.in_work),
        user=user,
    )
    return DyedDetail(
        standing=standing,
        lots=[_lying(row, user) for row in lying],
        holds=_holds([row.item_id for row in lying if row.held]),
        pots=pots,
        shown=[each for each in shown() if (each.colourway_id, each.put_up_id) == (colourway.pk, put_up.pk)],
        in_kits=_in_kits(colourway, put_up),
    )


def _lying(row: Balance, user: User) -> LyingLot:
    dyed, lot = row.item.dyed, row.lot.dye_lot
    return LyingLot(
        lot=lot,
        name=lot.shown_name(user) if lot.own_name else "",
        place=row.place,
        grade=str(dyed.get_grade_display()),
        is_good=dyed.grade == DyedYarn.Grade.GOOD,
        pieces=row.on_hand,
        held=row.held,
    )  # fmt: skip


def _loads(put_up: PutUp) -> QuerySet[PotLoad]:
    """What lies in pots of a put-up, or is planned to."""
    loads = PotLoad.objects.filter(put_up=put_up, pot__out_at__isnull=True, pot__dropped_at__isnull=True)
    return loads.select_related("pot__colourway", "overdyes", "was").order_by(
        "pot__loaded_at", "pot_id", "id"
    )


def _pots(loads: Iterable[PotLoad], user: User) -> list[PotInWork]:
    by_pot: dict[int, list[PotLoad]] = {}
    for load in loads:
        by_pot.setdefault(load.pot_id, []).append(load)
    return [
        PotInWork(
            pot=lines[0].pot,
            name=lines[0].pot.colourway.shown_name(user),
            pieces=sum(load.pieces for load in lines),
            was=", ".join(load.overdyes.code for load in lines if load.overdyes is not None),
        )
        for lines in by_pot.values()
    ]


def _holds(items: Iterable[int]) -> list[HeldFor]:
    wanted = set(items)
    if not wanted:
        return []
    rows = Held.objects.filter(item__in=wanted, quantity__gt=0).select_related(
        "claim__hand_hold", "place", "lot"
    )
    by_claim: dict[int, list[Held]] = {}
    for row in rows.order_by("claim_id", "place__order", "lot_id"):
        by_claim.setdefault(row.claim_id, []).append(row)
    return [
        HeldFor(
            claim=lines[0].claim,
            pieces=sum(line.quantity for line in lines),
            where=[f"{line.quantity} of {line.lot} in {line.place}" for line in lines],
            address=_hold_page(lines[0].claim),
        )
        for lines in by_claim.values()
    ]


def _hold_page(claim: Claim) -> str:
    hand = getattr(claim, "hand_hold", None)
    return reverse("hold", args=[hand.pk]) if hand is not None else ""


def _in_kits(colourway: Colourway, put_up: PutUp) -> int:
    """Pieces of it in kits that are built and still here."""
    here = Balance.objects.filter(
        lot=OuterRef("movement__built_kit__lot"), item__kind=Item.Kind.KIT, on_hand__gt=0
    )
    lines = Line.objects.filter(
        Exists(here),
        item__dyed__colourway=colourway,
        item__dyed__put_up=put_up,
        movement__built_kit__isnull=False,
        movement__reversed_by__isnull=True,
    )
    return sum(lines.values_list("quantity", flat=True))


def yarn_detail(*, put_up: PutUp, user: User) -> YarnDetail:
    """The undyed yarn of one put-up. Nine queries at most beside those of the rooms that tell promises."""
    house = House.now(user=user, of=put_up)
    house.yarn_counts.setdefault(put_up.pk, YarnCounts())
    standing = next(row for row in house.yarn() if row.put_up.pk == put_up.pk)
    rows = (
        Balance.objects.filter(item=put_up.item_id, on_hand__gt=0)
        .select_related("place", "lot__mill_lot")
        .order_by("place__order", "lot__mill_lot__arrived_on", "lot_id")
    )
    return YarnDetail(
        standing=standing,
        lots=[
            MillLotLying(
                lot=row.lot,
                place=row.place,
                words="Mill lot not known" if row.lot.mill_lot.unknown else f"Mill lot {row.lot.mill_lot}",
                address=reverse("mill-lot", args=[row.lot.mill_lot.pk, put_up.pk]),
                pieces=row.on_hand,
                held=row.held,
            )
            for row in rows
        ],
        pots=_pots(_loads(put_up).filter(overdyes__isnull=True), user),
    )
