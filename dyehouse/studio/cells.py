"""Cells of a list that a spreadsheet will open: nothing in them may run as a formula."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from decimal import Decimal
from typing import Any

#: What spreadsheets take for the beginning of a formula.
FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n")


def safe(cell: Any) -> str:
    """A cell as text. What would begin a formula gets an apostrophe, which spreadsheets show as text; a number is none."""
    if isinstance(cell, int | Decimal):
        return str(cell)
    text = "" if cell is None else str(cell)
    return f"'{text}" if text.lstrip(" \u00a0").startswith(FORMULA) else text


def list_of(rows: Iterable[Sequence[Any]]) -> str:
    """Rows as a list of comma-separated cells, with a mark at its beginning by which spreadsheets know that it is UTF-8."""
    written = io.StringIO(newline="")
    csv.writer(written).writerows([[safe(cell) for cell in row] for row in rows])
    return "\ufeff" + written.getvalue()
