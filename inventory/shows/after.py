"""After a show: what sold and what came back, sort by sort, and what that says for the next one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from dyehouse.studio.models import User
from inventory.shows.models import Closing, Result
from inventory.shows.planning import normal_numbers
from inventory.shows.things import (
    OF_A_THING,
    Named,
    Sort,
    named_number,
    named_sort,
    named_thing,
    sort_of,
    sort_of_number,
)
from recipes.dyeing import sources
from recipes.dyeing.working import Figure, Working


@dataclass(frozen=True, slots=True)
class ResultRow:
    """What became of one item, in words."""

    result: Result
    named: Named


@dataclass(frozen=True, slots=True)
class SortResult:
    """What became of one sort, its normal number of today, and the number that the show suggests."""

    sort: Sort
    named: Named
    normal: int
    taken: int
    returned: int
    sold: int
    missing: int
    sold_or_missing: int
    next: Figure[int]


@dataclass(frozen=True, slots=True)
class After:
    """A closed show: item by item, sort by sort, and all together."""

    closing: Closing
    items: list[ResultRow]
    sorts: list[SortResult]

    def _sum(self, of: str) -> int:
        return sum(getattr(row.result, of) for row in self.items)

    @property
    def taken(self) -> int:
        return self._sum("taken")

    @property
    def returned(self) -> int:
        return self._sum("returned")

    @property
    def sold(self) -> int:
        return self._sum("sold")

    @property
    def missing(self) -> int:
        return self._sum("missing")

    @property
    def sold_or_missing(self) -> int:
        return self._sum("sold_or_missing")


def next_number(*, taken: int, returned: int, went: int) -> Figure[int]:
    """How many to take next time: half as many again where nothing came back, else a quarter more than went; 1 at least.

    `went` is what was sold, or sold or missing. Whole pieces, rounded up.
    """
    if went and not returned:
        value = -(-taken * 3 // 2)
        formula, numbers = "taken × 1.5, since none came back, rounded up", f"{taken} × 1.5"
    else:
        value = max(1, -(-went * 5 // 4))
        formula, numbers = "what went × 1.25, rounded up, 1 at least", f"{went} × 1.25"
    return Figure(
        value,
        Working(
            title="To take next time",
            formula=formula,
            substitution=numbers,
            result=str(value),
            source=sources.PRACTICE,
        ),
    )


def after(closing: Closing, *, user: User | None) -> After:
    """What came of a show. Two queries."""
    results = list(closing.results.select_related(*OF_A_THING).order_by("id"))
    items = sorted(
        (ResultRow(each, named_thing(each.item, each.lot, user)) for each in results),
        key=lambda row: (row.named.order, row.result.pk),
    )
    by_sort: dict[Sort, list[Result]] = {}
    words: dict[Sort, Named] = {}
    for each in results:
        sort = sort_of(each.item, each.lot)
        if sort is None:
            continue
        by_sort.setdefault(sort, []).append(each)
        words.setdefault(sort, named_sort(each.item, each.lot, user))
    normal = {sort_of_number(each): each for each in normal_numbers()}
    sorts = []
    for sort, rows in by_sort.items():
        number = normal.get(sort)
        named = named_number(number, user) if number is not None else words[sort]
        sorts.append(_sort_result(sort, named, number.pieces if number is not None else 0, rows))
    return After(closing, items, sorted(sorts, key=lambda row: row.named.order))


def _sort_result(sort: Sort, named: Named, normal: int, rows: Sequence[Result]) -> SortResult:
    taken, returned = sum(each.taken for each in rows), sum(each.returned for each in rows)
    sold, untold = sum(each.sold for each in rows), sum(each.sold_or_missing for each in rows)
    return SortResult(
        sort=sort,
        named=named,
        normal=normal,
        taken=taken,
        returned=returned,
        sold=sold,
        missing=sum(each.missing for each in rows),
        sold_or_missing=untold,
        next=next_number(taken=taken, returned=returned, went=sold + untold),
    )
