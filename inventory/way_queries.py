"""What the page of the way from pot to shelf reads."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from uuid import UUID

from django.utils import timezone

from dyehouse.ledger.models import Balance, Item, Place
from dyehouse.studio.models import User
from inventory.queries import DRY, shelf_places
from inventory.stages import STAGES
from recipes.lots.load_words import OF_A_LOAD, load_words
from recipes.lots.models import DyeLot, Pot, PotLoad
from recipes.lots.soaking import claim_key, soaking_for
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
class PlannedYarn:
    """The yarn of a planned pot: what it is, and since when it soaks, None where it does not yet."""

    pot: Pot
    name: str
    pieces: int
    words: str
    since: datetime | None


@dataclass(frozen=True, slots=True)
class WayPage:
    """All stages that hold anything, and the whole in numbers: soaking, in the pots, on the way, on the shelves.

    `planned` are the planned pots with yarn, those that soak longest first, then those that do not soak yet.
    """

    stages: list[StageShown]
    soaking: int
    in_pots: int
    shelved: int
    planned: list[PlannedYarn] = field(default_factory=list)

    @property
    def wet(self) -> list[PlannedYarn]:
        return [each for each in self.planned if each.since is not None]

    @property
    def to_soak(self) -> list[PlannedYarn]:
        return [each for each in self.planned if each.since is None]

    @property
    def pieces_to_soak(self) -> int:
        return sum(each.pieces for each in self.to_soak)

    @property
    def on_the_way(self) -> int:
        return sum(stage.pieces for stage in self.stages)


def way_page(*, user: User) -> WayPage:
    """Every piece from the pot to the shelf, stage by stage. Seven queries, however many lots and pots."""
    midnight = timezone.localtime().replace(hour=0, minute=0, second=0, microsecond=0)
    balances = (
        Balance.objects.filter(item__kind__in=(Item.Kind.DYED, Item.Kind.UNDYED), on_hand__gt=0)
        .exclude(place__kind__in=(Place.Kind.STORE, Place.Kind.SHELF, Place.Kind.SHOW))
        .select_related("place", "item__dyed__put_up__base", "lot__dye_lot__colourway", "last_line__movement")
        .order_by("last_line__movement__happened_at", "lot_id", "item_id")
    )
    by_place: dict[str, list[WayRow]] = {}
    soaking = in_pots = 0
    for row in balances:
        if row.place.code == "soaking":
            soaking += row.on_hand
            continue
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
    return WayPage(stages, soaking, in_pots, _on(shelves), _planned(user))


def _planned(user: User) -> list[PlannedYarn]:
    loads = (
        PotLoad.objects.filter(
            pot__loaded_at__isnull=True, pot__out_at__isnull=True, pot__dropped_at__isnull=True
        )
        .select_related("pot__colourway", *OF_A_LOAD)
        .order_by("pot_id", "id")
    )
    by_pot: dict[int, list[PotLoad]] = {}
    for load in loads:
        by_pot.setdefault(load.pot_id, []).append(load)
    since: dict[UUID, datetime] = {}
    for each in soaking_for():
        since[each.claim_key] = min(each.since, since.get(each.claim_key, each.since))
    planned = [
        PlannedYarn(
            pot=lines[0].pot,
            name=lines[0].pot.colourway.shown_name(user),
            pieces=sum(load.pieces for load in lines),
            words=load_words(lines),
            since=since.get(claim_key(lines[0].pot)),
        )
        for lines in by_pot.values()
    ]
    return sorted(planned, key=lambda each: (each.since is None, each.since or each.pot.made_at, each.pot.pk))


def _on(shelves: list[Place]) -> int:
    pieces = Balance.objects.filter(place__in=shelves, item__kind=Item.Kind.DYED).values_list(
        "on_hand", flat=True
    )
    return sum(pieces)
