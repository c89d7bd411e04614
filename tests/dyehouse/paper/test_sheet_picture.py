"""The picture of a sheet shows each label once, and marks those that would be printed."""

from __future__ import annotations

import re

import pytest

from dyehouse.paper.sheet_picture import filling, sheet_picture
from dyehouse.paper.sheets import SHEETS, sheet_named


@pytest.mark.parametrize(
    "sheet", [sheet for sheet in SHEETS if not sheet.is_roll], ids=lambda sheet: sheet.slug
)
def test_every_label_of_a_sheet_is_drawn_once(sheet):
    drawn = re.findall(r'data-label="(\d+)"', sheet_picture(sheet, start_at=1, count=0))

    assert drawn == [str(number) for number in range(1, sheet.labels + 1)]


def test_the_labels_that_would_be_printed_are_marked():
    picture = sheet_picture(sheet_named("a4-3x8"), start_at=6, count=4)

    assert re.findall(r'data-label="(\d+)" data-used', picture) == ["6", "7", "8", "9"]


# Labels 63.5 x 33.9 mm, gap 2.5 mm, on A4: left 7.25, top 12.9 mm (labels_standards.md, check 80, computed there).
def test_a_label_lies_where_it_lies_on_the_sheet():
    picture = sheet_picture(sheet_named("a4-3x8"), start_at=1, count=1)

    assert '<rect x="7.250" y="12.900" width="63.500" height="33.900"' in picture


def test_a_roll_needs_no_picture():
    assert sheet_picture(sheet_named("roll-100x150"), start_at=1, count=3) == ""


@pytest.mark.parametrize(
    ("start_at", "count", "words"),
    [(6, 4, "Labels 6 to 9"), (6, 1, "Label 6"), (20, 30, "From label 20, on 3 sheets"), (24, 1, "Label 24")],
)
def test_where_labels_come_to_lie_is_said_in_words(start_at: int, count: int, words: str):
    assert filling(sheet_named("a4-3x8"), start_at=start_at, count=count).words == words


def test_nothing_is_said_of_no_label_or_one_beyond_the_sheet():
    assert filling(sheet_named("a4-3x8"), start_at=1, count=0) is None
    assert filling(sheet_named("a4-3x8"), start_at=25, count=1) is None
