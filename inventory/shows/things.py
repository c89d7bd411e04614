"""What is taken to shows, by its sort: a colourway on a put-up, a kit, seconds of a base, one-offs; and how it is called."""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import StrEnum

from django.db.models import F, QuerySet

from dyehouse.ledger.models import Balance, Item, Lot, Place
from dyehouse.ledger.places import FIXED_PLACES
from dyehouse.studio.models import User
from inventory.models import Kit
from inventory.shows.models import NormalNumber
from recipes.dyeing.units import format_grams
from recipes.lots.models import DyeLot
from recipes.models import DyedYarn

DRY = FIXED_PLACES["dry"].order
#: What the words of a balance, line or result name, for reading it with them.
OF_A_THING = (
    "item__dyed__colourway",
    "item__dyed__put_up__base",
    "item__kit",
    "lot__dye_lot__colourway",
)
KEY = re.compile(r"(yarn-\d{1,18}-\d{1,18}|kit-\d{1,18}|seconds-\d{1,18}|one-offs)\Z")


class SortKind(StrEnum):
    """The sorts that numbers are kept of."""

    YARN = "yarn"
    KIT = "kit"
    SECONDS = "seconds"
    ONE_OFFS = "one-offs"


@dataclass(frozen=True, slots=True)
class Sort:
    """What a normal number is of; `first` and `second` are the ids of a colourway and put-up, a kit, or a base."""

    kind: SortKind
    first: int = 0
    second: int = 0

    @property
    def key(self) -> str:
        """How a form names it."""
        parts = [str(self.kind), *(str(each) for each in (self.first, self.second) if each)]
        return "-".join(parts)


ONE_OFFS = Sort(SortKind.ONE_OFFS)


@dataclass(frozen=True, slots=True)
class Named:
    """How a sort or an item is called for one reader."""

    title: str
    detail: str = ""

    @property
    def order(self) -> tuple[str, str]:
        return (self.title.casefold(), self.detail)

    def __str__(self) -> str:
        return f"{self.title}, {self.detail}" if self.detail else self.title


def sort_from(key: str) -> Sort | None:
    """The sort of a form's key; None for what is none."""
    if KEY.match(key) is None:
        return None
    if key == ONE_OFFS.key:
        return ONE_OFFS
    kind, first, *second = key.split("-")
    return Sort(SortKind(kind), int(first), int(second[0]) if second else 0)


def own_lot(lot: Lot | None) -> DyeLot | None:
    """The dye lot of a ledger lot that is sold as itself, a one-off; None for all others."""
    dye_lot: DyeLot | None = getattr(lot, "dye_lot", None)
    return dye_lot if dye_lot is not None and dye_lot.own_name else None


def sort_of(item: Item, lot: Lot | None) -> Sort | None:
    """The sort of an item and lot read with OF_A_THING; None for samples and what waits for redyeing or judging."""
    if item.kind == Item.Kind.KIT:
        return ONE_OFFS if item.kit.one_of_a_kind else Sort(SortKind.KIT, item.kit.pk)
    dyed: DyedYarn | None = getattr(item, "dyed", None)
    if dyed is None or dyed.grade not in (DyedYarn.Grade.GOOD, DyedYarn.Grade.SECOND):
        return None
    if own_lot(lot) is not None:
        return ONE_OFFS
    if dyed.grade == DyedYarn.Grade.GOOD:
        return Sort(SortKind.YARN, dyed.colourway_id, dyed.put_up_id)
    return Sort(SortKind.SECONDS, dyed.put_up.base_id)


@dataclass(frozen=True, slots=True)
class Thing:
    """What is tallied and told of as one: an item in all its lots, or a one-off by its own lot."""

    item_id: int
    lot_id: int | None = None

    @property
    def key(self) -> str:
        """How a form names it."""
        return str(self.item_id) if self.lot_id is None else f"{self.item_id}-{self.lot_id}"


def thing_of(item: Item, lot: Lot) -> Thing:
    """The thing that pieces of an item and lot read with OF_A_THING are of."""
    return Thing(item.pk, lot.pk if own_lot(lot) is not None else None)


def sort_of_number(number: NormalNumber) -> Sort:
    """The sort that a normal number is of."""
    if number.kit_id is not None:
        return Sort(SortKind.KIT, number.kit_id)
    if number.seconds_of_id is not None:
        return Sort(SortKind.SECONDS, number.seconds_of_id)
    if number.colourway_id is not None and number.put_up_id is not None:
        return Sort(SortKind.YARN, number.colourway_id, number.put_up_id)
    return ONE_OFFS


def named_number(number: NormalNumber, user: User | None) -> Named:
    """A normal number's sort in words; a secret colourway by its code to whoever may not know."""
    if number.kit is not None:
        return Named(number.kit.name, number.kit.get_kind_display())
    if number.seconds_of is not None:
        return Named("Seconds", number.seconds_of.name)
    if number.colourway is not None and number.put_up is not None:
        yarn = f"{number.put_up.base.name}, {format_grams(number.put_up.nominal_milligrams)}"
        return Named(number.colourway.shown_name(user), yarn)
    return Named("One-offs")


def named_thing(item: Item, lot: Lot | None, user: User | None) -> Named:
    """Pieces of an item and lot read with OF_A_THING in words."""
    if item.kind == Item.Kind.KIT:
        words = "one of a kind" if item.kit.one_of_a_kind else item.kit.get_kind_display()
        return Named(item.kit.name, words)
    dyed, itself = item.dyed, own_lot(lot)
    yarn = f"{dyed.put_up.base.name}, {format_grams(dyed.put_up.nominal_milligrams)}"
    grade = "" if dyed.grade == DyedYarn.Grade.GOOD else f", {dyed.get_grade_display()}"
    if itself is not None:
        return Named(itself.shown_name(user), f"{yarn}{grade}, one-off")
    return Named(dyed.colourway.shown_name(user), f"{yarn}{grade}")


def named_sort(item: Item, lot: Lot | None, user: User | None) -> Named:
    """The sort of an item and lot in words, where no normal number names it."""
    sort = sort_of(item, lot)
    if sort is not None and sort.kind == SortKind.SECONDS:
        return Named("Seconds", item.dyed.put_up.base.name)
    return Named("One-offs") if sort == ONE_OFFS else named_thing(item, lot, user)


def lying_free() -> QuerySet[Balance]:
    """Everything that may be packed: dry and judged yarn and built kits with pieces that nobody holds."""
    return (
        Balance.objects.filter(
            place__kind__in=(Place.Kind.STAGE, Place.Kind.SHELF),
            place__order__gte=DRY,
            item__kind__in=(Item.Kind.DYED, Item.Kind.KIT),
            on_hand__gt=F("held"),
        )
        .exclude(item__dyed__grade__in=(DyedYarn.Grade.UNJUDGED, DyedYarn.Grade.REDYE))
        .select_related("place", "lot", *OF_A_THING)
        .order_by("lot_id", "place_id", "item_id")
    )


def kits_to_choose() -> QuerySet[Kit]:
    """The kits that are made again and again."""
    return Kit.objects.filter(one_of_a_kind=False, retired_at__isnull=True).order_by("name", "id")
