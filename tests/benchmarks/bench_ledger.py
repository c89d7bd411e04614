"""The ledger with a few years in it: 100,000 lines, 400 items, 2,000 lots."""

from __future__ import annotations

import datetime as dt
import statistics
import uuid
from collections.abc import Callable
from decimal import Decimal
from typing import Any

from tests.benchmarks.harness import benchmark, stopwatch

LINES = 100_000
ITEMS = 400
LOTS = 2_000
LINES_A_MOVEMENT = 500
FIRST_DAY = dt.datetime(2024, 1, 1, tzinfo=dt.UTC)


def a_few_years() -> tuple[list[Any], list[Any]]:
    """Fill the ledger; its items, and its lots in the items' order."""
    from django.db import transaction

    from dyehouse.ledger.models import Item, Line, Lot, Movement
    from dyehouse.ledger.places import fixed_place

    items = Item.objects.bulk_create(
        Item(kind=Item.Kind.UNDYED, unit=Item.Unit.PIECE, name=f"Fell {number}") for number in range(ITEMS)
    )
    lots = Lot.objects.bulk_create(Lot(kind=Lot.Kind.MILL, name=str(number)) for number in range(LOTS))
    supplier, store = fixed_place("supplier"), fixed_place("store")
    stages = [fixed_place(code) for code in ("in_pots", "drying", "dry")]
    rounds, movements = LINES // LOTS, LOTS // LINES_A_MOVEMENT
    for turn in range(rounds):
        # Every fifth time yarn arrives; in between it leaves the store a piece at a time.
        source, target, quantity = (supplier, store, 20) if turn % 5 == 0 else (store, stages[turn % 3], 1)
        for part in range(movements):
            happened_at = FIRST_DAY + dt.timedelta(days=turn * 20, minutes=part)
            with transaction.atomic():
                movement = Movement.objects.create(
                    key=uuid.uuid4(),
                    happened_at=happened_at,
                    recorded_at=happened_at,
                    line_count=LINES_A_MOVEMENT,
                    digest="",
                )
                Line.objects.bulk_create(
                    Line(
                        movement=movement,
                        number=number + 1,
                        item=items[index % ITEMS],
                        lot=lots[index],
                        quantity=quantity,
                        from_place=source,
                        to_place=target,
                    )
                    for number, index in enumerate(
                        range(part * LINES_A_MOVEMENT, (part + 1) * LINES_A_MOVEMENT)
                    )
                )
    return items, lots


def middle_of(deed: Callable[[int], object], times: int) -> Decimal:
    """The median milliseconds of doing it so many times."""
    taken = []
    for turn in range(times):
        with stopwatch() as watch:
            deed(turn)
        taken.append(watch.seconds * 1000)
    return statistics.median(taken)


@benchmark("ledger_post_100_lines", bar=60, unit="ms")
def ledger_post_100_lines() -> Decimal:
    """Posting a movement of 100 lines when 100,000 are there."""
    from dyehouse.ledger.operations import Bucket, Step, post
    from dyehouse.ledger.places import fixed_place

    items, lots = a_few_years()
    store, dry = Bucket(fixed_place("store")), Bucket(fixed_place("dry"))

    def deed(turn: int) -> None:
        start = turn * 100 % LOTS
        steps = [Step(items[at % ITEMS], lots[at], 1, store, dry) for at in range(start, start + 100)]
        post(key=uuid.uuid4(), who=None, steps=steps)

    return middle_of(deed, 30)


@benchmark("ledger_free_of_50_items", bar=10, unit="ms")
def ledger_free_of_50_items() -> Decimal:
    """What is free of each of a page's 50 items, over all their lots and places, when 100,000 lines are there."""
    from dyehouse.ledger.queries import amounts_by_item

    items, _ = a_few_years()
    return middle_of(lambda turn: amounts_by_item(items[turn * 50 % 350 : turn * 50 % 350 + 50]), 50)


@benchmark("ledger_free_of_one_lot", bar=1, unit="ms")
def ledger_free_of_one_lot() -> Decimal:
    """What is free of one lot at one place, through the ORM, when 100,000 lines are there."""
    from dyehouse.ledger.places import fixed_place
    from dyehouse.ledger.queries import free

    items, lots = a_few_years()
    store = fixed_place("store")
    return middle_of(lambda turn: free(item=items[turn % ITEMS], lot=lots[turn], place=store), 500)


@benchmark("ledger_as_of_last_tenth", bar=300, unit="ms")
def ledger_as_of_last_tenth() -> Decimal:
    """Everything as it was before the last tenth of 100,000 lines."""
    from dyehouse.ledger.queries import as_of

    a_few_years()
    when = FIRST_DAY + dt.timedelta(days=20 * (LINES // LOTS) * 9 // 10)
    return middle_of(lambda _: as_of(when), 5)
