"""Whole-number columns and rows, and the best values for them under one aim after the other.

The numbers come from scipy in floating point. Nothing of them is taken on trust: every answer is rounded, put into
every row again in whole numbers, and its worth is counted anew.
"""

from __future__ import annotations

import math
import time
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import numpy as np

# Costs are whole numbers below a million, so true reduced costs and shadow prices are fractions far larger than this.
CLEARLY_NOT_ZERO = 1e-5
NEARLY = 1e-6
UNBOUNDED = 10**9


class Impossible(Exception):
    """No whole numbers fit the rows."""


@dataclass(frozen=True, slots=True)
class Found:
    """Values for all columns, what they are worth, and the most any could be worth; `values` None: none found in time."""

    values: list[int] | None
    worth: int
    most: int

    @property
    def proven(self) -> bool:
        return self.values is not None and self.worth == self.most


class Clock:
    """How many seconds are left; without a limit there is always time."""

    def __init__(self, seconds: float | None) -> None:
        self._until = None if seconds is None else time.monotonic() + seconds

    @property
    def left(self) -> float | None:
        return None if self._until is None else max(0.0, self._until - time.monotonic())

    @property
    def up(self) -> bool:
        return self._until is not None and time.monotonic() >= self._until


class Sheet:
    """Columns hold whole numbers between two bounds; a row is a sum of columns between two bounds."""

    def __init__(self, *, on_the_face: bool = False) -> None:
        """`on_the_face` is for sheets whose best is mostly as good as with fractions: that is looked for first."""
        self.on_the_face = on_the_face
        self.whole: list[bool] = []
        self.lower: list[int] = []
        self.upper: list[int] = []
        self._at: list[int] = []
        self._column: list[int] = []
        self._factor: list[int] = []
        self.row_low: list[int] = []
        self.row_high: list[int] = []

    def column(self, lower: int = 0, upper: int = UNBOUNDED, *, follows: bool = False) -> int:
        """A column that `follows` comes out whole by itself where the others are: it is a flow between them."""
        self.whole.append(not follows)
        self.lower.append(lower)
        self.upper.append(upper)
        return len(self.lower) - 1

    def row(self, terms: Mapping[int, int], low: int = -UNBOUNDED, high: int = UNBOUNDED) -> int:
        number = len(self.row_low)
        self._at += [number] * len(terms)
        self._column += terms.keys()
        self._factor += terms.values()
        self.row_low.append(low)
        self.row_high.append(high)
        return number

    def add(self, row: int, column: int, factor: int) -> None:
        """Put one more column into a row that is there."""
        self._at.append(row)
        self._column.append(column)
        self._factor.append(factor)

    def best(self, aim: Mapping[int, int], clock: Clock, start: list[int] | None = None) -> Found:
        """The values that make the aim's sum largest. `start` are values known to fit, for when time runs out.

        Raises Impossible where nothing fits.
        """
        return self._best(aim, clock, start)[0]

    def best_and_hold(self, aim: Mapping[int, int], clock: Clock, start: list[int] | None = None) -> Found:
        """As `best`, and from then on no values fit that are worth less for this aim.

        Where the best of the whole numbers is the best of fractions too, holding it means that columns with a price
        stay at their bound and rows with one stay full: every best answer does that, and nothing is added that makes
        the next aim harder. Otherwise a row holds it.
        """
        found, prices = self._best(aim, clock, start)
        if found.values is None:
            return found
        if prices is not None and found.proven:
            self._hold(prices)
        else:
            self.row(aim, low=found.worth)
        return found

    def fits(self, values: Sequence[int]) -> bool:
        """Whether these whole numbers keep every bound and every row."""
        import numpy as np

        given = np.asarray(values, dtype=np.int64)
        if (given < np.asarray(self.lower)).any() or (given > np.asarray(self.upper)).any():
            return False
        sums = self._matrix(np.int64) @ given
        return not ((sums < np.asarray(self.row_low)).any() or (sums > np.asarray(self.row_high)).any())

    def _matrix(self, kind: type[np.generic]) -> Any:
        import numpy as np
        from scipy.sparse import csr_array

        shape = (len(self.row_low), len(self.lower))
        places = (np.asarray(self._at, dtype=np.int64), np.asarray(self._column, dtype=np.int64))
        return csr_array((np.asarray(self._factor, dtype=kind), places), shape=shape)

    def _best(
        self, aim: Mapping[int, int], clock: Clock, start: list[int] | None
    ) -> tuple[Found, _Prices | None]:
        """First with fractions allowed, which is quick and often comes out whole; only then with whole numbers."""
        if not self.lower:
            return Found([], 0, 0), None
        # What the bounds alone allow, should there be no time for anything better.
        most = sum(
            factor * (self.upper[at] if factor > 0 else self.lower[at])
            for at, factor in aim.items()
            if factor
        )
        relaxed = _Relaxed(self, aim, clock)
        if relaxed.most is not None:
            most = min(most, relaxed.most)
        known = [each for each in (relaxed.values, start) if each is not None and self.fits(each)]
        values = max(known, key=lambda each: worth(aim, each), default=None)
        if start is not None and values is not None and worth(aim, values) < most:
            # Often only what follows has to move.
            moved = self._at_rest(aim, clock, start)
            values = values if moved is None else max(values, moved, key=lambda each: worth(aim, each))
        if (values is None or worth(aim, values) < most) and not clock.up:
            for whole, bound in self._in_wholes(aim, clock, relaxed):
                if bound is not None:
                    most = min(most, bound)
                if whole is not None and self.fits(whole):
                    values = (
                        whole if values is None else max(values, whole, key=lambda each: worth(aim, each))
                    )
                if values is not None and worth(aim, values) >= most:
                    break
        if values is None:
            return Found(None, 0, most), None
        got = worth(aim, values)
        # A bound below what was reached can only be a rounding of the floating point; what is reached, is.
        found = Found(values, got, max(got, most))
        return found, relaxed.prices() if relaxed.reaches(got) else None

    def _in_wholes(
        self, aim: Mapping[int, int], clock: Clock, relaxed: _Relaxed
    ) -> Iterator[tuple[list[int] | None, int | None]]:
        """Values and bounds, by and by: first what reaches the bound of fractions, if anything does.

        In each search the columns that follow are left to themselves at first.
        """
        if self.on_the_face and relaxed.most is not None and relaxed.reaches(relaxed.most):
            yield self._on_the_face(relaxed, clock)
        values, bound = self._search(aim, clock, self.whole)
        yield values, bound
        if values is not None and not all(self.whole):
            # What follows may have stopped between whole numbers.
            yield self._at_rest(aim, clock, values), None
        if not all(self.whole) and not clock.up:
            yield self._search(aim, clock, [True] * len(self.whole))

    def _on_the_face(self, relaxed: _Relaxed, clock: Clock) -> tuple[list[int] | None, int | None]:
        """Values that keep to the prices of the fractions: they are worth what those are. If none do, it is one less."""
        kept = self.lower, self.upper, self.row_low, self.row_high
        self.lower, self.upper = list(self.lower), list(self.upper)
        self.row_low, self.row_high = list(self.row_low), list(self.row_high)
        try:
            self._hold(relaxed.prices())
            values, _ = self._search({}, clock, self.whole)
            if values is not None and not self.fits(values):
                values = self._at_rest({}, clock, values)
            return values, None
        except Impossible:
            return None, (relaxed.most or 0) - 1
        finally:
            self.lower, self.upper, self.row_low, self.row_high = kept

    def _hold(self, prices: _Prices) -> None:
        for column, value in prices.columns:
            self.lower[column] = self.upper[column] = value
        for row, value in prices.rows:
            self.row_low[row] = self.row_high[row] = value

    def _at_rest(self, aim: Mapping[int, int], clock: Clock, values: Sequence[int]) -> list[int] | None:
        """The best values for what follows, with the other columns as they are; None where there are none."""
        kept = [
            (value, value) if whole else (low, high)
            for whole, value, low, high in zip(self.whole, values, self.lower, self.upper, strict=True)
        ]
        try:
            moved = _Relaxed(self, aim, clock, kept).values
        except Impossible:
            return None
        return moved if moved is not None and self.fits(moved) else None

    def _search(
        self, aim: Mapping[int, int], clock: Clock, whole: Sequence[bool]
    ) -> tuple[list[int] | None, int | None]:
        import numpy as np
        from scipy.optimize import Bounds, LinearConstraint, milp

        options: dict[str, float | bool] = {"mip_rel_gap": 0.0}
        if clock.left is not None:
            options["time_limit"] = max(clock.left, 0.01)
        rows = LinearConstraint(self._matrix(np.float64), _open(self.row_low), _open(self.row_high))
        result = milp(
            -self._objective(aim),
            integrality=np.asarray(whole, dtype=np.int64),
            bounds=Bounds(_open(self.lower), _open(self.upper)),
            constraints=rows if self.row_low else None,
            options=options,
        )
        if result.status == 2:
            raise Impossible
        values = None if result.x is None else [round(each) for each in result.x]
        bound = result.get("mip_dual_bound")
        known = bound is not None and math.isfinite(bound) and abs(bound) < UNBOUNDED
        return values, math.floor(-bound + NEARLY * max(1.0, abs(bound) / 1e3)) if known else None

    def _objective(self, aim: Mapping[int, int]) -> Any:
        import numpy as np

        objective = np.zeros(len(self.lower))
        for column, factor in aim.items():
            objective[column] = factor
        return objective


@dataclass(frozen=True, slots=True)
class _Prices:
    """What every best answer keeps to: columns at a bound, rows that are full."""

    columns: list[tuple[int, int]]
    rows: list[tuple[int, int]]


class _Relaxed:
    """The same with fractions allowed: its worth bounds what whole numbers can reach."""

    values: list[int] | None = None
    most: int | None = None

    def __init__(
        self,
        sheet: Sheet,
        aim: Mapping[int, int],
        clock: Clock,
        bounds: Sequence[tuple[int, int]] | None = None,
    ) -> None:
        import numpy as np
        from scipy.optimize import linprog

        self._sheet = sheet
        low, high = np.asarray(sheet.row_low), np.asarray(sheet.row_high)
        matrix = sheet._matrix(np.float64)
        self._same = np.flatnonzero(low == high)
        self._at_most = np.flatnonzero((low != high) & (high < UNBOUNDED))
        self._at_least = np.flatnonzero((low != high) & (low > -UNBOUNDED))
        above = _stacked(matrix[self._at_most], -matrix[self._at_least])
        limits = (sheet.lower, sheet.upper) if bounds is None else tuple(zip(*bounds, strict=True))
        options: dict[str, float] = {} if clock.left is None else {"time_limit": max(clock.left, 0.01)}
        self._result = linprog(
            -sheet._objective(aim),
            A_ub=above,
            b_ub=np.concatenate([high[self._at_most], -low[self._at_least]]) if above is not None else None,
            A_eq=matrix[self._same] if len(self._same) else None,
            b_eq=low[self._same] if len(self._same) else None,
            bounds=np.column_stack([_open(each) for each in limits]),
            method="highs",
            options=options,
        )
        if self._result.status == 2:
            raise Impossible
        if self._result.status == 0:
            self.values = [round(each) for each in self._result.x]
            self.most = math.floor(-self._result.fun + NEARLY * max(1.0, abs(self._result.fun) / 1e3))

    def reaches(self, got: int) -> bool:
        """Whether fractions reach no more than whole numbers do."""
        return self._result.status == 0 and abs(-self._result.fun - got) < CLEARLY_NOT_ZERO

    def prices(self) -> _Prices:
        import numpy as np

        result, sheet = self._result, self._sheet
        columns = [
            (int(at), sheet.lower[at])
            for at in np.flatnonzero(np.abs(result.lower.marginals) > CLEARLY_NOT_ZERO)
        ]
        columns += [
            (int(at), sheet.upper[at])
            for at in np.flatnonzero(np.abs(result.upper.marginals) > CLEARLY_NOT_ZERO)
        ]
        full = np.flatnonzero(np.abs(result.ineqlin.marginals) > CLEARLY_NOT_ZERO)
        first = len(self._at_most)
        rows = [
            (int(self._at_most[at]), sheet.row_high[self._at_most[at]])
            if at < first
            else (int(self._at_least[at - first]), sheet.row_low[self._at_least[at - first]])
            for at in full
        ]
        return _Prices(columns, rows)


def worth(aim: Mapping[int, int], values: Sequence[int]) -> int:
    return sum(factor * values[column] for column, factor in aim.items())


def _open(bounds: Sequence[int]) -> Any:
    """Bounds as floats, those that are none as infinite."""
    import numpy as np

    given = np.asarray(bounds, dtype=np.float64)
    given[given >= UNBOUNDED] = np.inf
    given[given <= -UNBOUNDED] = -np.inf
    return given


def _stacked(upper: Any, lower: Any) -> Any:
    from scipy.sparse import vstack

    parts = [part for part in (upper, lower) if part.shape[0]]
    return vstack(parts).tocsr() if parts else None
