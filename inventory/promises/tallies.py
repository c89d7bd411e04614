"""The numbers of a round: frozen, each change after that, and now; boxes, pieces, spares, and what is to be dyed."""

from __future__ import annotations

import datetime as dt
from calendar import monthrange
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from math import ceil

from django.db.models import Sum

from inventory.promises.freezing import ADDS, GoingOut
from inventory.promises.models import Box, BoxPart, Round, RoundChange, RoundColourway
from recipes.dyeing.working import Figure, Source, Standing, Working
from recipes.models import Colourway, PutUp

# A put-up, and the colourway or None where it is settled later (ids).
Of = tuple[int, int | None]

COUNTED = Source("counted from the round’s boxes", Standing.DERIVED)
FROM_FACTS = Source(
    "spares are the round’s percentage, rounded up for each yarn and colourway", Standing.PRACTICE
)


@dataclass(slots=True)
class Numbers:
    """So many boxes, and so many pieces of each put-up and colourway."""

    boxes: int = 0
    pieces: dict[Of, int] = field(default_factory=dict)

    @property
    def all_pieces(self) -> int:
        return sum(self.pieces.values())

    def add(self, boxes: int, pieces: Iterable[tuple[Of, int]]) -> None:
        """Count something in (or, below zero, out); what comes to nothing is left out."""
        self.boxes += boxes
        for of, count in pieces:
            self.pieces[of] = self.pieces.get(of, 0) + count
            if not self.pieces[of]:
                del self.pieces[of]


@dataclass(frozen=True, slots=True)
class Change:
    """One dated change of a frozen round: what was done to which box, and what it moved."""

    row: RoundChange
    boxes: int
    pieces: list[tuple[Of, int]]


@dataclass(frozen=True, slots=True)
class ToDye:
    """What is to be dyed of one yarn and colourway: pieces for boxes, spares, both together, with their working."""

    put_up: PutUp
    colourway: Colourway | None
    pieces: int
    spares: int
    total: Figure[int]


def frozen_numbers(round: Round) -> Numbers:
    """The numbers that were kept when the round was frozen."""
    kept = round.frozen_numbers
    return Numbers(
        kept.get("boxes", 0),
        {(put_up, colourway): pieces for put_up, colourway, pieces in kept.get("pieces", [])},
    )


def changes_of(round: Round) -> list[Change]:
    """What was changed since the round was frozen, the oldest first. One query."""
    rows = round.changes.select_related("box__receiver", "box__membership__level", "by").order_by("id")
    return [Change(row, ADDS[RoundChange.Kind(row.kind)], _moved(row)) for row in rows]


def _moved(row: RoundChange) -> list[tuple[Of, int]]:
    moved = Numbers()
    for parts, sign in ((row.before, -1), (row.after, 1)):
        moved.add(
            0, [((put_up, colourway), sign * pieces) for put_up, colourway, pieces in parts.get("parts", [])]
        )
    return list(moved.pieces.items())


def with_changes(frozen: Numbers, changes: Iterable[Change]) -> Numbers:
    """The frozen numbers and every change added up."""
    added = Numbers(frozen.boxes, dict(frozen.pieces))
    for change in changes:
        added.add(change.boxes, change.pieces)
    return added


def numbers_now(round: Round) -> Numbers:
    """What the boxes that are not withdrawn want, counted from them. Two queries."""
    boxes = Box.objects.filter(round=round, withdrawn_at=None)
    rows = (
        BoxPart.objects.filter(box__in=boxes.values("pk"))
        .values_list("put_up", "colourway")
        .annotate(wanted=Sum("pieces"))
        .order_by("put_up", "colourway")
    )
    return Numbers(boxes.count(), {(put_up, colourway): wanted for put_up, colourway, wanted in rows})


def numbers_of(out: GoingOut) -> Numbers:
    """What freezing a round now would count."""
    numbers = Numbers()
    for each in out.going:
        count = each.membership.count
        numbers.add(
            count,
            [
                ((part.put_up.pk, part.colourway.pk if part.colourway else None), part.pieces * count)
                for part in each.parts
            ],
        )
    return numbers


def spares_behind(pieces: int, percent: int) -> int:
    """So many spares stand behind so many pieces: the percentage, rounded up to a whole piece."""
    return ceil(Fraction(pieces * percent, 100))


def to_dye_of(
    numbers: Numbers, put_ups: Mapping[int, PutUp], colourways: Mapping[int, Colourway], *, percent: int
) -> list[ToDye]:
    """What is to be dyed for these numbers, a line a yarn and colourway, with spares of so many percent. No query."""
    lines = [
        _to_dye(put_ups[put_up], None if colourway is None else colourways[colourway], pieces, percent)
        for (put_up, colourway), pieces in numbers.pieces.items()
    ]
    return sorted(
        lines,
        key=lambda line: (
            line.put_up.base.name,
            -line.put_up.nominal_milligrams,
            line.colourway.pk if line.colourway else 0,
        ),
    )


def to_dye(round: Round) -> list[ToDye]:
    """What is to be dyed for a frozen round as its boxes are now. Four queries."""
    numbers = numbers_now(round)
    put_ups = PutUp.objects.select_related("base").in_bulk({put_up for put_up, _ in numbers.pieces})
    colourways = Colourway.objects.in_bulk({pk for _, pk in numbers.pieces if pk is not None})
    return to_dye_of(numbers, put_ups, colourways, percent=round.spares_percent)


def _to_dye(put_up: PutUp, colourway: Colourway | None, pieces: int, percent: int) -> ToDye:
    spares = spares_behind(pieces, percent)
    behind = Working(
        title="Spares",
        formula="pieces × percent, rounded up",
        substitution=f"{pieces} × {percent} %",
        result=f"{spares} spares",
        source=FROM_FACTS,
    )
    working = Working(
        title=f"To dye on {put_up}",
        formula="pieces in boxes + spares",
        substitution=f"{pieces} + {spares}",
        result=f"{pieces + spares} pieces",
        source=COUNTED,
        steps=(behind,),
    )
    return ToDye(put_up, colourway, pieces, spares, Figure(pieces + spares, working))


def exclusive_until(colourways: Iterable[Colourway | int]) -> dict[int, dt.date]:
    """Until which day colourways (by id) are a club's alone, counted in months from the day their round ships. One query.

    A colourway that no club keeps to itself is left out; the day itself is the first on which it may be sold otherwise.
    """
    ids = [each if isinstance(each, int) else each.pk for each in colourways]
    rows = RoundColourway.objects.filter(colourway__in=ids, round__club__exclusive_months__gt=0)
    until: dict[int, dt.date] = {}
    for pk, ships_on, months in rows.values_list(
        "colourway", "round__ships_on", "round__club__exclusive_months"
    ):
        day = months_on(ships_on, months)
        until[pk] = max(day, until.get(pk, day))
    return until


def months_on(day: dt.date, months: int) -> dt.date:
    """The same day so many months later, or the last of that month where it is shorter."""
    year, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    return dt.date(year, month + 1, min(day.day, monthrange(year, month + 1)[1]))
