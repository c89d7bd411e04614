"""What stands in the store today, as far as a redye asks: mill lots, bottles, jars, auxiliaries, in one read."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from dyehouse.ledger.models import Balance, Item
from recipes.models import BaseFibre, Jar, MillLot, StockBottle

Fibres = tuple[tuple[str, int], ...]


@dataclass(frozen=True, slots=True)
class LotPieces:
    """Pieces of one mill lot: taken, or there."""

    mill_lot: MillLot
    pieces: int

    def __str__(self) -> str:
        name = "a lot not known" if self.mill_lot.unknown else f"mill lot {self.mill_lot}"
        return f"{self.pieces} of {name}"


@dataclass(frozen=True, slots=True)
class InStore:
    """Mill lots that still have yarn, the newest first; open bottles and jars, the oldest first; what is left of each.

    `left` is by the ledger's lot, in microlitres or milligrams; `yarn` is what is free of a put-up (its item) by mill lot.
    """

    mill_lots: list[MillLot] = field(default_factory=list)
    bottles: list[StockBottle] = field(default_factory=list)
    jars: list[Jar] = field(default_factory=list)
    left: dict[int, int] = field(default_factory=dict)
    yarn: dict[int, list[LotPieces]] = field(default_factory=dict)

    def bottles_of(self, dye_id: int, strength_mg_per_litre: int | None) -> list[StockBottle]:
        """The open bottles of a dye at a strength, the oldest first."""
        return [
            each
            for each in self.bottles
            if each.dye_id == dye_id and each.strength_mg_per_litre == strength_mg_per_litre
        ]

    def jars_of(self, dye_id: int) -> list[Jar]:
        """The open jars of a dye, the one opened first in front."""
        return [each for each in self.jars if each.dye_id == dye_id]


def in_store_today() -> InStore:
    """Everything that a redye may take. One query."""
    store = InStore()
    rows = (
        Balance.objects.filter(place__code="store")
        .exclude(item__kind=Item.Kind.UNDYED, on_hand=0)
        .select_related("lot__mill_lot__base", "lot__bottle__jar", "lot__bottle__dye", "lot__jar")
        .order_by("lot_id")
    )
    for row in rows:
        lot = row.lot
        store.left[lot.pk] = row.on_hand
        mill_lot, bottle, jar = (getattr(lot, name, None) for name in ("mill_lot", "bottle", "jar"))
        if mill_lot is not None and row.free > 0:
            store.yarn.setdefault(row.item_id, []).append(LotPieces(mill_lot, row.free))
        if mill_lot is not None and not mill_lot.unknown and mill_lot not in store.mill_lots:
            store.mill_lots.append(mill_lot)
        if bottle is not None and bottle.finished_at is None:
            store.bottles.append(bottle)
        if jar is not None and jar.finished_at is None:
            store.jars.append(jar)
    store.mill_lots.sort(key=lambda each: (each.base.name, -each.pk))
    store.bottles.sort(key=lambda each: (each.made_at, each.pk))
    store.jars.sort(key=lambda each: each.pk)
    return store


def fibres_of(base_ids: Iterable[int]) -> dict[int, Fibres]:
    """The fibres of bases in tenths of a percent, most of it first. One query."""
    fibres: dict[int, list[tuple[str, int]]] = {}
    rows = BaseFibre.objects.filter(base__in=set(base_ids)).order_by("-per_mille", "fibre")
    for base_id, fibre, per_mille in rows.values_list("base", "fibre", "per_mille"):
        fibres.setdefault(base_id, []).append((fibre, per_mille))
    return {base_id: tuple(shares) for base_id, shares in fibres.items()}
