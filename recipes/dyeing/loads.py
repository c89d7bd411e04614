"""Splitting whole pieces into pot loads that are as alike as they can be."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from recipes.dyeing.bath import bath_microlitres
from recipes.dyeing.units import format_grams, format_litres, format_number, format_ratio
from recipes.dyeing.working import DyeingError, Exact, Figure, Source, Standing, Working, exact

EQUAL_LOADS = Source("loads differing by at most one piece, each within the working mark", Standing.DERIVED)


class NoLoadFits(DyeingError):
    """Not one piece can be dyed in this vessel at this liquor ratio, or there is nothing to dye."""


@dataclass(frozen=True, slots=True)
class Load:
    """One pot: so many pieces, what they weigh dry, and the bath for that weight."""

    pieces: int
    dry_milligrams: int
    bath: Figure[Fraction]


@dataclass(frozen=True, slots=True)
class LoadPlan:
    """All pots of one colour.

    `most_a_pot` pieces fit in one pot, `room_left` more fit into these pots before another must be started.
    """

    loads: tuple[Load, ...]
    most_a_pot: int
    room_left: int
    working: Working

    @property
    def pieces(self) -> int:
        return sum(load.pieces for load in self.loads)

    @property
    def one_more(self) -> str:
        """What one more piece would do."""
        if self.room_left == 0:
            return "One more piece starts another pot."
        if self.room_left == 1:
            return "One more piece fits in these pots; a second starts another."
        return f"Up to {self.room_left} more pieces fit in these pots."


def pieces_a_pot(
    *,
    piece_dry_milligrams: int,
    vessel_millilitres: int,
    liquor_ratio: Exact,
    most_pieces: int | None = None,
) -> Figure[int]:
    """How many whole pieces one vessel takes at a liquor ratio.

    Raises NoLoadFits with a sentence that says which vessel or ratio would do.
    """
    ratio = exact(liquor_ratio)
    if piece_dry_milligrams <= 0:
        raise NoLoadFits("A piece must weigh something. Write its dry weight in grams.")
    if vessel_millilitres <= 0:
        raise NoLoadFits("The vessel must hold something. Write its litres to the working mark.")
    if ratio <= 0:
        raise NoLoadFits("The liquor ratio must be above zero, for example 30.")
    if most_pieces is not None and most_pieces < 1:
        raise NoLoadFits("A pot takes at least one piece.")
    one = piece_dry_milligrams * ratio
    vessel = vessel_millilitres * 1000
    fit = int(vessel // one)
    if fit == 0:
        tightest = Fraction(int(Fraction(vessel, piece_dry_milligrams) * 10), 10)
        raise NoLoadFits(
            f"One piece of {format_grams(piece_dry_milligrams)} at {format_ratio(ratio)} needs {format_litres(one)}, and "
            f"this vessel takes {format_litres(vessel)}. Take a larger vessel, or a liquor ratio of at most "
            f"{format_ratio(tightest)}."
        )
    most = fit if most_pieces is None else min(fit, most_pieces)
    result = f"{most} piece" if most == 1 else f"{most} pieces"
    if most < fit:
        result += ", the most that you put in one pot"
    return Figure(
        most,
        Working(
            title="Pieces in one pot",
            formula="litres to the working mark ÷ (dry piece in kg × liquor ratio), whole pieces only",
            substitution=(
                f"{format_litres(vessel)} ÷ ({format_number(Fraction(piece_dry_milligrams, 1_000_000), 4)} kg × "
                f"{format_number(ratio, 2)})"
            ),
            result=result,
            source=EQUAL_LOADS,
        ),
    )


def split_loads(
    *,
    pieces: int,
    piece_dry_milligrams: int,
    vessel_millilitres: int,
    liquor_ratio: Exact,
    most_pieces: int | None = None,
) -> LoadPlan:
    """As few pots as possible, with loads that differ by at most one piece, the fuller ones first.

    Each load has the bath of its own dry weight. Raises NoLoadFits.
    """
    if pieces < 1:
        raise NoLoadFits("Say how many pieces to dye, at least one.")
    most = pieces_a_pot(
        piece_dry_milligrams=piece_dry_milligrams,
        vessel_millilitres=vessel_millilitres,
        liquor_ratio=liquor_ratio,
        most_pieces=most_pieces,
    )
    pots = -(-pieces // most.value)
    smaller, fuller = divmod(pieces, pots)
    counts = [smaller + 1] * fuller + [smaller] * (pots - fuller)
    loads = tuple(
        Load(
            count,
            count * piece_dry_milligrams,
            bath_microlitres(dry_milligrams=count * piece_dry_milligrams, liquor_ratio=liquor_ratio),
        )
        for count in counts
    )
    return LoadPlan(
        loads=loads,
        most_a_pot=most.value,
        room_left=pots * most.value - pieces,
        working=Working(
            title="Pots",
            formula="pieces ÷ pieces in one pot, rounded up, then shared out evenly",
            substitution=f"{pieces} ÷ {most.value}",
            result=_in_words(pots, smaller, fuller),
            source=EQUAL_LOADS,
            steps=(most.working,),
        ),
    )


def _in_words(pots: int, smaller: int, fuller: int) -> str:
    def group(count: int, size: int) -> str:
        return f"{count} {'pot' if count == 1 else 'pots'} of {size}"

    groups = [group(fuller, smaller + 1)] if fuller else []
    if pots > fuller:
        groups.append(group(pots - fuller, smaller))
    return " and ".join(groups)


def plan_loads(
    pieces: int,
    piece_dry_milligrams: int,
    vessel_millilitres: int,
    liquor_ratio: Exact,
    most_pieces: int | None = None,
) -> list[int]:
    """Only the counts of `split_loads`: ten pieces where four fit are [4, 3, 3]. Raises NoLoadFits."""
    plan = split_loads(
        pieces=pieces,
        piece_dry_milligrams=piece_dry_milligrams,
        vessel_millilitres=vessel_millilitres,
        liquor_ratio=liquor_ratio,
        most_pieces=most_pieces,
    )
    return [load.pieces for load in plan.loads]
