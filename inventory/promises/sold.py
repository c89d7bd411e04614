"""What clubs sell for one price, told to whoever reckons margins: a box of each level, by base where members choose it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from django.db.models import Prefetch
from django.urls import reverse

from inventory.costing.margin_queries import Sold
from inventory.promises.models import Level, SlotPutUp
from recipes.models import PutUp


def boxes_of_levels() -> Iterable[Sold]:
    """One box of each level in use; which colourway it brings is open. Three queries."""
    levels = Level.objects.filter(retired_at__isnull=True, club__retired_at__isnull=True)
    put_ups_of = Prefetch("slots__put_ups", queryset=SlotPutUp.objects.select_related("put_up__base"))
    known = levels.select_related("club").prefetch_related("slots", put_ups_of)
    for level in known.order_by("club__name", "order", "pk"):
        slots = [
            (slot.pieces, [each.put_up for each in slot.put_ups.all()])
            for slot in sorted(level.slots.all(), key=lambda slot: slot.position)
        ]
        bases: dict[int | None, str] = {
            put_up.base_id: put_up.base.name for _, put_ups in slots if len(put_ups) > 1 for put_up in put_ups
        }
        for base, name in sorted((bases or {None: ""}).items(), key=lambda each: each[1]):
            parts = tuple(
                (chosen.pk, None, pieces) for pieces, put_ups in slots if (chosen := _chosen(put_ups, base))
            )
            if parts:
                yield Sold(
                    f"{level.club}, {level}{f' on {name}' if name else ''}",
                    reverse("club", args=[level.club_id]),
                    level.price_minor,
                    parts,
                )


def _chosen(put_ups: Sequence[PutUp], base: int | None) -> PutUp | None:
    """The put-up of the base where there is one, else the first."""
    return next((each for each in put_ups if each.base_id == base), put_ups[0] if put_ups else None)
