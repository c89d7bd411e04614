"""What the page of the way from pot to shelf reads."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.utils import timezone

from dyehouse.ledger.models import Balance, Item, Place
from dyehouse.studio.models import User
from inventory.queries import DRY, shelf_places
from inventory.stages import STAGES
from recipes.lots.models import DyeLot
from recipes.models import DyedYarn


@dataclass(frozen=True, slots=True)
class WayRow:
    """Pieces of one lot, yarn and grade at a stage, since when, and for whom some of them are held."""

    dyed: DyedYarn
    lot: DyeLot
    place: Place
    pieces: int
    held: int
    since: datetime
    name: str
    before_today: bool

    @property
    def field(self) -> str:
        return f"n_{self.dyed.pk}_{self.lot.pk}"

    @property
    def grade(self) -> str:
        return str(self.dyed.get_grade_display())


@dataclass(frozen=True, slots=True)
class StageShown:
    """One stage with what stands there and where it may go on to, the next stage first; then the shelves,
    where what is judged and dry may lie."""

    place: Place
    rows: list[WayRow]
    onward: list[Place]
    shelves: list[Place]

    @property
    def pieces(self) -> int:
        return sum(row.pieces for row in self.rows)

    @property
    def before_today(self) -> list[WayRow]:
        return [row for row in self.rows if row.before_today]

    @property
    def pieces_before_today(self) -> int:
        return sum(row.pieces for row in self.before_today)


@dataclass(frozen=True, slots=True)
class WayPage:
    """All stages that hold anything, and the whole in numbers: in the pots, on the way, on the shelves."""

    stages: list[StageShown]
    in_pots: int
    shelved: int

    @property
    def on_the_way(self) -> int:
        return sum(stage.pieces for stage in self.stages)


def way_page(*, user: User) -> WayPage:
    """Every piece from the pot to the shelf, stage by stage. Five queries, however many lots."""
    midnight = timezone.localtime().replace(hour=0, minute=0, second=0, microsecond=0)
    balances = (
        Balance.objects.filter(item__kind__in=(Item.Kind.DYED, Item.Kind.UNDYED), on_hand__gt=0)
        .exclude(place__kind__in=(Place.Kind.STORE, Place.Kind.SHELF, Place.Kind.SHOW))
        .select_related("place", "item__dyed__put_up__base", "lot__dye_lot__colourway", "last_line__movement")
        .order_by("last_line__movement__happened_at", "lot_id", "item_id")
    )
    by_place: dict[str, list[WayRow]] = {}
    in_pots = 0
    for row in balances:
        if row.place.kind == Place.Kind.POT:
            in_pots += row.on_hand
            continue
        if row.item.kind != Item.Kind.DYED or not hasattr(row.lot, "dye_lot"):
            continue
        since = row.last_line.movement.happened_at
        shown = WayRow(
            dyed=row.item.dyed,
            lot=row.lot.dye_lot,
            place=row.place,
            pieces=row.on_hand,
            held=row.held,
            since=since,
            name=row.lot.dye_lot.shown_name(user),
            before_today=since < midnight,
        )
        by_place.setdefault(row.place.code, []).append(shown)
    places = {place.code: place for place in Place.objects.filter(code__in=STAGES)}
    shelves = shelf_places()
    ordered = sorted(places.values(), key=lambda place: place.order)
    stages = [
        StageShown(
            place,
            by_place[place.code],
            [each for each in ordered if each.order > place.order],
            shelves if place.order >= DRY else [],
        )
        for place in ordered
        if place.code in by_place
    ]
    return WayPage(stages, in_pots, _on(shelves))


def _on(shelves: list[Place]) -> int:
    pieces = Balance.objects.filter(place__in=shelves, item__kind=Item.Kind.DYED).values_list(
        "on_hand", flat=True
    )
    return sum(pieces)
