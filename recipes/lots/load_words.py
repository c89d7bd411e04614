"""What lies in a pot in words: line by line, or all of it in one line."""

from __future__ import annotations

from collections.abc import Sequence

from recipes.dyeing.units import format_grams
from recipes.lots.models import PotLoad

#: What the words of a line name, for reading it with them.
OF_A_LOAD = ("put_up__base", "mill_lot", "overdyes", "was")


def line_words(load: PotLoad, *, us: bool = False) -> str:
    """One line: 3 × Heron Sock, 100 g; pieces that were dyed before with the lot that they are of."""
    yarn = f"{load.pieces} × {load.put_up.base.name}, {format_grams(load.put_up.nominal_milligrams, us=us)}"
    before = before_words(load)
    return f"{yarn}, {before}" if before else yarn


def before_words(load: PotLoad) -> str:
    """What the pieces were before: of lot K7Q2M, to redye. Empty for undyed yarn. A lot is named by its code alone."""
    if load.overdyes is None or load.was is None:
        return ""
    return f"of lot {load.overdyes.code}, {load.was.get_grade_display()}"


def mill_lot_words(load: PotLoad) -> str:
    """The mill lot of a line, or that nobody knows it."""
    return "mill lot not known" if load.mill_lot.unknown else f"mill lot {load.mill_lot.number}"


def load_words(loads: Sequence[PotLoad], *, strip_milligrams: int | None = None, us: bool = False) -> str:
    """All of it in one line: put-ups that come from several mill lots are counted together, the strip comes last."""
    pieces: dict[tuple[int, int | None], tuple[PotLoad, int]] = {}
    for load in loads:
        key = (load.put_up_id, load.overdyes_id)
        first, count = pieces.get(key, (load, 0))
        pieces[key] = (first, count + load.pieces)
    parts = [
        f"{count} × {load.put_up.base.name}, {format_grams(load.put_up.nominal_milligrams, us=us)}"
        + (f" of lot {load.overdyes.code}" if load.overdyes is not None else "")
        for load, count in pieces.values()
    ]
    if strip_milligrams:
        parts.append(f"a strip of {format_grams(strip_milligrams, us=us)}")
    return "; ".join(parts)
