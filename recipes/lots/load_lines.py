"""The lines of a load: so many pieces of a put-up from one mill lot, undyed or dyed before, and how they move.

A line of pieces that were dyed before keeps which lot they are of, as what they lay where, and the mill lot that their own
pot was loaded from.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from dyehouse.ledger.models import Item, Lot, Place
from dyehouse.ledger.operations import Bucket, Step
from dyehouse.ledger.places import fixed_place
from dyehouse.studio.refusals import Refused
from recipes.dyeing.units import format_grams
from recipes.lots.models import DyeLot, Pot, PotLoad
from recipes.models import DyedYarn, MillLot, PutUp
from recipes.yarn import unknown_mill_lot

#: Samples stay what they are; everything else that was dyed may go into a pot again.
MAY_BE_OVERDYED = (
    DyedYarn.Grade.UNJUDGED,
    DyedYarn.Grade.REDYE,
    DyedYarn.Grade.SECOND,
    DyedYarn.Grade.GOOD,
)


class NotALoad(Refused):
    """The pieces or their dry weight cannot be what lies in a pot."""


@dataclass(frozen=True, slots=True)
class DyedBefore:
    """Pieces of an earlier lot: as what they lie there, and where."""

    lot: DyeLot
    was: DyedYarn
    place: Place


@dataclass(frozen=True, slots=True)
class LoadLine:
    """One line as it goes in. `mill_lot` None is the one that nobody knows; `dry_milligrams` None is the put-up's weight."""

    put_up: PutUp
    mill_lot: MillLot | None
    pieces: int
    dry_milligrams: int | None = None
    dyed_before: DyedBefore | None = None


def rows_of(pot: Pot, lines: Sequence[LoadLine], *, together_milligrams: int | None = None) -> list[PotLoad]:
    """The lines as rows of a pot, not yet saved; two lines of the very same yarn are one.

    `together_milligrams` is one weighing of all the pieces: what the lines with a weight of their own leave of it is shared
    among the others by their put-ups. Raises NotALoad.
    """
    rows = [_row(pot, line) for line in _merged(lines)]
    if together_milligrams is not None and rows:
        share_weight(rows, together_milligrams)
    return rows


def _merged(lines: Sequence[LoadLine]) -> list[LoadLine]:
    merged: dict[tuple[object, ...], LoadLine] = {}
    for line in lines:
        before = line.dyed_before
        of = (before.lot.pk, before.was.pk, before.place.pk) if before is not None else None
        key = (line.put_up.pk, line.mill_lot.pk if line.mill_lot is not None else None, of)
        first = merged.get(key)
        if first is None:
            merged[key] = line
            continue
        weights = (first.dry_milligrams, line.dry_milligrams)
        weight = None
        if any(each is not None for each in weights):
            weight = sum(_weight(each) for each in (first, line))
        merged[key] = LoadLine(
            first.put_up, first.mill_lot, first.pieces + line.pieces, weight, first.dyed_before
        )
    return list(merged.values())


def _weight(line: LoadLine) -> int:
    return line.dry_milligrams or line.pieces * line.put_up.nominal_milligrams


def _row(pot: Pot, line: LoadLine) -> PotLoad:
    if line.pieces < 1:
        raise NotALoad("Say how many pieces go in: at least 1.")
    if line.dry_milligrams is not None and line.dry_milligrams < 1:
        raise NotALoad(
            "The dry weight is more than nothing. Leave it as proposed if you have not weighed it."
        )
    before = line.dyed_before
    if before is not None:
        _refuse_what_cannot_be_overdyed(before, line.put_up)
    mill_lot = line.mill_lot or (
        mill_lot_of(before.lot, line.put_up) if before is not None else unknown_mill_lot(line.put_up.base)
    )
    if mill_lot.base_id != line.put_up.base_id:
        raise NotALoad(
            f"Mill lot {mill_lot.number} is of {mill_lot.base.name}. Choose a lot of {line.put_up.base.name}."
        )
    return PotLoad(
        pot=pot,
        put_up=line.put_up,
        mill_lot=mill_lot,
        pieces=line.pieces,
        dry_milligrams=_weight(line),
        weighed=line.dry_milligrams is not None,
        overdyes=before.lot if before is not None else None,
        was=before.was if before is not None else None,
        from_place=before.place if before is not None else None,
    )


def _refuse_what_cannot_be_overdyed(before: DyedBefore, put_up: PutUp) -> None:
    if before.was.put_up_id != put_up.pk or before.was.colourway_id != before.lot.colourway_id:
        raise NotALoad(f"Lot {before.lot.code} has no such pieces. Open the page afresh and choose again.")
    if before.was.grade not in MAY_BE_OVERDYED:
        raise NotALoad(
            "Samples stay samples. Choose pieces that are to redye, seconds, good or still drying."
        )
    if before.place.kind in (Place.Kind.BOUNDARY, Place.Kind.STORE, Place.Kind.POT):
        raise NotALoad("Dyed pieces are taken from the drying, the dry ones or a shelf.")


def mill_lot_of(dye_lot: DyeLot, put_up: PutUp) -> MillLot:
    """The mill lot that pieces of a lot were loaded from; the unknown one where there were several, or none is known."""
    loaded = PotLoad.objects.filter(pot__dye_lot=dye_lot.dyed_as_id, put_up=put_up).select_related(
        "mill_lot__base"
    )
    lots = {load.mill_lot_id: load.mill_lot for load in loaded}
    return next(iter(lots.values())) if len(lots) == 1 else unknown_mill_lot(put_up.base)


def share_weight(rows: Sequence[PotLoad], together_milligrams: int) -> None:
    """Share one weighing of all pieces among rows: those weighed by themselves keep theirs, the last takes what rounding leaves.

    Where every row was weighed by itself, and the sum differs, nobody can tell which is right: raises NotALoad.
    """
    own = [row for row in rows if row.weighed]
    rest = [row for row in rows if not row.weighed]
    left = together_milligrams - sum(row.dry_milligrams for row in own)
    if not rest and left:
        lines = format_grams(together_milligrams - left)
        raise NotALoad(
            f"The lines weigh {lines} by themselves and {format_grams(together_milligrams)} together. "
            "Put one of them right, or leave the weight of all empty."
        )
    if rest and left < len(rest):
        raise NotALoad(
            "All pieces together weigh no more than the lines that were weighed by themselves. Check the weights."
        )
    share_among(rest, left)


def share_among(rows: Sequence[PotLoad], milligrams: int) -> None:
    """Share a weighing among rows by what they weighed before; the last takes what rounding leaves."""
    before = sum(row.dry_milligrams for row in rows)
    left = milligrams
    for number, row in enumerate(rows, 1):
        share = left if number == len(rows) else max(1, row.dry_milligrams * milligrams // before)
        row.dry_milligrams = share
        row.weighed = True
        left -= share


def what_lies(load: PotLoad) -> tuple[Item, Lot]:
    """As what the pieces of a row lie in the pots by the ledger: undyed of a mill lot, or dyed of an earlier lot."""
    if load.was is not None and load.overdyes is not None:
        return load.was.item, load.overdyes.lot
    return load.put_up.item, load.mill_lot.lot


def steps_in(loads: Iterable[PotLoad]) -> list[Step]:
    """From where the pieces lie into the pots."""
    store, in_pots = Bucket(fixed_place("store")), Bucket(fixed_place("in_pots"))
    return [
        Step(
            *what_lies(load),
            load.pieces,
            Bucket(load.from_place) if load.from_place is not None else store,
            in_pots,
        )
        for load in loads
    ]


def steps_used_up(loads: Iterable[PotLoad], pieces_out: Mapping[int, int]) -> list[Step]:
    """What went in is used up as dyed pieces come out; a count that differs from it is a count difference."""
    in_pots, consumed = Bucket(fixed_place("in_pots")), Bucket(fixed_place("consumed"))
    difference = Bucket(fixed_place("count_difference"))
    steps: list[Step] = []
    for load in loads:
        out = pieces_out.get(load.pk, load.pieces)
        item, lot = what_lies(load)
        if out > load.pieces:
            steps.append(Step(item, lot, out - load.pieces, difference, in_pots))
        if out < load.pieces:
            steps.append(Step(item, lot, load.pieces - out, in_pots, difference))
        if out:
            steps.append(Step(item, lot, out, in_pots, consumed))
    return steps
