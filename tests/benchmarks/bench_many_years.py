"""The house with a million lines in its ledger, on SQLite, in processor time."""

from __future__ import annotations

import statistics
import time
import uuid
from collections.abc import Callable
from decimal import Decimal

from tests.benchmarks.harness import benchmark
from tests.benchmarks.many_years import DRY_LOTS, SHELVED_LOTS, many_years


def processor_ms(deed: Callable[[int], object], times: int) -> Decimal:
    """The median milliseconds of processor time of doing it so many times."""
    taken = []
    for turn in range(times):
        began = time.process_time()
        deed(turn)
        taken.append(Decimal(str(time.process_time() - began)) * 1000)
    return statistics.median(taken)


@benchmark("million_shelf_page", bar=30, unit="ms")
def million_shelf_page() -> Decimal:
    """All that the shelf page asks the database, read to the last row, with a million lines there."""
    from django.db import connection

    from inventory.queries import shelf_page

    years = many_years()
    shelf_page(user=years.owner)
    asked: list[tuple[str, tuple]] = []

    def note(execute, sql, parameters, many, context):
        asked.append((sql, tuple(parameters or ())))
        return execute(sql, parameters, many, context)

    with connection.execute_wrapper(note):
        shelf_page(user=years.owner)

    def ask(_: int) -> None:
        with connection.cursor() as cursor:
            for sql, parameters in asked:
                cursor.execute(sql, parameters)
                cursor.fetchall()

    return processor_ms(ask, 20)


@benchmark("million_post_100_lines", bar=50, unit="ms")
def million_post_100_lines() -> Decimal:
    """Posting a movement of 100 lines, from shelf to shelf, with a million lines there."""
    from dyehouse.ledger.operations import Bucket, Step, post

    years = many_years()
    lots = len(years.dye_lots)
    first = lots - DRY_LOTS - SHELVED_LOTS
    shelves = len(years.shelves)

    def deed(turn: int) -> None:
        # The same hundred lots, a piece of each, a shelf further every time.
        steps = [
            Step(
                years.good[n].item,
                years.dye_lots[n].lot,
                1,
                Bucket(years.shelves[(n + turn) % shelves]),
                Bucket(years.shelves[(n + turn + 1) % shelves]),
            )
            for n in range(first, first + 100)
        ]
        post(key=uuid.uuid4(), who=years.owner, steps=steps)

    return processor_ms(deed, 15)
