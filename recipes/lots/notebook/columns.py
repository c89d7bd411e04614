"""The columns of a list of recipes, and an example that can be filled in."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Column:
    """One column: its name, what stands in it, and whether it is of the whole recipe or of one row."""

    name: str
    means: str
    of_recipe: bool = False


COLUMNS: tuple[Column, ...] = (
    Column(
        "recipe", "any word or number, the same in all rows of one recipe; empty: as in the row above", True
    ),
    Column("colourway", "its name or code; a new name makes a new one, empty gives it a code", True),
    Column("base", "the undyed yarn line; a new name makes a new base", True),
    Column("for", "100 g or pot: what the amounts are for; empty is 100 g", True),
    Column("dry grams", "of the pot's yarn, where the amounts are for a pot", True),
    Column("litres", "of the bath", True),
    Column("pieces", "in the pot", True),
    Column("pre-soak", "minutes", True),
    Column("vessel", "in words", True),
    Column("lay", "how the pieces lay, in words", True),
    Column("cooling", "in words", True),
    Column("written on", "the day of the notes, as 2024-03-14", True),
    Column("families", "colour families with a semicolon between them", True),
    Column("snip", "where the snip is", True),
    Column("words", "the notes' own words", True),
    Column("what", "goes in: the name of a dye or an auxiliary, or water"),
    Column(
        "amount", "1.5 g, 5 ml, 0.5 % of the fibre, 2 g per litre, 3 ml per skein, 25:1, to pH 4.5, 3 drops"
    ),
    Column("strength", "percent, of the stock that the millilitres are of"),
    Column("goes with", "fibre, bath, piece or pot; empty: as such a thing usually goes"),
    Column("it is", "of a new name: dye; acid, liquid; acid, powder; salt; other, liquid; other, powder"),
    Column("minute", "from the start"),
    Column("step", "instead of what and amount: a temperature, a technique, anything in words"),
)
BY_KEY: Mapping[str, Column] = {column.name.replace("-", " "): column for column in COLUMNS}
NAMES: Mapping[str, str] = {key: column.name for key, column in BY_KEY.items()}

_EXAMPLE: tuple[Mapping[str, str], ...] = (
    {
        "recipe": "1", "colourway": "Slack Water", "base": "Harbour Sock", "for": "100 g", "litres": "2.5",
        "pre-soak": "30", "lay": "Loose, covered", "cooling": "In the pot, overnight", "written on": "2024-03-14",
        "families": "green; grey", "words": "the one with the brown edge", "what": "Deep teal", "amount": "12 ml",
        "strength": "1",
        "it is": "dye",
    },
    {"what": "Brick red", "amount": "3 drops", "strength": "1", "it is": "dye"},
    {"what": "Citric acid", "amount": "2 g", "it is": "acid, powder", "minute": "15"},
    {"step": "82 C", "minute": "45"},
    {"step": "Held half an hour, clear", "minute": "75"},
    {
        "recipe": "2", "colourway": "Tin Roof", "base": "Ferry DK", "for": "pot", "dry grams": "500", "pieces": "5",
        "written on": "2023-11-02", "what": "water", "amount": "12 l",
    },
    {"what": "Brick red", "amount": "0.8 %"},
    {"what": "Vinegar", "amount": "until pH 4.5", "it is": "acid, liquid"},
)  # fmt: skip


def example_csv() -> str:
    """Two recipes as a list."""
    written = io.StringIO(newline="")
    writer = csv.DictWriter(written, [column.name for column in COLUMNS], restval="")
    writer.writeheader()
    writer.writerows(_EXAMPLE)
    return written.getvalue()
