"""A list of recipes as a spreadsheet saves it: looked at by row and column, then taken in whole or not at all."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal

from django.db import transaction

from dyehouse.studio.codes import tidy
from dyehouse.studio.models import Studio, User
from dyehouse.studio.refusals import Refused
from recipes.colourways import LONGEST_SNIP
from recipes.dyeing.families import FAMILIES, family_called
from recipes.lists.cells import Cells, ListWrong, Wrong
from recipes.lists.reading import FileRefused, Table, read_table
from recipes.lots.notebook.columns import BY_KEY, NAMES
from recipes.lots.notebook.lacking import Lack, lacking
from recipes.lots.notebook.reading import NotedPot, NotedRow
from recipes.lots.notebook.taking import Recipe, take_in_notes
from recipes.lots.notebook.things import Things
from recipes.models import Base, Colourway, Dye, WayOfDyeing

NAMESPACE = uuid.UUID("7d6d0f0e-7a4b-4a57-9a53-1f5b6a2e9c41")
FOR = {"": "100 g", "100 g": "100 g", "100g": "100 g", "pot": "pot", "per pot": "pot", "per 100 g": "100 g"}
#: The field of a row by the column that it stands in.
ROW_COLUMNS = {
    "what": "what",
    "amount": "amount",
    "strength": "strength",
    "goes with": "goes",
    "it is": "it_is",
    "minute": "minute",
    "step": "step",
}
COLUMN_OF = {field: column for column, field in ROW_COLUMNS.items()}


@dataclass(frozen=True, slots=True)
class Listed:
    """One recipe of a list: its rows, what it would make new, how many steps it has and what its notes leave open."""

    first_row: int
    recipe: Recipe
    steps: int
    news: list[str]
    lacks: list[Lack]

    @property
    def name(self) -> str:
        colourway = self.recipe.colourway
        return str(colourway) if colourway is not None else self.recipe.new_name or "by its code"


@dataclass(frozen=True, slots=True)
class Looked:
    """A list as it was looked at."""

    table: Table
    recipes: list[Listed]
    wrong: list[Wrong]
    taken_before: bool


@dataclass(frozen=True, slots=True)
class TakenIn:
    """How many recipes were taken in; none when the list was taken in before."""

    recipes: int
    taken_before: bool = False


def look_at(text: str, *, fahrenheit: bool = False) -> Looked:
    """Read a list and check it against the house; nothing changes. Raises FileRefused."""
    table = _table(text)
    if _taken_before(table):
        return Looked(table, [], [], taken_before=True)
    recipes, wrong = _recipes(table, Things.now(), fahrenheit)
    return Looked(table, recipes, sorted(wrong, key=lambda each: each.row), taken_before=False)


@transaction.atomic
def take_in(*, text: str, who: User, fahrenheit: bool = False) -> TakenIn:
    """Take in every recipe of a list, or none where one is wrong. The same list again changes nothing.

    Raises FileRefused and ListWrong.
    """
    Studio.current()
    Studio.objects.select_for_update().get(pk=1)
    table = _table(text)
    if _taken_before(table):
        return TakenIn(0, taken_before=True)
    things = Things.now()
    recipes, wrong = _recipes(table, things, fahrenheit)
    if wrong:
        raise ListWrong(wrong)
    for number, each in enumerate(recipes):
        recipe = each.recipe
        # A recipe further up may have made the colourway.
        colourway = recipe.colourway or _colourway(things, recipe.new_name)
        try:
            take_in_notes(
                key=_key(table, number),
                recipe=replace(recipe, colourway=colourway),
                who=who,
                things=things,
                fahrenheit=fahrenheit,
            )
        except Refused as refused:
            raise ListWrong([Wrong(each.first_row, NAMES["recipe"], each.name, str(refused))]) from refused
    return TakenIn(len(recipes))


def _key(table: Table, number: int) -> uuid.UUID:
    return uuid.uuid5(NAMESPACE, f"{table.digest}:{number}")


def _taken_before(table: Table) -> bool:
    return WayOfDyeing.objects.filter(key=_key(table, 0)).exists()


def _table(text: str) -> Table:
    table = read_table(text, columns=BY_KEY)
    named = [name for name in table.header if name]
    unknown = [name for name in named if name not in BY_KEY]
    if "base" not in named:
        raise FileRefused(
            "The first row must name the columns, and one of them is base. Take the example and fill it in."
        )
    if unknown:
        raise FileRefused(
            f"“{unknown[0]}” is not a column of this list. Use the names on this page: {', '.join(NAMES.values())}."
        )
    twice = next((name for name in named if named.count(name) > 1), None)
    if twice is not None:
        raise FileRefused(f"The column {NAMES[twice]} stands there twice. Leave one of them out.")
    if not table.rows:
        raise FileRefused("Below the column names this list has no rows. Write one thing that goes in a row.")
    return table


def _recipes(table: Table, things: Things, fahrenheit: bool) -> tuple[list[Listed], list[Wrong]]:
    """The recipes of a list and what is wrong with its cells."""
    groups: dict[str, list[Cells]] = {}
    wrong: list[Wrong] = []
    last = ""
    for number, cells in table.rows:
        row = Cells(number, dict(zip(table.header, cells, strict=False)), NAMES)
        if any(cells[len(table.header) :]):
            row.refuse("recipe", "This row has more cells than there are columns. Look for a comma too many.")
            wrong += row.wrong
        last = row.typed("recipe").casefold() or last
        groups.setdefault(last, []).append(row)
    listed = []
    for rows in groups.values():
        found = _recipe(rows, things, fahrenheit, wrong)
        if found is not None:
            listed.append(found)
    return listed, wrong


def _recipe(rows: Sequence[Cells], things: Things, fahrenheit: bool, wrong: list[Wrong]) -> Listed | None:
    whole = _whole(rows)
    before = len(wrong)
    base = _base(whole, things)
    per = whole.choice("for", FOR) or "100 g"
    pot = NotedPot(
        per_100g=per == "100 g",
        dry_milligrams=_thousands(whole, "dry grams", most=100_000),
        bath_microlitres=_millions(whole, "litres", most=1_000),
        pieces=whole.count("pieces", most=10_000),
        presoak_minutes=_minutes(whole),
        vessel_name=whole.words("vessel", longest=40),
        lay=whole.words("lay", longest=300),
        cooling=whole.words("cooling", longest=120),
    )
    if pot.per_100g:
        for column in ("dry grams", "pieces"):
            if whole.typed(column):
                whole.refuse(
                    column, "The amounts are for 100 g here. Empty this cell, or write pot under “for”."
                )
    colourway = _colourway(things, whole.typed("colourway"))
    recipe = Recipe(
        base=base or Base(),
        pot=pot,
        rows=[_noted(row) for row in rows],
        colourway=colourway,
        new_name="" if colourway is not None else whole.words("colourway", longest=80),
        noted_on=whole.day("written on"),
        as_written=whole.words("words", longest=1_000),
        families=_families(whole),
        snip=whole.words("snip", longest=LONGEST_SNIP),
    )
    wrong += whole.wrong
    known = {id(each) for each in things.new}
    read = recipe.read(things, fahrenheit=fahrenheit)
    for cell in read.wrong:
        row = next(each for each in rows if each.row == cell.row)
        column = COLUMN_OF[cell.column]
        wrong.append(Wrong(cell.row, NAMES[column], row.typed(column), cell.sentence))
    if len(wrong) == before and not read.steps:
        wrong.append(Wrong(rows[0].row, NAMES["what"], "", "This recipe has nothing that goes in."))
    if len(wrong) > before or base is None:
        return None
    news = [
        f"new {'dye' if isinstance(each, Dye) else 'auxiliary'} {each.name}"
        for each in things.new
        if id(each) not in known
    ]
    if base.pk is None:
        news.append(f"base {base.name}")
    if colourway is None:
        news.append("new colourway")
    return Listed(rows[0].row, recipe, len(read.steps), news, lacking(read.steps, pot.facts))


@dataclass(slots=True)
class Whole(Cells):
    """What the rows of one recipe say of it together; what is wrong is noted in the row that says it."""

    said_in: dict[str, int] = field(default_factory=dict)

    def refuse(self, column: str, sentence: str) -> None:
        row = self.said_in.get(column, self.row)
        self.wrong.append(Wrong(row, self.names[column], self.typed(column), sentence))


def _whole(rows: Sequence[Cells]) -> Whole:
    """The cells that are of a recipe; noted where two rows say otherwise."""
    values: dict[str, str] = {}
    whole = Whole(rows[0].row, values, NAMES)
    for row in rows:
        for key, column in BY_KEY.items():
            typed = row.typed(key)
            if not typed or not column.of_recipe or key == "recipe":
                continue
            first = values.setdefault(key, typed)
            said_in = whole.said_in.setdefault(key, row.row)
            if first != typed:
                sentence = f"Row {said_in} says “{first}” for this recipe. Write the same, or leave it empty."
                whole.wrong.append(Wrong(row.row, NAMES[key], typed, sentence))
    return whole


def _noted(row: Cells) -> NotedRow:
    return NotedRow(row.row, **{field: row.typed(column) for column, field in ROW_COLUMNS.items()})


def _base(whole: Cells, things: Things) -> Base | None:
    name = whole.words("base", longest=80)
    if not name:
        if not whole.typed("base"):
            whole.refuse("base", "Write the base that this was dyed on.")
        return None
    return things.bases.setdefault(name.casefold(), Base(name=name))


def _colourway(things: Things, typed: str) -> Colourway | None:
    """A colourway by its name or its code."""
    if not typed:
        return None
    return things.colourways.get(typed.casefold()) or things.colourways.get(tidy(typed).casefold())


def _families(whole: Cells) -> list[str]:
    found = []
    for word in whole.typed("families").replace(",", ";").split(";"):
        if not word.strip():
            continue
        slug = family_called(word)
        if slug is None:
            names = ", ".join(family.name for family in FAMILIES)
            whole.refuse("families", f"“{word.strip()}” is not one of the colour families: {names}.")
        else:
            found.append(slug)
    return found


def _thousands(whole: Cells, column: str, *, most: int) -> int | None:
    number = whole.number(column, least=Decimal("0.001"), most=most)
    return None if number is None else int(number * 1_000)


def _millions(whole: Cells, column: str, *, most: int) -> int | None:
    number = whole.number(column, least=Decimal("0.001"), most=most)
    return None if number is None else int(number * 1_000_000)


def _minutes(whole: Cells) -> int | None:
    number = whole.number("pre soak", least=0, most=20_000, places=0)
    return None if number is None else int(number)
