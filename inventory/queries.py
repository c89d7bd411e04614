"""What lies dry and on the shelves, for the pages, in a fixed number of queries."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from django.db.models import Q, QuerySet

from dyehouse.ledger.models import Balance, Item, Place
from dyehouse.studio.codes import tidy
from dyehouse.studio.models import User
from recipes.lots.models import DyeLot, Photo
from recipes.models import Colourway, DyedYarn

SHOWN_A_PAGE = 400


@dataclass(frozen=True, slots=True)
class Lying:
    """Pieces of one lot, put-up and grade at one place."""

    place: Place
    dyed: DyedYarn
    lot: DyeLot
    pieces: int
    held: int
    name: str

    @property
    def grade(self) -> str:
        return str(self.dyed.get_grade_display())


@dataclass(frozen=True, slots=True)
class LotLying:
    """All that lies of one lot, with its photo where it may be shown."""

    lot: DyeLot
    name: str
    photo: Photo | None
    rows: list[Lying] = field(default_factory=list)

    @property
    def pieces(self) -> int:
        return sum(row.pieces for row in self.rows)


@dataclass(frozen=True, slots=True)
class ColourwayLying:
    """All that lies of one colourway, lot by lot."""

    colourway: Colourway
    name: str
    lots: list[LotLying] = field(default_factory=list)

    @property
    def pieces(self) -> int:
        return sum(lot.pieces for lot in self.lots)


@dataclass(frozen=True, slots=True)
class ShelfPage:
    """What waits for the shelf, what lies on shelves by colourway, and the places."""

    waiting: list[LotLying]
    colourways: list[ColourwayLying]
    places: list[tuple[Place, int]]
    search: str = ""

    @property
    def waiting_pieces(self) -> int:
        return sum(lot.pieces for lot in self.waiting)

    @property
    def shelf_pieces(self) -> int:
        return sum(each.pieces for each in self.colourways)


def shelf_page(*, user: User, search: str = "") -> ShelfPage:
    """The shelf page; `search` narrows to a colourway's name or code, a lot's code or a place."""
    rows = _lying(user, _balances(search, user))
    shelved = [row for row in rows if row.place.kind == Place.Kind.SHELF]
    waiting = [row for row in rows if row.place.code == "dry" and row.dyed.grade != DyedYarn.Grade.REDYE]
    photos = _photos({row.lot.pk for row in rows})
    colourways: dict[int, ColourwayLying] = {}
    for lot in _by_lot(shelved, photos, user):
        colourway = lot.lot.colourway
        colourways.setdefault(colourway.pk, ColourwayLying(colourway, lot.name)).lots.append(lot)
    return ShelfPage(
        waiting=_by_lot(waiting, photos, user),
        colourways=sorted(colourways.values(), key=lambda each: each.name.casefold()),
        places=_places(),
        search=search,
    )


def lot_lying(dye_lot: DyeLot, *, user: User) -> list[Lying]:
    """Everything that lies of one lot, at every place, along the way."""
    return _lying(user, _of_dyed().filter(lot=dye_lot.lot_id))


def shelf_places() -> list[Place]:
    """The shelf places in use, by name."""
    return list(Place.objects.filter(kind=Place.Kind.SHELF, closed_at__isnull=True).order_by("name", "id"))


def _places() -> list[tuple[Place, int]]:
    pieces: dict[int, int] = {}
    for place_id, on_hand in Balance.objects.filter(place__kind=Place.Kind.SHELF, on_hand__gt=0).values_list(
        "place_id", "on_hand"
    ):
        pieces[place_id] = pieces.get(place_id, 0) + on_hand
    return [(place, pieces.get(place.pk, 0)) for place in shelf_places()]


def _of_dyed() -> QuerySet[Balance]:
    return (
        Balance.objects.filter(item__kind=Item.Kind.DYED, on_hand__gt=0, lot__dye_lot__isnull=False)
        .select_related("place", "item__dyed__put_up__base", "lot__dye_lot__colourway")
        .order_by("place__order", "place__name", "item_id", "lot_id")
    )


def _balances(search: str, user: User) -> QuerySet[Balance]:
    rows = _of_dyed().filter(Q(place__kind=Place.Kind.SHELF) | Q(place__code="dry"))
    words = " ".join(search.split())
    if words:
        code = tidy(words)
        wanted = (
            Q(lot__dye_lot__code=code)
            | Q(lot__dye_lot__colourway__code=code)
            | Q(place__name__icontains=words)
        )
        named = Q(lot__dye_lot__colourway__name__icontains=words)
        if not user.is_owner:
            # A search must not tell which code a secret name belongs to.
            named &= ~Q(lot__dye_lot__colourway__in=_secret())
        rows = rows.filter(wanted | named)
    return rows[:SHOWN_A_PAGE]


def _secret() -> list[int]:
    return [
        colourway.pk
        for colourway in Colourway.objects.filter(secret_until__isnull=False)
        if colourway.is_secret
    ]


def _lying(user: User, balances: Iterable[Balance]) -> list[Lying]:
    return [
        Lying(
            place=row.place,
            dyed=row.item.dyed,
            lot=row.lot.dye_lot,
            pieces=row.on_hand,
            held=row.held,
            name=row.lot.dye_lot.colourway.shown_name(user),
        )
        for row in balances
    ]


def _by_lot(rows: Iterable[Lying], photos: dict[int, Photo], user: User) -> list[LotLying]:
    lots: dict[int, LotLying] = {}
    for row in rows:
        seen = photos.get(row.lot.pk) if row.lot.colourway.may_be_seen_by(user) else None
        lots.setdefault(row.lot.pk, LotLying(row.lot, row.name, seen)).rows.append(row)
    return sorted(lots.values(), key=lambda lot: (lot.lot.made_at, lot.lot.pk))


def _photos(lot_ids: Iterable[int]) -> dict[int, Photo]:
    photos = Photo.objects.filter(dye_lot__in=list(lot_ids)).order_by("taken_at", "id")
    return {photo.dye_lot_id: photo for photo in photos if photo.dye_lot_id is not None}
