"""What stands in the way of an empty box, the pots that would fill all, boxes exchanged, orders, and sets."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inventory.allocation.answers import Aim
from inventory.allocation.explaining import unfilled, why_this
from inventory.allocation.parcels import NothingOrdered, Order, give_orders
from inventory.allocation.pots_to_dye import PotLoad, fewest_pots
from inventory.allocation.rules import breaches, why_not
from inventory.allocation.sets import Lying, sets
from inventory.allocation.solving import allocate
from inventory.allocation.swapping import CannotSwap, pins_of, swap
from inventory.allocation.wants import Lot, Month, Piece, Slot
from tests.inventory.allocation.months import FAMILIES, FIBRES, box, lot, months

SMALL = months(most_boxes=4, most_lots=4, most_free=3, most_pieces=2)


class TestUnfilled:
    @given(month=SMALL)
    @settings(max_examples=40, deadline=None)
    def test_every_empty_box_is_told_and_each_lot_ruled_out_by_its_rule(self, month: Month):
        answer = allocate(month)

        told = unfilled(month, answer.pieces)

        assert {each.box for each in told} == {box.id for box in month.boxes} - answer.filled
        for each in told:
            assert each.sentences
            for key, why in each.excluded:
                asked = month.box[each.box]
                assert why in [why_not(month, asked, at, month.lot[key]) for at in range(len(asked.slots))]
        for each in answer.filled:
            assert len(why_this(month, answer.pieces, each)) == len(answer.of_box(each))

    def test_says_what_is_short_what_is_avoided_and_who_waits(self):
        names = {"Sock": "Harbour Sock, 100 g"}
        month = Month(
            boxes=(
                box("first", 1, member="Ada"),
                box("short", 2, pieces=2, member="Ada"),
                box("picky", 3, avoids_families=frozenset({"green"}), had=frozenset({"Slate"})),
            ),
            lots=(lot("A", free=2), lot("B", "Slate", free=0)),
            names=names,
        )
        answer = allocate(month)

        short, picky = unfilled(month, answer.pieces)

        assert short.sentences == (
            "Short of 1 piece of Moss or Slate on Harbour Sock, 100 g: the rest is given or kept as spares.",
        )
        assert short.waits == ("first",)
        assert picky.sentences == ("None of the 2 lots on Harbour Sock, 100 g does: each is ruled out.",)
        assert picky.excluded == (
            ("A", "is of the colour family green, which is avoided"),
            ("B", "is Slate, which was had in the last 6 months"),
        )

    def test_says_why_a_lot_is_there(self):
        month = Month(
            boxes=(box("1", 1, pieces=1, likes={"Slate": 1}), box("2", 2, of=frozenset({"Moss"}))),
            lots=(lot("A"), lot("B", "Slate")),
        )
        pieces = allocate(month).pieces

        assert why_this(month, pieces, "1") == [
            "1 piece of lot B, Slate on Sock: 1 other colourway would do too; it is what is liked most."
        ]
        assert why_this(month, pieces, "2") == [
            "1 piece of lot A, Moss on Sock: no other colourway does for this slot."
        ]


def load(colourway: str, pieces: int, put_up: str = "Sock") -> PotLoad:
    return PotLoad(
        id=f"{colourway} {put_up}",
        colourway=colourway,
        put_up=put_up,
        pieces=pieces,
        families=FAMILIES[colourway],
        fibres=FIBRES[put_up],
    )


class TestPotsToDye:
    @given(month=SMALL, sizes=st.tuples(st.integers(1, 4), st.integers(1, 4)))
    @settings(max_examples=30, deadline=None)
    def test_are_the_fewest_of_all_that_could_be_dyed(self, month: Month, sizes: tuple[int, int]):
        loads = [load("Moss", sizes[0]), load("Slate", sizes[1])]

        told = fewest_pots(month, loads)

        assert told.proven
        helped = Month(
            boxes=tuple(box for box in month.boxes if box.id not in told.left_out),
            lots=month.lots,
            spares=month.spares,
            forbids=tuple(each for each in month.forbids if each.box not in told.left_out),
        )
        assert self.fills(helped, told.loads)
        for fewer in itertools.product(range(told.pots), repeat=2):
            if sum(fewer) < told.pots:
                assert not self.fills(helped, zip(loads, fewer, strict=True))

    @staticmethod
    def fills(month: Month, dyed) -> bool:
        more = [
            Lot(
                id=f"{each.id} {at}",
                colourway=each.colourway,
                put_up=each.put_up,
                free=each.pieces,
                families=each.families,
                fibres=each.fibres,
            )
            for each, times in dyed
            for at in range(times)
        ]
        answer = allocate(
            Month(
                boxes=month.boxes,
                lots=month.lots + tuple(more),
                spares=month.spares,
                forbids=month.forbids,
            )
        )
        return len(answer.filled) == len(month.boxes)

    def test_are_said_in_a_sentence(self):
        month = Month(
            boxes=(*(box(f"{at}", at) for at in range(7)), box("never", 8, had=frozenset({"Moss"}))),
            lots=(lot("A"),),
        )

        told = fewest_pots(month, [load("Moss", 4), load("Moss", 5)])

        assert told.pots == 2
        assert told.left_out == ("never",)
        assert told.words(month).endswith("each. Fewer do not. No pot given here helps box never.")


class TestSwap:
    @given(month=SMALL)
    @settings(max_examples=50, deadline=None)
    def test_keeps_every_rule_and_is_undone_by_another(self, month: Month):
        pieces = allocate(month).pieces

        for one, other in itertools.combinations(sorted({piece.box for piece in pieces}), 2):
            try:
                exchanged = swap(month, pieces, one=one, other=other)
            except CannotSwap:
                continue
            assert breaches(month, exchanged) == []
            assert swap(month, exchanged, one=other, other=one) == pieces

    def test_is_kept_by_pins_when_solved_again(self):
        month = Month(boxes=(box("1", 1, likes={"Moss": 1}), box("2", 2)), lots=(lot("A"), lot("B", "Slate")))
        exchanged = swap(month, allocate(month).pieces, one="1", other="2")

        again = allocate(Month(boxes=month.boxes, lots=month.lots, pins=pins_of(exchanged, "1", "2")))

        assert again.pieces == exchanged == (Piece("1", 0, "B"), Piece("2", 0, "A"))

    def test_names_what_is_avoided(self):
        boxes = (box("1"), box("2", avoids_families=frozenset({"green"})))
        month = Month(boxes=boxes, lots=(lot("A"), lot("B", "Slate")))

        with pytest.raises(CannotSwap, match="Box 2: lot A is of the colour family green, which is avoided"):
            swap(month, allocate(month).pieces, one="1", other="2")


class TestOrders:
    def test_few_pots_and_the_later_buyer_of_the_same_has_the_two(self):
        orders = [
            Order(id=f"{at}", buyer=f"buyer {at}", order=at, lines={("Moss", "Sock"): 2}) for at in range(4)
        ]

        answer = give_orders(orders=orders, lots=[lot("A", free=3), lot("B", free=5)])

        assert answer.term(Aim.POTS).value == 5
        assert [len({piece.lot for piece in answer.of_box(f"{at}")}) for at in range(4)] == [1, 1, 1, 2]

    def test_the_oldest_orders_are_whole_where_it_is_short(self):
        orders = [Order(id=f"{at}", buyer=f"{at}", order=-at, lines={("Moss", "Sock"): 1}) for at in range(3)]

        assert give_orders(orders=orders, lots=[lot("A", free=2)]).filled == {"1", "2"}
        with pytest.raises(NothingOrdered, match="Order 7 has a line of no pieces"):
            give_orders(orders=[Order(id="7", buyer="7", order=1, lines={})], lots=[])


@given(free=st.lists(st.tuples(st.integers(1, 6), st.integers(0, 2)), min_size=1, max_size=5), data=st.data())
@settings(max_examples=80, deadline=None)
def test_the_best_set_is_of_as_few_groups_as_can_be(free: list[tuple[int, int]], data):
    rows = [
        Lying(what=None, lot=at, place=0, free=pieces, group=group) for at, (pieces, group) in enumerate(free)
    ]
    pieces = data.draw(st.integers(1, sum(pieces for pieces, _ in free)))
    sizes = sorted(
        (sum(row.free for row in rows if row.group == group) for group in {row.group for row in rows}),
        reverse=True,
    )

    best = sets(rows, pieces)[0]

    assert sum(taken for _, taken in best) == pieces
    assert all(taken <= row.free for row, taken in best)
    fewest = next(at for at in range(1, len(sizes) + 1) if sum(sizes[:at]) >= pieces)
    assert len({row.group for row, _ in best}) == fewest


def test_slots_of_different_colourways_are_different():
    wants = (Slot(put_up="Sock"), Slot(put_up="Sock"))
    month = Month(boxes=(box("1", slots=wants, different=True),), lots=(lot("A", free=2), lot("B", "Slate")))

    assert {piece.lot for piece in allocate(month).pieces} == {"A", "B"}
