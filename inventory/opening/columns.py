"""The columns of a list of opening stock: what each means, which kind of row uses it, and a small example of each kind."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum


class Kind(Enum):
    """What a row is about; the value is what stands in its first cell."""

    YARN = "yarn"
    DYE = "dye"
    STOCK = "stock"
    AUXILIARY = "auxiliary"
    DYED = "dyed yarn"


@dataclass(frozen=True, slots=True)
class Column:
    """One column: its name, what stands in it, the kinds of row that have it and those that cannot do without."""

    name: str
    means: str
    used: frozenset[Kind]
    needed: frozenset[Kind]


_ALL = frozenset(Kind)
_PIECES = frozenset({Kind.YARN, Kind.DYED})
_DYES = frozenset({Kind.DYE, Kind.STOCK})
_NONE: frozenset[Kind] = frozenset()

COLUMNS: tuple[Column, ...] = (
    Column("kind", "yarn, dye, stock, auxiliary or dyed yarn", _ALL, _ALL),
    Column("name", "of the dye or the auxiliary", _DYES | {Kind.AUXILIARY}, _DYES | {Kind.AUXILIARY}),
    Column("base", "the undyed yarn line; a new name makes a new base", _PIECES, _PIECES),
    Column("put-up grams", "what a piece weighs: 100, 50, 20", _PIECES, _PIECES),
    Column("metres", "length of a piece", _PIECES, _NONE),
    Column(
        "lot",
        "the mill's number, the lot on the jar, or the code of the dye lot; empty where there is none",
        _ALL - {Kind.AUXILIARY},
        _NONE,
    ),
    Column("quantity", "how many or how much there is", _ALL, _ALL),
    Column(
        "unit",
        "pieces, g, kg, oz, lb, ml, l or fl oz",
        _ALL,
        frozenset({Kind.DYE, Kind.STOCK, Kind.AUXILIARY}),
    ),
    Column(
        "colourway",
        "its name or code; a new name makes a new colourway",
        frozenset({Kind.DYED}),
        frozenset({Kind.DYED}),
    ),
    Column("grade", "good, second or sample; empty is good", frozenset({Kind.DYED}), _NONE),
    Column("place", "the shelf, bin or box; empty: it waits for a shelf", frozenset({Kind.DYED}), _NONE),
    Column("dye class", "as on the dye's page; empty is “acid, class unknown”", _DYES, _NONE),
    Column(
        "gross grams",
        "the jar with its dye on the scale; with it the jar is counted by one weighing from then on",
        frozenset({Kind.DYE}),
        _NONE,
    ),
    Column("tare grams", "the empty jar with its lid", frozenset({Kind.DYE}), _NONE),
    Column(
        "strength",
        "percent: of the stock (w/v), or of a liquid auxiliary",
        frozenset({Kind.STOCK, Kind.AUXILIARY}),
        frozenset({Kind.STOCK}),
    ),
    Column(
        "made on",
        "the day the stock was made or the yarn was dyed, as 2026-03-14",
        frozenset({Kind.STOCK, Kind.DYED}),
        frozenset({Kind.STOCK}),
    ),
    Column("role", "acid, salt, leveller …; empty is other", frozenset({Kind.AUXILIARY}), _NONE),
)
BY_KEY: Mapping[str, Column] = {column.name.replace("-", " "): column for column in COLUMNS}

EXAMPLES: Mapping[str, tuple[Kind, tuple[Mapping[str, str], ...]]] = {
    "yarn": (
        Kind.YARN,
        (
            {
                "base": "Harbour Sock",
                "put-up grams": "100",
                "metres": "400",
                "lot": "H26-114",
                "quantity": "40",
            },
            {
                "base": "Harbour Sock",
                "put-up grams": "20",
                "metres": "80",
                "lot": "H26-114",
                "quantity": "50",
            },
            {"base": "Ferry DK", "put-up grams": "100", "metres": "225", "quantity": "12", "unit": "pieces"},
        ),
    ),
    "dyes": (
        Kind.DYE,
        (
            {
                "name": "Brick red",
                "lot": "BR-07",
                "quantity": "85.4",
                "unit": "g",
                "dye class": "levelling acid",
                "gross grams": "207.9",
                "tare grams": "122.5",
            },
            {"name": "Deep teal", "quantity": "4", "unit": "oz"},
        ),
    ),
    "stocks": (
        Kind.STOCK,
        (
            {
                "name": "Brick red",
                "lot": "BR-07",
                "quantity": "450",
                "unit": "ml",
                "strength": "1",
                "made on": "2026-03-14",
            },
            {
                "name": "Deep teal",
                "quantity": "0.25",
                "unit": "l",
                "strength": "0.1",
                "made on": "2026-02-28",
            },
        ),
    ),
    "auxiliaries": (
        Kind.AUXILIARY,
        (
            {"name": "Vinegar", "quantity": "5", "unit": "l", "strength": "5", "role": "acid"},
            {"name": "Citric acid", "quantity": "2", "unit": "kg", "role": "acid"},
        ),
    ),
    "dyed-yarn": (
        Kind.DYED,
        (
            {
                "base": "Harbour Sock",
                "put-up grams": "100",
                "metres": "400",
                "lot": "SW26",
                "quantity": "4",
                "colourway": "Slack Water",
                "place": "Shelf A3",
                "made on": "2026-01-20",
            },
            {
                "base": "Harbour Sock",
                "put-up grams": "100",
                "lot": "SW26",
                "quantity": "1",
                "colourway": "Slack Water",
                "grade": "second",
                "place": "Seconds bin",
            },
        ),
    ),
}


def example_csv(name: str) -> str:
    """An example list of one kind, with the columns that such rows use. KeyError for a name that is none."""
    kind, rows = EXAMPLES[name]
    names = [column.name for column in COLUMNS if kind in column.used]
    written = io.StringIO(newline="")
    writer = csv.DictWriter(written, names, restval="")
    writer.writeheader()
    writer.writerows({"kind": kind.value, **row} for row in rows)
    return written.getvalue()
