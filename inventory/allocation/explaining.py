"""Why a box has what it has, and what stands in the way of one that is empty."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from inventory.allocation.rules import does, liking, why_not
from inventory.allocation.wants import Box, Kind, Lot, Month, Piece


@dataclass(frozen=True, slots=True)
class Missing:
    """So many pieces short for one slot, counted from 0, of what would do for it."""

    slot: int
    pieces: int
    words: str


@dataclass(frozen=True, kw_only=True)
class Unfilled:
    """A box that is empty.

    `sentences` say what stands in the way, slot by slot. `excluded` has every lot at the wanted put-ups that does not do,
    with the rule. `missing` is what is short. `waits` are the person's filled boxes that wait for this one, where all
    ship together.
    """

    box: str
    sentences: tuple[str, ...]
    excluded: tuple[tuple[str, str], ...]
    missing: tuple[Missing, ...]
    waits: tuple[str, ...]


def why_this(month: Month, pieces: Sequence[Piece], box: str) -> list[str]:
    """Why each lot of a box is there, a sentence each."""
    asked = month.box[box]
    pots = _pots_of_person(month, pieces, asked.member)
    said = []
    for piece in (piece for piece in pieces if piece.box == box):
        lot = month.lot[piece.lot]
        others = [other for other in does(month, asked, piece.slot) if other.colourway != lot.colourway]
        reasons = []
        if month.pinned.get((box, piece.slot)) == lot.id:
            reasons.append("you pinned it")
        elif not others:
            reasons.append("no other colourway does for this slot")
        else:
            reasons += _among_others(month, asked, lot, others)
        if more := pots[lot.pot_or_own] - piece.pieces:
            reasons.append(f"{_pieces(more)} more of theirs {'is' if more == 1 else 'are'} of the same pot")
        if any((old.box, old.slot, old.lot) == (box, piece.slot, lot.id) for old in month.earlier):
            reasons.append("it was there before")
        said.append(
            f"{_pieces(piece.pieces)} of lot {month.name(lot.id)}, {month.kind(lot.kind)}: {'; '.join(reasons)}."
        )
    return said


def _among_others(month: Month, box: Box, lot: Lot, others: Sequence[Lot]) -> list[str]:
    points, best = liking(box, lot), max(liking(box, other) for other in others)
    number = len({other.colourway for other in others})
    reasons = [f"{number} other {'colourway' if number == 1 else 'colourways'} would do too"]
    if points and points >= best:
        reasons.append("it is what is liked most")
    elif points < best:
        liked = {month.name(other.colourway) for other in others if liking(box, other) == best}
        reasons.append(f"{_or(sorted(liked))} would be liked better and went where it was needed more")
    return reasons


def _pots_of_person(month: Month, pieces: Sequence[Piece], member: str) -> Counter[tuple[str, str]]:
    pots: Counter[tuple[str, str]] = Counter()
    for piece in pieces:
        if month.box[piece.box].member == member:
            pots[month.lot[piece.lot].pot_or_own] += piece.pieces
    return pots


def unfilled(month: Month, pieces: Sequence[Piece]) -> list[Unfilled]:
    """Every empty box and what stands in its way, the oldest sign-up first."""
    filled = {piece.box for piece in pieces}
    left, left_of = _left(month, pieces)
    by_member: defaultdict[str, list[str]] = defaultdict(list)
    for box in month.boxes:
        if box.id in filled and box.ship_together:
            by_member[box.member].append(box.id)
    return [
        _unfilled(month, box, left, left_of, by_member[box.member] if box.ship_together else [])
        for box in month.in_order
        if box.id not in filled
    ]


def _left(month: Month, pieces: Sequence[Piece]) -> tuple[dict[str, int], dict[Kind, int]]:
    left = {lot.id: lot.can_give for lot in month.lots}
    left_of = dict(month.can_use)
    for piece in pieces:
        left[piece.lot] -= piece.pieces
        left_of[month.lot[piece.lot].kind] -= piece.pieces
    return left, left_of


def _unfilled(
    month: Month, box: Box, left: dict[str, int], left_of: dict[Kind, int], waits: Sequence[str]
) -> Unfilled:
    excluded: dict[str, str] = {}
    missing: list[Missing] = []
    sentences: list[str] = []
    for number, slot in enumerate(box.slots):
        there = [lot for lot in month.lots if lot.put_up == slot.put_up]
        good = []
        for lot in there:
            why = why_not(month, box, number, lot)
            if why is None:
                good.append(lot)
            else:
                excluded.setdefault(lot.id, why)
        wanted = month.name(slot.put_up)
        if not there:
            sentences.append(f"No lot on {wanted} is there.")
            missing.append(Missing(number, slot.pieces, wanted))
            continue
        if not good:
            every = "The one lot" if len(there) == 1 else f"None of the {len(there)} lots"
            does_not = "does not do" if len(there) == 1 else "does"
            sentences.append(f"{every} on {wanted} {does_not}: each is ruled out.")
            missing.append(Missing(number, slot.pieces, wanted))
            continue
        most = _most_left(good, left, left_of, same_pot=box.same_pot)
        colourways = sorted({month.name(lot.colourway) for lot in good})
        words = f"{_or(colourways)} on {wanted}"
        short = slot.pieces - most
        if short > 0:
            one_pot = " from one pot" if box.same_pot and slot.pieces > 1 else ""
            sentences.append(
                f"Short of {_pieces(short)} of {words}{one_pot}: the rest is given or kept as spares."
            )
            missing.append(Missing(number, short, words))
    if not sentences:
        sentences.append(
            "Each slot could be filled by itself, and not all together: they would take the same pieces or break what "
            "was asked for this person."
        )
    return Unfilled(
        box=box.id,
        sentences=tuple(sentences),
        excluded=tuple(sorted(excluded.items())),
        missing=tuple(missing),
        waits=tuple(waits),
    )


def _most_left(lots: Sequence[Lot], left: dict[str, int], left_of: dict[Kind, int], *, same_pot: bool) -> int:
    """The most pieces of one colourway that are still there, of one pot where that was asked."""
    sums: Counter[tuple[Kind, object]] = Counter()
    for lot in lots:
        sums[lot.kind, lot.pot_or_own if same_pot else None] += left[lot.id]
    return max(min(pieces, left_of[kind]) for (kind, _), pieces in sums.items())


def _pieces(number: int) -> str:
    return f"{number} {'piece' if number == 1 else 'pieces'}"


def _or(words: Sequence[str]) -> str:
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} or {words[-1]}"
