"""The ledger's own check: everything is reckoned again from the lines, and every difference is named."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from itertools import groupby

from django.db import connections, transaction
from django.db.models import Count, F, Max, Min
from django.db.utils import DEFAULT_DB_ALIAS

from dyehouse.ledger import guard
from dyehouse.ledger.models import Balance, Held, Item, Line, Lot, Movement, Place
from dyehouse.ledger.operations import digest_of_rows

Where = tuple[int, int, int]


def breaches(*, using: str = DEFAULT_DB_ALIAS) -> list[str]:
    """Every way in which the ledger does not agree with itself, as a sentence each; empty when all is well.

    Reads within one transaction, so that nothing is posted between reading the lines and reading the balances.
    """
    connection = connections[using]
    begins_here = not connection.in_atomic_block
    with transaction.atomic(using=using):
        if begins_here and connection.vendor == "postgresql":
            with connection.cursor() as cursor:
                cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ")
        return [
            *_missing_triggers(using),
            *_incomplete_movements(using),
            *_changed_lines(using),
            *_balances_that_differ(using),
        ]


def _missing_triggers(using: str) -> Iterator[str]:
    for trigger in guard.missing(connections[using]):
        yield f"The trigger {trigger.what} on {trigger.table} is missing; manage.py migrate puts it back."


def _incomplete_movements(using: str) -> Iterator[str]:
    counted = Movement.objects.using(using).annotate(
        lines_there=Count("lines"), first=Min("lines__number"), last=Max("lines__number")
    )
    for movement in counted.exclude(lines_there=F("line_count"), first=1, last=F("line_count")).order_by(
        "id"
    ):
        yield (
            f"Movement {movement.key} says {movement.line_count} lines and has {movement.lines_there}, "
            f"numbered {movement.first} to {movement.last}."
        )


def _changed_lines(using: str) -> Iterator[str]:
    """A movement keeps a digest of the lines that were asked for: one that was changed past the triggers shows here."""
    columns = (
        "movement_id", "movement__key", "movement__digest", "movement__found_count", "movement__reverses_id", "number",
        "item_id", "lot_id", "quantity", "from_place_id", "from_claim_id", "to_place_id", "to_claim_id",
    )  # fmt: skip
    rows = Line.objects.using(using).order_by("movement_id", "number").values_list(*columns)
    for _, lines in groupby(rows.iterator(chunk_size=10_000), key=lambda row: row[0]):
        of_one = list(lines)
        _, key, digest, found_count, reverses_id, *_ = of_one[0]
        asked = (row[6:] for row in of_one if row[5] > found_count)
        if digest_of_rows(asked, reverses_id=reverses_id) != digest:
            yield f"The lines of movement {key} are not those that were posted."


def _balances_that_differ(using: str) -> Iterator[str]:
    """Run through all lines in their order, and compare what they come to with what is kept."""
    outside = set(Place.objects.using(using).filter(kind=Place.Kind.BOUNDARY).values_list("pk", flat=True))
    on_hand: defaultdict[Where, int] = defaultdict(int)
    held: defaultdict[Where, int] = defaultdict(int)
    claimed: defaultdict[tuple[int, int, int, int], int] = defaultdict(int)
    below: set[Where] = set()
    lines = (
        Line.objects.using(using)
        .order_by("id")
        .values_list(
            "item_id", "lot_id", "quantity", "from_place_id", "from_claim_id", "to_place_id", "to_claim_id"
        )
    )
    for item, lot, quantity, from_place, from_claim, to_place, to_claim in lines.iterator(chunk_size=10_000):
        for place, claim, change in ((from_place, from_claim, -quantity), (to_place, to_claim, quantity)):
            if place in outside:
                continue
            where = (place, item, lot)
            on_hand[where] += change
            if claim is not None:
                held[where] += change
                claimed[claim, place, item, lot] += change
                if claimed[claim, place, item, lot] < 0:
                    below.add(where)
        source = (from_place, item, lot)
        if from_place not in outside and not 0 <= held[source] <= on_hand[source]:
            below.add(source)
    for where in sorted(below):
        yield f"{_say(where, using)}: the lines take more than was free, or more than was held, at some moment."
    kept: dict[Where, tuple[int, int]] = {
        (place, item, lot): (on, of)
        for place, item, lot, on, of in Balance.objects.using(using).values_list(
            "place_id", "item_id", "lot_id", "on_hand", "held"
        )
    }
    for where in sorted(set(on_hand) | set(kept)):
        counted = (on_hand.get(where, 0), held.get(where, 0))
        book = kept.get(where)
        if book != counted:
            said = "nothing is kept" if book is None else f"{book[0]} on hand and {book[1]} held are kept"
            yield f"{_say(where, using)}: {said}, the lines come to {counted[0]} on hand and {counted[1]} held."
    holds: dict[tuple[int, int, int, int], int] = {
        (claim, place, item, lot): quantity
        for claim, place, item, lot, quantity in Held.objects.using(using).values_list(
            "claim_id", "place_id", "item_id", "lot_id", "quantity"
        )
    }
    for hold in sorted(set(claimed) | set(holds)):
        if claimed.get(hold, 0) != holds.get(hold):
            yield (
                f"{_say(hold[1:], using)}: {holds.get(hold, 'nothing')} kept as held for one claim, "
                f"the lines come to {claimed.get(hold, 0)}."
            )


def _say(where: Where, using: str) -> str:
    place_id, item_id, lot_id = where
    place = Place.objects.using(using).filter(pk=place_id).first()
    item = Item.objects.using(using).filter(pk=item_id).first()
    lot = Lot.objects.using(using).filter(pk=lot_id).first()
    return f"{item or 'An unknown item'}, lot {lot or 'unknown'}, at {place or 'an unknown place'}"
