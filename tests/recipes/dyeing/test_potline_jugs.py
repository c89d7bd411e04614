"""A jug in the pot line: whatever its code or name, the amount read is the one typed, or nothing is read."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from recipes.dyeing.potline import read_line
from recipes.dyeing.potline.reading import Known

CLEAR = "23456789ABCDEFGHJKLMNPQRSTUVWXYZ"
codes = st.text(CLEAR, min_size=5, max_size=5)
names = st.sampled_from(
    ["evening", "low tide", "fog 2", "clear", "water", "heat", "mix", "red wine", "half", "acid rain", "more"]
)


def bench(code: str, name: str = "") -> tuple[Known, ...]:
    """One red dye, a vinegar, and a jug."""
    said = [part for part in (name, code, code[:3]) if part]
    called = tuple(f"{holder} {part}" for part in said for holder in ("mix", "jug"))
    return (
        Known("bottle", 1, "Red"),
        Known("jar", 1, "Red"),
        Known("dye", 1, "Red"),
        Known("auxiliary", 2, "Vinegar", form="liquid"),
        Known("jug", 7, f"mix {name or code}", (*called, name) if name else called),
    )


@given(
    code=codes,
    lower=st.booleans(),
    short=st.booleans(),
    millilitres=st.integers(1, 2_000),
    holder=st.sampled_from(["jug", "mix"]),
    between=st.sampled_from([" ml of ", " ml ", "ml ", " ml of the ", " ml from ", " ml from the "]),
)
def test_any_code_names_its_jug_and_never_changes_the_amount(
    code, lower, short, millilitres, holder, between
):
    said = code[:3] if short else code
    typed = f"{millilitres}{between}{holder} {said.lower() if lower else said}"

    (reading,) = read_line(typed, known=bench(code))

    assert (reading.kind, reading.match, reading.match_kind) == ("stock", 7, "jug"), typed
    assert (reading.microlitres, reading.question) == (millilitres * 1000, ""), typed


@given(code=codes, name=names, millilitres=st.integers(1, 2_000), with_holder=st.booleans())
def test_any_name_is_read_with_the_amount_that_was_typed_or_not_at_all(code, name, millilitres, with_holder):
    typed = f"{millilitres} ml {'jug ' if with_holder else ''}{name}"

    read = read_line(typed, known=bench(code, name))

    for reading in read:
        assert reading.microlitres in (None, millilitres * 1000), typed
        assert reading.milligrams is None, typed
    if with_holder:
        assert [reading.match for reading in read] == [7], typed


@pytest.mark.parametrize(
    ("typed", "microlitres"),
    [("5 ml red", [5_000]), ("7.5 l water", [7_500_000]), ("5 ml red and 10 ml vinegar", [5_000, 10_000])],
)
@given(code=codes, name=names)
def test_a_jug_on_the_bench_changes_nothing_else(typed, microlitres, code, name):
    read = read_line(typed, known=bench(code, name))

    assert [reading.microlitres for reading in read] == microlitres
    assert all(reading.match_kind != "jug" for reading in read)
