"""What must never happen to a pot line: an error, an amount that was not typed, an amount out of a line in doubt."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from recipes.dyeing.potline import Known, Reading, describe, read_line
from recipes.dyeing.potline.naming import Bench
from recipes.dyeing.potline.numbers import join_numbers
from recipes.dyeing.potline.tokens import prepare, tokenise
from recipes.dyeing.potline.vocabulary import MEASURES

BENCH = (
    Known("bottle", "b1", "Red", strength_percent=Decimal(1)),
    Known("bottle", "b2", "Blue 25", strength_percent=Decimal("0.1")),
    Known("dye", 3, "Black and tan", ("no. 5",)),
    Known("jar", "j", "7"),
    Known("jar", "j2", "%"),
    Known("auxiliary", "a", "Acid", form="liquid"),
    Known("jug", "g", "Jug A"),
    Known("dye", "empty", ""),
)
_WORDS = (
    "5 12,5 .37 1/2 0 25.43 25.06 1,250 5-6 -5 14:20 25:99 2.10pm 1420h at + - -> , ; . ? ! ( ) % / x 2x 1% ° C F half "
    "two and a point three ml mils g mg oz kg l tsp pinch drops glug cup red teal blue 25 vinegar citric acid water "
    "jar jug A section B heat off on low pH p h temp up to clear same again no not forgot need or then about each "
    "almost more of the in pot out took tomorrow turned skeins yet it dip paint steam hold enter lift speckle wrap hank "
    "cm s min sections skein B C first third all on"
)
WORDS = tuple(_WORDS.split())

sentences = st.lists(st.sampled_from(WORDS), max_size=14).map(" ".join)
glued = st.lists(st.sampled_from(WORDS), max_size=8).map("".join)


def numbers_in(text: str) -> set[Fraction]:
    """Every number that stands in the line, and one for a measure that is named without a number."""
    tokens = join_numbers(tokenise(prepare(text)))
    return {token.value for token in tokens if token.value is not None} | {Fraction(1)}


def is_of_a_number(amount: int, numbers: set[Fraction]) -> bool:
    sizes = {measure.size for measure in MEASURES.values()} | {Fraction("29573.5295625"), Fraction("4546090")}
    return any(abs(number * size - amount) <= Fraction(1, 2) for number in numbers for size in sizes)


@given(
    st.one_of(st.text(), sentences, glued),
    st.booleans(),
    st.sampled_from(["", "00:00", "15:30", "later", "99:99"]),
)
@example("\u202e5 ml red", False, "")
@example("٥ ml red", False, "")
@example("5\u0336 ml \u0000red", False, "")
@example("½½ ml", False, "")
@example("1/0 ml red", False, "")
@example("9" * 400 + " ml red", False, "")
@example("jar 5 5 %", False, "")
def test_no_line_is_an_error(text: str, fahrenheit: bool, now: str) -> None:
    for known in ((), BENCH):
        for reading in read_line(text, fahrenheit=fahrenheit, known=known, now=now):
            assert describe(reading)
            assert len(reading.text) <= 500
            assert len(reading.question) <= 300
            assert len(reading.name) <= 80
            assert len(reading.as_typed) <= 200
            assert len(reading.section) <= 60
            assert "\x00" not in reading.text + reading.name + reading.as_typed


@given(st.one_of(sentences, glued))
def test_an_amount_is_always_a_number_of_the_line(text: str) -> None:
    numbers = numbers_in(text)
    for reading in read_line(text):
        if reading.microlitres is not None:
            assert is_of_a_number(reading.microlitres, numbers)
        elif reading.jar_before_milligrams is not None and reading.jar_after_milligrams is not None:
            assert is_of_a_number(reading.jar_before_milligrams, numbers)
            assert is_of_a_number(reading.jar_after_milligrams, numbers)
            assert reading.milligrams == reading.jar_before_milligrams - reading.jar_after_milligrams
        elif reading.milligrams is not None:
            assert is_of_a_number(reading.milligrams, numbers)


@given(sentences)
def test_a_step_says_only_numbers_of_the_line(text: str) -> None:
    numbers = numbers_in(text) | {Fraction(25_4, 10)}
    for reading in read_line(text, known=BENCH, sections=("A", "tip")):
        if reading.kind != "technique":
            assert (reading.seconds, reading.millimetres, reading.hanks) == (None, None, None)
            continue
        sums = numbers | {first + second / 60 for first in numbers for second in numbers}
        times = {number * unit for number in sums for unit in (1, 60, 3600)}
        assert reading.seconds is None or reading.seconds in times
        lengths = {round(number * unit) for number in numbers for unit in (1, 10, Fraction(254, 10))}
        assert reading.millimetres is None or reading.millimetres in lengths
        ordinals_and_lists = {Fraction(count) for count in range(1, 8)}
        assert reading.hanks is None or reading.hanks in numbers | ordinals_and_lists


@given(
    st.sampled_from(["red on A and C", "red on sections A, B", "red on skeins 1 and 3", "red on A & B"]),
    st.integers(1, 900),
)
def test_one_amount_on_several_sections_is_asked_about_unless_it_is_in_all(
    rest: str, millilitres: int
) -> None:
    (asked,) = read_line(f"{millilitres} ml {rest}")
    (said,) = read_line(f"{millilitres} ml {rest} in all")

    assert (asked.kind, asked.microlitres, bool(asked.question)) == ("note", None, True)
    assert (said.kind, said.microlitres) == ("stock", millilitres * 1000)


@given(sentences)
def test_an_addition_has_one_amount_above_nothing_and_anything_else_has_none(text: str) -> None:
    for reading in read_line(text, known=BENCH):
        amounts = [reading.microlitres, reading.milligrams]
        if reading.is_addition:
            given_amounts = [amount for amount in amounts if amount is not None]
            assert len(given_amounts) == 1 or (not given_amounts and reading.as_typed)
            assert all(amount > 0 for amount in given_amounts)
        else:
            assert amounts == [None, None]
            assert not reading.as_typed


@given(
    st.sampled_from(
        [
            "need {0}",
            "{0}?",
            "tomorrow {0}",
            "didn't add {0}",
            "{0} not added",
            "forgot {0}",
            "forgot acid, {0}",
            "no, {0}",
            "{0}, no 6",
            "{0}, not 6",
            "{0} x3",
            "2x{0}",
            "{0} each",
            "if clear, {0}",
            "once it is clear, {0}",
            "{0}, spilled it",
            "-{0}",
            "took out {0}",
            "{0} or 6 ml",
            "{0} and teal",
            "{0} in the other pot",
            "{0} in 1 l water",
            "99:99 {0}",
            "maybe {0}",
            "to add {0}",
            "make that {0}",
            "5 and {0}",
            "{0} per skein",
            "{0} left in the bottle",
            "less than {0}",
        ]
    ),
    st.sampled_from(
        ["5 ml red", "0.37 g violet", "red 5 ml", "ten mils of teal", "20 ml vinegar", "jar 25.4 25.1 red"]
    ),
    st.sampled_from(["", "14:20 ", "then ", "so ", "14:20, ", "lid on, ", "85 C; ", "3 ml blue, "]),
)
def test_what_was_not_surely_done_is_never_an_addition(doubt: str, addition: str, before: str) -> None:
    readings = read_line(before + doubt.format(addition))

    assert not [reading for reading in readings if reading.is_addition and reading.name != "blue"]


@given(
    st.integers(1, 2_000_000),
    st.sampled_from(["red", "teal", "jade green"]),
    st.sampled_from(["", "0.1", "1", "2.5"]),
    st.sampled_from(["", "09:05", "14:20"]),
    st.booleans(),
)
def test_a_stock_said_back_is_read_the_same_again(
    microlitres: int, name: str, strength: str, clock: str, about: bool
) -> None:
    reading = Reading(
        kind="stock", name=name, microlitres=microlitres, strength_percent=strength, clock=clock, about=about
    )
    (again,) = read_line(describe(reading), now="15:00")

    assert _essence(again) == _essence(reading) or _asked_about_its_third_decimal(again, microlitres)


@given(st.integers(1, 299_000), st.sampled_from(["violet", "citric"]), st.booleans())
def test_a_powder_said_back_is_read_the_same_again(milligrams: int, name: str, about: bool) -> None:
    kind = "auxiliary" if name == "citric" else "powder"
    reading = Reading(kind=kind, name=name, milligrams=milligrams, about=about)
    (again,) = read_line(describe(reading))

    assert _essence(again) == _essence(reading) or _asked_about_its_third_decimal(again, milligrams)


@pytest.mark.parametrize(
    "typed",
    ["82.5 C", "pH 4.55", "15:02 heat on low", "heat off", "2 pinches of black", "10 l water", "bath clear"],
)
def test_what_is_seen_at_the_pot_is_read_the_same_when_said_back(typed: str) -> None:
    (reading,) = read_line(typed)
    (again,) = read_line(describe(reading))

    assert _essence(again) == _essence(reading)
    assert (again.celsius, again.ph, again.on, again.level) == (
        reading.celsius,
        reading.ph,
        reading.on,
        reading.level,
    )


def _asked_about_its_third_decimal(again: Reading, amount: int) -> bool:
    """1.001 g is 1,001 g to some, so it is asked about where both could be meant."""
    return again.kind == "note" and "two ways" in again.question and amount > 1000 and amount % 10 != 0


def _essence(reading: Reading) -> tuple[object, ...]:
    return (
        reading.kind,
        reading.name,
        reading.microlitres,
        reading.milligrams,
        reading.as_typed,
        reading.strength_percent,
        reading.clock,
        reading.about,
    )


@given(st.text(alphabet=st.characters(codec="utf-8"), max_size=40))
def test_a_name_of_any_letters_can_be_looked_up(name: str) -> None:
    thing = Known("dye", 1, name)
    bench = Bench((thing, *BENCH))

    for found in bench.find(name).things:
        assert found in bench.things
