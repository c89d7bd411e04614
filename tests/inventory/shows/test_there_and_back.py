"""A show there and back: packed by normal numbers, away from the shelves, counted back, split into sold and missing."""

from __future__ import annotations

import datetime as dt
import uuid

import pytest
from django.db.models import Sum
from django.utils import timezone
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from dyehouse.ledger.models import Balance, Line
from dyehouse.ledger.operations import NotEnough
from dyehouse.ledger.verify import breaches
from inventory import counting, holding, kits, matching, one_offs, shelf
from inventory.kits import BrokenUp, PartWanted
from inventory.queries import free_and_good, stock_by_stage
from inventory.shows import after, closing, packing, planning, tallying
from inventory.shows.closing import CountFirst, DoesNotAddUp, GoesWhere, WhyMissing
from inventory.shows.models import Result
from inventory.shows.packing import NotSoMany, NotTaken, ShowIsOver, Taking
from inventory.shows.planning import NotEmpty, WrongDays
from inventory.shows.tallying import NoneTallied, NotAtTheShow
from inventory.shows.things import ONE_OFFS, Sort, SortKind, Thing
from tests import factories
from tests.inventory.shows.factories import Booth, booth, show

pytestmark = pytest.mark.django_db


def on_hand(made: Booth, **where) -> int:
    rows = Balance.objects.filter(item=made.item, **where)
    return rows.aggregate(sum=Sum("on_hand"))["sum"] or 0


def gone_to(made: Booth, code: str) -> int:
    rows = Line.objects.filter(item=made.item, to_place__code=code, movement__reversed_by__isnull=True)
    return rows.aggregate(sum=Sum("quantity"))["sum"] or 0


class TestPacking:
    def test_the_list_takes_few_lots_leaves_what_is_held_and_says_what_is_short(self):
        made = booth(3, name="Tin Roof")
        other = made.another_lot(5)
        made.usually(9)
        holding.hold_by_hand(
            key=uuid.uuid4(), dyed=made.yarn, dye_lot=other, place=made.place, pieces=1,
            for_whom="Ada Reed", until=timezone.localdate() + dt.timedelta(days=2), who=made.who,
        )  # fmt: skip

        page = packing.pack_list(made.show, user=made.who)
        line = page.sorts[0]
        assert {row.lot.name: row.pieces for row in page.rows} == {made.lot.code: 3, other.code: 4}
        assert (line.normal, line.listed, line.short, line.free, line.held) == (9, 7, 2, 7, 1)

        made.usually(4)
        assert [(row.lot.name, row.pieces) for row in packing.pack_list(made.show, user=None).rows] == [
            (other.code, 4)
        ]

    def test_a_number_typed_is_kept_and_the_rest_of_the_list_follows_it(self):
        made = booth(6)
        other = made.another_lot(6)
        made.usually(6)
        packing.pack(
            show=made.show, item=made.item, lot=made.ledger_lot, place=made.place, pieces=2, who=made.who
        )

        rows = {row.lot.name: row for row in packing.pack_list(made.show, user=made.who).rows}
        assert (rows[made.lot.code].packed, rows[other.code].suggested) == (2, 4)
        with pytest.raises(NotSoMany, match=r"Only 6 are free in .* by the book"):
            packing.pack(
                show=made.show, item=made.item, lot=made.ledger_lot, place=made.place, pieces=7, who=made.who
            )

    def test_a_code_finds_what_no_normal_number_asks_for(self):
        made = booth(4)
        page = packing.pack_list(made.show, user=made.who, code=made.lot.code.lower())

        assert page.rows == []
        assert [(row.lot.name, row.free) for row in page.elsewhere] == [(made.lot.code, 4)]

    def test_kits_seconds_and_one_offs_have_numbers_of_their_own(self):
        made = booth(6)
        kit = kits.make_kit(
            name="Estuary fade", kind="fade", parts=[PartWanted(made.yarn.colourway, made.yarn.put_up, 2)]
        )
        kits.build(key=uuid.uuid4(), kit=kit, count=1, place=made.place, who=made.who)
        row = free_and_good(user=made.who)[0]
        kits.build_of_these(
            key=uuid.uuid4(), name="Low tide", place=made.place, who=made.who,
            taken=[kits.Taken(row.dyed, row.lot.lot, row.place, 1)],
        )  # fmt: skip
        lot = factories.judged_lot(good=0, second=2, who=made.who)
        base = lot.pots.get().loads.get().put_up.base
        planning.keep_normal_numbers(
            numbers={
                Sort(SortKind.KIT, kit.pk): 2,
                Sort(SortKind.SECONDS, base.pk): 1,
                ONE_OFFS: 1,
                made.sort: 0,
            },
            who=made.who,
        )

        lines = {line.named.title: line for line in packing.pack_list(made.show, user=made.who).sorts}
        assert {title: (line.listed, line.short) for title, line in lines.items()} == {
            "Estuary fade": (1, 1),
            "Seconds": (1, 0),
            "One-offs": (1, 0),
        }

    def test_a_one_off_goes_by_its_own_lot_there_and_back(self):
        made = booth(4, name="Tin Roof")
        one = one_offs.take_one_offs(
            key=uuid.uuid4(), dye_lot=made.lot, dyed=made.yarn, place=made.place, who=made.who,
            named=[one_offs.Named("Reed Bunting")],
        )[0]  # fmt: skip
        planning.keep_normal_numbers(numbers={made.sort: 9, ONE_OFFS: 2}, who=made.who)
        page = packing.pack_list(made.show, user=made.who)
        assert {row.named.title: row.pieces for row in page.rows} == {"Tin Roof": 3, "Reed Bunting": 1}
        assert {line.named.title: line.short for line in page.sorts} == {"Tin Roof": 6, "One-offs": 1}

        packing.take(
            key=uuid.uuid4(), show=made.show, who=made.who,
            takings=[Taking(row.item, row.lot, row.place, row.pieces) for row in page.rows],
        )  # fmt: skip
        own = Thing(made.item.pk, one.dye_lot.lot_id)
        assert {row.thing for row in tallying.tally_rows(made.show, user=made.who)} == {made.thing, own}
        tallying.tally(key=uuid.uuid4(), show=made.show, thing=own, who=made.who)
        made.count(3)
        made.count(0, one.dye_lot)
        came = after.after(made.close(), user=made.who)
        assert {row.named.title: (row.taken, row.returned, row.sold) for row in came.sorts} == {
            "Tin Roof": (3, 3, 0),
            "One-offs": (1, 0, 1),
        }
        assert breaches() == []


class TestTaken:
    def test_what_is_taken_is_ours_and_free_for_nobody_else(self):
        made = booth(10)
        key = uuid.uuid4()
        taking = [Taking(made.item, made.ledger_lot, made.place, 7)]
        load = packing.take(key=key, show=made.show, takings=taking, who=made.who)

        assert packing.take(key=key, show=made.show, takings=taking, who=made.who) == load
        assert on_hand(made, place=made.show.place) == 7
        assert on_hand(made) == 10
        assert stock_by_stage().at_shows == 7
        assert sum(row.pieces for row in free_and_good(user=made.who)) == 3
        with pytest.raises(matching.NotASet, match="3 of these are free"):
            matching.offers(dyed=made.yarn, pieces=4)
        part = PartWanted(made.yarn.colourway, made.yarn.put_up, 1)
        kit = kits.make_kit(name="One each", kind="kit", parts=[part])
        assert kits.can_make([kit])[kit.pk].kits == 3
        with pytest.raises(holding.NotHeldFor, match="not free until they are back"):
            holding.hold_by_hand(
                key=uuid.uuid4(), dyed=made.yarn, dye_lot=made.lot, place=made.show.place, pieces=1,
                for_whom="Ada", until=timezone.localdate(), who=made.who,
            )  # fmt: skip
        with pytest.raises(counting.NotACount, match="on the page of the show"):
            counting.count_place(place=made.show.place, who=made.who)
        made.usually(10)
        assert packing.pack_list(made.show, user=made.who).sorts[0].short == 0
        assert breaches() == []

    def test_a_held_piece_is_not_taken_and_nothing_else_goes_then(self):
        made = booth(5)
        holding.hold_by_hand(
            key=uuid.uuid4(), dyed=made.yarn, dye_lot=made.lot, place=made.place, pieces=2,
            for_whom="Ada Reed", until=timezone.localdate(), who=made.who,
        )  # fmt: skip
        with pytest.raises(NotEnough):
            made.take(4)
        with pytest.raises(NotTaken):
            made.take(0)
        assert on_hand(made, place=made.show.place) == 0

    def test_it_was_not_taken_after_all(self):
        made = booth(5)
        load = made.take(4)
        packing.not_taken(key=uuid.uuid4(), load=load, who=made.who, why="the van broke down")

        assert on_hand(made, place=made.place) == 5
        assert planning.call_off(show=made.show).called_off_at is not None
        with pytest.raises(ShowIsOver, match="called off"):
            made.take(1)

    def test_a_show_with_yarn_is_not_called_off_and_days_are_in_order(self):
        made = booth(5, taken=1)
        with pytest.raises(NotEmpty):
            planning.call_off(show=made.show)
        today = timezone.localdate()
        with pytest.raises(WrongDays):
            planning.change_show(
                show=made.show, name="x", starts_on=today, ends_on=today - dt.timedelta(days=1)
            )

    def test_a_kit_at_a_show_is_not_broken_up(self):
        built = factories.built_kit()
        who, at = factories.OwnerFactory(), show()
        place = Balance.objects.get(lot=built.lot, on_hand=1).place
        packing.take(
            key=uuid.uuid4(), show=at, takings=[Taking(built.kit.item, built.lot, place, 1)], who=who
        )
        with pytest.raises(BrokenUp, match="when it is back"):
            kits.break_up(key=uuid.uuid4(), built=built, who=who, why="")


class TestClosing:
    def test_without_tally_or_takings_what_is_gone_is_sold_or_missing(self):
        made = booth(10, taken=8)
        made.count(3)
        closed = made.close()

        result = Result.objects.get(closing=closed)
        assert (result.taken, result.returned, result.sold, result.missing, result.sold_or_missing) == (
            8,
            3,
            0,
            0,
            5,
        )
        assert gone_to(made, "sold_or_missing") == 5
        # Back where they lay, and free at once.
        assert on_hand(made, place=made.place) == 5
        assert sum(row.pieces for row in free_and_good(user=made.who)) == 5
        assert breaches() == []

    def test_a_tally_splits_it_and_what_is_missing_wants_a_word(self):
        made = booth(10, taken=8)
        key = uuid.uuid4()
        for _ in range(2):
            tallying.tally(key=key, show=made.show, thing=made.thing, who=made.who)
        for pieces in (1, 1, -1, 1):
            tallying.tally(key=uuid.uuid4(), show=made.show, thing=made.thing, who=made.who, pieces=pieces)
        assert tallying.tallied(made.show) == {made.thing: 3}
        made.count(4)
        with pytest.raises(WhyMissing, match="1 is missing"):
            made.close()

        made.close("a child’s pocket")
        assert (gone_to(made, "customer"), gone_to(made, "count_difference")) == (3, 1)
        with pytest.raises(ShowIsOver):
            tallying.tally(key=uuid.uuid4(), show=made.show, thing=made.thing, who=made.who)

    def test_the_takings_list_goes_before_the_tally(self):
        made = booth(10, taken=8)
        tallying.tally(key=uuid.uuid4(), show=made.show, thing=made.thing, who=made.who)
        made.count(3)
        made.sold(5)
        made.close()
        assert (gone_to(made, "customer"), gone_to(made, "count_difference")) == (5, 0)

    def test_what_does_not_add_up_is_refused_in_words_and_nothing_moves(self):
        made = booth(10, taken=8)
        with pytest.raises(CountFirst, match="1 row is not counted yet"):
            made.close()
        made.count(9)
        with pytest.raises(DoesNotAddUp, match="8 were taken and 9 came back"):
            made.close()
        made.count(6)
        made.sold(3)
        with pytest.raises(DoesNotAddUp, match="3 are typed as sold and 2 are gone: 8 taken, 6 back"):
            made.close()
        made.sold(None)
        nowhere = factories.shelf_place()
        shelf.close_shelf_place(place=nowhere)
        nowhere.refresh_from_db()
        with pytest.raises(GoesWhere):
            made.close(to=nowhere)
        assert on_hand(made, place=made.show.place) == 8
        with pytest.raises(NoneTallied):
            tallying.tally(key=uuid.uuid4(), show=made.show, thing=made.thing, who=made.who, pieces=-1)
        with pytest.raises(NotAtTheShow):
            tallying.tally(key=uuid.uuid4(), show=made.show, thing=booth(1).thing, who=made.who)

    def test_lots_that_were_mistaken_for_one_another_come_right_and_the_sum_holds(self):
        made = booth(5, taken=3)
        other = made.another_lot(5)
        made.take(3, other)
        made.count(4)
        made.count(1, other)
        made.sold(1)
        made.close()

        result = Result.objects.get()
        assert (result.taken, result.returned, result.sold, result.missing) == (6, 5, 1, 0)
        assert on_hand(made, place=made.place, lot=made.ledger_lot) == 2 + 4
        assert on_hand(made, place=made.place, lot=other.lot) == 2 + 1
        assert on_hand(made) == 9
        assert breaches() == []

    def test_a_closing_is_taken_back_with_a_reason_and_the_count_stays_as_typed(self):
        made = booth(10, taken=8)
        made.count(3)
        target = factories.shelf_place()
        closed = made.close(to=target)
        assert on_hand(made, place=target) == 3

        closing.open_again(key=uuid.uuid4(), closing=closed, who=made.who, why="a box was still in the van")
        assert on_hand(made, place=made.show.place) == 8
        made.count(7)
        made.close()
        assert on_hand(made, place=made.place) == 2 + 7
        assert closing.back_state(made.show, user=None).returned == 7

    def test_what_sold_is_the_base_of_the_next_normal_numbers(self):
        # By hand: none came back of 8: 8 × 1.5 = 12; 5 of 8 went: 5 × 1.25 = 6.25, so 7; none went: 1.
        assert after.next_number(taken=8, returned=0, went=8).value == 12
        assert after.next_number(taken=8, returned=3, went=5).value == 7
        assert after.next_number(taken=8, returned=8, went=0).value == 1
        made = booth(10, taken=8, name="Tin Roof")
        made.usually(8)
        made.count(3)
        page = after.after(made.close(), user=made.who)
        assert [(row.sort, row.normal, row.taken, row.next.value) for row in page.sorts] == [
            (made.sort, 8, 8, 7)
        ]
        assert page.sorts[0].next.working.substitution == "5 × 1.25"


class TestSums(TestCase):
    """Taken is returned and sold and missing, item by item and in the ledger, whatever is typed."""

    @settings(max_examples=25, deadline=None)
    @given(
        taken=st.tuples(st.integers(0, 5), st.integers(0, 5)),
        counted=st.tuples(st.integers(0, 6), st.integers(0, 6)),
        sold=st.none() | st.integers(0, 6),
    )
    def test_taken_is_returned_sold_and_missing(self, taken, counted, sold):
        made = booth(5)
        lots = (made.lot, made.another_lot(5))
        for lot, pieces in zip(lots, taken, strict=True):
            if pieces:
                made.take(pieces, lot)
        for lot, pieces, went in zip(lots, counted, taken, strict=True):
            if went:
                made.count(pieces, lot)
        back = sum(pieces for pieces, went in zip(counted, taken, strict=True) if went)
        if sold is not None:
            made.sold(sold)
        try:
            made.close("who knows")
        except CountFirst:
            assert sum(taken) == 0
        except DoesNotAddUp:
            assert back > sum(taken) or (sold or 0) > sum(taken) - back
            assert on_hand(made, place=made.show.place) == sum(taken)
        else:
            result = Result.objects.get()
            assert result.taken == sum(taken)
            assert result.taken == result.returned + result.sold + result.missing + result.sold_or_missing
            assert result.returned == back
            assert on_hand(made) == 10 - (sum(taken) - back)
            assert on_hand(made, place=made.show.place) == 0
            assert gone_to(made, "customer") == (sold or 0)
        assert breaches() == []
