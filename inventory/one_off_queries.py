"""What the pages of one-offs read: each with its picture and where it is now, in a fixed number of queries."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Exists, OuterRef, Q, QuerySet
from django.utils import timezone

from dyehouse.ledger.models import Balance, Held, Line, Place
from dyehouse.studio.codes import tidy
from dyehouse.studio.models import User
from inventory.models import OneOff
from inventory.one_offs import MAY_BE_SOLD
from inventory.queries import DRY, Lying, lot_lying, newest_photos
from recipes.lots.models import DyeLot, Photo
from recipes.words import one_line

A_PAGE = 48


@dataclass(frozen=True, slots=True)
class OneOffLine:
    """One one-off: its name as shown, its picture where it may be shown, where it is, and whom it is held for."""

    one_off: OneOff
    name: str
    photo: Photo | None
    where: str
    held_for: str
    here: bool
    yarn: str

    @property
    def lot(self) -> DyeLot:
        return self.one_off.dye_lot


@dataclass(frozen=True, slots=True)
class OneOffsPage:
    """A page of one-offs, the newest first: those that are here, or those that are gone."""

    lines: list[OneOffLine]
    gone: bool = False
    search: str = ""
    page: int = 1
    more: bool = False


def one_offs_page(*, user: User, gone: bool = False, search: str = "", page: int = 1) -> OneOffsPage:
    """The one-offs that are here, or those that left; `search` is part of a name, or a code. At most five queries."""
    here = Balance.objects.filter(lot=OuterRef("dye_lot__lot"), on_hand__gt=0)
    found = OneOff.objects.filter(~Exists(here) if gone else Exists(here), ended_at__isnull=True)
    found = _searched(found, search, user)
    rows = list(
        found.select_related("dye_lot__colourway", "dye_lot__taken_from").order_by("-id")[
            (page - 1) * A_PAGE : page * A_PAGE + 1
        ]
    )
    return OneOffsPage(
        one_off_lines(rows[:A_PAGE], user=user), gone, one_line(search), page, len(rows) > A_PAGE
    )


def _searched(found: QuerySet[OneOff], search: str, user: User) -> QuerySet[OneOff]:
    words = one_line(search)
    if not words:
        return found
    named = Q(dye_lot__own_name__icontains=words) | Q(dye_lot__colourway__name__icontains=words)
    if not user.is_owner:
        # A search must not tell which code a secret name belongs to.
        named &= ~Q(dye_lot__colourway__secret_until__gt=timezone.now())
    return found.filter(
        named | Q(dye_lot__code=tidy(words)) | Q(dye_lot__taken_from__code=tidy(words))
    ).distinct()


def one_off_lines(one_offs: Iterable[OneOff], *, user: User) -> list[OneOffLine]:
    """Each with its picture, its place and its hold. At most four queries."""
    rows = list(one_offs)
    lots = [row.dye_lot.lot_id for row in rows]
    lying: dict[int, list[Balance]] = {}
    for balance in (
        Balance.objects.filter(lot__in=lots, on_hand__gt=0)
        .select_related("place", "item__dyed__put_up__base")
        .order_by("place__order", "id")
    ):
        lying.setdefault(balance.lot_id, []).append(balance)
    held: dict[int, list[str]] = {}
    if any(each.held for there in lying.values() for each in there):
        for each in Held.objects.filter(lot__in=lots, quantity__gt=0).select_related("claim").order_by("id"):
            held.setdefault(each.lot_id, []).append(str(each.claim))
    left = _where_they_went([lot for lot in lots if lot not in lying])
    photos = newest_photos({row.dye_lot_id for row in rows})
    return [
        OneOffLine(
            one_off=row,
            name=row.dye_lot.shown_name(user),
            photo=photos.get(row.dye_lot_id) if row.dye_lot.colourway.may_be_seen_by(user) else None,
            where=", ".join(dict.fromkeys(each.place.name for each in lying.get(row.dye_lot.lot_id, [])))
            or left.get(row.dye_lot.lot_id, "not here"),
            held_for=", ".join(dict.fromkeys(held.get(row.dye_lot.lot_id, []))),
            here=row.dye_lot.lot_id in lying,
            yarn=", ".join(
                dict.fromkeys(str(each.item.dyed.put_up) for each in lying.get(row.dye_lot.lot_id, []))
            ),
        )
        for row in rows
    ]


def _where_they_went(lots: list[int]) -> dict[int, str]:
    """In a word, where each lot went that is not here: sold, into a kit, given away, binned."""
    if not lots:
        return {}
    lines = Line.objects.filter(lot__in=lots, to_place__kind=Place.Kind.BOUNDARY).order_by("id")
    words: dict[int, str] = {}
    for line in lines.select_related("to_place", "movement__built_kit"):
        built = getattr(line.movement, "built_kit", None)
        if line.to_place.code == "customer":
            words[line.lot_id] = "sold"
        else:
            words[line.lot_id] = f"in kit {built.code}" if built is not None else line.to_place.name.lower()
    return words


def may_become_one_offs(lot: DyeLot, *, user: User) -> list[Lying]:
    """What of a lot is judged, dry and free, so that it may become one-offs, by place. One query."""
    return [
        row
        for row in lot_lying(lot, user=user)
        if row.dyed.grade in MAY_BE_SOLD
        and row.place.kind in (Place.Kind.STAGE, Place.Kind.SHELF)
        and row.place.order >= DRY
        and row.pieces > row.held
    ]
