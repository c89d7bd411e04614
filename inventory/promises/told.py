"""What promises tell the shelf: every box that is still to be kept, and the spares meant to stand behind it."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from fractions import Fraction
from math import ceil

from django.db.models import Prefetch

from dyehouse.ledger.models import Held
from dyehouse.studio.templatetags.house import address_of
from inventory.promises.boxes import due_on, held_by_box, standing_boxes
from inventory.promises.models import Box, BoxPart, Product, Round, Spares
from inventory.spoken_for import SpokenFor

# A put-up, and the colourway or None where it is settled later.
Wanted = tuple[int, int | None]


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
    """Everything that is promised and not on its way, put together by round, product or order. At most ten queries."""
    boxes = list(
        standing_boxes()
        .select_related("round__club", "order_line__order", "order_line__offer__product")
        .prefetch_related(Prefetch("parts", queryset=BoxPart.objects.order_by("position")))
    )
    held: dict[int, dict[Wanted, int]] = defaultdict(lambda: defaultdict(int))
    for box_id, row in held_by_box([box.pk for box in boxes]):
        held[box_id][row.put_up_id, row.colourway_id] += row.pieces
    gathered: dict[tuple[str, dt.date | None], _Promise] = {}
    for box in boxes:
        what, address = what_it_is(box)
        due = due_on(box)
        promise = gathered.setdefault((address or what, due), _Promise(due, what, address))
        _count_in(promise, box, held[box.pk])
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
        for promise in [*gathered.values(), *_spares(boxes)]
        for (put_up, colourway), pieces in promise.wanted.items()
    ]


def what_it_is(box: Box) -> tuple[str, str]:
    """What a box is of, and the page that shows it; read with its round’s club, its order and its product."""
    if box.round is not None:
        return str(box.round), address_of("round", pk=box.round.pk)
    if box.order_line is not None:
        if box.order_line.offer is not None:
            product = box.order_line.offer.product
            return str(product), address_of("product", pk=product.pk)
        return f"order {box.order_line.order}", address_of("order", pk=box.order_line.order.pk)
    return f"replacement {box.code}", address_of("box", code=box.code)


def _count_in(promise: _Promise, box: Box, held: dict[Wanted, int]) -> None:
    parts = [((part.put_up_id, part.colourway_id), part.pieces) for part in box.parts.all()]
    _meet(promise, parts, held)
    if box.same_pot:
        for wanted, pieces in _together(parts):
            if pieces > 1 and not held.get(wanted):
                promise.sets[wanted].append(pieces)


def _together(parts: list[tuple[Wanted, int]]) -> list[tuple[Wanted, int]]:
    """Pieces of a box of one colourway on one put-up; those whose colourway is open are one colourway part by part."""
    named: dict[Wanted, int] = defaultdict(int)
    for wanted, pieces in parts:
        if wanted[1] is not None:
            named[wanted] += pieces
    return [*named.items(), *((wanted, pieces) for wanted, pieces in parts if wanted[1] is None)]


def _meet(promise: _Promise, wanted: list[tuple[Wanted, int]], held: dict[Wanted, int]) -> None:
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


def _spares(boxes: list[Box]) -> list[_Promise]:
    """The spares behind every round and product of which a box is still to be kept, over all its boxes not withdrawn."""
    rounds = {box.round.pk: box.round for box in boxes if box.round is not None}
    products = {
        box.order_line.offer.product.pk: box.order_line.offer.product
        for box in boxes
        if box.order_line is not None and box.order_line.offer is not None
    }
    told = []
    if any(round_.spares_percent for round_ in rounds.values()):
        parts = BoxPart.objects.filter(box__round__in=rounds, box__withdrawn_at__isnull=True)
        wanted = _added(parts.values_list("box__round", "put_up", "colourway", "pieces"))
        put_by = _added(_put_by("round", rounds))
        for pk, round_ in rounds.items():
            told.append(_behind(round_, address_of("round", pk=pk), wanted[pk], put_by[pk]))
    if any(product.spares_percent for product in products.values()):
        parts = BoxPart.objects.filter(
            box__order_line__offer__product__in=products, box__withdrawn_at__isnull=True
        )
        wanted = _added(parts.values_list("box__order_line__offer__product", "put_up", "colourway", "pieces"))
        put_by = _added(_put_by("product", products))
        for pk, product in products.items():
            told.append(_behind(product, address_of("product", pk=pk), wanted[pk], put_by[pk]))
    return told


def _put_by(of: str, ids: Iterable[int]) -> Iterable[tuple[int, int, int | None, int]]:
    claims = dict(Spares.objects.filter(**{f"{of}__in": list(ids)}).values_list("claim", of))
    rows = Held.objects.filter(claim__in=claims, quantity__gt=0, item__dyed__isnull=False)
    for claim, put_up, colourway, pieces in rows.values_list(
        "claim", "item__dyed__put_up", "item__dyed__colourway", "quantity"
    ):
        yield claims[claim], put_up, colourway, pieces


def _added(rows: Iterable[tuple[int, int, int | None, int]]) -> dict[int, dict[Wanted, int]]:
    sums: dict[int, dict[Wanted, int]] = defaultdict(lambda: defaultdict(int))
    for of, put_up, colourway, pieces in rows:
        sums[of][put_up, colourway] += pieces
    return sums


def _behind(
    of: Round | Product, address: str, wanted: dict[Wanted, int], put_by: dict[Wanted, int]
) -> _Promise:
    promise = _Promise(of.ships_on, f"spares of {of}", address)
    if of.spares_percent:
        spares = [(what, ceil(Fraction(pieces * of.spares_percent, 100))) for what, pieces in wanted.items()]
        _meet(promise, spares, put_by)
    return promise
