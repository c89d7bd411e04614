"""Keeps what every lot costs up to date: worked out once, kept, and again only for what something new has touched.

`UnitCost` is a table of its own so that a stock of thousands of lots is valued by one read. It holds nothing that is not
worked out of the ledger, the invoices and what work usually takes, and may be emptied at any time.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from fractions import Fraction

from django.db import transaction
from django.db.models import Max, Q, Subquery

from dyehouse.ledger.models import Line, Movement
from inventory.buying.models import Arrival, Bill
from inventory.costing.again import the_reckoned
from inventory.costing.facts import USED_UP, Pair, facts_for, in_parts
from inventory.costing.models import Reckoned, UnitCost
from inventory.costing.paid import those_of
from inventory.costing.working_out import Cost, WorkingOut
from recipes.lots.models import LogEntry

#: From this many new movements on, working out everything is quicker than finding what they touch.
MANY = 20_000


def up_to_date() -> None:
    """Work out what is not known yet. One query where nothing is new."""
    movements, bills = (model.objects.order_by("-id").values("id")[:1] for model in (Movement, Bill))
    state = Reckoned.objects.filter(pk=1)
    state = state.annotate(newest=Subquery(movements), newest_bill=Subquery(bills))
    known = state.first()
    if known is not None and not (
        known.all_again
        or known.again
        or known.last_movement < (known.newest or 0)
        or known.last_bill < (known.newest_bill or 0)
    ):
        return
    _work_out()


@transaction.atomic
def _work_out() -> None:
    row = the_reckoned(lock=True)
    newest = Movement.objects.aggregate(newest=Max("id"))["newest"] or 0
    newest_bill = Bill.objects.aggregate(newest=Max("id"))["newest"] or 0
    if row.all_again or newest - row.last_movement > MANY:
        UnitCost.objects.all().delete()
        _write(WorkingOut(facts_for(None)), lots=None)
    else:
        _some_again(row, newest)
    row.last_movement, row.last_bill = max(newest, row.last_movement), max(newest_bill, row.last_bill)
    row.all_again, row.again = False, []
    row.save()


def _some_again(row: Reckoned, newest: int) -> None:
    lots = {lot for _, lot in map(tuple, row.again)} | _touched(row.last_movement, newest)
    billed = set(Arrival.objects.filter(delivery__bills__gt=row.last_bill).values_list("line__item", "lot"))
    lots |= {lot for _, lot in billed} | {lot for _, lot in those_of(item for item, _ in billed)}
    lots = _with_what_was_made_of(lots)
    if not lots:
        return
    facts = facts_for(lots)
    upstream = {line.lot for lines in facts.used.values() for line in lines}
    upstream |= {line.lot for lines in facts.pot_used.values() for line in lines}
    upstream |= {jar[1] for lot, (_, _, jar) in facts.bottles.items() if lot in lots and jar is not None}
    for part in in_parts(lots):
        UnitCost.objects.filter(lot__in=part).delete()
    _write(WorkingOut(facts, costs_by_lot(upstream - lots), lots), lots=lots)


def _touched(after: int, newest: int) -> set[int]:
    """The lots of which something was made, came in or was taken back since a movement, and those of pots whose log went on."""
    new = Line.objects.filter(movement__gt=after, movement__lte=newest)
    lots = set(
        new.filter(
            Q(from_place__code__in=("made", "supplier", "before_the_house", "count_difference"))
            | Q(to_place__code="made")
            | Q(movement__reverses__isnull=False)
        ).values_list("lot", flat=True)
    )
    sources = set(
        Movement.objects.filter(pk__gt=after, pk__lte=newest, source__startswith="entry:").values_list(
            "source", flat=True
        )
    )
    return lots | _lots_of_entries(sources)


def _lots_of_entries(sources: Collection[str]) -> set[int]:
    found: set[int] = set()
    for part in in_parts([source.removeprefix("entry:") for source in sources]):
        entries = LogEntry.objects.filter(key__in=part, pot__dye_lot__isnull=False)
        found |= set(entries.values_list("pot__dye_lot__lot", flat=True))
    return found


def _with_what_was_made_of(lots: set[int]) -> set[int]:
    """The lots, and all that anything of them went into: pots, kits, bottles, mixes, pieces put up anew."""
    found, new = set(lots), set(lots)
    while new:
        further: set[int] = set()
        for part in in_parts(new):
            went = Line.objects.filter(lot__in=part, to_place__code__in=USED_UP)
            movements = dict(went.values_list("movement_id", "movement__source"))
            further |= _lots_of_entries([each for each in movements.values() if each.startswith("entry:")])
            for those in in_parts(movements):
                made = Line.objects.filter(movement__in=those, from_place__code="made")
                further |= set(made.values_list("lot", flat=True))
        new = further - found
        found |= new
    return found


def _write(out: WorkingOut, *, lots: Collection[int] | None) -> None:
    pairs = sorted(pair for pair in out.pairs() if lots is None or pair[1] in lots)
    rows = []
    for item, lot in pairs:
        cost = out.of((item, lot))
        rows.append(
            UnitCost(
                item_id=item,
                lot_id=lot,
                nano=int(cost.nano),
                parts={part: int(nano) for part, nano in cost.parts.items()},
                guesses=sorted(cost.guesses),
                lacking=sorted(cost.lacking),
                layers=[layer.kept() for layer in out.layers((item, lot))]
                if out.is_first_in((item, lot))
                else [],
            )
        )
    UnitCost.objects.bulk_create(rows, batch_size=2_000)


def costs_by_lot(lots: Collection[int]) -> dict[Pair, Cost]:
    """What is kept of the costs of these lots, by item and lot."""
    return {
        (row.item_id, row.lot_id): Cost(
            {part: Fraction(nano) for part, nano in row.parts.items()}, set(row.guesses), set(row.lacking)
        )
        for row in _rows(lots)
    }


def _rows(lots: Collection[int]) -> Iterable[UnitCost]:
    for part in in_parts(lots):
        yield from UnitCost.objects.filter(lot__in=part)


@transaction.atomic
def worked_out_afresh() -> None:
    """Throw away every cost that is kept and work it out again from what was entered."""
    row = the_reckoned(lock=True)
    row.all_again, row.again = True, []
    row.save(update_fields=["all_again", "again"])
    up_to_date()
