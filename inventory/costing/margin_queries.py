"""Margins of everything that lies on the shelf, colourway by base and put-up, and of kits and what clubs are sent."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from django.db.models import Sum
from django.urls import reverse

from dyehouse.ledger.models import Balance, Item
from inventory.costing.margins import Margin, margins
from inventory.costing.models import UnitCost
from inventory.costing.prices import Prices
from inventory.costing.reckoning import up_to_date
from inventory.costing.sums import to_minor
from recipes.models import DyedYarn


@dataclass(frozen=True, slots=True)
class Sold:
    """What another room sells together at one price: so many pieces by put-up, the colourway where it is known."""

    what: str
    address: str
    price_minor: int | None
    parts: tuple[tuple[int, int | None, int], ...]


Source = Callable[[], Iterable[Sold]]
_sources: list[Source] = []


def tell_of_sold(source: Source) -> None:
    """Have what a room sells together stand among the margins. Told twice, it stands once."""
    if source not in _sources:
        _sources.append(source)


@dataclass(frozen=True, slots=True)
class MarginRow:
    """Something that is sold: what one costs on the average of what is there, and what is left of its price."""

    what: str
    detail: str
    address: str
    cost_minor: int
    is_guess: bool
    lacks: bool
    retail_minor: int | None
    margins: list[Margin]


@dataclass(frozen=True, slots=True)
class Margins:
    """Pieces, kits, and what clubs are sent."""

    pieces: list[MarginRow]
    kits: list[MarginRow]
    sold: list[MarginRow]


@dataclass(slots=True)
class _Average:
    nano: int = 0
    pieces: int = 0
    guesses: bool = False
    lacks: bool = False

    def add(self, cost: UnitCost, pieces: int) -> None:
        self.nano += cost.nano * pieces
        self.pieces += pieces
        self.guesses = self.guesses or bool(cost.guesses)
        self.lacks = self.lacks or bool(cost.lacking)

    @property
    def each(self) -> int:
        return self.nano // self.pieces if self.pieces else 0


def margins_now(*, prices: Prices) -> Margins:
    """What is left of each price, by what lies here; what lies nowhere by the lot that was made last. A few queries."""
    up_to_date()
    there: dict[tuple[int, int], int] = {
        (item, lot): pieces
        for item, lot, pieces in Balance.objects.filter(
            item__kind__in=(Item.Kind.DYED, Item.Kind.KIT), on_hand__gt=0
        )
        .values_list("item_id", "lot_id")
        .annotate(sum=Sum("on_hand"))
    }
    average: dict[int, _Average] = {}
    newest: dict[int, UnitCost] = {}
    costs = UnitCost.objects.filter(item__kind__in=(Item.Kind.DYED, Item.Kind.KIT))
    for cost in costs.order_by("lot_id"):
        if cost.item_id not in newest or not cost.lacking:
            newest[cost.item_id] = cost
        pieces = there.get((cost.item_id, cost.lot_id), 0)
        if pieces:
            average.setdefault(cost.item_id, _Average()).add(cost, pieces)
    for item, cost in newest.items():
        if item not in average:
            average[item] = _Average()
            average[item].add(cost, 1)
    good = DyedYarn.objects.filter(grade=DyedYarn.Grade.GOOD, item__in=list(average))
    dyed = list(good.select_related("colourway", "put_up__base", "item"))
    pieces_rows = [_piece(each, average[each.item_id], prices) for each in dyed]
    by_yarn = {(each.put_up_id, each.colourway_id): average[each.item_id] for each in dyed}
    kits = Item.objects.filter(kind=Item.Kind.KIT, pk__in=list(average)).select_related("kit")
    return Margins(
        sorted(pieces_rows, key=lambda row: (row.what.lower(), row.detail)),
        [_kit(each, average[each.pk], prices) for each in kits.order_by("name")],
        [_sold(each, by_yarn) for source in _sources for each in source()],
    )


def _left(cost_nano: int, lacks: bool, retail_minor: int | None) -> list[Margin]:
    """The margins; none where nothing at all is known of the cost."""
    return [] if lacks and not cost_nano else margins(cost_nano=cost_nano, retail_minor=retail_minor)


def _piece(dyed: DyedYarn, cost: _Average, prices: Prices) -> MarginRow:
    retail = prices.of(put_up_id=dyed.put_up_id, colourway_id=dyed.colourway_id)
    return MarginRow(
        str(dyed.colourway),
        str(dyed.put_up),
        reverse("costs-price", args=[dyed.put_up_id]),
        to_minor(cost.each),
        cost.guesses,
        cost.lacks,
        retail,
        _left(cost.each, cost.lacks, retail),
    )


def _kit(item: Item, cost: _Average, prices: Prices) -> MarginRow:
    retail = prices.of_kit.get(item.kit.pk)
    return MarginRow(
        item.name,
        "with its very pieces, wrapping and label",
        reverse("costs-kit-price", args=[item.kit.pk]),
        to_minor(cost.each),
        cost.guesses,
        cost.lacks,
        retail,
        _left(cost.each, cost.lacks, retail),
    )


def _sold(sold: Sold, by_yarn: dict[tuple[int, int], _Average]) -> MarginRow:
    whole, guesses, lacks = 0, False, False
    for put_up, colourway, pieces in sold.parts:
        fitting = [
            cost for (of, named), cost in by_yarn.items() if of == put_up and colourway in (None, named)
        ]
        if not fitting:
            lacks = True
            continue
        # A colourway that is still open costs what the put-up costs on the average.
        total = sum(cost.nano for cost in fitting)
        whole += pieces * (total // sum(cost.pieces for cost in fitting))
        guesses = guesses or colourway is None or any(cost.guesses for cost in fitting)
        lacks = lacks or any(cost.lacks for cost in fitting)
    count = sum(pieces for *_, pieces in sold.parts)
    return MarginRow(
        sold.what,
        f"{count} piece{'' if count == 1 else 's'}",
        sold.address,
        to_minor(whole),
        guesses,
        lacks,
        sold.price_minor,
        _left(whole, lacks, sold.price_minor),
    )
