"""A list as a spreadsheet saves it, read into a header and numbered rows, or refused with a sentence."""

from __future__ import annotations

import codecs
import csv
import hashlib
import io
import json
import unicodedata
from collections.abc import Collection, Sequence
from dataclasses import dataclass

from dyehouse.studio.refusals import Refused
from recipes.words import one_line

MEGABYTE = 1024 * 1024
MOST_BYTES = 2 * MEGABYTE
MOST_ROWS = 5_000
MOST_CELLS = 60
LONGEST_CELL = 1_000
DELIMITERS = (",", ";", "\t")

SAVE_AS = "Save it as CSV (comma separated, UTF-8) from the spreadsheet and choose that file."
NOT_A_LIST = f"This file is not a list in plain text. {SAVE_AS}"
# What files begin with that people choose by mistake for a list.
_BEGINNINGS = (
    (b"PK\x03\x04", f"This is a spreadsheet itself, not a list in plain text. {SAVE_AS}"),
    (b"\xd0\xcf\x11\xe0", f"This is a spreadsheet of an old kind, not a list in plain text. {SAVE_AS}"),
    (b"%PDF", f"This is a PDF. {SAVE_AS}"),
    (b"\x1f\x8b", "This file is packed. Unpack it first and choose the list in it."),
)


class FileRefused(Refused):
    """The file is no list that can be read, or too large a one."""


@dataclass(frozen=True, slots=True)
class Table:
    """A list as read: its column names, and its rows with the number that the spreadsheet shows beside each.

    Cells are single lines without spaces around them. `digest` is the same for the same cells, however the file was saved.
    """

    header: tuple[str, ...]
    rows: tuple[tuple[int, tuple[str, ...]], ...]
    digest: str


def text_of(content: bytes, *, most_bytes: int = MOST_BYTES) -> str:
    """The text of a file in UTF-8 (with or without a mark), UTF-16, or the Western code page 1252. Raises FileRefused."""
    if len(content) > most_bytes:
        raise FileRefused(
            f"This file is larger than {most_bytes // MEGABYTE} MB. Split the list and take in one part after the other."
        )
    for beginning, sentence in _BEGINNINGS:
        if content.startswith(beginning):
            raise FileRefused(sentence)
    for encoding in _encodings(content):
        try:
            return content.decode(encoding)
        except UnicodeDecodeError:
            continue
    raise FileRefused(
        "The letters of this file cannot be told: it is neither UTF-8 nor UTF-16 nor Western European. "
        + SAVE_AS
    )


def _encodings(content: bytes) -> tuple[str, ...]:
    if content.startswith(codecs.BOM_UTF8):
        return ("utf-8-sig",)
    if content.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return ("utf-16",)
    zeros = content.count(0)
    if zeros * 4 >= len(content) > 0:
        # UTF-16 without its mark: plain letters have their zero byte second (little end first) or first.
        return ("utf-16-le",) if content[1::2].count(0) > zeros // 2 else ("utf-16-be",)
    return ("utf-8", "cp1252")


def read_table(
    text: str,
    *,
    columns: Collection[str] | None,
    most_rows: int = MOST_ROWS,
    most_bytes: int = MOST_BYTES,
) -> Table:
    """The rows of a list whose first row names columns, cells parted by commas, semicolons or tabs. Raises FileRefused.

    `columns` are the names that may stand there, in small letters; they tell what the cells are parted by. None stands
    for names that nobody knows yet: then it is what parts the first row into most cells.
    """
    _refuse_what_is_no_text(text, most_bytes)
    lines, skipped = _without_hint(text)
    if not lines.strip():
        raise FileRefused("This file is empty. Begin with a row of column names; the examples show them.")
    records = _records(lines, _delimiter(lines, columns), most_rows)
    header = tuple(column_key(cell) for cell in records[0])
    rows = tuple(
        (number, cells)
        for number, cells in enumerate(
            (tuple(one_line(cell) for cell in each) for each in records[1:]), 2 + skipped
        )
        if any(cells)
    )
    if len(rows) > most_rows:
        raise FileRefused(
            f"This list has {len(rows):,} rows, and {most_rows:,} are the most at once. Split it and take in one part "
            "after the other."
        )
    plain = json.dumps([header, [cells for _, cells in rows]], ensure_ascii=False)
    return Table(header, rows, hashlib.sha256(plain.encode()).hexdigest())


def column_key(name: str) -> str:
    """A column's name as it is compared: small letters, single spaces, no dashes or underscores."""
    return one_line(name.replace("-", " ").replace("_", " ")).casefold()


def _refuse_what_is_no_text(text: str, most_bytes: int) -> None:
    if len(text) > most_bytes:
        raise FileRefused(
            f"This list is larger than {most_bytes // MEGABYTE} MB. Split it and take in one part after the other."
        )
    if any(unicodedata.category(character) == "Cc" and character not in "\t\r\n" for character in set(text)):
        raise FileRefused(NOT_A_LIST)


def _without_hint(text: str) -> tuple[str, int]:
    """The text without a first line like `sep=;`, which some spreadsheets write, and how many lines that were."""
    first, mark, rest = text.partition("\n")
    if mark and first.strip().strip('"').lower().startswith("sep="):
        return rest, 1
    return text, 0


def _delimiter(text: str, columns: Collection[str] | None) -> str:
    """What parts the cells: that by which the first row names most columns."""

    def named(delimiter: str) -> int:
        try:
            first = next(iter(csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)), [])
        except csv.Error:
            # A first cell beyond all measure; reading the records says so in words.
            return 0
        return sum(1 for cell in first if cell and (columns is None or column_key(cell) in columns))

    return max(DELIMITERS, key=named)


def _records(text: str, delimiter: str, most_rows: int) -> Sequence[Sequence[str]]:
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    records: list[list[str]] = []
    try:
        for record in reader:
            if len(record) > MOST_CELLS or any(len(cell) > LONGEST_CELL for cell in record):
                raise FileRefused(
                    f"Row {len(records) + 1} has more or longer cells than such a list has. "
                    "Look for a quotation mark without its partner."
                )
            records.append(record)
            if len(records) > 2 * most_rows:
                raise FileRefused(
                    f"This list has more than {most_rows:,} rows. Split it and take in the parts."
                )
    except csv.Error:
        raise FileRefused(
            f"Row {len(records) + 1} cannot be read: a quotation mark has no partner. Write it twice inside a cell, "
            "or leave it out."
        ) from None
    return records
