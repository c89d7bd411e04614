"""What promises tell the shelf: every box that is still to be kept, and the spares meant to stand behind it."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from fractions import Fraction
from math import ceil

from django.db.models import Q

from dyehouse.ledger.models import Held
from dyehouse.studio.templatetags.house import address_of
from inventory.promises.boxes import due_on, standing_boxes
from inventory.promises.models import Box, BoxPart, Product, Round
from inventory.spoken_for import SpokenFor

# A put-up, and the colourway or None where it is settled later.
Wanted = tuple[int, int | None]
Parts = list[tuple[Wanted, int]]
Sums = dict[int, dict[Wanted, int]]


@dataclass(slots=True)
class _Promise:
    """All boxes of one round, one product or one order that are due the same day."""

    due: dt.date | None
    what: str
    address: str
    wanted: dict[Wanted, int] = field(default_factory=lambda: defaultdict(int))
    held: dict[Wanted, int] = field(default_factory=lambda: defaultdict(int))
    sets: dict[Wanted, list[int]] = field(default_factory=lambda: defaultdict(list))


def promised() -> list[SpokenFor]:
    """Everything that is promised and not on its way, put together by round, product or order. Three queries."""
    boxes = list(
        standing_boxes().select_related("round__club", "order_line__order", "order_line__offer__product")
    )
    if not boxes:
        return []
    rounds = {box.round.pk: box.round for box in boxes if box.round is not None}
    products = {
        box.order_line.offer.product.pk: box.order_line.offer.product
        for box in boxes
        if box.order_line is not None and box.order_line.offer is not None
    }
    parts, behind_round, behind_product = _parts(boxes, rounds, products)
    held, by_round, by_product = _held(boxes, rounds, products)
    gathered: dict[tuple[str, dt.date | None], _Promise] = {}
    for box in boxes:
        what, address = what_it_is(box)
        due = due_on(box)
        promise = gathered.setdefault((address or what, due), _Promise(due, what, address))
        _count_in(promise, box, parts[box.pk], held[box.claim_id])
    spares = [
        *(
            _behind(each, address_of("round", pk=pk), behind_round[pk], by_round[pk])
            for pk, each in rounds.items()
        ),
        *(
            _behind(each, address_of("product", pk=pk), behind_product[pk], by_product[pk])
            for pk, each in products.items()
        ),
    ]
    return [
        SpokenFor(
            due=promise.due,
            put_up_id=put_up,
            colourway_id=colourway,
            pieces=pieces,
            held=min(pieces, promise.held[put_up, colourway]),
            what=promise.what,
            address=promise.address,
            sets=tuple(promise.sets[put_up, colourway]),
        )
        for promise in [*gathered.values(), *spares]
        for (put_up, colourway), pieces in promise.wanted.items()
    ]


def _sums() -> Sums:
    return defaultdict(lambda: defaultdict(int))


def _parts(
    boxes: list[Box], rounds: Iterable[int], products: Iterable[int]
) -> tuple[dict[int, Parts], Sums, Sums]:
    """What each box wants, and what all boxes of each round and product want together, those on their way as well."""
    of_boxes: dict[int, Parts] = defaultdict(list)
    behind_round, behind_product = _sums(), _sums()
    rows = BoxPart.objects.filter(
        Q(box__in=boxes) | Q(box__round__in=rounds) | Q(box__order_line__offer__product__in=products),
        box__withdrawn_at__isnull=True,
    ).order_by("box_id", "position")
    for box, of_round, product, put_up, colourway, pieces in rows.values_list(
        "box", "box__round", "box__order_line__offer__product", "put_up", "colourway", "pieces"
    ):
        of_boxes[box].append(((put_up, colourway), pieces))
        if of_round is not None:
            behind_round[of_round][put_up, colourway] += pieces
        elif product is not None:
            behind_product[product][put_up, colourway] += pieces
    return of_boxes, behind_round, behind_product


def _held(boxes: list[Box], rounds: Iterable[int], products: Iterable[int]) -> tuple[Sums, Sums, Sums]:
    """What is held for each box, by its claim, and put by as spares of each round and product."""
    by_claim, by_round, by_product = _sums(), _sums(), _sums()
    rows = Held.objects.filter(
        Q(claim__in=[box.claim_id for box in boxes])
        | Q(claim__spares__round__in=rounds)
        | Q(claim__spares__product__in=products),
        quantity__gt=0,
        item__dyed__isnull=False,
    ).order_by("place__order", "place_id", "item_id", "lot_id")
    for claim, of_round, product, put_up, colourway, pieces in rows.values_list(
        "claim",
        "claim__spares__round",
        "claim__spares__product",
        "item__dyed__put_up",
        "item__dyed__colourway",
        "quantity",
    ):
        if of_round is not None:
            by_round[of_round][put_up, colourway] += pieces
        elif product is not None:
            by_product[product][put_up, colourway] += pieces
        else:
            by_claim[claim][put_up, colourway] += pieces
    return by_claim, by_round, by_product


def what_it_is(box: Box) -> tuple[str, str]:
    """What a box is of, and the page that shows it; read with its round’s club, its order and its product."""
    if box.round is not None:
        return str(box.round), address_of("round", pk=box.round.pk)
    if box.order_line is not None:
        if box.order_line.offer is not None:
            product = box.order_line.offer.product
            return str(product), address_of("product", pk=product.pk)
        return f"order {box.order_line.order}", address_of("order", pk=box.order_line.order.pk)
    return f"replacement {box.code}", address_of("parcel-box", code=box.code)


def _count_in(promise: _Promise, box: Box, parts: Parts, held: dict[Wanted, int]) -> None:
    _meet(promise, parts, held)
    if box.same_pot:
        for wanted, pieces in _together(parts):
            if pieces > 1 and not held.get(wanted):
                promise.sets[wanted].append(pieces)


def _together(parts: Parts) -> Parts:
    """Pieces of a box of one colourway on one put-up; those whose colourway is open are one colourway part by part."""
    named: dict[Wanted, int] = defaultdict(int)
    for wanted, pieces in parts:
        if wanted[1] is not None:
            named[wanted] += pieces
    return [*named.items(), *((wanted, pieces) for wanted, pieces in parts if wanted[1] is None)]


def _meet(promise: _Promise, wanted: Parts, held: dict[Wanted, int]) -> None:
    """Add what is wanted, and of what is held each piece once: first where a colourway was named, then where any will do."""
    left = dict(held)
    for (put_up, colourway), pieces in sorted(wanted, key=lambda row: row[0][1] is None):
        promise.wanted[put_up, colourway] += pieces
        missing = pieces
        for key in left:
            if key[0] == put_up and colourway in (None, key[1]):
                taken = min(missing, left[key])
                left[key] -= taken
                missing -= taken
        promise.held[put_up, colourway] += pieces - missing


def _behind(
    of: Round | Product, address: str, wanted: dict[Wanted, int], put_by: dict[Wanted, int]
) -> _Promise:
    promise = _Promise(of.ships_on, f"spares of {of}", address)
    if of.spares_percent:
        spares = [(what, ceil(Fraction(pieces * of.spares_percent, 100))) for what, pieces in wanted.items()]
        _meet(promise, spares, put_by)
    return promise
