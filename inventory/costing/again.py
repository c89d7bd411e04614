"""What must be worked out again: said by whoever changes what costs are worked out of."""

from __future__ import annotations

from collections.abc import Iterable

from django.db import transaction

from inventory.costing.models import Reckoned


def the_reckoned(*, lock: bool = False) -> Reckoned:
    """The one row that tells how far costs are worked out."""
    row, _ = Reckoned.objects.get_or_create(pk=1)
    return Reckoned.objects.select_for_update().get(pk=1) if lock else row


@transaction.atomic
def all_costs_again() -> None:
    """Every cost is worked out afresh at the next look."""
    row = the_reckoned(lock=True)
    row.all_again, row.again = True, []
    row.save(update_fields=["all_again", "again"])


@transaction.atomic
def costs_again(pairs: Iterable[tuple[int, int]]) -> None:
    """The costs of these (item, lot) ids, and of what was made of them, are worked out afresh at the next look."""
    row = the_reckoned(lock=True)
    if row.all_again:
        return
    row.again = sorted({*map(tuple, row.again), *pairs})
    row.save(update_fields=["again"])
