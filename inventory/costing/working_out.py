"""What one piece, milligram or microlitre costs, worked out of facts that were read beforehand.

Cost goes with the ledger: what a movement uses up is the cost of what it makes. Of a base it goes to the pieces of that base
and put-up by count, else to all that is made by weight. What is binned while the rest is judged falls on the rest. Good
pieces and seconds of one put-up and lot cost the same. Yarn of an unknown mill lot leaves first in, first out.
"""

from __future__ import annotations

import datetime as dt
from bisect import bisect_right
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any

from dyehouse.ledger.models import Item
from inventory.costing.facts import Facts, Moved, Pair, Passed
from inventory.costing.first_in import CameIn
from inventory.costing.models import PotCosts, UsualCosts
from inventory.costing.sums import NANO, added, shares
from recipes.dyeing.units import whole
from recipes.models import DyedYarn

#: The parts of a cost, in the order they are shown; the second words say where a guess comes from.
PARTS: dict[str, str] = {
    "yarn": "Undyed yarn",
    "freight": "Freight share",
    "dye": "Dye",
    "auxiliaries": "Auxiliaries",
    "energy": "Energy",
    "wages": "Work",
    "labels": "Label and wrapping",
    "before": "As it was before the house",
}
PART_OF_KIND = {
    Item.Kind.UNDYED: "yarn",
    Item.Kind.DYE: "dye",
    Item.Kind.STOCK: "dye",
    Item.Kind.MIX: "dye",
    Item.Kind.AUXILIARY: "auxiliaries",
    Item.Kind.DYED: "before",
    Item.Kind.KIT: "before",
}
FIRST_IN = "mill lot"
STAGES_A_POT = ("load", "dye", "rinse")
STAGES_A_PIECE = ("twist", "label", "photograph")
STAGES = STAGES_A_POT + STAGES_A_PIECE
Sums = dict[str, Fraction]


@dataclass(slots=True)
class Cost:
    """Exact nano by part, and by the names of parts what in it is guessed and what is lacking."""

    parts: Sums = field(default_factory=dict)
    guesses: set[str] = field(default_factory=set)
    lacking: set[str] = field(default_factory=set)

    def add(self, other: Cost, times: int | Fraction = 1) -> None:
        for part, nano in other.parts.items():
            self.parts[part] = self.parts.get(part, Fraction(0)) + nano * times
        self.guesses |= other.guesses
        self.lacking |= other.lacking

    def put(self, part: str, nano: Fraction | int) -> None:
        self.parts[part] = self.parts.get(part, Fraction(0)) + nano

    @property
    def nano(self) -> Fraction:
        return sum(self.parts.values(), Fraction(0))


@dataclass(slots=True)
class Layer:
    """Pieces of an unknown mill lot that came in together: from which to which piece counted, and what one costs."""

    passed: Passed
    start: int
    end: int
    each: Cost

    def kept(self) -> list[Any]:
        """As it is kept beside the cost of its item and lot."""
        came = self.passed
        return CameIn(
            came.at,
            came.movement,
            came.source,
            came.line,
            came.quantity,
            int(self.each.nano),
            tuple(sorted(self.each.guesses)),
            tuple(sorted(self.each.lacking)),
        ).kept()


class WorkingOut:
    """Costs by item and lot, each worked out once when first asked for."""

    def __init__(
        self, facts: Facts, known: Mapping[Pair, Cost] | None = None, lots: Collection[int] | None = None
    ) -> None:
        """`lots` are those that the facts tell all of; of others it takes what is `known`."""
        self.facts = facts
        self._cost: dict[Pair, Cost] = {}
        self._known = known or {}
        self._lots = lots
        self._shared: dict[int, dict[int, Cost]] = {}
        self._doing: set[Pair] = set()
        self._made: dict[Pair, list[Moved]] = {}
        self._made_in: dict[int, list[Moved]] = {}
        self._arrived: dict[Pair, list[Moved]] = {}
        self._layers: dict[Pair, list[Layer]] = {}
        self._out_from: dict[int, int] = {}
        self._piece: dict[int, Cost] = {}
        for line in facts.made:
            self._made.setdefault(self.node(line.pair), []).append(line)
            self._made_in.setdefault(line.movement, []).append(line)
        for line in facts.arrived:
            self._arrived.setdefault(self.node(line.pair), []).append(line)
        self._binned: dict[int, int] = {}
        for lines in facts.used.values():
            for line in lines:
                if line.id in facts.binned:
                    self._binned[line.lot] = self._binned.get(line.lot, 0) + line.quantity
        self.pots_of: dict[int, list[tuple[int, int]]] = {}
        for movement in facts.pot_out:
            for line in self._made_in[movement]:
                self.pots_of.setdefault(line.lot, []).append((movement, line.quantity))

    def node(self, pair: Pair) -> Pair:
        """What is reckoned as one: judged pieces of a put-up and lot, whatever they are called, stand by its negative id."""
        item, lot = pair
        grade = self.facts.grade.get(item)
        if grade is None or grade == DyedYarn.Grade.UNJUDGED:
            return pair
        return -self.facts.put_up[item], lot

    def pairs(self) -> set[Pair]:
        """Every item and lot that was made or came in, by these facts."""
        return {line.pair for line in (*self.facts.made, *self.facts.arrived)}

    def of(self, pair: Pair) -> Cost:
        """What one of an item and lot costs: whole nano by part."""
        node = self.node(pair)
        if node in self._cost:
            return self._cost[node]
        if self._lots is not None and pair[1] not in self._lots and not self.is_first_in(pair):
            return self._known[pair] if pair in self._known else self._last_known(pair)
        if node in self._doing:
            return Cost(lacking={"before"})
        self._doing.add(node)
        exact = self._worked_out(node, pair)
        self._doing.discard(node)
        exact.parts = {part: Fraction(whole(nano)) for part, nano in exact.parts.items() if nano}
        self._cost[node] = exact
        return exact

    def _worked_out(self, node: Pair, pair: Pair) -> Cost:
        if self.is_first_in(pair):
            layers = self.layers(pair)
            return layers[-1].each if layers else self._last_known(pair)
        whole_cost, pieces = Cost(), 0
        for line in self._made.get(node, ()):
            shared = self.shared(line.movement)
            if line.id in shared:
                whole_cost.add(shared[line.id])
                pieces += line.quantity
        unpriced = False
        for line in self._arrived.get(node, ()):
            if line.id in self.facts.paid:
                whole_cost.add(self._invoice(line))
                pieces += line.quantity
            else:
                unpriced = True
        if not pieces:
            return self._last_known(pair)
        part = PART_OF_KIND.get(Item.Kind(self.facts.kind.get(pair[0], Item.Kind.MIX)), "before")
        guesses = whole_cost.guesses | ({part} if unpriced else set())
        return Cost(
            {name: nano / pieces for name, nano in whole_cost.parts.items()}, guesses, whole_cost.lacking
        )

    def _invoice(self, line: Moved) -> Cost:
        paid = self.facts.paid[line.id]
        part = PART_OF_KIND.get(Item.Kind(self.facts.kind[line.item]), "before")
        parts = {part: paid.goods}
        if paid.freight:
            parts["freight"] = paid.freight
        return Cost(parts, {part} if paid.as_agreed else set())

    def _last_known(self, pair: Pair) -> Cost:
        """The last price paid for the same thing, marked as a guess; else nothing, marked as lacking."""
        item, lot = pair
        if lot in self.facts.bottles:
            strength, dye, jar = self.facts.bottles[lot]
            of_dye = self.of(jar) if jar is not None else self._last_known((dye, 0))
            each = Fraction(strength, 1_000_000)
            guesses = of_dye.guesses | ({"dye"} if not of_dye.lacking else set())
            return Cost(
                {part: nano * each for part, nano in of_dye.parts.items()}, guesses, set(of_dye.lacking)
            )
        part = PART_OF_KIND.get(Item.Kind(self.facts.kind.get(item, Item.Kind.MIX)), "before")
        priced = self.facts.priced.get(item) if part in ("yarn", "dye", "auxiliaries") else None
        if not priced:
            return Cost(lacking={part})
        line, its_lot, quantity = priced[-1]
        paid = self.facts.paid[line]
        parts = {part: paid.goods / quantity}
        if paid.freight:
            parts["freight"] = paid.freight / quantity
        return Cost(parts, guesses={part} if its_lot != lot else set())

    # --- What a movement makes ----------------------------------------------------------------------------------------

    def shared(self, movement: int) -> dict[int, Cost]:
        """What a movement used up, by the lines of what it made; nothing where pieces only go by another name."""
        if movement in self._shared:
            return self._shared[movement]
        made, used = self._made_in.get(movement, []), self.facts.used.get(movement, [])
        if used and {self.node(line.pair) for line in used} == {self.node(line.pair) for line in made}:
            self._shared[movement] = {}
            return {}
        sums: dict[int, Cost] = {line.id: Cost() for line in made}
        for line in used:
            self._share(self.line_cost(line), self._takes(line, made), sums)
        for cost in self._beside(movement, made):
            self._share(cost, made, sums)
        for line in made:
            self._add_for_pieces(line, used, sums[line.id])
        self._shared[movement] = sums
        return sums

    def _share(self, cost: Cost, among: list[Moved], sums: dict[int, Cost]) -> None:
        weights = {line.id: self.weight(line) for line in among}
        by_part = {part: shares(nano, weights) for part, nano in cost.parts.items()}
        for line in among:
            each = {part: by_part[part][line.id] for part in cost.parts}
            sums[line.id].add(Cost(each, cost.guesses, cost.lacking))

    def _takes(self, used: Moved, made: list[Moved]) -> list[Moved]:
        put_up = self.facts.put_up.get(used.item)
        same = [line for line in made if put_up is not None and self.facts.put_up.get(line.item) == put_up]
        return same or made

    def weight(self, line: Moved) -> int:
        """Milligrams of yarn by its put-up; of anything else its quantity."""
        put_up = self.facts.put_up.get(line.item)
        return line.quantity * (self.facts.milligrams[put_up] if put_up is not None else 1)

    def line_cost(self, line: Moved) -> Cost:
        """What a line of the ledger that leaves a place takes with it."""
        if self.is_first_in(line.pair):
            return self._first_out(line)
        cost = Cost()
        cost.add(self.of(line.pair), line.quantity)
        return cost

    def _beside(self, movement: int, made: list[Moved]) -> Iterable[Cost]:
        """What a pot took beside its yarn, or a kit beside its parts."""
        out = self.facts.pot_out.get(movement)
        if out is not None:
            yield self.bath(out.pot)
            yield self.pot_work(out.pot, out.day)
        for line in made:
            if self.facts.kind.get(line.item) == Item.Kind.KIT:
                yield self._kit_work(line)

    def bath(self, pot: int) -> Cost:
        """The dye and auxiliaries that a pot's log took from jars, bottles, mixes and cans."""
        cost = Cost()
        for line in self.facts.pot_used.get(pot, ()):
            cost.add(self.of(line.pair), line.quantity)
        return cost

    # --- Work ---------------------------------------------------------------------------------------------------------

    def usual_on(self, day: dt.date) -> UsualCosts | None:
        """What was usual on a day; before the first one said, that one."""
        known = self.facts.usual
        at = bisect_right([(row.from_day, row.pk) for row in known], (day, 10**18)) if known else 0
        return known[max(0, at - 1)] if known else None

    def pot_work(self, pot: int, day: dt.date) -> Cost:
        """Energy, and the minutes that a pot took to be loaded, dyed and rinsed."""
        usual, own, cost = self.usual_on(day), self.facts.own.get(pot), Cost()
        energy = own.energy_minor if own is not None else None
        if energy is not None:
            cost.put("energy", energy * NANO)
        elif usual is not None and usual.energy_minor is not None:
            cost.put("energy", usual.energy_minor * NANO)
            cost.guesses.add("energy")
        else:
            cost.lacking.add("energy")
        for stage in STAGES_A_POT:
            cost.add(self.stage(own, usual, stage))
        return cost

    def stage(
        self,
        own: PotCosts | None,
        usual: UsualCosts | None,
        stage: str,
        *,
        share: Fraction | int = 1,
    ) -> Cost:
        """What a stage costs: the minutes told of the pot, times a share, else the usual ones, at the wage of the day."""
        cost = Cost()
        told = getattr(own, f"{stage}_seconds", None)
        seconds = getattr(usual, f"{stage}_seconds", None) if told is None else told * share
        if seconds is None or usual is None or usual.wage_minor is None:
            cost.lacking.add("wages")
            return cost
        cost.put("wages", Fraction(usual.wage_minor * NANO, 3600) * seconds)
        if told is None:
            cost.guesses.add("wages")
        return cost

    def piece_work(self, lot: int) -> Cost:
        """What each kept piece of a dye lot takes after the pot: label, and minutes to twist, label and photograph it."""
        if lot in self._piece:
            return self._piece[lot]
        pots = self.pots_of.get(lot, [])
        out = sum(pieces for _, pieces in pots)
        kept = out - self._binned.get(lot, 0)
        cost = Cost()
        for movement, pieces in pots:
            pot, day = self.facts.pot_out[movement]
            usual, own, each = self.usual_on(day), self.facts.own.get(pot), Cost()
            # Told for all pieces of the pot: what was binned of them leaves its share to the rest.
            of_pot = sum(count for other, count in pots if other == movement)
            share = Fraction(out, of_pot * kept) if kept > 0 else 0
            for stage in STAGES_A_PIECE:
                each.add(self.stage(own, usual, stage, share=share))
            if usual is not None and usual.label_minor is not None:
                each.put("labels", usual.label_minor * NANO)
            else:
                each.lacking.add("labels")
            cost.add(each, Fraction(pieces, out))
        self._piece[lot] = cost
        return cost

    def _add_for_pieces(self, line: Moved, used: list[Moved], cost: Cost) -> None:
        """The work on pieces that are judged now."""
        grade = self.facts.grade.get(line.item)
        was_unjudged = any(self.facts.grade.get(each.item) == DyedYarn.Grade.UNJUDGED for each in used)
        if grade not in (None, DyedYarn.Grade.UNJUDGED) and was_unjudged and line.lot in self.pots_of:
            cost.add(self.piece_work(line.lot), line.quantity)

    def _kit_work(self, line: Moved) -> Cost:
        usual, cost = self.usual_on(line.day), Cost()
        if usual is not None and usual.kit_minor is not None:
            cost.put("labels", usual.kit_minor * NANO * line.quantity)
        else:
            cost.lacking.add("labels")
        seconds = usual.kit_seconds if usual is not None else None
        if usual is None or seconds is None or usual.wage_minor is None:
            cost.lacking.add("wages")
        else:
            cost.put("wages", Fraction(usual.wage_minor * NANO, 3600) * seconds * line.quantity)
            cost.guesses.add("wages")
        return cost

    # --- First in, first out ------------------------------------------------------------------------------------------

    def is_first_in(self, pair: Pair) -> bool:
        """Whether it is undyed yarn of a mill lot that nobody knows."""
        return pair[1] in self.facts.unknown_lots and self.facts.kind.get(pair[0]) == Item.Kind.UNDYED

    def layers(self, pair: Pair) -> list[Layer]:
        """What came in of an unknown mill lot, in order of entry, each with what one piece cost."""
        if pair in self._layers:
            return self._layers[pair]
        layers: list[Layer] = []
        self._layers[pair] = layers
        made = {line.id: line for line in self._made.get(pair, ())}
        came = {line.id: line for line in self._arrived.get(pair, ())}
        pieces = out = 0
        for passed in self.facts.in_and_out.get(pair, ()):
            if passed.quantity < 0:
                self._out_from[passed.line] = out
                out -= passed.quantity
                continue
            each = self._layer_cost(pair, passed.line, made, came, layers)
            each.guesses |= {FIRST_IN}
            layers.append(Layer(passed, pieces, pieces + passed.quantity, each))
            pieces += passed.quantity
        return layers

    def _layer_cost(
        self,
        pair: Pair,
        line: int,
        made: Mapping[int, Moved],
        came: Mapping[int, Moved],
        before: list[Layer],
    ) -> Cost:
        whole_cost: Cost | None = None
        if line in self.facts.paid and line in came:
            whole_cost, quantity = self._invoice(came[line]), came[line].quantity
        elif line in made:
            whole_cost, quantity = self.shared(made[line].movement).get(line), made[line].quantity
        if whole_cost is not None:
            parts = {part: Fraction(whole(nano / quantity)) for part, nano in whole_cost.parts.items()}
            return Cost(parts, set(whole_cost.guesses), set(whole_cost.lacking))
        if before:
            last = before[-1].each
            return Cost(dict(last.parts), last.guesses | {"yarn"}, set(last.lacking))
        guess = self._last_known(pair)
        parts = {part: Fraction(whole(nano)) for part, nano in guess.parts.items()}
        return Cost(parts, guess.guesses | ({"yarn"} if parts else set()), guess.lacking)

    def _first_out(self, line: Moved) -> Cost:
        layers = self.layers(line.pair)
        cost = Cost()
        if not layers:
            return Cost(lacking={"yarn"})
        start = self._out_from.get(line.id, layers[-1].end)
        end, at = start + line.quantity, start
        for layer in layers[bisect_right(layers, at, key=lambda layer: layer.end) :]:
            took = min(end, layer.end) - at
            if took <= 0:
                break
            cost.add(layer.each, took)
            at += took
        if at < end:
            cost.add(layers[-1].each, end - at)
        return cost


def total(costs: Iterable[Cost]) -> Sums:
    """The parts of several costs together."""
    return added(cost.parts for cost in costs)
