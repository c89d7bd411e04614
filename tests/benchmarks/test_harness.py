"""The benchmarks' own rules: what clears a bar, and how its line reads."""

from __future__ import annotations

from decimal import Decimal

import pytest

from tests.benchmarks.harness import Benchmark, benchmark, discover, shown


def one(*, bar: int, better: str = "less") -> Benchmark:
    return Benchmark(name="dip", bar=Decimal(bar), unit="s", better=better, database=False, measure=lambda: 0)  # type: ignore[arg-type]


def test_less_is_better_unless_said_otherwise() -> None:
    assert one(bar=20).clears(Decimal(20))
    assert not one(bar=20).clears(Decimal("20.1"))


def test_more_may_be_better() -> None:
    assert one(bar=3, better="more").clears(Decimal("3.5"))
    assert not one(bar=3, better="more").clears(Decimal("2.9"))


def test_a_line_holds_name_figure_bar_and_verdict() -> None:
    assert one(bar=20).line(Decimal("12.3456")).split() == ["dip", "12.3", "s", "bar", "≤", "20", "s", "ok"]
    assert one(bar=20).line(Decimal(31)).split()[-1] == "short"


@pytest.mark.parametrize(
    ("figure", "written"),
    [("0.0612", "0.0612"), ("7.25", "7.25"), ("38.21", "38.2"), ("1234.5", "1234"), ("3", "3")],
)
def test_a_figure_shows_three_digits_that_count(figure: str, written: str) -> None:
    assert shown(Decimal(figure)) == written


def test_two_benchmarks_never_share_a_name() -> None:
    discover()

    with pytest.raises(ValueError, match="Two benchmarks"):
        benchmark("demo_fill", bar=1, unit="s")(lambda: 0)


def test_every_benchmark_has_a_bar_and_says_what_it_measures() -> None:
    for found in discover().values():
        assert found.bar > 0
        assert found.measure.__doc__
