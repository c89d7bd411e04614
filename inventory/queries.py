"""What lies dry and on the shelves, for the pages, in a fixed number of queries."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from django.db.models import F, Q, QuerySet, Sum
from django.utils import timezone

from dyehouse.ledger.models import Balance, Item, Place
from dyehouse.ledger.places import FIXED_PLACES
from dyehouse.studio.codes import tidy
from dyehouse.studio.models import User
from recipes.lots.jugs import count_of_pots, together_words
from recipes.lots.models import DyeLot, Photo
from recipes.models import Colourway, DyedYarn
from recipes.words import one_line

COLOURWAYS_A_PAGE = 25
# The stages from here on are of dry pieces.
DRY = FIXED_PLACES["dry"].order
NAMED_STAGES: dict[str, str] = {Place.Kind.SHELF: "shelved", Place.Kind.SHOW: "at_shows"}


@dataclass(frozen=True, slots=True)
class Lying:
    """Pieces of one lot, put-up and grade at one place."""

    place: Place
    dyed: DyedYarn
    lot: DyeLot
    pieces: int
    held: int
    name: str
    together: str = ""

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
    def together(self) -> str:
        return self.rows[0].together if self.rows else ""

    @property
    def pieces(self) -> int:
        return sum(row.pieces for row in self.rows)


@dataclass(frozen=True, slots=True)
class ColourwayLying:
    """All that lies on shelves of one colourway, lot by lot."""

    colourway: Colourway
    name: str
    rows: list[Lying] = field(default_factory=list)

    @property
    def pieces(self) -> int:
        return sum(row.pieces for row in self.rows)


@dataclass(frozen=True, slots=True)
class Stages:
    """How many dyed pieces are where on their way: not yet dry, dry, on the shelves, at shows; and in each place."""

    by_place: dict[int, int]
    drying: int = 0
    dry: int = 0
    shelved: int = 0
    at_shows: int = 0


@dataclass(frozen=True, slots=True)
class ShelfPage:
    """What waits for the shelf, a page of what lies on shelves by colourway, the places, and all stages in numbers."""

    waiting: list[LotLying]
    colourways: list[ColourwayLying]
    places: list[tuple[Place, int]]
    stages: Stages
    found_pieces: int
    search: str = ""
    page: int = 1
    more: bool = False

    @property
    def waiting_pieces(self) -> int:
        return sum(lot.pieces for lot in self.waiting)


def stock_by_stage() -> Stages:
    """Dyed pieces by stage and place. One query."""
    found: dict[str, int] = {}
    by_place: dict[int, int] = {}
    rows = Balance.objects.filter(item__kind=Item.Kind.DYED, on_hand__gt=0)
    for place, kind, order, pieces in rows.values_list("place_id", "place__kind", "place__order").annotate(
        Sum("on_hand")
    ):
        by_place[place] = pieces
        stage = NAMED_STAGES.get(kind, "dry" if order >= DRY else "drying")
        if kind not in (*NAMED_STAGES, Place.Kind.STAGE):
            continue
        found[stage] = found.get(stage, 0) + pieces
    return Stages(by_place, **found)


def shelf_page(*, user: User, search: str = "", page: int = 1) -> ShelfPage:
    """The shelf page; `search` narrows to a colourway's name or code, a lot's code, a base or a place. Seven queries."""
    found = _searched(search, user)
    shelved = found.filter(place__kind=Place.Kind.SHELF)
    pieces = dict(shelved.order_by().values_list("item__dyed__colourway").annotate(Sum("on_hand")))
    named = sorted(
        ((each.shown_name(user), each) for each in Colourway.objects.filter(pk__in=list(pieces))),
        key=lambda one: (one[0].casefold(), one[1].pk),
    )
    shown = named[(page - 1) * COLOURWAYS_A_PAGE : page * COLOURWAYS_A_PAGE]
    groups = {each.pk: ColourwayLying(each, name) for name, each in shown}
    for row in _lying(user, shelved.filter(item__dyed__colourway__in=list(groups))):
        groups[row.lot.colourway_id].rows.append(row)
    waiting = _lying(
        user,
        found.filter(place__kind=Place.Kind.STAGE, place__order__gte=DRY).exclude(
            item__dyed__grade__in=(DyedYarn.Grade.REDYE, DyedYarn.Grade.UNJUDGED)
        ),
    )
    stages = stock_by_stage()
    return ShelfPage(
        waiting=_by_lot(waiting, newest_photos({row.lot.pk for row in waiting}), user),
        colourways=list(groups.values()),
        places=[(place, stages.by_place.get(place.pk, 0)) for place in shelf_places()],
        stages=stages,
        found_pieces=sum(pieces.values()),
        search=search,
        page=page,
        more=len(named) > page * COLOURWAYS_A_PAGE,
    )


def lot_lying(dye_lot: DyeLot, *, user: User) -> list[Lying]:
    """Everything that lies of one lot, at every place, along the way."""
    return _lying(user, _of_dyed().filter(lot=dye_lot.lot_id))


def free_and_good(*, user: User, search: str = "", limit: int = 60) -> list[Lying]:
    """Free good pieces from dry to the shelf, the newest lots first; `search` narrows as on the shelf page. One query."""
    rows = _searched(search, user).filter(
        item__dyed__grade=DyedYarn.Grade.GOOD,
        on_hand__gt=F("held"),
        place__kind__in=(Place.Kind.STAGE, Place.Kind.SHELF),
        place__order__gte=DRY,
    )
    return _lying(user, rows.select_related("lot").order_by("-lot_id", "item_id", "place_id")[:limit])


def shelf_places() -> list[Place]:
    """The shelf places in use, by name."""
    return list(Place.objects.filter(kind=Place.Kind.SHELF, closed_at__isnull=True).order_by("name", "id"))


def _of_dyed() -> QuerySet[Balance]:
    return (
        Balance.objects.filter(item__kind=Item.Kind.DYED, on_hand__gt=0, lot__dye_lot__isnull=False)
        .select_related("place", "item__dyed__put_up__base", "lot__dye_lot__colourway")
        .annotate(pots=count_of_pots("lot__dye_lot"))
        .order_by("place__order", "lot__dye_lot__made_at", "lot_id", "item_id", "place__name")
    )


def _searched(search: str, user: User) -> QuerySet[Balance]:
    rows = _of_dyed()
    words = one_line(search)
    if not words:
        return rows
    code = tidy(words)
    named = Q(lot__dye_lot__colourway__name__icontains=words)
    if not user.is_owner:
        # A search must not tell which code a secret name belongs to.
        named &= ~Q(lot__dye_lot__colourway__secret_until__gt=timezone.now())
    return rows.filter(
        named
        | Q(lot__dye_lot__code=code)
        | Q(lot__dye_lot__colourway__code=code)
        | Q(place__name__icontains=words)
        | Q(item__dyed__put_up__base__name__icontains=words)
    )


def _lying(user: User, balances: Iterable[Balance]) -> list[Lying]:
    return [
        Lying(
            place=row.place,
            dyed=row.item.dyed,
            lot=row.lot.dye_lot,
            pieces=row.on_hand,
            held=row.held,
            name=row.lot.dye_lot.shown_name(user),
            together=together_words(getattr(row, "pots", None) or 0, from_before=row.lot.dye_lot.from_before),
        )
        for row in balances
    ]


def _by_lot(rows: Iterable[Lying], photos: dict[int, Photo], user: User) -> list[LotLying]:
    lots: dict[int, LotLying] = {}
    for row in rows:
        seen = photos.get(row.lot.pk) if row.lot.colourway.may_be_seen_by(user) else None
        lots.setdefault(row.lot.pk, LotLying(row.lot, row.name, seen)).rows.append(row)
    return sorted(lots.values(), key=lambda lot: (lot.lot.made_at, lot.lot.pk))


def newest_photos(lot_ids: Iterable[int]) -> dict[int, Photo]:
    """The newest photo of each lot, by the lot's id. One query."""
    photos = Photo.objects.filter(dye_lot__in=list(lot_ids)).order_by("taken_at", "id")
    return {photo.dye_lot_id: photo for photo in photos if photo.dye_lot_id is not None}
