"""Out of the pot and judged dry: what comes out is what went in, whatever is judged, taken back and judged again."""

from __future__ import annotations

import uuid

import pytest
from django.db.models import Sum
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from dyehouse.ledger.models import Balance, Line, Movement
from dyehouse.ledger.operations import ReasonMissing
from recipes.lots import finishing
from recipes.lots.finishing import DoesNotAddUp, NotInWork, NotOfThisLot
from recipes.lots.models import DyeLot, JudgedPieces, Judgement
from recipes.models import DyedYarn
from tests import factories

OUTCOMES = [outcome.value for outcome in JudgedPieces.Outcome]


def pieces_of(lot: DyeLot, place: str = "") -> int:
    rows = Balance.objects.filter(lot=lot.lot)
    if place:
        rows = rows.filter(place__code=place)
    return rows.aggregate(sum=Sum("on_hand"))["sum"] or 0


def binned(lot: DyeLot) -> int:
    out = (
        Line.objects.filter(lot=lot.lot, to_place__code="written_off").aggregate(sum=Sum("quantity"))["sum"]
        or 0
    )
    back = (
        Line.objects.filter(lot=lot.lot, from_place__code="written_off").aggregate(sum=Sum("quantity"))["sum"]
        or 0
    )
    return out - back


def judge(lot: DyeLot, who, **counts: int) -> Judgement:
    put_up = lot.pots.get().loads.get().put_up
    return finishing.judge(
        key=uuid.uuid4(),
        dye_lot=lot,
        counts={(put_up.pk, outcome): n for outcome, n in counts.items()},
        who=who,
    )


@pytest.mark.django_db
class TestOutOfThePot:
    def test_the_undyed_yarn_is_used_up_and_as_many_pieces_dry_unjudged(self):
        pot = factories.loaded_pot(pieces=5)

        lot = factories.lot_out(pot=pot)

        pot.refresh_from_db()
        assert (lot.code, pot.state, pot.bath_at_end, pot.dye_lot) == (pot.code, "out", "clear", lot)
        assert pieces_of(lot, "drying") == 5
        assert not Balance.objects.filter(place__code="in_pots", on_hand__gt=0).exists()
        unjudged = DyedYarn.objects.get(colourway=pot.colourway)
        assert unjudged.grade == DyedYarn.Grade.UNJUDGED

    def test_the_same_key_again_gives_the_same_lot(self):
        pot, key, who = factories.loaded_pot(), uuid.uuid4(), factories.OwnerFactory()

        first = finishing.out_of_pot(key=key, pot=pot, bath="clear", who=who)
        again = finishing.out_of_pot(key=key, pot=pot, bath="clear", who=who)

        assert again == first
        assert DyeLot.objects.count() == 1
        assert pieces_of(first) == 5

    def test_a_pot_comes_out_once(self):
        lot = factories.lot_out()

        with pytest.raises(NotInWork, match="only a pot in work"):
            factories.lot_out(pot=lot.pots.get())

    def test_fewer_pieces_than_went_in_are_a_count_difference(self):
        pot = factories.loaded_pot(pieces=5)
        load = pot.loads.get()

        lot = finishing.out_of_pot(
            key=uuid.uuid4(), pot=pot, bath="tinted", who=pot.started_by, pieces_out={load.pk: 4}
        )

        assert pieces_of(lot, "drying") == 4
        gone = Line.objects.get(to_place__code="count_difference")
        assert (gone.item, gone.quantity) == (load.put_up.item, 1)

    def test_more_pieces_than_went_in_are_found(self):
        pot = factories.loaded_pot(pieces=5)

        lot = finishing.out_of_pot(
            key=uuid.uuid4(), pot=pot, bath="clear", who=pot.started_by, pieces_out={pot.loads.get().pk: 6}
        )

        assert pieces_of(lot, "drying") == 6
        assert not Balance.objects.filter(place__code="in_pots", on_hand__gt=0).exists()

    def test_a_pot_out_of_which_nothing_came_is_refused_and_changes_nothing(self):
        pot = factories.loaded_pot()
        before = Movement.objects.count()

        with pytest.raises(NotInWork, match="No piece came out"):
            finishing.out_of_pot(
                key=uuid.uuid4(),
                pot=pot,
                bath="clear",
                who=pot.started_by,
                pieces_out={pot.loads.get().pk: 0},
            )

        assert Movement.objects.count() == before
        assert not DyeLot.objects.exists()

    def test_the_bath_must_be_said(self):
        with pytest.raises(NotInWork, match="clear, tinted or coloured"):
            finishing.out_of_pot(
                key=uuid.uuid4(), pot=factories.loaded_pot(), bath="", who=factories.OwnerFactory()
            )


@pytest.mark.django_db
class TestJudging:
    def test_all_at_once_goes_where_each_outcome_goes(self):
        who = factories.OwnerFactory()
        lot = factories.lot_out(pieces=5, who=who)

        judge(lot, who, good=2, second=1, redye=1, bin=1)

        grades = dict(
            Balance.objects.filter(lot=lot.lot, on_hand__gt=0).values_list("item__dyed__grade", "on_hand")
        )
        assert grades == {"good": 2, "second": 1, "redye": 1}
        assert (pieces_of(lot, "dry"), binned(lot)) == (4, 1)
        assert finishing.waiting_to_be_judged(lot) == []

    def test_part_now_and_the_rest_days_later(self):
        who = factories.OwnerFactory()
        lot = factories.lot_out(pieces=5, who=who)

        judge(lot, who, good=3)

        assert [line.pieces for line in finishing.waiting_to_be_judged(lot)] == [2]
        judge(lot, who, good=1, second=1)
        assert finishing.waiting_to_be_judged(lot) == []

    def test_more_than_wait_is_refused_with_both_numbers(self):
        who = factories.OwnerFactory()
        lot = factories.lot_out(pieces=5, who=who)

        with pytest.raises(DoesNotAddUp, match="6 pieces are judged but only 5 wait"):
            judge(lot, who, good=5, second=1)

        assert not Judgement.objects.exists()
        assert pieces_of(lot, "drying") == 5

    def test_nothing_judged_is_refused(self):
        who = factories.OwnerFactory()

        with pytest.raises(DoesNotAddUp, match="Nothing is judged yet"):
            judge(factories.lot_out(who=who), who, good=0)

    def test_the_same_key_again_judges_once(self):
        who, key = factories.OwnerFactory(), uuid.uuid4()
        lot = factories.lot_out(pieces=5, who=who)
        counts = {(lot.pots.get().loads.get().put_up_id, "good"): 2}

        first = finishing.judge(key=key, dye_lot=lot, counts=counts, who=who)
        again = finishing.judge(key=key, dye_lot=lot, counts=counts, who=who)

        assert first == again
        assert pieces_of(lot, "dry") == 2

    def test_taken_back_with_a_reason_its_pieces_wait_again_and_the_record_stays(self):
        who = factories.OwnerFactory()
        lot = factories.judged_lot(who=who)
        judgement = lot.judgements.get()

        with pytest.raises(ReasonMissing):
            finishing.take_back_judgement(key=uuid.uuid4(), judgement=judgement, who=who, why=" ")
        finishing.take_back_judgement(key=uuid.uuid4(), judgement=judgement, who=who, why="counted wrong")

        assert [line.pieces for line in finishing.waiting_to_be_judged(lot)] == [5]
        assert lot.judgements.count() == 1


@pytest.mark.django_db
class TestTheOneToRepeat:
    def test_the_newest_choice_holds_and_older_ones_stay_readable(self):
        who = factories.OwnerFactory()
        put_up = factories.put_up(pieces=20, who=who)
        first = factories.lot_out(who=who, put_up=put_up)
        second = factories.lot_out(who=who, put_up=put_up, colourway=first.colourway)

        for lot in (first, second, second):
            finishing.choose_reference(dye_lot=lot, base=put_up.base, who=who)

        holds = finishing.reference_for(colourway=first.colourway, base=put_up.base)
        assert holds is not None
        assert holds.dye_lot == second
        assert first.reference_choices.count() == second.reference_choices.count() == 1

    def test_a_lot_cannot_be_the_one_to_repeat_on_a_base_it_is_not_on(self):
        lot = factories.lot_out()

        with pytest.raises(NotOfThisLot, match="has no pieces on"):
            finishing.choose_reference(
                dye_lot=lot, base=factories.base("Other"), who=factories.OwnerFactory()
            )

    def test_a_judgement_says_what_it_was_compared_with(self):
        who = factories.OwnerFactory()
        put_up = factories.put_up(pieces=20, who=who)
        first = factories.lot_out(who=who, put_up=put_up)
        finishing.choose_reference(dye_lot=first, base=put_up.base, who=who)
        second = factories.lot_out(who=who, put_up=put_up, colourway=first.colourway)

        assert judge(second, who, good=1).against == first
        assert judge(first, who, good=1).against is None


class TestWhateverIsJudged(TestCase):
    @given(
        pieces=st.integers(1, 12),
        acts=st.lists(
            st.one_of(st.tuples(st.sampled_from(OUTCOMES), st.integers(0, 6)), st.just("back")), max_size=8
        ),
    )
    @settings(max_examples=25, deadline=None)
    def test_the_pieces_of_a_lot_always_sum_to_what_came_out(self, pieces, acts):
        factories.studio()
        who = factories.OwnerFactory()
        lot = factories.lot_out(pieces=pieces, who=who)

        for act in acts:
            if act == "back":
                standing = lot.judgements.filter(movement__reversed_by__isnull=True).order_by("-id").first()
                if standing is not None:
                    finishing.take_back_judgement(key=uuid.uuid4(), judgement=standing, who=who, why="again")
            else:
                outcome, count = act
                waiting = sum(line.pieces for line in finishing.waiting_to_be_judged(lot))
                if not 1 <= count <= waiting:
                    with pytest.raises(DoesNotAddUp):
                        judge(lot, who, **{outcome: count})
                else:
                    judge(lot, who, **{outcome: count})
            assert pieces_of(lot) + binned(lot) == pieces
