"""Whatever is loaded, overdyed, put back, taken out and judged in whatever order, no piece is lost or made twice."""

from __future__ import annotations

import uuid

import pytest
from django.db import transaction
from django.db.models import Sum
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)

from dyehouse.ledger.models import Balance, Line
from dyehouse.ledger.verify import breaches
from recipes.lots import finishing, pots
from recipes.lots.load_lines import MAY_BE_OVERDYED, DyedBefore, LoadLine
from recipes.lots.log import add_entry
from recipes.lots.models import DyeLot, JudgedPieces, LogEntry, Pot, PotLoad
from recipes.lots.to_judge import by_line, waiting_to_be_judged, with_what_came_out
from recipes.models import DyedYarn
from recipes.yarn import add_mill_lot, receive_yarn
from tests import factories

pytestmark = [pytest.mark.both_engines, pytest.mark.django_db]
OUTCOMES = [outcome.value for outcome in JudgedPieces.Outcome]
COUNTS = st.integers(1, 4)


class Loads(RuleBasedStateMachine):
    """Two bases, each with two mill lots, loaded by the line."""

    def __init__(self) -> None:
        super().__init__()
        self.example = transaction.atomic()
        self.example.__enter__()

    @initialize()
    def a_store(self) -> None:
        self.who = factories.OwnerFactory()
        self.vinegar = factories.auxiliary(f"Vinegar {uuid.uuid4().hex[:8]}", amount=10_000_000, who=self.who)
        self.yarns = []
        for grams in (100, 50):
            put_up = factories.put_up(base=factories.base(f"Base {uuid.uuid4().hex[:8]}"), grams=grams)
            for number in ("77", "78"):
                lot = add_mill_lot(base=put_up.base, number=number)
                receive_yarn(key=uuid.uuid4(), put_up=put_up, mill_lot=lot, pieces=6, who=self.who)
                self.yarns.append((put_up, lot))

    def teardown(self) -> None:
        try:
            assert breaches() == []
        finally:
            transaction.set_rollback(True)
            self.example.__exit__(None, None, None)

    def dyed(self) -> list[Balance]:
        """What lies there and may be dyed again."""
        return list(
            Balance.objects.filter(
                item__dyed__grade__in=MAY_BE_OVERDYED, on_hand__gt=0, place__code__in=["drying", "dry"]
            )
            .select_related("item__dyed__put_up__base", "lot__dye_lot", "place")
            .order_by("pk")
        )

    def pots(self) -> list[Pot]:
        return list(Pot.objects.filter(loaded_at__isnull=False, out_at__isnull=True).order_by("pk"))

    @rule(lines=st.lists(st.tuples(st.integers(0, 3), COUNTS), min_size=1, max_size=3))
    def load(self, lines) -> None:
        pots.load_pot(
            key=uuid.uuid4(),
            lines=[LoadLine(*self.yarns[which], pieces) for which, pieces in lines],
            vessel=None,
            colourway=None,
            who=self.who,
        )

    @precondition(lambda self: self.dyed())
    @rule(data=st.data(), pieces=COUNTS, which=st.integers(0, 3))
    def overdye(self, data, pieces, which) -> None:
        row = data.draw(st.sampled_from(self.dyed()))
        before = DyedBefore(row.lot.dye_lot, row.item.dyed, row.place)
        pots.load_pot(
            key=uuid.uuid4(),
            lines=[
                LoadLine(row.item.dyed.put_up, None, pieces, dyed_before=before),
                LoadLine(*self.yarns[which], 1),
            ],
            vessel=None,
            colourway=None,
            who=self.who,
        )

    @precondition(lambda self: self.pots())
    @rule(data=st.data(), which=st.integers(0, 3), pieces=COUNTS)
    def put_more_in(self, data, which, pieces) -> None:
        pot = data.draw(st.sampled_from(self.pots()))
        line = LoadLine(*self.yarns[which], pieces)
        pots.add_line(key=uuid.uuid4(), pot=pot, line=line, who=self.who)

    @precondition(lambda self: self.pots())
    @rule(data=st.data(), with_acid=st.booleans())
    def put_back(self, data, with_acid) -> None:
        pot = data.draw(st.sampled_from(self.pots()))
        if with_acid:
            add_entry(
                pot=pot,
                key=uuid.uuid4(),
                kind=LogEntry.Kind.AUXILIARY,
                who=self.who,
                happened_at=pot.loaded_at,
                auxiliary=self.vinegar,
                microlitres=1_000,
            )
        before = pieces_in_pots()
        if pots.bath_holds(pot):
            with pytest.raises(pots.SomethingIsIn):
                pots.unload_untouched(key=uuid.uuid4(), pot=pot, who=self.who)
            return
        pots.unload_untouched(key=uuid.uuid4(), pot=pot, who=self.who)
        assert pieces_in_pots() == before - sum(load.pieces for load in pot.loads.all())

    @precondition(lambda self: self.pots())
    @rule(data=st.data(), off=st.integers(-1, 1))
    def take_out(self, data, off) -> None:
        pot = data.draw(st.sampled_from(self.pots()))
        loads = list(pot.loads.order_by("pk"))
        out = {load.pk: load.pieces for load in loads}
        out[loads[-1].pk] += off
        if not any(out.values()):
            return
        lot = finishing.out_of_pot(key=uuid.uuid4(), pot=pot, bath="tinted", who=self.who, pieces_out=out)
        assert sum(line.pieces for line in waiting_to_be_judged(lot)) == sum(out.values())

    @precondition(lambda self: Balance.objects.filter(place__code="drying", on_hand__gt=0).exists())
    @rule(data=st.data(), outcome=st.sampled_from(OUTCOMES), part=st.integers(1, 4), too_many=st.booleans())
    def judge(self, data, outcome, part, too_many) -> None:
        drying = DyeLot.objects.filter(lot__balances__place__code="drying", lot__balances__on_hand__gt=0)
        lot = data.draw(st.sampled_from(list(drying.distinct().order_by("pk"))))
        loads = list(
            with_what_came_out(PotLoad.objects.filter(pot__dye_lot=lot))
            .select_related("pot", "mill_lot", "overdyes", "was")
            .order_by("id")
        )
        lines = by_line(waiting_to_be_judged(lot), loads)
        if not lines:
            return
        line = data.draw(st.sampled_from(lines))
        pieces = line.pieces + 1 if too_many else min(part, line.pieces)
        judged = {"counts": {}, "by_line": {}}
        key = (line.load.pk if line.load is not None else line.put_up.pk, outcome)
        judged["by_line" if line.load is not None else "counts"][key] = pieces
        if too_many:
            with pytest.raises(finishing.DoesNotAddUp):
                finishing.judge(key=uuid.uuid4(), dye_lot=lot, who=self.who, **judged)
        else:
            finishing.judge(key=uuid.uuid4(), dye_lot=lot, who=self.who, **judged)

    @invariant()
    def what_lies_in_the_pots_is_what_their_lines_say(self) -> None:
        lines = PotLoad.objects.filter(pot__loaded_at__isnull=False, pot__out_at__isnull=True)
        assert pieces_in_pots() == (lines.aggregate(sum=Sum("pieces"))["sum"] or 0)

    @invariant()
    def every_dyed_piece_came_out_of_a_pot_and_lies_somewhere_was_dyed_again_or_is_gone(self) -> None:
        made = moved(from_place__code="made", item__dyed__grade=DyedYarn.Grade.UNJUDGED)
        binned = moved(to_place__code="written_off", item__kind="dyed")
        again = moved(
            item__kind="dyed", from_place__code="in_pots", to_place__code__in=["consumed", "count_difference"]
        )
        found = moved(item__kind="dyed", from_place__code="count_difference")
        given_back = moved(
            item__kind="dyed", to_place__code="count_difference", movement__reverses__isnull=False
        )
        here = Balance.objects.filter(item__kind="dyed").aggregate(sum=Sum("on_hand"))["sum"] or 0
        assert here == made + found - binned - again - given_back

    @invariant()
    def no_line_is_judged_beyond_what_came_out_of_it(self) -> None:
        judged = (
            JudgedPieces.objects.filter(load__isnull=False)
            .values_list("load__pot__dye_lot", "load__put_up")
            .annotate(Sum("pieces"))
        )
        for lot_id, put_up_id, pieces in judged:
            out = moved(
                from_place__code="made",
                lot=DyeLot.objects.get(pk=lot_id).lot_id,
                item__dyed__put_up=put_up_id,
                item__dyed__grade=DyedYarn.Grade.UNJUDGED,
            )
            assert pieces <= out


def pieces_in_pots() -> int:
    return Balance.objects.filter(place__code="in_pots").aggregate(sum=Sum("on_hand"))["sum"] or 0


def moved(**lines) -> int:
    return Line.objects.filter(**lines).aggregate(sum=Sum("quantity"))["sum"] or 0


def test_nothing_is_lost_whatever_is_loaded_overdyed_put_back_and_judged() -> None:
    run_state_machine_as_test(
        Loads,
        settings=settings(
            max_examples=12,
            stateful_step_count=14,
            deadline=None,
            suppress_health_check=list(HealthCheck),
        ),
    )
