"""How a benchmark is written down: a function with a name, a bar and a unit, which gives one figure.

    @benchmark("free_of_one_lot", bar="0.5", unit="ms")
    def free_of_one_lot() -> Decimal: ...

Put it into a module `tests/benchmarks/bench_<topic>.py`. Each runs in a process of its own, on a new data folder
with an empty, migrated database (SQLite, or a database of its own on the server DATABASE_URL names).
"""

from __future__ import annotations

import importlib
import pkgutil
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

import tests.benchmarks

Figure = Decimal | float | int


@dataclass(frozen=True, kw_only=True)
class Benchmark:
    """One thing that is measured, and the bar it has to clear."""

    name: str
    bar: Decimal
    unit: str
    better: Literal["less", "more"]
    database: bool
    measure: Callable[[], Figure]

    def clears(self, figure: Decimal) -> bool:
        return figure <= self.bar if self.better == "less" else figure >= self.bar

    def line(self, figure: Decimal) -> str:
        """Name, figure, bar, ok or short."""
        sign = "≤" if self.better == "less" else "≥"
        verdict = "ok" if self.clears(figure) else "short"
        return f"{self.name:<28} {shown(figure):>10} {self.unit:<6} bar {sign} {shown(self.bar)} {self.unit:<6} {verdict}"


BENCHMARKS: dict[str, Benchmark] = {}


def benchmark(
    name: str,
    bar: Decimal | str | int,
    unit: str,
    better: Literal["less", "more"] = "less",
    *,
    database: bool = True,
) -> Callable[[Callable[[], Figure]], Callable[[], Figure]]:
    """Write a function down as a benchmark. `database=False` leaves Django and the database out."""

    def write_down(measure: Callable[[], Figure]) -> Callable[[], Figure]:
        if name in BENCHMARKS:
            raise ValueError(f"Two benchmarks are called {name}.")
        BENCHMARKS[name] = Benchmark(
            name=name, bar=Decimal(bar), unit=unit, better=better, database=database, measure=measure
        )
        return measure

    return write_down


def discover() -> dict[str, Benchmark]:
    """Every benchmark of every `bench_*` module here, by name.

    Modules are imported before Django is set up, so they import models inside their functions.
    """
    for module in sorted(pkgutil.iter_modules(tests.benchmarks.__path__), key=lambda found: found.name):
        if module.name.startswith("bench_"):
            importlib.import_module(f"tests.benchmarks.{module.name}")
    return dict(sorted(BENCHMARKS.items()))


def shown(figure: Decimal) -> str:
    """Three figures that count, without an exponent."""
    if figure == figure.to_integral_value() or abs(figure) >= 100:
        return f"{figure:.0f}"
    return f"{figure:.{max(0, 2 - figure.adjusted())}f}"


class Stopwatch:
    """Seconds since it was started, and when it was stopped."""

    def __init__(self) -> None:
        self.started = time.perf_counter()
        self.seconds = Decimal(0)

    def stop(self) -> Decimal:
        self.seconds = Decimal(str(time.perf_counter() - self.started))
        return self.seconds


@contextmanager
def stopwatch() -> Iterator[Stopwatch]:
    """`with stopwatch() as watch: ...`, then `watch.seconds`."""
    watch = Stopwatch()
    try:
        yield watch
    finally:
        watch.stop()
