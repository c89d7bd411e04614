"""What the ledger's movements between two moments did to the value of the stock, by what they were and by category."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from fractions import Fraction

from django.db.models import F, Q, Sum

from dyehouse.ledger.models import Line, Place
from inventory.costing.facts import Pair
from inventory.costing.first_in import FirstIn
from inventory.costing.sums import apportion
from inventory.costing.worth import Row, Things, UnitCosts, unit_costs, went_into

#: By the place outside that something comes from or goes to.
ROW_OF_OUTSIDE = {
    "supplier": "bought",
    "before_the_house": "before",
    "customer": "sold",
    "sold_or_missing": "sold",
    "given_away": "given",
    "written_off": "lost",
    "count_difference": "counted",
    "consumed": "moved",
    "made": "moved",
}
Flows = dict[str, dict[str, int]]


class _Adding:
    """Nano by row and category."""

    def __init__(self) -> None:
        self.flows: Flows = {}

    def add(self, row: str, category: str, nano: int) -> None:
        of_row = self.flows.setdefault(row, {})
        of_row[category] = of_row.get(category, 0) + nano

    def total(self, row: str) -> int:
        return sum(self.flows.get(row, {}).values())


def flows_between(
    *,
    after: dt.datetime | None,
    until: dt.datetime,
    opening: Sequence[Row],
    closing: Sequence[Row],
    things: Things,
) -> Flows:
    """All changes of value after one moment up to another, in nano, at what things cost as it is known today.

    `opening` and `closing` are the stock of the two moments by the same costs. What is made costs what was used for it, and
    what it costs beyond that is what work, energy and labels put in.
    """
    lines = Line.objects.filter(movement__happened_at__lte=until).exclude(from_place=F("to_place"))
    if after is not None:
        lines = lines.filter(movement__happened_at__gt=after)
    groups = list(
        lines.values_list("item_id", "lot_id", "from_place_id", "to_place_id").annotate(sum=Sum("quantity"))
    )
    costs = unit_costs({(item, lot) for item, lot, *_ in groups} | {(row.item, row.lot) for row in opening})
    adding = _Adding()
    of_layers: dict[Pair, list[tuple[int, int, int]]] = {}
    for item, lot, source, target, quantity in groups:
        pair = (item, lot)
        if pair in costs.layers:
            of_layers.setdefault(pair, []).append((source, target, quantity))
            continue
        nano = quantity * costs.of(pair)
        row = row_of(things, source, target)
        for place, sign in ((source, -1), (target, 1)):
            if things.places[place].kind != Place.Kind.BOUNDARY:
                adding.add(row, things.category(place, item), sign * nano)
    _add_first_in(adding, of_layers, costs, opening, closing, things, after, until)
    _add_baths(adding, opening, closing, things, after, until)
    put_in = adding.total("moved")
    adding.add("put_in", "work", put_in)
    adding.add("moved", "work", -put_in)
    return adding.flows


def row_of(things: Things, source: int, target: int) -> str:
    """What a line is, by the place outside at one of its ends."""
    for place in (source, target):
        if things.places[place].kind == Place.Kind.BOUNDARY:
            return ROW_OF_OUTSIDE.get(things.places[place].code, "lost")
    return "moved"


def _of_pairs(rows: Iterable[Row]) -> dict[Pair, dict[str, int]]:
    found: dict[Pair, dict[str, int]] = {}
    for row in rows:
        of_pair = found.setdefault((row.item, row.lot), {})
        of_pair[row.category] = of_pair.get(row.category, 0) + row.cost
    return found


def _add_first_in(
    adding: _Adding,
    groups: Mapping[Pair, list[tuple[int, int, int]]],
    costs: UnitCosts,
    opening: Sequence[Row],
    closing: Sequence[Row],
    things: Things,
    after: dt.datetime | None,
    until: dt.datetime,
) -> None:
    """Yarn of unknown mill lots: what left cost what there was, and came in, less what is left."""
    first, last = _of_pairs(opening), _of_pairs(closing)
    for pair, those in groups.items():
        came = _came_in(costs.layers[pair], after, until)
        change = _less(last.get(pair, {}), first.get(pair, {}))
        outs, categories = _by_code(pair[0], those, things, came)
        went = sum(nano for _, nano in came.values()) - sum(change.values())
        shared = apportion(went, _by_quantity(went, outs)) if outs else {}
        known: dict[str, int] = {}
        for code, (_, nano) in came.items():
            _put(adding, known, ROW_OF_OUTSIDE.get(code, "lost"), categories.get(code, "undyed"), nano)
        for code, nano in shared.items():
            _put(adding, known, ROW_OF_OUTSIDE.get(code, "lost"), categories.get(code, "undyed"), -nano)
        if not outs and went:
            _put(adding, known, "put_right", "undyed", -went)
        for category in {*change, *known}:
            rest = change.get(category, 0) - known.get(category, 0)
            if rest:
                adding.add("moved", category, rest)


def _put(adding: _Adding, known: dict[str, int], row: str, category: str, nano: int) -> None:
    adding.add(row, category, nano)
    known[category] = known.get(category, 0) + nano


def _came_in(first_in: FirstIn, after: dt.datetime | None, until: dt.datetime) -> dict[str, tuple[int, int]]:
    """Pieces and nano of what came in between two moments, by where it came from."""
    found: dict[str, tuple[int, int]] = {}
    for layer in first_in.layers:
        if layer.at <= until and (after is None or layer.at > after):
            pieces, nano = found.get(layer.source, (0, 0))
            found[layer.source] = (pieces + layer.pieces, nano + layer.pieces * layer.nano)
    return found


def _less(one: Mapping[str, int], other: Mapping[str, int]) -> dict[str, int]:
    return {name: one.get(name, 0) - other.get(name, 0) for name in {*one, *other}}


def _by_code(
    item: int,
    groups: Iterable[tuple[int, int, int]],
    things: Things,
    came: Mapping[str, tuple[int, int]],
) -> tuple[dict[str, int], dict[str, str]]:
    """Pieces to each place outside, less what was taken back, and the category each touches."""
    ins: dict[str, int] = {}
    outs: dict[str, int] = {}
    categories: dict[str, str] = {}
    for source, target, quantity in groups:
        for place, other, counts in ((source, target, ins), (target, source, outs)):
            if things.places[place].kind == Place.Kind.BOUNDARY:
                code = things.places[place].code
                counts[code] = counts.get(code, 0) + quantity
                if things.places[other].kind != Place.Kind.BOUNDARY:
                    categories[code] = things.category(other, item)
    for code, pieces in ins.items():
        taken_back = pieces - came.get(code, (0, 0))[0]
        if taken_back:
            outs[code] = outs.get(code, 0) - taken_back
    return {code: pieces for code, pieces in outs.items() if pieces > 0}, categories


def _by_quantity(nano: int, outs: Mapping[str, int]) -> dict[str, Fraction]:
    pieces = sum(outs.values())
    return {code: Fraction(nano * each, pieces) for code, each in outs.items()}


def _add_baths(
    adding: _Adding,
    opening: Sequence[Row],
    closing: Sequence[Row],
    things: Things,
    after: dt.datetime | None,
    until: dt.datetime,
) -> None:
    """Dye that went into a pot is in work until its pieces are out; that of a trial without pieces is gone."""
    baths = [
        sum(row.cost for row in rows if row.place == things.in_pots and _is_bath(things, row.item))
        for rows in (opening, closing)
    ]
    adding.add("moved", "work", baths[1] - baths[0])
    out = Q(pot__loads__isnull=True, pot__out_at__lte=until)
    if after is not None:
        out &= Q(pot__out_at__gt=after)
    never_loaded = Q(pot__loaded_at__isnull=True)
    gone = [went_into(out, until=until), went_into(never_loaded, until=until, after=after)]
    more = unit_costs({pair for each in gone for pair in each})
    lost = sum(quantity * more.of(pair) for each in gone for pair, quantity in each.items())
    if lost:
        adding.add("lost", "work", -lost)
        adding.add("moved", "work", lost)


def _is_bath(things: Things, item: int) -> bool:
    return things.item_kind[item] not in ("undyed", "dyed", "kit")
