"""What of a lot waits to be judged: by put-up, and by the lines of its pots where those differ."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.db.models import OuterRef, QuerySet, Subquery, Sum, Value
from django.db.models.functions import Coalesce, Concat

from dyehouse.ledger.models import Balance, Line, Place
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


def by_line(waiting: Sequence[Waiting], loads: Sequence[PotLoad]) -> list[Waiting]:
    """The same, with a put-up that came from lines that differ taken apart, by what is left to judge of each.

    A line is never said to have more than waits of its put-up. `loads` come from `with_what_came_out`; no query.
    """
    lines = lines_that_differ(loads)
    if not any(len(lines.get(line.put_up.pk, [])) > 1 for line in waiting):
        return list(waiting)
    left = left_of_lines(loads)
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


def with_what_came_out(loads: QuerySet[PotLoad]) -> QuerySet[PotLoad]:
    """Lines with what came out of each and what was judged of it, for `by_line` and `left_of_lines`, in the query of the lines."""
    out = (
        Line.objects.filter(
            movement__source=Concat(Value("pot:"), OuterRef("pot__code")),
            item=Coalesce(OuterRef("was__item"), OuterRef("put_up__item")),
            lot=Coalesce(OuterRef("overdyes__lot"), OuterRef("mill_lot__lot")),
            from_place__code="in_pots",
            to_place__code="consumed",
            movement__reverses__isnull=True,
            movement__reversed_by__isnull=True,
        )
        .order_by()
        .values("item", "lot")
        .annotate(pieces=Sum("quantity"))
        .values("pieces")
    )
    judged = (
        JudgedPieces.objects.filter(load=OuterRef("pk"), judgement__movement__reversed_by__isnull=True)
        .order_by()
        .values("load")
        .annotate(sum=Sum("pieces"))
        .values("sum")
    )
    return loads.annotate(line_out=Subquery(out), line_judged=Subquery(judged))


def left_of_lines(loads: Sequence[PotLoad]) -> dict[int, int]:
    """By the id of a line that stands for itself, what came out of it less what was judged of it. No query."""
    alike = _first_of_alike(loads)
    left: dict[int, int] = {}
    for load in loads:
        stands = alike[load.pk]
        # What came out is told of the yarn, so that lines alike tell the same once more.
        if stands.pk == load.pk:
            left[stands.pk] = getattr(load, "line_out", None) or 0
        left[stands.pk] -= getattr(load, "line_judged", None) or 0
    return left
