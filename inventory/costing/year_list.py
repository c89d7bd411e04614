"""The list of a closed year that goes to an accountant: what, where, how much, at what cost and value, by which method."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Any

from dyehouse.ledger.models import Item
from dyehouse.studio.money import places_of
from inventory.costing.lot_cost import GUESSED, LACKS
from inventory.costing.models import ClosedRow, ClosedYear
from inventory.costing.sums import NANO, ROUNDING
from inventory.costing.worth import CATEGORIES
from inventory.costing.years import ROWS, closed_sums
from recipes.dyeing.units import format_number

METHODS = {"identified": "identified cost", "fifo": "first in, first out"}
METHOD = (
    "Cost is that of the very lots (specific identification); yarn whose mill lot is not known is valued first in, first "
    "out. Cost is what was paid with freight, and the dye, auxiliaries, energy, work and labels put in. What was binned when "
    "a pot was judged is borne by the pieces kept; what was lost later is an expense. A pot carries its work and energy from "
    "when its pieces are out, labels and the work on pieces from when they are judged. Seconds stand at the lower of cost and "
    "what they should bring. After IAS 2 Inventories, paragraphs 9, 10-16, 23-25 and 28-33."
)


@dataclass(frozen=True, slots=True)
class ListLine:
    """One row of the list. Quantity and cost are in the unit named; marks say what is guessed or lacking."""

    category: str
    where: str
    what: str
    which: str
    quantity: str
    unit: str
    unit_cost: str
    minor: int
    method: str
    marks: str


def list_lines(rows: Iterable[ClosedRow], *, places: int) -> list[ListLine]:
    """Rows of a closed year in words; they come with their items."""
    return [_line(row, places) for row in rows]


def _line(row: ClosedRow, places: int) -> ListLine:
    size, unit = {Item.Unit.PIECE: (1, "piece"), Item.Unit.MILLIGRAM: (1_000, "g")}.get(
        Item.Unit(row.item.unit), (1_000, "ml")
    )
    each = (
        Fraction(int(row.carried_nano), row.quantity) * size / NANO / 10**places
        if row.quantity
        else Fraction(0)
    )
    marks = [f"guess: {GUESSED[code]}" for code in row.guesses if code != "mill lot"]
    marks += [f"incomplete: {LACKS[code]}" for code in row.lacking]
    if row.carried_nano < row.cost_nano:
        marks.append("written down to what it should bring")
    return ListLine(
        CATEGORIES[row.category],
        row.where,
        row.what,
        row.which,
        format_number(Fraction(row.quantity, size), 3),
        unit,
        format_number(each, places + 2),
        row.value_minor,
        METHODS[row.method],
        "; ".join(marks),
    )


def amount(minor: int, currency: str) -> Decimal:
    """An amount as a plain number, for a spreadsheet."""
    return Decimal(minor).scaleb(-places_of(currency))


def csv_rows(year: ClosedYear, *, studio: str) -> Iterator[list[Any]]:
    """The list, its sums by category, and how the closing came about; amounts as plain numbers."""
    currency = year.currency
    yield [studio, f"Stock at {year.ends_on:%Y-%m-%d}", currency, f"closed {year.closed_at:%Y-%m-%d}"]
    yield ["Method", METHOD]
    yield ["Rounding", ROUNDING]
    yield []
    yield [
        "category", "place", "what", "lot", "quantity", "unit", f"unit value {currency}",
        f"value {currency}", "method", "marks",
    ]  # fmt: skip
    rows = ClosedRow.objects.filter(year=year).select_related("item")
    for line in list_lines(
        rows.order_by("category", "where", "what", "which", "id"), places=places_of(currency)
    ):
        yield [
            line.category, line.where, line.what, line.which, Decimal(line.quantity), line.unit, Decimal(line.unit_cost),
            amount(line.minor, currency), line.method, line.marks,
        ]  # fmt: skip
    yield []
    yield ["", *CATEGORIES.values(), "Together"]
    for slug, of_row in closed_sums(year).items():
        minors = [of_row[name] for name in CATEGORIES]
        yield [ROWS[slug], *(amount(each, currency) for each in (*minors, sum(minors)))]
