"""Lists as spreadsheets save them are read alike; what is no list is refused with a sentence."""

from __future__ import annotations

import contextlib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inventory.opening.columns import BY_KEY
from recipes.lists.reading import MOST_BYTES, MOST_ROWS, FileRefused, read_table, text_of

PLAIN = "kind,base,put-up grams,quantity\r\nyarn,Señora Ångström,100,5\r\n"


def table(text: str):
    return read_table(text, columns=BY_KEY)


@pytest.mark.parametrize(
    "content",
    [
        PLAIN.encode(),
        b"\xef\xbb\xbf" + PLAIN.encode(),
        PLAIN.encode("cp1252"),
        PLAIN.encode("utf-16"),
        b"\xfe\xff" + PLAIN.encode("utf-16-be"),
        PLAIN.encode("utf-16-le"),
        PLAIN.encode("utf-16-be"),
    ],
    ids=["utf-8", "utf-8 with a mark", "1252", "utf-16", "utf-16 big", "utf-16 bare", "utf-16 bare, big"],
)
def test_a_list_is_the_same_however_its_letters_were_saved(content: bytes):
    read = table(text_of(content))

    assert read.rows == ((2, ("yarn", "Señora Ångström", "100", "5")),)
    assert read.digest == table(PLAIN).digest


@pytest.mark.parametrize("mark", [";", "\t"])
def test_cells_may_be_parted_by_semicolons_or_tabs(mark: str):
    assert table(PLAIN.replace(",", mark)).rows == table(PLAIN).rows


# RFC 4180, rules 5 to 7: fields in double quotes, a quote inside written twice, line breaks inside.
def test_quoted_cells_are_read_as_the_standard_says():
    read = table('kind,name\r\ndye,"4"" sock, ""Fox"""\r\ndye,"two\r\nlines"\r\n')

    assert [cells[1] for _, cells in read.rows] == ['4" sock, "Fox"', "two lines"]


def test_rows_are_numbered_as_the_spreadsheet_numbers_them():
    read = table("kind,name\n\n,\ndye,Red\n\ndye,Blue\n")

    assert [number for number, _ in read.rows] == [4, 6]


def test_a_hint_for_spreadsheets_before_the_header_is_passed_over():
    assert table("sep=;\nkind;name\ndye;Red\n").rows == ((3, ("dye", "Red")),)


@pytest.mark.parametrize(
    ("content", "sentence"),
    [
        (b"PK\x03\x04rest of a workbook", "This is a spreadsheet itself"),
        (b"%PDF-1.7", "This is a PDF"),
        (b"\x1f\x8b\x08", "This file is packed"),
        (b"x" * (MOST_BYTES + 1), "larger than 2 MB"),
        (b"kind,name\x81\x8d\n", "letters of this file cannot be told"),
    ],
)
def test_other_files_are_refused_with_what_to_do(content: bytes, sentence: str):
    with pytest.raises(FileRefused, match=sentence):
        text_of(content)


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("", "This file is empty"),
        ("kind,name\ndye,Re\0d", "not a list in plain text"),
        ("kind,name\ndye,Re\x1bd", "not a list in plain text"),
        ('kind,name\ndye,"Red', "Row 2 cannot be read"),
        ('kind,name\ndye,"Red"x', "Row 2 cannot be read"),
        ("kind,name\n" + "dye,Red\n" * (MOST_ROWS + 1), "has 5,001 rows, and 5,000 are the most"),
        ("kind,name\n" + "x" * 2000, "more or longer cells"),
        ("kind" + "," * 100, "more or longer cells"),
        ("x" * 200_000, "cannot be read|longer cells"),
        ('"' + "x" * 200_000, "cannot be read|longer cells"),
    ],
)
def test_spoilt_lists_are_refused_with_the_row(text: str, sentence: str):
    with pytest.raises(FileRefused, match=sentence):
        table(text)


@given(st.binary(max_size=400))
@settings(max_examples=200, deadline=None)
def test_whatever_the_bytes_they_are_read_or_refused(content: bytes):
    with contextlib.suppress(FileRefused):
        read_table(text_of(content), columns=BY_KEY)
