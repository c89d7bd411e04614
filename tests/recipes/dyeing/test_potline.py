"""What lines at the pot are read as: the two files of lines beside this test, and the studio's own names."""

from __future__ import annotations

import json
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from recipes.dyeing.potline import Known, Reading, describe, read_line

HERE = Path(__file__).parent

BENCH = (
    Known("dye", "dye:red", "Red"),
    Known("dye", "dye:blue 25", "Blue 25"),
    Known("dye", "dye:violet", "Violet"),
    Known("dye", "dye:camel", "Camel"),
    Known("dye", "dye:turquoise", "Turquoise"),
    Known("bottle", "bottle:red 1", "Red 1 %", strength_percent=Decimal(1)),
    Known("bottle", "bottle:red 0.1", "Red 0.1 %", strength_percent=Decimal("0.1")),
    Known("bottle", "bottle:turquoise", "Turquoise", strength_percent=Decimal(1)),
    Known("bottle", "bottle:blue", "Blue", strength_percent=Decimal(1)),
    Known("bottle", "bottle:blue 25", "Blue 25", strength_percent=Decimal("0.50")),
    Known("bottle", "bottle:tan", "Black and tan", strength_percent=Decimal(2)),
    Known("bottle", "bottle:camel", "Camel", strength_percent=Decimal(1)),
    Known("jar", "jar:violet", "Violet lot 7"),
    Known("jar", "jar:red A", "Red A"),
    Known("jar", "jar:red B", "Red B"),
    Known("auxiliary", "aux:vinegar", "Vinegar 5 %", form="liquid", strength_percent=Decimal(5)),
    Known("auxiliary", "aux:citric", "Citric acid", ("citric",), form="powder"),
    Known("auxiliary", "aux:as", "Ammonium sulphate", ("AS",), form="powder"),
    Known("jug", "jug:A", "Jug A"),
)


def lines(name: str) -> list[dict[str, Any]]:
    with (HERE / name).open(encoding="utf-8") as file:
        rows = [json.loads(row) for row in file]
    return rows[1:]


def said(reading: Reading) -> dict[str, Any]:
    """A reading in the words of the files."""
    pairs = {
        field: getattr(reading, field)
        for field in (
            "kind",
            "name",
            "clock",
            "section",
            "as_typed",
            "strength_percent",
            "level",
            "on",
            "technique",
        )
    }
    pairs |= {
        field: getattr(reading, field)
        for field in ("microlitres", "milligrams", "jar_before_milligrams", "jar_after_milligrams")
    }
    pairs |= {field: getattr(reading, field) for field in ("seconds", "millimetres", "hanks")}
    pairs |= {"about": reading.about or None, "asks": bool(reading.question) or None}
    pairs |= {"celsius": reading.celsius and str(reading.celsius), "ph": reading.ph and str(reading.ph)}
    pairs |= {"text": reading.text if reading.kind == "note" else None}
    return {field: value for field, value in pairs.items() if value is not None and value != ""}


@pytest.mark.parametrize("line", lines("pot_lines.jsonl"), ids=lambda line: line["typed"])
def test_a_line_is_read_as_the_dyer_meant_it(line: dict[str, Any]) -> None:
    wanted = line["read"] if isinstance(line["read"], list) else [line["read"]]
    readings = read_line(line["typed"])

    assert [_as_far_as(want, reading) for want, reading in zip(wanted, readings, strict=True)] == wanted


def _as_far_as(want: dict[str, Any], reading: Reading) -> dict[str, Any]:
    """A reading in the file's words, without the question and the level of heat, of which that file says nothing."""
    got = said(reading)
    got |= {"value": got.get("ph", True)} if "value" in want else {}
    return {field: value for field, value in got.items() if field not in ("asks", "level", "ph")}


@pytest.mark.parametrize(
    "line", lines("pot_lines_ours.jsonl"), ids=lambda line: line["typed"].encode("ascii", "replace").decode()
)
def test_a_line_of_ours_is_read_as_meant_or_asked_about(line: dict[str, Any]) -> None:
    wanted = line["read"] if isinstance(line["read"], list) else [line["read"]]
    readings = read_line(line["typed"], fahrenheit=line.get("fahrenheit", False), now=line.get("now", ""))

    assert [said(reading) for reading in readings] == wanted


@pytest.mark.parametrize(
    ("typed", "match"),
    [
        ("5 ml red 1%", "bottle:red 1"),
        ("5 ml red 0.1 %", "bottle:red 0.1"),
        ("5ml red1%", "bottle:red 1"),
        ("5 ml blue", "bottle:blue"),
        ("5 ml blue 25", "bottle:blue 25"),
        ("blue 25 5 ml", "bottle:blue 25"),
        ("blue 25 ml", "bottle:blue"),
        ("5 ml black and tan", "bottle:tan"),
        ("5 ml camel", "bottle:camel"),
        ("200 ml jug A", "jug:A"),
        ("0.37 g violet", "jar:violet"),
        ("violet lot 7 jar 25.43 25.06", "jar:violet"),
        ("jar 25.43 25.06 blue 25", "dye:blue 25"),
        ("20 ml vinegar", "aux:vinegar"),
        ("10 g citric", "aux:citric"),
        ("10 g AS", "aux:as"),
        ("1/2 tsp turquoise", "dye:turquoise"),
    ],
)
def test_a_name_is_matched_to_the_one_thing_it_means(typed: str, match: str) -> None:
    (reading,) = read_line(typed, known=BENCH)

    assert (reading.match, reading.question) == (match, "")


def test_a_name_that_means_two_bottles_is_matched_to_none_and_names_them() -> None:
    (reading,) = read_line("5 ml red", known=BENCH)

    assert (reading.kind, reading.microlitres, reading.match) == ("stock", 5000, None)
    assert reading.question == "Which one: Red 1 % or Red 0.1 %?"


def test_two_jars_of_one_dye_are_asked_about() -> None:
    (reading,) = read_line("2 g red", known=BENCH)

    assert (reading.match, reading.question) == (None, "Which one: Red A or Red B?")


def test_a_bare_acid_is_not_guessed_where_two_are_kept() -> None:
    (reading,) = read_line("20 ml acid", known=BENCH)

    assert (reading.match, reading.question) == (None, "Which one: Vinegar 5 % or Citric acid?")


def test_a_misspelt_name_is_matched_and_asked_about() -> None:
    (reading,) = read_line("5 ml torquoise", known=BENCH)

    assert (reading.match, reading.question) == ("bottle:turquoise", "Is “torquoise” Turquoise?")


def test_a_strength_that_no_bottle_has_keeps_the_dye_and_asks() -> None:
    (reading,) = read_line("5 ml red 2%", known=BENCH)

    assert (reading.match, reading.strength_percent) == ("dye:red", "2")
    assert reading.question == "There is no Red of 2 % here. Which bottle was it?"


def test_an_unknown_name_stays_an_addition_and_asks() -> None:
    (reading,) = read_line("5 ml mauve", known=BENCH)

    assert (reading.kind, reading.microlitres, reading.match) == ("stock", 5000, None)
    assert "mauve" in reading.question


def test_a_known_name_with_more_behind_it_is_a_note() -> None:
    (reading,) = read_line("5 ml turquoise vanished", known=BENCH)

    assert (reading.kind, reading.microlitres) == ("note", None)
    assert "Turquoise" in reading.question


def test_a_volume_of_an_auxiliary_kept_as_powder_is_kept_as_typed() -> None:
    (reading,) = read_line("20 ml citric", known=BENCH)

    assert (reading.microlitres, reading.milligrams, reading.as_typed) == (None, None, "20 ml")
    assert reading.question


def test_the_names_of_two_dyes_beside_one_amount_are_asked_about() -> None:
    (reading,) = read_line("5 ml red 1% and camel", known=BENCH)

    assert reading.kind == "note"
    assert reading.question


@pytest.mark.parametrize(
    ("typed", "shown"),
    [
        ("14:20 5 ml red 1%", "5 ml of Red 1 % at 14:20"),
        ("5 ml blue 25", "5 ml of Blue 25, 0.5 %"),
        ("about 20 ml vinegar", "about 20 ml of Vinegar 5 %"),
        ("jar 25.43 25.06 violet", "0.37 g of Violet lot 7 (jar 25.43 g to 25.06 g)"),
        ("1/2 tsp turquoise", "1/2 tsp of Turquoise"),
        ("10 l water", "10 litres of water"),
        ("1 cup water", "1 cup (236.588 ml) of water"),
        ("5 ml blue on section B", "5 ml of Blue 1 % on section B"),
        ("180F", "82.22 °C"),
        ("ph now 5,2", "pH 5.2"),
        ("15:02 heat on low", "Heat on low at 15:02"),
        ("heat off", "Heat off"),
        ("clear!", "Bath clear"),
        ("same again", "The last addition once more"),
        ("turned skeins", "Note: turned skeins"),
    ],
)
def test_a_reading_is_said_back_in_one_line(typed: str, shown: str) -> None:
    (reading,) = read_line(typed, known=BENCH)

    assert describe(reading) == shown


def test_us_measures_stand_beside_the_metric_ones() -> None:
    (water,) = read_line("2 gal warm water")
    (bath,) = read_line("82 C")

    assert describe(water, us=True) == "7.57 litres (2 US gal) of water"
    assert describe(bath, us=True) == "82 °C (180 °F)"


def test_an_empty_line_says_nothing() -> None:
    assert read_line("") == []
    assert read_line(" \t\u200b\x00 ") == []


def test_a_line_too_long_is_one_note_cut_to_what_the_log_keeps() -> None:
    (reading,) = read_line("5 ml red, " * 100)

    assert reading.kind == "note"
    assert len(reading.text) <= 500
    assert reading.question


def test_a_pasted_list_is_read_line_by_line() -> None:
    readings = read_line("5 ml red\n10 ml teal\r\nheat off")

    assert [reading.kind for reading in readings] == ["stock", "stock", "heat"]


def test_no_control_character_is_kept() -> None:
    (reading,) = read_line("turned\x00 skeins\u2066")

    assert reading.text == "turned skeins"
