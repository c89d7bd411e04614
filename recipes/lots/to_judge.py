"""What of a lot waits to be judged: by put-up, and by the lines of its pots where those differ."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from django.db.models import Sum

from dyehouse.ledger.models import Balance, Line, Place
from recipes.lots.load_lines import what_lies
from recipes.lots.load_words import before_words, mill_lot_words
from recipes.lots.models import DyeLot, JudgedPieces, PotLoad
from recipes.models import DyedYarn, PutUp


@dataclass(frozen=True, slots=True)
class Waiting:
    """So many pieces of a put-up of one lot that nobody has judged yet; of one line where a pot had several of it."""

    put_up: PutUp
    pieces: int
    load: PotLoad | None = None
    pot_code: str = ""

    @property
    def slug(self) -> str:
        """How its counts are named in a form."""
        return f"{self.put_up.pk}_{self.load.pk}" if self.load is not None else f"{self.put_up.pk}"

    @property
    def line_words(self) -> str:
        """Which line it is: its pot where the lot has several, its mill lot, and what the pieces were before; empty where there is only one."""
        if self.load is None:
            return ""
        pot = f"pot {self.pot_code}" if self.pot_code else ""
        return ", ".join(
            words for words in (pot, mill_lot_words(self.load), before_words(self.load)) if words
        )


def unjudged_rows(dye_lot: DyeLot) -> list[Balance]:
    """Where pieces of a lot lie that nobody has judged yet, the furthest on their way first. One query."""
    return list(
        Balance.objects.filter(
            lot=dye_lot.lot_id,
            item__dyed__grade=DyedYarn.Grade.UNJUDGED,
            on_hand__gt=0,
            place__kind=Place.Kind.STAGE,
        )
        .select_related("place", "item__dyed__put_up__base", "item__dyed__put_up__item")
        .order_by("-place__order", "item_id")
    )


def waiting_to_be_judged(dye_lot: DyeLot) -> list[Waiting]:
    """What of a lot is not yet judged, by put-up, at whichever stage it is."""
    return waiting_in(unjudged_rows(dye_lot))


def waiting_in(rows: Iterable[Balance]) -> list[Waiting]:
    """What of some balances waits to be judged, by put-up; they come with place, and item down to base."""
    pieces: dict[PutUp, int] = {}
    for row in rows:
        if row.place.kind == Place.Kind.STAGE and row.item.dyed.grade == DyedYarn.Grade.UNJUDGED:
            put_up = row.item.dyed.put_up
            pieces[put_up] = pieces.get(put_up, 0) + row.on_hand
    return [Waiting(put_up, pieces[put_up]) for put_up in sorted(pieces, key=lambda each: each.pk)]


def by_line(dye_lot: DyeLot, waiting: Sequence[Waiting], loads: Sequence[PotLoad]) -> list[Waiting]:
    """The same, with a put-up that came from lines that differ taken apart, by what is left to judge of each.

    A line is never said to have more than waits of its put-up. Two queries where any line differs, else none.
    """
    lines = lines_that_differ(loads)
    if not any(len(lines.get(line.put_up.pk, [])) > 1 for line in waiting):
        return list(waiting)
    left = left_of_lines(dye_lot, loads)
    several = len({load.pot_id for load in loads}) > 1
    found = []
    for line in waiting:
        apart = lines.get(line.put_up.pk, [])
        if len(apart) < 2:
            found.append(line)
            continue
        found += [
            Waiting(line.put_up, min(line.pieces, left[load.pk]), load, load.pot.code if several else "")
            for load in apart
            if left[load.pk] > 0
        ]
    return found


def lines_that_differ(loads: Sequence[PotLoad]) -> dict[int, list[PotLoad]]:
    """The lines of each put-up that can be told apart by yarn or pot; of two alike the first stands for both."""
    found: dict[int, list[PotLoad]] = {}
    for load in _first_of_alike(loads).values():
        if load not in found.setdefault(load.put_up_id, []):
            found[load.put_up_id].append(load)
    return found


def _first_of_alike(loads: Sequence[PotLoad]) -> dict[int, PotLoad]:
    """By the id of each line the first line that holds the very same, from wherever it was taken."""
    first: dict[tuple[int | None, ...], PotLoad] = {}
    return {load.pk: first.setdefault(_of_what(load), load) for load in loads}


def _of_what(load: PotLoad) -> tuple[int | None, ...]:
    """The pot, and what the ledger tells apart in it: undyed by its mill lot, dyed by its own lot and grade."""
    if load.was_id is not None:
        return load.pot_id, load.was_id, load.overdyes_id
    return load.pot_id, load.put_up_id, None, load.mill_lot_id


def left_of_lines(dye_lot: DyeLot, loads: Sequence[PotLoad]) -> dict[int, int]:
    """By the id of a line that stands for itself, what came out of it less what was judged of it. Two queries."""
    alike = _first_of_alike(loads)
    out = _came_out(loads)
    judged = _judged(dye_lot)
    left: dict[int, int] = {}
    counted: set[tuple[str, int, int]] = set()
    for load in loads:
        stands = alike[load.pk]
        item, lot = what_lies(load)
        key = (load.pot.code, item.pk, lot.pk)
        if key not in counted:
            left[stands.pk] = left.get(stands.pk, 0) + out.get(key, 0)
            counted.add(key)
        left[stands.pk] = left.get(stands.pk, 0) - judged.get(load.pk, 0)
    return left


def _came_out(loads: Sequence[PotLoad]) -> Mapping[tuple[str, int, int], int]:
    """Pieces that were used up as they came out, by pot code, item and lot."""
    rows = (
        Line.objects.filter(
            movement__source__in={f"pot:{load.pot.code}" for load in loads},
            from_place__code="in_pots",
            to_place__code="consumed",
            movement__reverses__isnull=True,
            movement__reversed_by__isnull=True,
        )
        .values_list("movement__source", "item", "lot")
        .annotate(pieces=Sum("quantity"))
    )
    return {(source.removeprefix("pot:"), item, lot): pieces for source, item, lot, pieces in rows}


def _judged(dye_lot: DyeLot) -> Mapping[int, int]:
    rows = (
        JudgedPieces.objects.filter(
            judgement__dye_lot=dye_lot, load__isnull=False, judgement__movement__reversed_by__isnull=True
        )
        .values_list("load")
        .annotate(Sum("pieces"))
    )
    return dict(rows)
