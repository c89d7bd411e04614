"""A studio with a million lines in its ledger: a hundred thousand lots that went from the store to somebody.

Filled past the triggers, with the balances that they would have kept, so that `verify_ledger` finds nothing. SQLite only.
"""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

LINES_A_LOT = 10
PIECES, GOOD = 5, 4
COLOURWAYS, BASES, SHELVES = 140, 8, 40
#: The newest lots still lie on shelves, and the very newest wait dry.
SHELVED_LOTS, DRY_LOTS = 400, 12
DAYS = 3_650

Row = tuple[Any, ...]


@dataclass
class ManyYears:
    """What the ledger was filled with; each list in the order of the lots."""

    owner: Any
    put_ups: list[Any]
    colourways: list[Any]
    shelves: list[Any]
    dye_lots: list[Any] = field(default_factory=list)
    good: list[Any] = field(default_factory=list)
    mill_lots: list[Any] = field(default_factory=list)
    first_day: dt.datetime = dt.datetime(2016, 1, 1, tzinfo=dt.UTC)


class Book:
    """Rows of movements, lines and balances as the ledger would have written them."""

    def __init__(self) -> None:
        from dyehouse.ledger.models import Place
        from dyehouse.ledger.places import FIXED_PLACES, fixed_place

        self.places = {code: fixed_place(code).pk for code in FIXED_PLACES}
        self.outside = set(Place.objects.filter(kind=Place.Kind.BOUNDARY).values_list("pk", flat=True))
        self.movements: list[Row] = []
        self.lines: list[Row] = []
        self.balances: dict[tuple[int, int, int], list[int]] = {}

    def move(self, at: dt.datetime, source: str, *lines: tuple[int, int, int, int, int]) -> None:
        """One movement of lines, each an item, a lot, a quantity, from where and to where, by their ids."""
        from dyehouse.ledger.operations import digest_of_rows

        number = len(self.movements) + 1
        digest = digest_of_rows(
            ((item, lot, quantity, begin, None, end, None) for item, lot, quantity, begin, end in lines),
            reverses_id=None,
        )
        said = f"{at:%Y-%m-%d %H:%M:%S}"
        key = uuid.UUID(int=number).hex
        self.movements.append((number, key, said, said, None, "", source, len(lines), digest, None, 0))
        for place, (item, lot, quantity, begin, end) in enumerate(lines, start=1):
            line = len(self.lines) + 1
            self.lines.append((line, number, place, item, lot, quantity, begin, None, end, None))
            for where, change in ((begin, -quantity), (end, quantity)):
                if where not in self.outside:
                    kept = self.balances.setdefault((where, item, lot), [0, 0])
                    kept[0] += change
                    kept[1] = line

    def write(self) -> None:
        """Write all of it down at once."""
        from dyehouse.ledger.models import Balance, Line, Movement

        pour(Movement, self.movements)
        pour(Line, self.lines)
        pour(
            Balance,
            (
                (number, place, item, lot, on_hand, 0, line)
                for number, ((place, item, lot), (on_hand, line)) in enumerate(self.balances.items(), start=1)
            ),
        )


def pour(model: Any, rows: Iterable[Row]) -> None:
    """Rows of a table, each with all columns in the model's order."""
    from django.db import connection

    columns = [each.column for each in model._meta.local_concrete_fields]
    marks = ", ".join(["%s"] * len(columns))
    with connection.cursor() as cursor:
        cursor.executemany(
            f"INSERT INTO {model._meta.db_table} ({', '.join(columns)}) VALUES ({marks})", list(rows)
        )


def many_years(lines: int = 1_000_000) -> ManyYears:
    """Fill an empty house with so many lines of dyed yarn, ten to a lot of five skeins: four good and a second."""
    from django.db import connection, transaction

    from dyehouse.ledger import guard
    from tests import factories

    assert connection.vendor == "sqlite"
    factories.studio()
    owner = factories.OwnerFactory(username="years")
    put_ups = [factories.put_up() for _ in range(BASES)]
    colourways = [factories.colourway(f"Estuary {number}") for number in range(COLOURWAYS)]
    shelves = [factories.shelf_place(f"Shelf {number}") for number in range(SHELVES)]
    years = ManyYears(owner, put_ups, colourways, shelves)
    # Those that still lie somewhere have not come to their last lines.
    lots = (lines + 4 * DRY_LOTS + 2 * SHELVED_LOTS) // LINES_A_LOT
    with transaction.atomic():
        guard.disarm(connection)
        _write_down(years, lots)
        guard.arm(connection)
    return years


def _write_down(years: ManyYears, lots: int) -> None:
    from dyehouse.ledger.models import Item, Lot
    from recipes.lots.models import DyeLot, Pot, PotLoad
    from recipes.models import DyedYarn
    from recipes.yarn import unknown_mill_lot

    Grade = DyedYarn.Grade
    first_item = Item.objects.order_by("-pk").values_list("pk", flat=True).first() or 0
    names = [
        (colourway, years.put_ups[number % BASES], grade)
        for number, colourway in enumerate(years.colourways)
        for grade in (Grade.UNJUDGED, Grade.GOOD, Grade.SECOND)
    ]
    Item.objects.bulk_create(
        Item(pk=first_item + at, kind=Item.Kind.DYED, unit=Item.Unit.PIECE, name=f"{way} {grade}")
        for at, (way, _, grade) in enumerate(names, start=1)
    )
    dyed = DyedYarn.objects.bulk_create(
        DyedYarn(colourway=way, put_up=put_up, grade=grade, item_id=first_item + at)
        for at, (way, put_up, grade) in enumerate(names, start=1)
    )
    years.mill_lots = [unknown_mill_lot(put_up.base) for put_up in years.put_ups]
    first_lot = Lot.objects.order_by("-pk").values_list("pk", flat=True).first() or 0
    first_pot = Pot.objects.order_by("-pk").values_list("pk", flat=True).first() or 0
    made = [years.first_day + dt.timedelta(days=number * DAYS / lots) for number in range(lots)]
    Lot.objects.bulk_create(
        (Lot(pk=first_lot + n, kind=Lot.Kind.DYE_LOT, name=f"Y{n}") for n in range(1, lots + 1)),
        batch_size=5_000,
    )
    years.dye_lots = DyeLot.objects.bulk_create(
        (
            DyeLot(pk=n + 1, code=f"Y{n + 1}", colourway=years.colourways[n % COLOURWAYS], made_at=made[n],
                   lot_id=first_lot + n + 1)
            for n in range(lots)
        ),
        batch_size=5_000,
    )  # fmt: skip
    Pot.objects.bulk_create(
        (
            Pot(pk=first_pot + n + 1, code=f"Y{n + 1}", colourway=years.colourways[n % COLOURWAYS], made_at=made[n],
                started_by=years.owner, loaded_at=made[n], out_at=made[n] + dt.timedelta(hours=4), dye_lot_id=n + 1)
            for n in range(lots)
        ),
        batch_size=5_000,
    )  # fmt: skip
    PotLoad.objects.bulk_create(
        (
            PotLoad(pot_id=first_pot + n + 1, put_up=years.put_ups[n % COLOURWAYS % BASES],
                    mill_lot=years.mill_lots[n % COLOURWAYS % BASES], pieces=PIECES, dry_milligrams=PIECES * 100_000)
            for n in range(lots)
        ),
        batch_size=5_000,
    )  # fmt: skip
    years.good = [dyed[n % COLOURWAYS * 3 + 1] for n in range(lots)]
    book = Book()
    for n in range(lots):
        _life_of(
            book,
            years,
            n,
            made[n],
            first_lot + n + 1,
            dyed[n % COLOURWAYS * 3 : n % COLOURWAYS * 3 + 3],
            lots,
        )
    book.write()


def _life_of(
    book: Book, years: ManyYears, n: int, made: dt.datetime, lot: int, dyed: list[Any], lots: int
) -> None:
    """From the store to somebody, or to where the lot still lies."""
    hours = dt.timedelta(hours=1)
    put_up, mill = years.put_ups[n % COLOURWAYS % BASES], years.mill_lots[n % COLOURWAYS % BASES].lot_id
    unjudged, good, second = (each.item_id for each in dyed)
    at, undyed, shelf, source = book.places, put_up.item_id, years.shelves[n % SHELVES].pk, f"pot:Y{n + 1}"
    seconds = PIECES - GOOD
    if n == 0:
        # All the yarn that there will ever be, at the beginning.
        all_of_it = (
            (each.item_id, years.mill_lots[number].lot_id, lots * PIECES, at["supplier"], at["store"])
            for number, each in enumerate(years.put_ups)
        )
        book.move(years.first_day - hours, "", *all_of_it)
    book.move(made, source, (undyed, mill, PIECES, at["store"], at["in_pots"]))
    book.move(
        made + 4 * hours, source,
        (undyed, mill, PIECES, at["in_pots"], at["consumed"]), (unjudged, lot, PIECES, at["made"], at["drying"]),
    )  # fmt: skip
    book.move(
        made + 30 * hours, source, (unjudged, lot, PIECES, at["drying"], at["consumed"]),
        (good, lot, GOOD, at["made"], at["dry"]), (second, lot, seconds, at["made"], at["dry"]),
    )  # fmt: skip
    if n >= lots - DRY_LOTS:
        return
    book.move(
        made + 50 * hours,
        source,
        (good, lot, GOOD, at["dry"], shelf),
        (second, lot, seconds, at["dry"], shelf),
    )
    if n < lots - DRY_LOTS - SHELVED_LOTS:
        book.move(
            made + 300 * hours,
            "",
            (good, lot, GOOD, shelf, at["customer"]),
            (second, lot, seconds, shelf, at["customer"]),
        )
