"""The hard rules: what may never be given, why a lot does not do for a box, and the check of a whole giving out.

Nothing here is shared with the reckoning that looks for the best answer, so that the check is a second opinion.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence

from inventory.allocation.answers import Aim
from inventory.allocation.wants import AllocationError, Box, Kind, Lot, Month, Piece


class BreaksARule(AllocationError):
    """Pieces given against a hard rule."""


def why_not(month: Month, box: Box, slot: int, lot: Lot) -> str | None:
    """Why this lot never does for this slot, as half a sentence; None where it does."""
    want = box.slots[slot]
    if lot.put_up != want.put_up:
        return f"is {month.name(lot.put_up)}, not {month.name(want.put_up)}"
    if want.colourways is not None and lot.colourway not in want.colourways:
        return f"is {month.name(lot.colourway)}, which this box does not take"
    if avoided := box.avoids_fibres & lot.fibres:
        return f"has {_listed(month, avoided)} in it, which is avoided"
    if avoided := box.avoids_families & lot.families:
        return f"is of the colour family {_listed(month, avoided)}, which is avoided"
    if lot.colourway in box.had:
        months = "month" if month.months == 1 else f"{month.months} months"
        return f"is {month.name(lot.colourway)}, which was had in the last {months}"
    if (box.id, lot.id) in month.forbidden:
        return "was forbidden for this box by hand"
    pinned = month.pinned.get((box.id, slot))
    if pinned is not None and pinned != lot.id:
        return f"is not lot {month.name(pinned)}, which was pinned"
    return None


def does(month: Month, box: Box, slot: int) -> list[Lot]:
    """The lots that could do for a slot, whatever is left of them."""
    return [lot for lot in month.lots if why_not(month, box, slot, lot) is None]


def breaches(month: Month, pieces: Sequence[Piece]) -> list[str]:
    """Every hard rule that these pieces break, a sentence each, reckoned in whole numbers; empty where all hold."""
    found: list[str] = []
    by_slot: defaultdict[tuple[str, int], Counter[str]] = defaultdict(Counter)
    for piece in pieces:
        if piece.box not in month.box or piece.lot not in month.lot:
            found.append(f"{month.name(piece.box)} or {month.name(piece.lot)} is not of this month.")
        elif not 0 <= piece.slot < len(month.box[piece.box].slots) or piece.pieces < 1:
            found.append(f"Box {month.name(piece.box)} has a slot that is not wanted.")
        else:
            by_slot[piece.box, piece.slot][piece.lot] += piece.pieces
    found += _box_by_box(month, by_slot)
    found += _by_person(month, by_slot)
    found += _stock(month, by_slot)
    found += [
        f"Box {month.name(box)} is pinned to lot {month.name(lot)} and does not have it."
        for (box, slot), lot in month.pinned.items()
        if set(by_slot.get((box, slot), ())) != {lot}
    ]
    return found


def _box_by_box(month: Month, by_slot: dict[tuple[str, int], Counter[str]]) -> Iterable[str]:
    for box in month.boxes:
        given = [by_slot.get((box.id, number), Counter()) for number in range(len(box.slots))]
        if not any(given):
            continue
        colourways: Counter[str] = Counter()
        for number, (want, lots) in enumerate(zip(box.slots, given, strict=True)):
            if lots.total() != want.pieces:
                yield f"Box {month.name(box.id)} has {lots.total()} of {want.pieces} pieces in slot {number + 1}."
            for key in lots:
                if (why := why_not(month, box, number, month.lot[key])) is not None:
                    yield f"Box {month.name(box.id)}: lot {month.name(key)} {why}."
            of = {month.lot[key].colourway for key in lots}
            if len(of) > 1:
                yield f"Box {month.name(box.id)} has {len(of)} colourways in slot {number + 1}."
            colourways.update(of)
        if box.different and (same := [key for key, times in colourways.items() if times > 1]):
            yield f"Box {month.name(box.id)} has {_listed(month, same)} in more than one slot."


def _by_person(month: Month, by_slot: dict[tuple[str, int], Counter[str]]) -> Iterable[str]:
    pots: defaultdict[tuple[str, Kind], set[tuple[str, str]]] = defaultdict(set)
    for (key, _), lots in by_slot.items():
        box = month.box[key]
        if box.same_pot:
            for lot in lots:
                pots[box.member, month.lot[lot].kind].add(month.lot[lot].pot_or_own)
    for (member, kind), of in pots.items():
        if len(of) > 1:
            yield f"{month.name(member)} asked for one pot and has {month.kind(kind)} of {len(of)}."


def _stock(month: Month, by_slot: dict[tuple[str, int], Counter[str]]) -> Iterable[str]:
    used: Counter[str] = Counter()
    for lots in by_slot.values():
        used.update(lots)
    kinds: Counter[Kind] = Counter()
    for key, pieces in used.items():
        lot = month.lot[key]
        kinds[lot.kind] += pieces
        if pieces > lot.free:
            yield f"{pieces} pieces of lot {month.name(key)} are given and {lot.free} are free."
        elif lot.one_off and pieces > 1:
            yield f"Lot {month.name(key)} is a one-off and is given {pieces} times."
    for kind, pieces in kinds.items():
        if pieces > month.can_use[kind]:
            yield f"{pieces} pieces of {month.kind(kind)} are given and {month.can_use[kind]} may be: spares are kept."


def liking(box: Box, lot: Lot) -> int:
    """Points that one piece of this lot is worth to the box's person."""
    return box.likes.get(lot.colourway, 0) + len(box.liked_families & lot.families)


def reckon(month: Month, pieces: Sequence[Piece]) -> dict[Aim, int]:
    """What each aim comes to with these pieces, straight from its meaning. OLDEST is the row from the first on."""
    filled = {piece.box for piece in pieces}
    pots = {(month.box[piece.box].member, month.lot[piece.lot].pot_or_own) for piece in pieces}
    before = Counter[tuple[str, int, str]]()
    for piece in month.earlier:
        before[piece.box, piece.slot, piece.lot] += piece.pieces
    now = Counter[tuple[str, int, str]]()
    for piece in pieces:
        now[piece.box, piece.slot, piece.lot] += piece.pieces
    points = [
        (month.box[piece.box], liking(month.box[piece.box], month.lot[piece.lot]) * piece.pieces)
        for piece in pieces
    ]
    row = [box.id in filled for box in month.in_order]
    return {
        Aim.FILLED: len(filled),
        Aim.OLDEST: row.index(False) if False in row else len(row),
        Aim.POTS: len(pots),
        Aim.LIKED: sum(each for _, each in points),
        Aim.LUCK: sum(box.luck * each for box, each in points),
        Aim.KEPT: (now & before).total(),
    }


def _listed(month: Month, keys: Iterable[str]) -> str:
    return " and ".join(sorted(month.name(key) for key in keys))
