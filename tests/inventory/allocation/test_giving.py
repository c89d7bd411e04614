"""What can be told of an answer: the hard rules, solving again, the quick way, time running out, pins, nothing at all."""

from __future__ import annotations

import itertools
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inventory.allocation.answers import Aim, Answer, Progress
from inventory.allocation.filling import CannotPin
from inventory.allocation.greedy import First, by_hand
from inventory.allocation.rules import breaches, does, reckon, why_not
from inventory.allocation.solving import allocate, steps
from inventory.allocation.stock import Stock
from inventory.allocation.wants import Forbid, Month, NotClear, Piece, Pin, Slot
from tests.inventory.allocation.months import box, large_month, lot, months
from tests.inventory.allocation.other_ways import worth

SMALL = months(most_boxes=5, most_lots=5, most_free=4, most_pieces=3)


def by_search(month: Month) -> Answer:
    *_, answer = steps(month, by_search=True)
    return answer


class TestRules:
    """Each hard rule told without `breaches`, from what it says."""

    @given(month=SMALL)
    @settings(max_examples=60, deadline=None)
    def test_each_holds_whatever_the_month(self, month: Month):
        answer = by_search(month)

        given_of = {lot.id: sum(piece.pieces for piece in answer.of_lot(lot.id)) for lot in month.lots}
        for each in month.boxes:
            pieces = answer.of_box(each.id)
            lots = [month.lot[piece.lot] for piece in pieces]
            assert sum(piece.pieces for piece in pieces) == (each.pieces if each.id in answer.filled else 0)
            assert not any(
                each.avoids_families & of.families or each.avoids_fibres & of.fibres for of in lots
            )
            assert not any(of.colourway in each.had for of in lots)
            assert not any((each.id, of.id) in month.forbidden for of in lots)
            for number, slot in enumerate(each.slots):
                of_slot = {month.lot[piece.lot].colourway for piece in pieces if piece.slot == number}
                assert len(of_slot) == (1 if pieces else 0)
                assert slot.colourways is None or of_slot <= slot.colourways
        for of in month.lots:
            assert given_of[of.id] <= (min(1, of.free) if of.one_off else of.free)
        for kind, spares in month.spares.items():
            there = sum(of.can_give for of in month.lots if of.kind == kind)
            assert sum(given_of[of.id] for of in month.lots if of.kind == kind) <= max(0, there - spares)
        asked = [piece for piece in answer.pieces if month.box[piece.box].same_pot]
        for one, other in itertools.combinations(asked, 2):
            if month.box[one.box].member == month.box[other.box].member:
                lots = month.lot[one.lot], month.lot[other.lot]
                assert lots[0].kind != lots[1].kind or lots[0].pot_or_own == lots[1].pot_or_own

    @given(month=SMALL)
    @settings(max_examples=50, deadline=None)
    def test_what_is_reckoned_with_is_what_the_rules_say(self, month: Month):
        stock = Stock(month)

        for each in month.boxes:
            for need in stock.needs(each):
                allowed = {month.lots[at].id for at in need.lots}
                assert allowed == {
                    of.id for of in does(month, each, need.slot) if of.can_give and month.can_use[of.kind]
                }


class TestSolvingAgain:
    @given(month=SMALL)
    @settings(max_examples=40, deadline=None)
    def test_nothing_moves_that_need_not(self, month: Month):
        first = by_search(month)

        again = by_search(replace(month, earlier=first.pieces))

        assert again.pieces == first.pieces

    @given(month=SMALL, data=st.data())
    @settings(max_examples=25, deadline=None)
    def test_a_pin_of_what_is_there_changes_nothing_and_a_forbid_only_what_it_must(self, month: Month, data):
        first = by_search(month)
        if not first.pieces:
            return
        piece = data.draw(st.sampled_from(first.pieces))
        of_slot = [each for each in first.pieces if (each.box, each.slot) == (piece.box, piece.slot)]
        again = replace(month, earlier=first.pieces)

        forbidden = Forbid(box=piece.box, lot=piece.lot)
        without = by_search(replace(again, forbids=(*month.forbids, forbidden)))

        assert without.proven
        assert all(each.lot != piece.lot for each in without.of_box(piece.box))
        if len(of_slot) == 1:
            pin = Pin(box=piece.box, slot=piece.slot, lot=piece.lot)
            assert by_search(replace(again, pins=(pin,))).pieces == first.pieces

    def test_of_two_that_are_equally_good_the_one_as_before_is_taken(self):
        boxes = tuple(box(f"{number}", number) for number in range(6))
        lots = (lot("A", free=3), lot("B", free=3), lot("C", "Slate", free=3))
        before = tuple(Piece(f"{number}", 0, "ABC"[number % 3]) for number in range(6))

        answer = by_search(Month(boxes=boxes, lots=lots, earlier=before, forbids=(Forbid(box="0", lot="A"),)))

        assert answer.term(Aim.KEPT).value == 5
        assert set(before[1:]) < set(answer.pieces)


class TestTheQuickWay:
    @given(month=SMALL)
    @settings(max_examples=50, deadline=None)
    def test_is_worth_what_the_search_is(self, month: Month):
        assert worth(month, allocate(month).pieces) == worth(month, by_search(month).pieces)

    def test_answers_one_colourway_for_all_without_a_search(self):
        """Ninety members, a tenth with two boxes, pots of five: the commonest club."""
        boxes = tuple(
            box(f"{number}-{one}", number, member=f"M{number}")
            for number in range(90)
            for one in range(2 if number % 10 == 0 else 1)
        )
        month = Month(boxes=boxes, lots=tuple(lot(f"L{number}", free=5) for number in range(21)))

        (answer,) = steps(month)

        assert isinstance(answer, Answer)
        assert answer.proven
        assert len(answer.filled) == 99
        assert answer.term(Aim.POTS).value == 90
        assert breaches(month, answer.pieces) == []


class TestTimeRunsOut:
    @given(month=SMALL)
    @settings(max_examples=25, deadline=None)
    def test_what_is_found_keeps_the_rules_and_the_bound_is_one(self, month: Month):
        best = by_search(month)

        *_, hasty = steps(month, seconds=0, by_search=True)

        assert breaches(month, hasty.pieces) == []
        filled = hasty.term(Aim.FILLED)
        assert filled.value <= best.term(Aim.FILLED).value <= filled.best
        if not hasty.proven:
            assert "Time ran out" in hasty.standing

    def test_the_steps_are_told_and_can_be_left(self):
        month = large_month(boxes=60, lots=8, share_there=0.9)
        working = steps(month)

        first = next(working)
        working.close()

        assert isinstance(first, Progress)
        assert first.done < first.of
        assert list(working) == []


class TestPins:
    def test_are_kept_against_the_order(self):
        month = Month(
            boxes=(box("old", 1), box("new", 2)), lots=(lot("A"),), pins=(Pin(box="new", slot=0, lot="A"),)
        )

        assert allocate(month).pieces == (Piece("new", 0, "A"),)

    @pytest.mark.parametrize(
        ("boxes", "lots", "pins", "said"),
        [
            pytest.param(
                (box("1", avoids_families=frozenset({"green"})),),
                (lot("A"),),
                (Pin(box="1", slot=0, lot="A"),),
                "is of the colour family green, which is avoided",
                id="against a rule",
            ),
            pytest.param(
                (box("1"), box("2")),
                (lot("A"),),
                (Pin(box="1", slot=0, lot="A"), Pin(box="2", slot=0, lot="A")),
                "2 pieces of lot A are pinned and it has 1 to give",
                id="more than there is",
            ),
            pytest.param(
                (box("1", member="Ada", same_pot=True), box("2", member="Ada", same_pot=True)),
                (lot("A"), lot("B")),
                (Pin(box="1", slot=0, lot="A"), Pin(box="2", slot=0, lot="B")),
                "The pins cannot all hold",
                id="two pots for one who asked for one",
            ),
            pytest.param(
                (box("1", slots=(Slot(put_up="Sock"), Slot(put_up="Mini"))),),
                (lot("A"),),
                (Pin(box="1", slot=0, lot="A"),),
                "another of its slots cannot be filled",
                id="a box that cannot be whole",
            ),
        ],
    )
    def test_that_cannot_hold_are_refused_with_the_reason(self, boxes, lots, pins, said):
        with pytest.raises(CannotPin) as refused:
            allocate(Month(boxes=boxes, lots=lots, pins=pins))

        assert said in str(refused.value)


class TestNothingMuch:
    @pytest.mark.parametrize(
        ("boxes", "lots"),
        [
            ((), ()),
            ((), (lot("A"),)),
            ((box("1"),), ()),
            ((box("1", had=frozenset({"Moss"})),), (lot("A"),)),
            ((box("1"),), (lot("A", free=0),)),
        ],
    )
    def test_is_an_answer_too(self, boxes, lots):
        month = Month(boxes=boxes, lots=lots)

        answer = allocate(month)

        assert answer.pieces == ()
        assert answer.proven
        assert reckon(month, ())[Aim.FILLED] == 0

    def test_what_is_said_twice_is_refused(self):
        with pytest.raises(NotClear, match="There are 2 of one box, 1"):
            Month(boxes=(box("1"), box("1")), lots=())
        with pytest.raises(NotClear, match="no lot B"):
            Month(boxes=(box("1"),), lots=(lot("A"),), forbids=(Forbid(box="1", lot="B"),))

    def test_a_rule_is_said_by_name(self):
        month = Month(
            boxes=(box("1", had=frozenset({"Moss"})),),
            lots=(lot("A"),),
            names={"Moss": "Winter one"},
            months=3,
        )

        assert why_not(month, month.boxes[0], 0, month.lots[0]) == (
            "is Winter one, which was had in the last 3 months"
        )


def test_who_came_off_worse_goes_first_and_is_even_again():
    boxes = (
        box("1", 1, likes={"Slate": 2}),
        box("2", 2, likes={"Slate": 2}, luck=3),
    )
    month = Month(boxes=boxes, lots=(lot("A"), lot("B", "Slate")))

    answer = allocate(month)

    assert answer.pieces == (Piece("1", 0, "A"), Piece("2", 0, "B"))
    assert answer.luck_next == {"person 1": 2, "person 2": 0}


@given(month=SMALL, first=st.sampled_from(First))
@settings(max_examples=60, deadline=None)
def test_what_is_given_by_hand_keeps_every_rule(month: Month, first: First):
    assert breaches(month, by_hand(Stock(month), first)) == []
