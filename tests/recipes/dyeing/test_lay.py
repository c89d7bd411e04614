"""The lay: sections that fit, in lengths and in parts. All checks are arithmetic on the hank's circumference."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from recipes.dyeing.lay import (
    PRESETS,
    Lay,
    LayUnclear,
    Section,
    check_lay,
    lay_as_json,
    lay_from_json,
    lay_from_rows,
    preset,
    read_extent,
    share_of_words,
)

THIRDS = Lay(tuple(Section(letter, Fraction(1, 3)) for letter in "ABC"), circumference_millimetres=1500)


@pytest.mark.parametrize(
    ("typed", "read"),
    [
        ("1/3", (Fraction(1, 3), None)),
        ("a third", (Fraction(1, 3), None)),
        ("two thirds", (Fraction(2, 3), None)),
        ("half", (Fraction(1, 2), None)),
        ("whole", (Fraction(1), None)),
        ("25 %", (Fraction(1, 4), None)),
        ("12,5%", (Fraction(1, 8), None)),
        ("20 cm", (None, 200)),
        ("7.5cm", (None, 75)),
        ("150 mm", (None, 150)),
        ("8 in", (None, 203)),
        ("rest", (None, None)),
        ("The rest", (None, None)),
    ],
)
def test_an_extent_is_a_part_a_length_or_the_rest(
    typed: str, read: tuple[Fraction | None, int | None]
) -> None:
    assert read_extent(typed) == read


@pytest.mark.parametrize(
    "typed", ["20", "3/2", "0 %", "120 %", "0 cm", "60 m", "1/0", "red", "-5 cm", "1,250 cm"]
)
def test_what_is_no_extent_is_said_in_a_sentence(typed: str) -> None:
    with pytest.raises(LayUnclear) as refused:
        read_extent(typed)

    assert str(refused.value).endswith(".")


def test_a_third_of_a_hank_of_a_metre_and_a_half_is_fifty_centimetres_and_half_of_that_folded() -> None:
    section = THIRDS.sections[0]
    folded = Lay(THIRDS.sections, folded=True, circumference_millimetres=1500)

    open_length, folded_length = THIRDS.length_of(section), folded.length_of(section)
    assert open_length is not None
    assert folded_length is not None
    assert (open_length.value, folded_length.value) == (500, 250)
    assert "150 cm ÷ 2" in folded_length.working.substitution


def test_a_length_is_a_part_of_the_hank_as_it_lies() -> None:
    lay = Lay((Section("A", millimetres=200), Section("B")), folded=True, circumference_millimetres=1600)

    assert lay.share_of(lay.sections[0]) == Fraction(1, 4)
    assert lay.share_of(lay.sections[1]) == Fraction(3, 4)


@pytest.mark.parametrize(
    ("sections", "circumference", "words"),
    [
        ([Section("A", Fraction(2, 3)), Section("B", Fraction(1, 2))], None, "do not fit"),
        ([Section("A", millimetres=900), Section("B", millimetres=700)], 1500, "160 cm"),
        ([Section("A", millimetres=900), Section("B", Fraction(1, 2))], 1500, "do not fit"),
        ([Section("A", millimetres=900), Section("B", Fraction(1, 2))], None, "circumference is not known"),
        ([Section("A"), Section("B")], None, "Only one section can be the rest"),
        ([Section("A", Fraction(1)), Section("B")], None, "Nothing is left"),
        ([Section("A", Fraction(1, 2)), Section("a", Fraction(1, 2))], None, "two sections called a"),
        ([Section("", Fraction(1, 2))], None, "letter or a name"),
        ([Section("A, B", Fraction(1, 2))], None, "no comma"),
        ([Section(f"S{n}", Fraction(1, 20)) for n in range(13)], None, "More than 12"),
    ],
)
def test_a_lay_that_cannot_be_is_refused_in_a_sentence(
    sections: list[Section], circumference: int | None, words: str
) -> None:
    with pytest.raises(LayUnclear, match=words):
        check_lay(Lay(tuple(sections), circumference_millimetres=circumference))


def test_the_row_that_is_wrong_is_named() -> None:
    with pytest.raises(LayUnclear) as refused:
        lay_from_rows(
            [("A", "1/3", "", ""), ("", "", "", ""), ("B", "long", "", "")],
            folded=False,
            circumference_millimetres=None,
        )

    assert refused.value.row == 2


def test_what_is_left_over_is_drawn_undyed() -> None:
    spans = Lay((Section("A", Fraction(1, 4)), Section("B", Fraction(1, 2)))).spans()

    assert [(span.name, span.start, span.end) for span in spans] == [
        ("A", 0, Fraction(1, 4)),
        ("B", Fraction(1, 4), Fraction(3, 4)),
        ("", Fraction(3, 4), 1),
    ]


@pytest.mark.parametrize("slug", PRESETS)
def test_each_usual_lay_is_the_whole_hank(slug: str) -> None:
    lay = lay_from_rows(
        [(name, extent, "", "") for name, extent in preset(slug)],
        folded=False,
        circumference_millimetres=None,
    )

    assert sum(span.share for span in lay.spans() if span.name) == 1


parts = st.lists(st.integers(1, 40), min_size=1, max_size=12)


@given(parts, st.booleans(), st.one_of(st.none(), st.integers(200, 5000)))
def test_a_lay_is_read_from_store_as_it_was_written_and_its_spans_never_overlap(
    weights: list[int], folded: bool, circumference: int | None
) -> None:
    total = sum(weights) + 1
    sections = tuple(
        Section(f"S{number}", Fraction(weight, total), words="x") for number, weight in enumerate(weights)
    )
    lay = check_lay(Lay(sections, folded, circumference))

    assert lay_from_json(lay_as_json(lay)) == lay
    spans = lay.spans()
    assert spans[0].start == 0
    assert spans[-1].end == 1
    assert all(before.end == after.start for before, after in pairwise(spans))


@pytest.mark.parametrize(
    ("section", "share"),
    [
        ("A", Fraction(1, 3)),
        ("a, c", Fraction(2, 3)),
        ("skein 2", Fraction(1, 5)),
        ("skein 1, skein 3", Fraction(2, 5)),
        ("first third", Fraction(1, 3)),
        ("half the hank", Fraction(1, 2)),
        ("two thirds of the hank", Fraction(2, 3)),
        ("left end", None),
        ("Z", None),
        ("A, Z", None),
    ],
)
def test_the_share_of_the_fibre_that_an_entry_names(section: str, share: Fraction | None) -> None:
    assert share_of_words(section, lay=THIRDS, pieces=5) == share


def test_a_lay_is_said_in_a_line() -> None:
    lay = Lay(
        (Section("A", Fraction(1, 3), words="red"), Section("tip", millimetres=100), Section("B")),
        folded=True,
        circumference_millimetres=1500,
    )

    assert lay.words == (
        "A 1/3 (25 cm), red; tip 10 cm; B the rest (40 cm); folded, so each lies on both legs"
    )
