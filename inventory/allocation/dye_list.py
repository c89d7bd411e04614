"""What must be dyed: everything promised, less what is free and in work, plus spares, in pot loads.

Colours share no pot, so loads are counted for each colourway on each put-up. Counts are whole pieces, weights milligrams,
shares exact fractions.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from math import ceil, floor

from inventory.allocation.pot_loads import NO_DAY, Line, Load, Pot, fill_pots, pieces_to_dye
from inventory.allocation.wanted import SPARES, Kind, Spares, There, Want
from recipes.dyeing.units import format_percent
from recipes.dyeing.working import Figure, Source, Standing, Working

COUNTED = Source("pieces that were judged here", Standing.DERIVED)
POTS = Source("whole pieces in whole pots, no two colours in one", Standing.DERIVED)


@dataclass(frozen=True, slots=True)
class ToDye:
    """One colourway on one put-up: what is wanted, what is there of it, and the pots for the rest.

    `good` is how many good pieces must come out, `pieces` how many go in. `most_good` is the largest number that these
    same pots give, so one good piece more than it starts another. `too_large` are sets that fit in no pot whole.
    """

    kind: Kind
    wanted: int
    spares: int
    from_shelf: int
    from_work: int
    good: int
    pieces: int
    pot: Pot
    loads: tuple[Load, ...]
    most_good: int
    too_large: tuple[int, ...]
    working: Working

    @property
    def more_good(self) -> int:
        """How many more good pieces these same pots give."""
        return self.most_good - self.good

    @property
    def room(self) -> int:
        """How many more pieces fit into these pots."""
        return len(self.loads) * self.pot.pieces - self.pieces

    @property
    def over(self) -> int:
        """What is left over, spares aside, when every piece comes out good."""
        return self.pieces - self.good

    @property
    def due(self) -> dt.date | None:
        return min((load.due for load in self.loads if load.due), default=None)


@dataclass(frozen=True, slots=True)
class ServedBy:
    """A lot or pot that is there already, and the promises that it serves."""

    there: There
    wants: tuple[Want, ...]

    @property
    def due(self) -> dt.date | None:
        return min((want.due for want in self.wants if want.due), default=None)


@dataclass(frozen=True, slots=True)
class DyeList:
    """Everything to dye, the soonest first, and what is there for the promises already: shelf lots and pots in work."""

    rows: tuple[ToDye, ...]
    served: tuple[ServedBy, ...]
    share: Figure[Fraction]

    @property
    def loads(self) -> tuple[Load, ...]:
        return tuple(load for row in self.rows for load in row.loads)

    @property
    def pieces(self) -> int:
        return sum(row.pieces for row in self.rows)

    @property
    def one_more(self) -> tuple[OneMore, ...]:
        return one_more(self.rows)


@dataclass(frozen=True, slots=True)
class OneMore:
    """Where one more of each of some colourways starts another pot in each of them: the nth piece costs `loads` loads.

    `more` is how far off that is: 1 is the very next piece.
    """

    put_up: int
    nth: int
    more: int
    loads: int


def share_of_good(*, good: int, judged: int) -> Figure[Fraction]:
    """Which share of what is dyed comes out good, by the studio's own record of judged pieces.

    Where nothing was judged, or nothing good, there is no share to go by, and each piece is reckoned to come out good.
    """
    known = judged > 0 and 0 < good <= judged
    share = Fraction(good, judged) if known else Fraction(1)
    return Figure(
        share,
        Working(
            title="Share that comes out good",
            formula="good pieces ÷ pieces judged",
            substitution=f"{good} ÷ {judged}" if judged else "nothing was judged yet",
            result=format_percent(share * 100) if known else "every piece, for want of a record",
            source=COUNTED,
        ),
    )


def make_dye_list(
    *,
    wants: Iterable[Want],
    shelf: Iterable[There],
    in_work: Iterable[There],
    pots: Mapping[Kind, Pot],
    share: Figure[Fraction],
    spares: Spares | None = None,
) -> DyeList:
    """The dye list: each colourway and put-up with what is there of it and the fewest pots for the rest.

    `shelf` are free good pieces by lot; `in_work` pieces by pot that are not judged yet, of which the share comes out
    good. `pots` says for each kind which vessel takes how many. What is due first is served first; a set that must be from
    one pot is served by one lot or pot only. KeyError when a kind that must be dyed has no pot.
    """
    by_kind: dict[Kind, list[Want]] = {}
    for want in wants:
        if want.pieces > 0:
            by_kind.setdefault(want.kind, []).append(want)
    on_shelf, expected = list(shelf), expected_good(in_work, share=share.value)
    rows: list[ToDye] = []
    served: list[ServedBy] = []
    for kind, wanted in by_kind.items():
        wanted.sort(key=lambda want: (want.due or NO_DAY, want.what))
        extra = _spare_pieces(wanted, spares or Spares())
        lines = [Line(want, want.pieces, list(want.sets)) for want in wanted]
        if extra:
            last = max((want.due or NO_DAY) for want in wanted)
            spare = Want(kind, extra, None if last == NO_DAY else last, what=SPARES)
            lines.append(Line(spare, extra, []))
        from_shelf = _serve(lines, [lot for lot in on_shelf if lot.kind == kind], served)
        from_work = _serve(lines, [pot for pot in expected if pot.kind == kind], served)
        good = sum(line.left for line in lines)
        if not good:
            continue
        rows.append(
            _row(
                kind,
                lines,
                pots[kind],
                share,
                counts=(sum(want.pieces for want in wanted), extra, from_shelf, from_work),
            )
        )
    rows.sort(key=lambda row: (row.due or NO_DAY, row.kind))
    return DyeList(tuple(rows), tuple(served), share)


def expected_good(in_work: Iterable[There], *, share: Fraction) -> list[There]:
    """What is likely to come out good of each pot: all pots of a kind together give the share of them, rounded down."""
    before: dict[Kind, int] = {}
    found = []
    for pot in in_work:
        already = before.get(pot.kind, 0)
        before[pot.kind] = already + pot.pieces
        found.append(replace(pot, pieces=floor(before[pot.kind] * share) - floor(already * share)))
    return found


def _spare_pieces(wants: Sequence[Want], spares: Spares) -> int:
    """Spares of one kind: each rate on all that is promised at it, rounded up once, and the count on top."""
    by_percent: dict[int, int] = {}
    for want in wants:
        percent = spares.percent if want.spares_percent is None else want.spares_percent
        by_percent[percent] = by_percent.get(percent, 0) + want.pieces
    return spares.pieces + sum(
        ceil(Fraction(pieces * percent, 100)) for percent, pieces in by_percent.items()
    )


def _serve(lines: Sequence[Line], there: Sequence[There], served: list[ServedBy]) -> int:
    """Give what is there to the lines in their order: sets from one lot that is just enough, the rest from the smallest."""
    left = {at: lot.pieces for at, lot in enumerate(there)}
    wants: dict[int, list[Want]] = {}
    gave = 0

    def take(at: int, line: Line, pieces: int) -> None:
        nonlocal gave
        left[at] -= pieces
        line.left -= pieces
        gave += pieces
        if line.want not in wants.setdefault(at, []):
            wants[at].append(line.want)

    for line in lines:
        for size in sorted(line.sets, reverse=True):
            enough = [at for at in left if left[at] >= size]
            if enough:
                line.sets.remove(size)
                take(min(enough, key=lambda at: (left[at], at)), line, size)
        for at in sorted(left, key=lambda at: (left[at], at)):
            if pieces := min(left[at], line.singles):
                take(at, line, pieces)
    served += [ServedBy(lot, tuple(wants[at])) for at, lot in enumerate(there) if at in wants]
    return gave


def _row(
    kind: Kind,
    lines: Sequence[Line],
    pot: Pot,
    share: Figure[Fraction],
    *,
    counts: tuple[int, int, int, int],
) -> ToDye:
    wanted, spares, from_shelf, from_work = counts
    good = sum(line.left for line in lines)
    pieces = pieces_to_dye(good=good, share=share.value)
    loads, too_large = fill_pots(kind, lines, pieces, pot.pieces, share.value)
    most_good = floor(len(loads) * pot.pieces * share.value)
    taken = "".join(
        f" − {count} {words}"
        for count, words in ((from_shelf, "free"), (from_work, "expected good of what is in work"))
        if count
    )
    to_be_good = Working(
        title="Good pieces to come",
        formula="promised + spares − free − expected of what is in work",
        substitution=f"{wanted} + {spares}{taken}",
        result=str(good),
        source=POTS,
    )
    into = Working(
        title="Pieces into pots",
        formula="good pieces to come ÷ share that comes out good, rounded up",
        substitution=f"{good} ÷ {format_percent(share.value * 100)}",
        result=str(pieces),
        source=POTS,
        steps=(share.working,),
    )
    together = " with each set kept whole" if any(line.sets for line in lines) else ""
    return ToDye(
        kind=kind,
        wanted=wanted,
        spares=spares,
        from_shelf=from_shelf,
        from_work=from_work,
        good=good,
        pieces=pieces,
        pot=pot,
        loads=loads,
        most_good=most_good,
        too_large=too_large,
        working=Working(
            title="Pot loads",
            formula=f"pieces ÷ pieces in one pot, rounded up{together}",
            substitution=f"{pieces} ÷ {pot.pieces}",
            result=str(len(loads)),
            source=POTS,
            steps=(to_be_good, into, pot.working),
        ),
    )


def one_more(rows: Iterable[ToDye]) -> tuple[OneMore, ...]:
    """Where one more of each starts another pot, by put-up and count, the dearest first.

    Colourways of a put-up of which the same number is wanted grow together: an advent box more is one more of each day.
    """
    alike: dict[tuple[int, int, int], int] = {}
    for row in rows:
        nth = row.wanted + row.spares + row.more_good + 1
        key = (row.kind.put_up, nth, row.more_good + 1)
        alike[key] = alike.get(key, 0) + 1
    found = [OneMore(put_up, nth, more, loads) for (put_up, nth, more), loads in alike.items()]
    return tuple(sorted(found, key=lambda each: (-each.loads, each.more, each.put_up, each.nth)))


def days_needed(*, loads: int, loads_a_session: int) -> Figure[int]:
    """How many dye days so many loads take. `loads_a_session` is at least 1."""
    days = -(-loads // loads_a_session)
    return Figure(
        days,
        Working(
            title="Dye days needed",
            formula="loads ÷ loads a session, rounded up",
            substitution=f"{loads} ÷ {loads_a_session}",
            result=str(days),
            source=POTS,
        ),
    )
