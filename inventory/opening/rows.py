"""What each row of a list says, by its kind, as far as the row alone can tell."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from inventory.opening.cells import Cells
from inventory.opening.columns import BY_KEY, Kind
from recipes.dyeing.units import format_grams
from recipes.lists.cells import Wrong
from recipes.lists.reading import FileRefused, Table
from recipes.models import Auxiliary, Dye, DyedYarn
from recipes.yarn import UNKNOWN_LOT


@dataclass(frozen=True, slots=True)
class Pieces:
    """Pieces of a base at a put-up."""

    row: int
    base: str
    milligrams: int
    metres: int | None
    pieces: int


@dataclass(frozen=True, slots=True)
class YarnRow(Pieces):
    """Undyed yarn of a mill lot; an empty lot is not known."""

    lot: str


@dataclass(frozen=True, slots=True)
class DyedRow(Pieces):
    """Dyed yarn; an empty lot takes a new code, an empty place means that it waits for a shelf."""

    colourway: str
    lot: str
    grade: str
    place: str
    dyed_on: dt.date | None


@dataclass(frozen=True, slots=True)
class DyeRow:
    """A jar of dye; an empty class is not known, an empty lot is numbered. Gross is the jar with its dye, tare the empty jar."""

    row: int
    name: str
    dye_class: str | None
    lot: str
    milligrams: int
    gross_milligrams: int | None = None
    tare_milligrams: int | None = None


@dataclass(frozen=True, slots=True)
class StockRow:
    """A bottle of stock; the lot is the jar it was made from, where that is known."""

    row: int
    name: str
    dye_class: str | None
    lot: str
    strength_mg_per_litre: int
    microlitres: int
    made_on: dt.date


@dataclass(frozen=True, slots=True)
class AuxiliaryRow:
    """An auxiliary; the unit of its quantity says whether it is a liquid."""

    row: int
    name: str
    role: str | None
    liquid: bool
    strength_hundredths_percent: int | None
    amount: int


OpeningRow = YarnRow | DyedRow | DyeRow | StockRow | AuxiliaryRow


def _words(choices: type[Dye.Class] | type[Auxiliary.Role]) -> dict[str, str]:
    """What is kept by each word that may stand for it: the words on the page, and their first part."""
    words = {label.casefold(): value for value, label in choices.choices}
    return words | {label.split(" (")[0].casefold(): value for value, label in choices.choices}


#: Two weighings on a kitchen scale and a quantity rounded by hand may part by so much.
LOOSE_MILLIGRAMS = 500

GRADES = {
    grade.value: grade.value for grade in (DyedYarn.Grade.GOOD, DyedYarn.Grade.SECOND, DyedYarn.Grade.SAMPLE)
}
KINDS = {kind.value: kind.value for kind in Kind}


def read_rows(table: Table) -> tuple[list[OpeningRow], list[Wrong]]:
    """The rows of a list and what is wrong with them. Raises FileRefused when its columns are not those of the page."""
    _refuse_other_columns(table)
    rows: list[OpeningRow] = []
    wrong: list[Wrong] = []
    for number, cells in table.rows:
        values = dict(zip(table.header, cells, strict=False))
        row = Cells(number, values)
        if any(cells[len(table.header) :]):
            row.refuse("kind", "This row has more cells than there are columns. Look for a comma too many.")
        said = _row(row)
        wrong.extend(row.wrong)
        if said is not None and not row.wrong:
            rows.append(said)
    return rows, wrong


def _refuse_other_columns(table: Table) -> None:
    named = [name for name in table.header if name]
    unknown = [name for name in named if name not in BY_KEY]
    if "kind" not in named:
        raise FileRefused(
            "The first row must name the columns, and one of them is kind. Take an example and fill it in."
        )
    if unknown:
        raise FileRefused(
            f"“{unknown[0]}” is not a column of this list. Use the names on this page: "
            f"{', '.join(column.name for column in BY_KEY.values())}."
        )
    twice = next((name for name in named if named.count(name) > 1), None)
    if twice is not None:
        raise FileRefused(f"The column {BY_KEY[twice].name} stands there twice. Leave one of them out.")
    if not table.rows:
        raise FileRefused(
            "Below the column names this list has no rows. Write what you have, one thing a row."
        )


def _row(cells: Cells) -> OpeningRow | None:
    kind = cells.choice("kind", KINDS)
    if kind is None:
        if not cells.wrong:
            cells.refuse("kind", f"Say what this row is: {', '.join(KINDS)}.")
        return None
    chosen = Kind(kind)
    cells.refuse_what_is_not_used(chosen)
    readers = {
        Kind.YARN: _yarn,
        Kind.DYED: _dyed,
        Kind.DYE: _dye,
        Kind.STOCK: _stock,
        Kind.AUXILIARY: _auxiliary,
    }
    return readers[chosen](cells)


def _of_base(cells: Cells) -> tuple[str, int | None, int | None, int | None]:
    grams = cells.number("put up grams", least=1, most=5_000)
    return (
        cells.words("base", longest=80),
        None if grams is None else int(grams * 1000),
        cells.count("metres", most=50_000),
        cells.pieces(),
    )


def _yarn(cells: Cells) -> YarnRow | None:
    base, milligrams, metres, pieces = _of_base(cells)
    lot = cells.words("lot", longest=60)
    if lot.casefold() == UNKNOWN_LOT:
        lot = ""
    if not base or milligrams is None or pieces is None:
        return None
    return YarnRow(cells.row, base, milligrams, metres, pieces, lot)


def _dyed(cells: Cells) -> DyedRow | None:
    base, milligrams, metres, pieces = _of_base(cells)
    colourway, place = cells.words("colourway", longest=80), cells.words("place", longest=60)
    lot, grade, dyed_on = cells.code("lot"), cells.choice("grade", GRADES), cells.day("made on")
    if not base or milligrams is None or pieces is None or not colourway:
        return None
    return DyedRow(
        cells.row,
        base,
        milligrams,
        metres,
        pieces,
        colourway,
        lot,
        grade or DyedYarn.Grade.GOOD.value,
        place,
        dyed_on,
    )


def _dye(cells: Cells) -> DyeRow | None:
    name, lot = cells.words("name", longest=60), cells.words("lot", longest=60)
    dye_class = cells.choice("dye class", _words(Dye.Class))
    milligrams, _ = cells.amount(mass=True, volume=False)
    gross, tare = cells.grams("gross grams"), cells.grams("tare grams")
    if not name or milligrams is None:
        return None
    _refuse_weights_that_part(cells, milligrams, gross, tare)
    return DyeRow(cells.row, name, dye_class, lot, milligrams, gross, tare)


def _refuse_weights_that_part(cells: Cells, milligrams: int, gross: int | None, tare: int | None) -> None:
    """Note when the jar's two weights leave clearly another amount of dye than the row says."""
    if gross is None:
        return
    if gross < milligrams:
        cells.refuse(
            "gross grams", "The jar with its dye weighs less than the dye alone. Weigh it again with its lid."
        )
    elif tare is not None and abs(gross - tare - milligrams) > max(LOOSE_MILLIGRAMS, milligrams // 100):
        left = f"{format_grams(gross - tare)}" if gross >= tare else "less than nothing"
        cells.refuse(
            "gross grams",
            f"Gross less tare leaves {left}, and the quantity is {format_grams(milligrams)}. Put one of them right.",
        )


def _stock(cells: Cells) -> StockRow | None:
    name, lot = cells.words("name", longest=60), cells.words("lot", longest=60)
    dye_class = cells.choice("dye class", _words(Dye.Class))
    strength = cells.number("strength", least=0, most=50, places=4)
    microlitres, _ = cells.amount(mass=False, volume=True)
    made_on = cells.day("made on")
    if strength is not None and strength == 0:
        cells.refuse("strength", "A stock has more than 0 %. Write its strength in percent, for example 1.")
        return None
    if not name or strength is None or microlitres is None or made_on is None:
        return None
    # Four decimals of a percent are milligrams a litre.
    return StockRow(cells.row, name, dye_class, lot, int(strength.scaleb(4)), microlitres, made_on)


def _auxiliary(cells: Cells) -> AuxiliaryRow | None:
    name, role = cells.words("name", longest=60), cells.choice("role", _words(Auxiliary.Role))
    strength = cells.number("strength", least=0, most=100, places=2)
    amount, liquid = cells.amount(mass=True, volume=True)
    if not name or amount is None:
        return None
    hundredths = None if strength is None else int(strength.scaleb(2))
    return AuxiliaryRow(cells.row, name, role, liquid, hundredths, amount)
