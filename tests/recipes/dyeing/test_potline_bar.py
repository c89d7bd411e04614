"""The lines at the pot are many, typed and dictated, and no amount is read wrong in any of them."""

from __future__ import annotations

import re
from typing import Any

import pytest

from recipes.dyeing.potline import Reading, read_line
from tests.recipes.dyeing.test_potline import lines, said

AT_LEAST = 500
AT_LEAST_WITH_AN_AMOUNT = 150
AT_LEAST_DICTATED = 60

AMOUNTS = ("milligrams", "microlitres", "jar_before_milligrams", "jar_after_milligrams")
SPOKEN = re.compile(
    r"\b(?:one|two|three|four|five|six|seven|eight|nine|ten|twelve|fifteen|twenty|thirty|forty|fifty|hundred|half|quarter|"
    r"point|mils?|oh)\b"
)


def all_lines() -> list[dict[str, Any]]:
    """Every line of the three files once."""
    rows = [
        line
        for name in ("pot_lines.jsonl", "pot_lines_ours.jsonl", "pot_lines_dictated.jsonl")
        for line in lines(name)
    ]
    return list({row["typed"]: row for row in rows}.values())


def wanted(line: dict[str, Any]) -> list[dict[str, Any]]:
    found = line["read"] if isinstance(line["read"], list) else [line["read"]]
    return [{name: each[name] for name in AMOUNTS if name in each} for each in found]


def read(line: dict[str, Any]) -> list[dict[str, int]]:
    readings: list[Reading] = read_line(
        line["typed"], fahrenheit=line.get("fahrenheit", False), now=line.get("now", "")
    )
    return [
        {name: getattr(each, name) for name in AMOUNTS if getattr(each, name) is not None}
        for each in readings
    ]


def test_there_are_enough_lines_typed_and_dictated():
    rows = all_lines()
    dictated = [
        row for row in rows if not re.search(r"\d", row["typed"]) and SPOKEN.search(row["typed"].lower())
    ]

    assert len(rows) >= AT_LEAST
    assert sum(1 for row in rows if any(wanted(row))) >= AT_LEAST_WITH_AN_AMOUNT
    assert len(dictated) >= AT_LEAST_DICTATED


@pytest.mark.parametrize("line", lines("pot_lines_dictated.jsonl"), ids=lambda line: line["typed"])
def test_a_dictated_line_is_read_as_meant(line: dict[str, Any]) -> None:
    meant = line["read"] if isinstance(line["read"], list) else [line["read"]]

    assert [said(reading) for reading in read_line(line["typed"])] == meant


def test_not_one_amount_is_wrong():
    wrong = {row["typed"]: (read(row), wanted(row)) for row in all_lines() if read(row) != wanted(row)}

    assert wrong == {}
