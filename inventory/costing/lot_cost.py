"""What one dye lot cost, laid open: every mill lot, jar, can and minute, what of it is a guess, and what is left of the price."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from fractions import Fraction

from dyehouse.ledger.models import Item, Lot
from dyehouse.ledger.operations import say_quantity
from inventory.costing.facts import Facts, Moved, facts_for
from inventory.costing.margins import Margin, margins
from inventory.costing.prices import Prices
from inventory.costing.reckoning import costs_by_lot, up_to_date
from inventory.costing.sums import NANO, ROUNDING, apportion, to_minor
from inventory.costing.working_out import PARTS, STAGES_A_POT, Cost, WorkingOut
from recipes.dyeing.units import format_minutes, whole
from recipes.dyeing.working import Source, Standing, Working
from recipes.lots.models import DyeLot
from recipes.models import DyedYarn, PutUp

IAS_2 = Source("IAS 2 Inventories, paragraphs 10-16 and 23-27", Standing.FROM_MEMORY)
GUESSED: dict[str, str] = {
    "yarn": "the last known price, or one that was agreed and not billed yet",
    "dye": "the last known price",
    "auxiliaries": "the last known price",
    "energy": "the usual figure, not this pot's own",
    "wages": "usual minutes, not this pot's own",
    "labels": "the usual figure",
    "before": "as it was written down once",
    "mill lot": "mill lot not known: first in, first out",
}
LACKS: dict[str, str] = {
    "yarn": "nobody said what the yarn cost",
    "dye": "nobody said what the dye cost",
    "auxiliaries": "nobody said what the auxiliaries cost",
    "energy": "no energy for a pot is written down",
    "wages": "the wage or the minutes are not written down",
    "labels": "no price of a label is written down",
    "before": "nobody said what it cost before the house",
}


@dataclass(frozen=True, slots=True)
class Detail:
    """One thing that went into a part of the cost."""

    words: str
    minor: int


@dataclass(frozen=True, slots=True)
class PartOfCost:
    """One part of the cost of a lot, with what it is made of. `guess` and `lacks` are sentences, or empty."""

    name: str
    minor: int
    details: list[Detail]
    guess: str
    lacks: str


@dataclass(frozen=True, slots=True)
class Piece:
    """One kind of piece of the lot: what one costs, what it sells for, and what is left."""

    words: str
    put_up: PutUp
    minor: int
    retail_minor: int | None
    margins: list[Margin]


@dataclass(slots=True)
class LotCost:
    """The whole cost of a lot: parts that sum to the total, and its pieces."""

    total_minor: int = 0
    parts: list[PartOfCost] = field(default_factory=list)
    pieces: list[Piece] = field(default_factory=list)
    pots: list[int] = field(default_factory=list)
    working: Working | None = None

    @property
    def is_complete(self) -> bool:
        return not any(part.lacks for part in self.parts)


@dataclass(slots=True)
class _Line:
    words: str
    cost: Cost


def lot_cost(dye_lot: DyeLot, *, prices: Prices) -> LotCost:
    """What a lot cost, part by part. A fixed number of queries."""
    up_to_date()
    facts = facts_for({dye_lot.lot_id})
    others = {line.lot for lines in (*facts.used.values(), *facts.pot_used.values()) for line in lines}
    known = costs_by_lot(others | {dye_lot.lot_id})
    out = WorkingOut(facts, known, {dye_lot.lot_id})
    lines = _lines(dye_lot.lot_id, facts, out)
    whole_cost = Cost()
    for line in lines:
        whole_cost.add(line.cost)
    cost = LotCost(total_minor=to_minor(whole(whole_cost.nano)))
    cost.pots = [each.pot for each in facts.pot_out.values()]
    cost.parts = _parts(whole_cost, lines, cost.total_minor)
    cost.pieces = _pieces(dye_lot, out, prices)
    cost.working = _working(cost, prices.currency)
    return cost


def _lines(lot: int, facts: Facts, out: WorkingOut) -> list[_Line]:
    made = [line for line in facts.made if line.lot == lot]
    pot_made = [line for line in made if line.movement in facts.pot_out]
    names = _Names.of(
        [
            *(line for each in {line.movement for line in pot_made} for line in facts.used.get(each, ())),
            *(line for each in facts.pot_used.values() for line in each),
        ]
    )
    lines: list[_Line] = []
    for movement in sorted({line.movement for line in pot_made}):
        pot, day = facts.pot_out[movement]
        usual, own = out.usual_on(day), facts.own.get(pot)
        lines += [_Line(names.words(used), out.line_cost(used)) for used in facts.used.get(movement, ())]
        for line in facts.pot_used.get(pot, ()):
            cost = Cost()
            cost.add(out.of(line.pair), line.quantity)
            lines.append(_Line(names.words(line), cost))
        work = out.pot_work(pot, day)
        energy = Cost(
            {part: nano for part, nano in work.parts.items() if part == "energy"},
            work.guesses & {"energy"},
            work.lacking & {"energy"},
        )
        lines.append(_Line("energy for the pot", energy))
        for stage in STAGES_A_POT:
            seconds = getattr(own, f"{stage}_seconds", None)
            if seconds is None:
                seconds = getattr(usual, f"{stage}_seconds", None)
            words = f"{stage}, {format_minutes(Fraction(seconds, 60))}" if seconds is not None else stage
            lines.append(_Line(words, out.stage(own, usual, stage)))
    kept = sum(
        line.quantity
        for line in made
        if line.movement not in facts.pot_out
        and facts.grade.get(line.item) not in (None, DyedYarn.Grade.UNJUDGED)
        and any(
            facts.grade.get(each.item) == DyedYarn.Grade.UNJUDGED
            for each in facts.used.get(line.movement, ())
        )
    )
    if kept and lot in out.pots_of:
        cost = Cost()
        cost.add(out.piece_work(lot), kept)
        words = f"twist, label and photograph {kept} kept piece{'' if kept == 1 else 's'}"
        lines.append(_Line(words, cost))
    return lines


def _parts(whole_cost: Cost, lines: list[_Line], total_minor: int) -> list[PartOfCost]:
    shared = apportion(total_minor, {part: nano / NANO for part, nano in whole_cost.parts.items()})
    parts = []
    for name, words in PARTS.items():
        if name not in shared and name not in whole_cost.lacking:
            continue
        of_part = {
            at: line.cost.parts[name] / NANO for at, line in enumerate(lines) if line.cost.parts.get(name)
        }
        minor = shared.get(name, 0)
        details = [Detail(lines[at].words, each) for at, each in apportion(minor, of_part).items()]
        guesses = [name] if name in whole_cost.guesses else []
        if name == "yarn" and "mill lot" in whole_cost.guesses:
            guesses.append("mill lot")
        parts.append(
            PartOfCost(
                words,
                minor,
                details,
                "; ".join(GUESSED[each] for each in guesses),
                LACKS[name] if name in whole_cost.lacking else "",
            )
        )
    return parts


def _pieces(dye_lot: DyeLot, out: WorkingOut, prices: Prices) -> list[Piece]:
    seen: dict[tuple[int, str], Piece] = {}
    rows = DyedYarn.objects.filter(colourway=dye_lot.colourway_id, item__in={item for item, _ in out.pairs()})
    for dyed in rows.select_related("put_up__base").order_by("put_up_id", "pk"):
        pair = (dyed.item_id, dye_lot.lot_id)
        if pair not in out.pairs():
            continue
        kept = dyed.grade != DyedYarn.Grade.UNJUDGED
        nano = int(out.of(pair).nano)
        retail = prices.of(put_up_id=dyed.put_up_id, colourway_id=dye_lot.colourway_id)
        words = "judged piece" if kept else "piece as it came out of the pot"
        seen[dyed.put_up_id, words] = Piece(
            words,
            dyed.put_up,
            to_minor(nano),
            retail,
            margins(cost_nano=nano, retail_minor=retail) if kept else [],
        )
    return sorted(seen.values(), key=lambda piece: (piece.put_up.pk, piece.words))


def _working(cost: LotCost, currency: str) -> Working:
    return Working(
        title="Cost of the lot",
        formula="yarn + freight + dye + auxiliaries + energy + work + labels",
        substitution=" + ".join(str(part.minor) for part in cost.parts) or "nothing known",
        result=f"{cost.total_minor} in the smallest unit of {currency}. {ROUNDING}",
        source=IAS_2,
    )


@dataclass(frozen=True, slots=True)
class _Names:
    items: dict[int, Item]
    lots: dict[int, str]

    @classmethod
    def of(cls, lines: Iterable[Moved]) -> _Names:
        """Two queries."""
        lines = list(lines)
        lots = Lot.objects.filter(pk__in={line.lot for line in lines}).values_list("id", "name")
        return cls(Item.objects.in_bulk({line.item for line in lines}), dict(lots))

    def words(self, line: Moved) -> str:
        item, lot = self.items[line.item], self.lots[line.lot]
        named = "" if lot in (item.name, "unknown") else f", {lot}"
        return f"{say_quantity(line.quantity, item)} of {item}{named}"
