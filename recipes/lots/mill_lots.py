"""Whether one colourway would be dyed on yarn of several mill lots: the same dye comes out apart on them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from recipes.lots.in_store import LotPieces
from recipes.lots.models import Pot, PotLoad, RedyePlan
from recipes.models import MillLot, PutUp


@dataclass(frozen=True, slots=True)
class SplitOverLots:
    """Pieces of one colourway on a put-up that are of more than one mill lot, or would have to be.

    `taken` is settled by lot; `lacking` more are wanted that no lot of `there`, what the store has beside, can give alone.
    """

    put_up: PutUp
    taken: list[LotPieces]
    lacking: int = 0
    there: list[LotPieces] = field(default_factory=list)

    @property
    def sentence(self) -> str:
        """Which lots, and how many pieces of each."""
        if not self.lacking:
            return f"The yarn is of {len(self.taken)} mill lots: {listed(self.taken)}."
        there = listed(self.there) if self.there else "none"
        if not self.taken:
            return f"No one mill lot in the store has {self.lacking} pieces; there are {there}."
        return (
            f"{listed(self.taken)}; {self.lacking} more are wanted, and beside these the store has {there}."
        )


def listed(lots: Sequence[LotPieces]) -> str:
    """18 of mill lot A, 4 of mill lot B and 2 of a lot not known."""
    words = [str(each) for each in lots]
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def split_over_lots(
    *, put_up: PutUp, loads: Sequence[PotLoad], wanted: int, there: Sequence[LotPieces]
) -> SplitOverLots | None:
    """Whether these loads, and so many pieces more whose lot is open, are of several mill lots; None when of one.

    `there` is what the store has. A planned load whose lot nobody knows is open; of the rest of the store what is planned
    by its lot is not free. Where the lot is open it is asked whether one lot is enough.
    """
    taken: dict[int, LotPieces] = {}
    left = {each.mill_lot.pk: each for each in there}
    open_pieces = wanted
    for load in loads:
        waits = load.pot.loaded_at is None
        if waits and load.mill_lot.unknown:
            open_pieces += load.pieces
            continue
        taken[load.mill_lot_id] = _more(taken.get(load.mill_lot_id), load.mill_lot, load.pieces)
        if waits:
            left[load.mill_lot_id] = _more(left.get(load.mill_lot_id), load.mill_lot, -load.pieces)
    for pk, each in left.items():
        if each.pieces < 0 and pk in taken:
            # Planned of a lot that has not so many: the rest must come of another.
            open_pieces -= each.pieces
            taken[pk] = _more(taken[pk], each.mill_lot, each.pieces)
    settled = [each for each in taken.values() if each.pieces > 0]
    free = sorted((each for each in left.values() if each.pieces > 0), key=lambda each: -each.pieces)
    if not open_pieces:
        return SplitOverLots(put_up, settled) if len(settled) > 1 else None
    same = {each.mill_lot.pk for each in settled}
    enough = any(each.pieces >= open_pieces and (not same or each.mill_lot.pk in same) for each in free)
    nothing_to_part = not settled and not free
    if nothing_to_part or (len(settled) <= 1 and enough):
        return None
    return SplitOverLots(put_up, settled, open_pieces, free)


def _more(before: LotPieces | None, mill_lot: MillLot, pieces: int) -> LotPieces:
    return LotPieces(mill_lot, pieces + (before.pieces if before is not None else 0))


def split_of_plan(
    plan: RedyePlan, pots: Iterable[Pot], there: Sequence[LotPieces] = ()
) -> SplitOverLots | None:
    """Whether the pots of a plan use several mill lots, or would have to; `pots` with their loads, `there` in the store.

    A sample and dropped pots are left out, and so is yarn that was dyed before.
    """
    loads = []
    for pot in pots:
        if pot.sample or pot.state == "dropped":
            continue
        for load in pot.loads.all():
            if load.was_id is None:
                load.pot = pot
                loads.append(load)
    return split_over_lots(put_up=plan.put_up, loads=loads, wanted=0, there=there)


def split_of_redye(
    *, put_up: PutUp, mill_lot: MillLot | None, pieces: int, there: Sequence[LotPieces]
) -> SplitOverLots | None:
    """Whether so many pieces, of the lot that is meant or of any, would be of several of the lots in the store."""
    if mill_lot is None:
        return split_over_lots(put_up=put_up, loads=[], wanted=pieces, there=there)
    of_it = next((each.pieces for each in there if each.mill_lot.pk == mill_lot.pk), 0)
    if of_it >= pieces:
        return None
    others = [each for each in there if each.mill_lot.pk != mill_lot.pk]
    settled = [LotPieces(mill_lot, of_it)] if of_it else []
    return SplitOverLots(put_up, settled, pieces - of_it, others) if settled or others else None


def split_when_loaded(pot: Pot) -> SplitOverLots | None:
    """Once a pot is loaded: whether what lies in it and in the other loaded pots of its plan is of several lots.

    Two queries. A pot of several put-ups is asked by the put-up that is split.
    """
    pots = (
        Pot.objects.filter(plan=pot.plan_id, sample=False) if pot.plan_id else Pot.objects.filter(pk=pot.pk)
    )
    loads = PotLoad.objects.filter(pot__in=pots, pot__loaded_at__isnull=False, was=None)
    by_put_up: dict[int, list[PotLoad]] = {}
    for load in loads.select_related("pot", "mill_lot", "put_up__base").order_by("pk"):
        by_put_up.setdefault(load.put_up_id, []).append(load)
    found = (
        split_over_lots(put_up=loads[0].put_up, loads=loads, wanted=0, there=[])
        for loads in by_put_up.values()
    )
    return next((each for each in found if each is not None), None)
