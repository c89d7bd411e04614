"""Kits, fades, gradients and boxes: ordered parts, built from what is free on the shelves and broken up again."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID, uuid5

from django.db import transaction
from django.db.models import F, QuerySet
from django.utils import timezone

from dyehouse.ledger.models import Balance, Item, Lot, Movement, Place
from dyehouse.ledger.operations import Bucket, Step, post, reverse
from dyehouse.ledger.places import FIXED_PLACES, fixed_place
from dyehouse.studio.codes import take_code
from dyehouse.studio.models import User
from dyehouse.studio.refusals import Refused
from inventory.models import BuiltKit, Kit, KitPart
from recipes.models import Colourway, DyedYarn, PutUp
from recipes.words import one_line

MOST_AT_ONCE = 200


class NotAKit(Refused):
    """A kit without a name, or without parts."""


class KitNameTaken(Refused):
    """Another kit goes by this name."""


class CannotMake(Refused):
    """There are not enough free pieces for so many kits."""


class BrokenUp(Refused):
    """The kit was broken up before, or is not here any more."""


@dataclass(frozen=True, slots=True)
class PartWanted:
    """One place in the order of a kit that is being written down."""

    colourway: Colourway
    put_up: PutUp
    pieces: int = 1


@dataclass(frozen=True, slots=True)
class Taken:
    """Free pieces that go into a kit: of what, of which dye lot, from which place."""

    dyed: DyedYarn
    lot: Lot
    place: Place
    pieces: int


@dataclass(frozen=True, slots=True)
class PartThere:
    """A part, how many of its colourway and put-up are free, and how many kits that is enough for.

    `makes` counts what all parts of the kit take of the same colourway and put-up together.
    """

    part: KitPart
    free: int
    taken_by_each: int

    @property
    def makes(self) -> int:
        return self.free // self.taken_by_each


@dataclass(frozen=True, slots=True)
class CanMake:
    """How many kits can be made now, and which parts set that number."""

    parts: list[PartThere]

    @property
    def kits(self) -> int:
        return min((part.makes for part in self.parts), default=0)

    @property
    def scarcest(self) -> list[PartThere]:
        """The parts that there are fewest kits' worth of."""
        return [part for part in self.parts if part.makes == self.kits]


@transaction.atomic
def make_kit(*, name: str, kind: str, parts: Sequence[PartWanted], one_of_a_kind: bool = False) -> Kit:
    """Write down a kit as its parts in their order. Raises NotAKit and KitNameTaken."""
    called = one_line(name)[:80]
    if not called:
        raise NotAKit("Write what the kit is called.")
    if not parts:
        raise NotAKit("A kit has at least one part: a colourway on a yarn.")
    if kind not in Kit.Kind.values:
        raise NotAKit("Choose what it is: a kit, a fade set, a gradient, a mini set or a box of days.")
    if any(part.pieces < 1 for part in parts):
        raise NotAKit("Each part has at least one piece.")
    if not one_of_a_kind and Kit.objects.filter(name__iexact=called, one_of_a_kind=False).exists():
        raise KitNameTaken(f"There is a kit called {called} already. Choose another name.")
    item = Item.objects.create(kind=Item.Kind.KIT, unit=Item.Unit.PIECE, name=called)
    kit = Kit.objects.create(
        name=called, kind=kind, one_of_a_kind=one_of_a_kind, item=item, made_at=timezone.now()
    )
    KitPart.objects.bulk_create(
        KitPart(kit=kit, position=number, colourway=part.colourway, put_up=part.put_up, pieces=part.pieces)
        for number, part in enumerate(parts, start=1)
    )
    return kit


def can_make(kits: Iterable[Kit]) -> dict[int, CanMake]:
    """For each kit (by id): its parts in order and how many kits the free pieces are enough for. Two queries."""
    parts: dict[int, list[KitPart]] = {kit.pk: [] for kit in kits}
    found = KitPart.objects.filter(kit__in=parts).select_related("colourway", "put_up__base")
    for part in found.order_by("kit", "position"):
        parts[part.kit_id].append(part)
    free: dict[tuple[int, int], int] = {}
    colourways = {part.colourway_id for each in parts.values() for part in each}
    for row in _good().filter(item__dyed__colourway__in=colourways):
        what = (row.item.dyed.colourway_id, row.item.dyed.put_up_id)
        free[what] = free.get(what, 0) + row.free
    can = {}
    for pk, each in parts.items():
        taken: dict[tuple[int, int], int] = {}
        for part in each:
            what = (part.colourway_id, part.put_up_id)
            taken[what] = taken.get(what, 0) + part.pieces
        can[pk] = CanMake(
            [
                PartThere(
                    part,
                    free.get((part.colourway_id, part.put_up_id), 0),
                    taken[part.colourway_id, part.put_up_id],
                )
                for part in each
            ]
        )
    return can


def _good() -> QuerySet[Balance]:
    """Free good pieces that are dry, or anywhere from there to the shelf; a one-off goes into a kit by its name alone."""
    return (
        Balance.objects.filter(
            place__kind__in=(Place.Kind.STAGE, Place.Kind.SHELF),
            place__order__gte=FIXED_PLACES["dry"].order,
            item__dyed__grade=DyedYarn.Grade.GOOD,
            on_hand__gt=F("held"),
            lot__dye_lot__own_name="",
        )
        .select_related("item__dyed__item", "lot", "place")
        .order_by("lot_id", "place_id")
    )


@transaction.atomic
def build(
    *, key: UUID, kit: Kit, count: int, place: Place, who: User, now: datetime | None = None
) -> list[BuiltKit]:
    """Put so many kits together: their parts leave the shelves, the kits appear at a place, each under its own code.

    All pieces of one colourway and put-up in a kit are of one lot where any lot has enough of them. The same key again
    gives the kits of the first call. Raises CannotMake, naming the scarcest part, and then builds none.
    """
    first = _built_under(key)
    if first:
        return first
    if not 1 <= count <= MOST_AT_ONCE:
        raise CannotMake(f"Build from 1 to {MOST_AT_ONCE} kits at once.")
    there = can_make([kit])[kit.pk]
    if there.kits < count:
        raise CannotMake(_short(there, count))
    wanted: dict[tuple[int, int], int] = {}
    for line in there.parts:
        wanted[line.part.colourway_id, line.part.put_up_id] = line.taken_by_each
    shelves = _Shelves.of(_good().select_for_update(of=("self",)), wanted)
    return [
        _build_one(
            kit, key=uuid5(key, str(number)), taken=shelves.take(wanted), place=place, who=who, now=now
        )
        for number in range(count)
    ]


@transaction.atomic
def build_of_these(*, key: UUID, name: str, taken: Sequence[Taken], place: Place, who: User) -> BuiltKit:
    """Put a one-of-a-kind kit together from pieces that lie there, in the order given.

    The same key again gives the first kit. Raises NotAKit, and the ledger's NotEnough when a piece is not free any more.
    """
    first = _built_under(key)
    if first:
        return first[0]
    parts = [PartWanted(each.dyed.colourway, each.dyed.put_up, each.pieces) for each in taken]
    kit = make_kit(name=name, kind=Kit.Kind.KIT, parts=parts, one_of_a_kind=True)
    return _build_one(kit, key=uuid5(key, "0"), taken=taken, place=place, who=who)


@transaction.atomic
def break_up(*, key: UUID, built: BuiltKit, who: User, why: str) -> Movement:
    """Take a kit apart: the very skeins it took are free again where they had lain. The same key again changes nothing.

    Raises BrokenUp when it was broken up before, and the ledger's refusals when the kit is held or has left the house.
    """
    first = Movement.objects.filter(key=key).first()
    if first is not None:
        return first
    if Movement.objects.filter(reverses=built.movement).exists():
        raise BrokenUp(f"Kit {built.code} was broken up before.")
    rows = Balance.objects.filter(item=built.kit.item_id, lot=built.lot_id, on_hand__gt=0)
    balance = rows.select_related("place").first()
    if balance is None:
        raise BrokenUp(f"Kit {built.code} is not here any more, so it cannot be broken up.")
    if balance.place.kind == Place.Kind.SHOW:
        raise BrokenUp(f"Kit {built.code} is at {balance.place}. Break it up when it is back.")
    home = built.movement.lines.get(item=built.kit.item_id).to_place
    if balance.place_id != home.pk:
        # What was built is taken back from where it appeared, so a kit that was moved goes there first.
        back = Step(built.kit.item, built.lot, 1, Bucket(balance.place), Bucket(home))
        post(key=uuid5(key, "home"), who=who, steps=[back], why=one_line(why), source=f"kit:{built.code}")
    return reverse(movement=built.movement, key=key, who=who, why=one_line(why) or "broken up")


def _short(there: CanMake, count: int) -> str:
    part = there.scarcest[0]
    needed = part.taken_by_each * count
    return (
        f"The free pieces are enough for {there.kits} of {count}: {part.free} of {part.part.colourway} on "
        f"{part.part.put_up} are free and {needed} are needed."
    )


def _built_under(key: UUID) -> list[BuiltKit]:
    keys = [uuid5(key, str(number)) for number in range(MOST_AT_ONCE)]
    return list(
        BuiltKit.objects.filter(movement__key__in=keys)
        .select_related("kit", "lot", "movement")
        .order_by("id")
    )


def _build_one(
    kit: Kit, *, key: UUID, taken: Sequence[Taken], place: Place, who: User, now: datetime | None = None
) -> BuiltKit:
    code = take_code()
    lot = Lot.objects.create(kind=Lot.Kind.KIT, name=code)
    consumed, made = Bucket(fixed_place("consumed")), Bucket(fixed_place("made"))
    steps = [Step(each.dyed.item, each.lot, each.pieces, Bucket(each.place), consumed) for each in taken]
    steps.append(Step(kit.item, lot, 1, made, Bucket(place)))
    movement = post(
        key=key, who=who, steps=steps, why=f"Into {kit.name} {code}", source=f"kit:{code}", happened_at=now
    )
    return BuiltKit.objects.create(
        kit=kit, code=code, lot=lot, movement=movement, built_at=movement.happened_at, by=who
    )


class _Shelves:
    """What is free for kits, taken from as kits are built one after the other."""

    def __init__(self, rows: dict[tuple[int, int], list[Balance]]) -> None:
        self._rows = rows
        self._left = {row.pk: row.free for each in rows.values() for row in each}

    @classmethod
    def of(cls, free: QuerySet[Balance], wanted: Iterable[tuple[int, int]]) -> _Shelves:
        rows: dict[tuple[int, int], list[Balance]] = {what: [] for what in wanted}
        for row in free.filter(item__dyed__colourway__in={colourway for colourway, _ in rows}):
            what = (row.item.dyed.colourway_id, row.item.dyed.put_up_id)
            if what in rows:
                rows[what].append(row)
        return cls(rows)

    def take(self, wanted: Mapping[tuple[int, int], int]) -> list[Taken]:
        """The pieces that one kit takes."""
        return [chosen for what, pieces in wanted.items() for chosen in self._take(what, pieces)]

    def _take(self, what: tuple[int, int], pieces: int) -> list[Taken]:
        by_lot: dict[int, list[Balance]] = {}
        for row in self._rows[what]:
            if self._left[row.pk]:
                by_lot.setdefault(row.lot_id, []).append(row)
        sizes = {lot: sum(self._left[row.pk] for row in rows) for lot, rows in by_lot.items()}
        # The lot that is just enough, so that larger lots stay whole; else from the largest on.
        enough = [lot for lot, size in sizes.items() if size >= pieces]
        order = (
            [min(enough, key=lambda lot: (sizes[lot], lot))]
            if enough
            else sorted(sizes, key=lambda lot: (-sizes[lot], lot))
        )
        chosen = []
        for row in (row for lot in order for row in by_lot[lot]):
            took = min(pieces, self._left[row.pk])
            if took:
                chosen.append(Taken(row.item.dyed, row.lot, row.place, took))
                self._left[row.pk] -= took
                pieces -= took
        return chosen
