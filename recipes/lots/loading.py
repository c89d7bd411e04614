"""What the page for loading a pot proposes: the put-up used last, its newest mill lot, a free vessel."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import Exists, F, OuterRef, Q, Subquery, Sum

from dyehouse.ledger.models import Balance
from dyehouse.studio.models import Vessel
from recipes.lots.models import Pot, PotLoad
from recipes.models import Colourway, MillLot, PutUp

NEWEST_COLOURWAYS = 30
AT_HAND = 6


@dataclass(frozen=True, slots=True)
class Loading:
    """The choices for a pot to load. `put_up` is None while the store has no yarn at all."""

    put_ups: list[PutUp]
    put_up: PutUp | None
    mill_lots: list[MillLot]
    vessels: list[Vessel]
    colourways: list[Colourway]
    initial: dict[str, Any]

    @property
    def put_ups_at_hand(self) -> list[PutUp]:
        """The put-ups in sight, the chosen one among them."""
        first = self.put_ups[:AT_HAND]
        if self.put_up is None or self.put_up in first:
            return first
        return [self.put_up, *first[:-1]]

    @property
    def more_put_ups(self) -> list[PutUp]:
        return [each for each in self.put_ups if each not in self.put_ups_at_hand]


def what_can_be_loaded(*, put_up_id: int | None) -> Loading:
    """The choices, with the wanted put-up in front; six queries whatever the sizes."""
    put_ups = _put_ups()
    put_up = next((each for each in put_ups if each.pk == put_up_id), put_ups[0] if put_ups else None)
    mill_lots = _mill_lots(put_up) if put_up is not None else []
    vessels = _vessels()
    last = PotLoad.objects.order_by("-id").values_list("pieces", flat=True).first()
    free = next((each for each in vessels if not getattr(each, "in_use", False)), None)
    known = [lot for lot in mill_lots if not lot.unknown]
    initial = {
        "mill_lot": str(known[0].pk) if known else "unknown",
        "pieces": last or 1,
        "vessel": str(free.pk) if free is not None else "",
    }
    return Loading(put_ups, put_up, mill_lots, vessels, _colourways(), initial)


def _put_ups() -> list[PutUp]:
    used = PotLoad.objects.filter(put_up=OuterRef("pk")).order_by("-id")
    there = Balance.objects.filter(item=OuterRef("item"), place__code="store").order_by()
    pieces = there.values("item").annotate(pieces=Sum("on_hand")).values("pieces")
    return list(
        PutUp.objects.filter(retired_at__isnull=True, base__retired_at__isnull=True)
        .select_related("base", "item")
        .annotate(last_used=Subquery(used.values("id")[:1]), in_store=Subquery(pieces))
        .order_by(F("last_used").desc(nulls_last=True), "base__name", "nominal_milligrams")
    )


def _mill_lots(put_up: PutUp) -> list[MillLot]:
    """The lots of the base that still have pieces of this put-up, newest first; all of them where none has."""
    there = Balance.objects.filter(
        lot=OuterRef("lot"), item=put_up.item_id, place__code="store", on_hand__gt=0
    )
    lots = list(
        MillLot.objects.filter(base=put_up.base_id)
        .select_related("lot", "base")
        .annotate(has_pieces=Exists(there))
        .order_by(F("arrived_on").desc(nulls_last=True), "-id")
    )
    with_pieces: list[MillLot] = [lot for lot in lots if getattr(lot, "has_pieces", False)]
    return with_pieces or list(lots[:5])


def _vessels() -> list[Vessel]:
    """All vessels, the one used last first, with whether a pot stands in it."""
    used = Pot.objects.filter(vessel=OuterRef("pk")).order_by("-id")
    in_use = Pot.objects.filter(vessel=OuterRef("pk"), loaded_at__isnull=False, out_at__isnull=True)
    return list(
        Vessel.objects.filter(retired_at__isnull=True)
        .annotate(last_used=Subquery(used.values("id")[:1]), in_use=Exists(in_use))
        .order_by(F("last_used").desc(nulls_last=True), "name")
    )


def _colourways() -> list[Colourway]:
    """The named colourways by name, then the newest of those that have only their code."""
    standing = Colourway.objects.filter(retired_at__isnull=True)
    newest = standing.filter(name="").order_by("-id").values("pk")[:NEWEST_COLOURWAYS]
    unnamed = set(newest.values_list("pk", flat=True))
    found = list(standing.filter(~Q(name="") | Q(pk__in=unnamed)))
    return sorted(found, key=lambda each: (not each.name, each.name.casefold(), -each.pk))


def mill_lots_for(loads: Sequence[PotLoad]) -> list[MillLot]:
    """The lots that a planned pot can be loaded from, the planned one first."""
    if not loads:
        return []
    planned = loads[0].mill_lot
    others = [lot for lot in _mill_lots(loads[0].put_up) if lot.pk != planned.pk]
    return [planned, *others]
