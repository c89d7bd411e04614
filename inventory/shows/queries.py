"""What the pages of shows read, in a fixed number of queries."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Exists, OuterRef, Sum
from django.utils import timezone

from dyehouse.ledger.models import Balance
from dyehouse.studio.models import User
from inventory.shows.after import After, after
from inventory.shows.closing import closing_of
from inventory.shows.models import Closing, Load, Show, Takings
from inventory.shows.planning import normal_numbers
from inventory.shows.tallying import takings_of
from inventory.shows.things import (
    OF_A_THING,
    ONE_OFFS,
    Named,
    Sort,
    SortKind,
    kits_to_choose,
    named_number,
    named_thing,
    sort_of_number,
)
from recipes.dyeing.units import format_grams
from recipes.models import Base, DyedYarn

SOON_DAYS = 14


@dataclass(frozen=True, slots=True)
class ShowLine:
    """One show in a list: how many are there by the book, and whether it is over."""

    show: Show
    there: int
    closed: bool

    @property
    def state(self) -> str:
        if self.show.called_off_at is not None:
            return "called off"
        if self.closed:
            return "counted back"
        return "at the show" if self.there else "to pack"


def show_lines() -> tuple[list[ShowLine], list[ShowLine]]:
    """The shows to come and at hand, the soonest first, and those that are over, the newest first. Two queries."""
    shows = Show.objects.select_related("place").annotate(
        is_closed=Exists(Closing.objects.filter(show=OuterRef("pk"), movement__reversed_by__isnull=True))
    )
    shows = shows.order_by("starts_on", "id")
    there = dict(
        Balance.objects.filter(place__show__isnull=False, on_hand__gt=0)
        .order_by()
        .values_list("place")
        .annotate(Sum("on_hand"))
    )
    lines = [
        ShowLine(show, there.get(show.place_id, 0), bool(getattr(show, "is_closed", False))) for show in shows
    ]
    over = [line for line in lines if line.closed or line.show.called_off_at is not None]
    return [line for line in lines if line not in over], over[::-1]


@dataclass(frozen=True, slots=True)
class DueShow:
    """A show that wants something soon: packing, or counting back."""

    line: ShowLine
    days: int

    @property
    def is_past(self) -> bool:
        return self.line.there > 0 and self.line.show.ends_on < timezone.localdate()


def due_shows() -> list[DueShow]:
    """The shows of the next two weeks, and those that are over while yarn is still there by the book. Two queries."""
    today = timezone.localdate()
    due = [DueShow(line, (line.show.starts_on - today).days) for line in show_lines()[0]]
    return [
        each
        for each in due
        if each.days <= SOON_DAYS and (each.line.there or each.line.show.ends_on >= today)
    ]


@dataclass(frozen=True, slots=True)
class ThereRow:
    """One lot at a show."""

    named: Named
    code: str
    pieces: int


@dataclass(frozen=True, slots=True)
class LoadRow:
    """One load that was taken, and whether it was taken back."""

    load: Load
    pieces: int
    back_why: str = ""
    taken_back: bool = False


@dataclass(frozen=True, slots=True)
class ShowPage:
    """A show: what is there now, its loads, its takings, and what came of it once it is counted back."""

    show: Show
    there: list[ThereRow]
    loads: list[LoadRow]
    takings: Takings | None
    after: After | None

    @property
    def pieces(self) -> int:
        return sum(row.pieces for row in self.there)

    @property
    def is_open(self) -> bool:
        return self.after is None and self.show.called_off_at is None

    @property
    def has_begun(self) -> bool:
        return self.show.starts_on <= timezone.localdate()


def show_page(show: Show, *, user: User | None) -> ShowPage:
    """The page of a show. Six queries."""
    balances = Balance.objects.filter(place=show.place_id, on_hand__gt=0).select_related("lot", *OF_A_THING)
    there = [
        ThereRow(named_thing(each.item, each.lot, user), each.lot.name, each.on_hand) for each in balances
    ]
    loads = []
    rows = Load.objects.filter(show=show).select_related("by", "movement__reversed_by")
    for load in rows.annotate(pieces=Sum("movement__lines__quantity")).order_by("-id"):
        back = getattr(load.movement, "reversed_by", None)
        pieces: int = getattr(load, "pieces", 0)
        loads.append(LoadRow(load, pieces, back.why if back is not None else "", back is not None))
    closing = closing_of(show)
    return ShowPage(
        show=show,
        there=sorted(there, key=lambda row: (row.named.order, row.code)),
        loads=loads,
        takings=takings_of(show),
        after=after(closing, user=user) if closing is not None else None,
    )


@dataclass(frozen=True, slots=True)
class NumberRow:
    """A normal number in words."""

    sort: Sort
    named: Named
    pieces: int


@dataclass(frozen=True, slots=True)
class NormalPage:
    """The normal numbers, and what else one could have."""

    rows: list[NumberRow]
    choices: list[tuple[str, str]]

    @property
    def pieces(self) -> int:
        return sum(row.pieces for row in self.rows)


def normal_page(*, user: User | None) -> NormalPage:
    """The normal numbers by name, and the sorts that have none. Four queries."""
    numbers = normal_numbers()
    rows = [NumberRow(sort_of_number(each), named_number(each, user), each.pieces) for each in numbers]
    known = {row.sort for row in rows}
    choices = [(sort, named) for sort, named in _sorts_to_choose(user) if sort not in known]
    return NormalPage(
        sorted(rows, key=lambda row: row.named.order), [(sort.key, str(named)) for sort, named in choices]
    )


def _sorts_to_choose(user: User | None) -> Iterable[tuple[Sort, Named]]:
    dyed = DyedYarn.objects.filter(
        grade=DyedYarn.Grade.GOOD, colourway__retired_at__isnull=True, put_up__retired_at__isnull=True
    ).select_related("colourway", "put_up__base")
    yarns = [
        (
            Sort(SortKind.YARN, each.colourway_id, each.put_up_id),
            Named(
                each.colourway.shown_name(user),
                f"{each.put_up.base.name}, {format_grams(each.put_up.nominal_milligrams)}",
            ),
        )
        for each in dyed
    ]
    yield from sorted(yarns, key=lambda one: one[1].order)
    for kit in kits_to_choose():
        yield Sort(SortKind.KIT, kit.pk), Named(kit.name, kit.get_kind_display())
    for base in Base.objects.filter(retired_at__isnull=True).order_by("name"):
        yield Sort(SortKind.SECONDS, base.pk), Named("Seconds", base.name)
    yield ONE_OFFS, Named("One-offs")
