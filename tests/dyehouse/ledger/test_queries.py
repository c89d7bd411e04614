from __future__ import annotations

import datetime as dt
import uuid

import pytest

from dyehouse.ledger import queries
from dyehouse.ledger.operations import Bucket, Step, agree, claim_for, hold, reverse
from dyehouse.ledger.places import fixed_place
from tests.dyehouse.ledger.helpers import arrive, at, dye, mill_lot, move, shelf, yarn
from tests.factories import OwnerFactory

pytestmark = [pytest.mark.both_engines, pytest.mark.django_db]

MARCH = dt.datetime(2026, 3, 1, 12, tzinfo=dt.UTC)
DAY = dt.timedelta(days=1)


@pytest.fixture
def item():
    return yarn()


@pytest.fixture
def lot():
    return mill_lot()


def test_free_is_what_lies_there_without_what_is_held(item, lot, django_assert_num_queries):
    arrive(item, lot, 5)
    store, box = fixed_place("store"), claim_for(key=uuid.uuid4(), held_for="Ines")
    move(hold(item=item, lot=lot, quantity=2, place=store, claim=box))

    with django_assert_num_queries(1):
        there = queries.amount(item=item, lot=lot, place=store)

    assert (there.on_hand, there.held, there.free) == (5, 2, 3)
    assert queries.free(item=item, lot=lot, place=store) == 3
    assert queries.free(item=item, lot=lot, place=fixed_place("dry")) == 0


def test_amounts_by_item_sum_over_lots_and_places(item, django_assert_num_queries):
    other, rack = yarn("Moor 4ply, 50 g"), shelf()
    for number in range(3):
        lot = mill_lot(str(number))
        arrive(item, lot, 4)
        move(Step(item, lot, 1, at("store"), Bucket(rack)))

    with django_assert_num_queries(1):
        amounts = queries.amounts_by_item([item, other])

    assert amounts == {item.pk: queries.Amount(12, 0)}
    assert queries.amounts_by_item([item.pk], place_codes=["store"])[item.pk].free == 9


def test_amounts_by_lot_say_what_is_left_in_each_jar():
    powder, full, empty = dye(), mill_lot("jar 1"), mill_lot("jar 2")
    arrive(powder, full, 25_000)
    move(Step(powder, full, 1_200, at("store"), at("consumed")))

    assert queries.amounts_by_lot([full, empty], place_codes=["store"]) == {
        full.pk: queries.Amount(23_800, 0)
    }


def test_stock_lists_what_lies_where_along_the_way_in_one_query(item, lot, django_assert_num_queries):
    rack = shelf()
    arrive(item, lot, 9, happened_at=MARCH)
    move(Step(item, lot, 2, at("store"), Bucket(rack)), happened_at=MARCH + DAY)
    move(Step(item, lot, 3, at("store"), at("in_pots")), happened_at=MARCH + 2 * DAY)
    arrive(dye(), lot, 500)

    with django_assert_num_queries(1):
        rows = [(r.place.code, r.item.name, r.lot.name, r.free) for r in queries.stock(kinds=["undyed"])]

    assert rows == [
        ("store", "Fell DK, 100 g", "77", 4),
        ("in_pots", "Fell DK, 100 g", "77", 3),
        ("shelf-a", "Fell DK, 100 g", "77", 2),
    ]
    assert [r.last_moved_at for r in queries.stock(place_codes=["shelf-a"])] == [MARCH + DAY]
    assert len(queries.stock(place_kinds=["pot", "shelf"])) == 2
    assert len(queries.stock(items=[item], lots=[lot.pk])) == 3


def test_what_is_used_up_is_not_listed(item, lot):
    arrive(item, lot, 1)
    move(Step(item, lot, 1, at("store"), at("consumed")))

    assert queries.stock() == []


def test_a_claim_lists_what_it_holds(item, lot):
    arrive(item, lot, 5)
    box = claim_for(key=uuid.uuid4(), held_for="Ines")
    move(hold(item=item, lot=lot, quantity=2, place=fixed_place("store"), claim=box))

    assert [(row.item, row.quantity, row.place.code) for row in queries.held_for(box)] == [(item, 2, "store")]


def test_as_of_takes_back_what_happened_later(item, lot, django_assert_num_queries):
    store = fixed_place("store")
    box = claim_for(key=uuid.uuid4(), held_for="Ines")
    arrive(item, lot, 9, happened_at=MARCH)
    move(hold(item=item, lot=lot, quantity=2, place=store, claim=box), happened_at=MARCH + DAY)
    move(Step(item, lot, 2, Bucket(store, box), at("customer")), happened_at=MARCH + 3 * DAY)
    move(Step(item, lot, 4, at("store"), at("dry")), happened_at=MARCH + 5 * DAY)
    where = (store.pk, item.pk, lot.pk)
    dry = (fixed_place("dry").pk, item.pk, lot.pk)

    with django_assert_num_queries(1):
        assert queries.as_of(MARCH - DAY) == {}
    assert queries.as_of(MARCH) == {where: queries.Amount(9, 0)}
    assert queries.as_of(MARCH + 2 * DAY) == {where: queries.Amount(9, 2)}
    assert queries.as_of(MARCH + 4 * DAY) == {where: queries.Amount(7, 0)}
    assert queries.as_of(MARCH + 6 * DAY) == {where: queries.Amount(3, 0), dry: queries.Amount(4, 0)}
    assert queries.as_of(MARCH + 6 * DAY, place_codes=["dry"]) == {dry: queries.Amount(4, 0)}
    assert queries.as_of(MARCH + 6 * DAY, kinds=["dye"]) == {}


def test_what_was_entered_late_counts_from_when_it_happened(item, lot):
    arrive(item, lot, 9, happened_at=MARCH + 5 * DAY)
    arrive(item, lot, 1, happened_at=MARCH)

    assert [amount.on_hand for amount in queries.as_of(MARCH + DAY).values()] == [1]


def test_as_of_wants_an_aware_time():
    with pytest.raises(ValueError):
        queries.as_of(dt.datetime(2026, 3, 1))  # noqa: DTZ001 - naive is what is refused


def test_the_history_of_a_lot_is_read_newest_first_in_one_query(item, lot, django_assert_num_queries):
    arrive(item, lot, 2, happened_at=MARCH)
    taken = move(
        Step(item, lot, 3, at("store"), at("in_pots")),
        find_missing=True,
        why="Pot K7M2X",
        happened_at=MARCH - DAY,
    )
    reverse(movement=taken, key=uuid.uuid4(), who=None, why="Wrong pot")
    arrive(item, mill_lot("78"), 1)

    with django_assert_num_queries(1):
        rows = [
            (
                row.movement.why,
                row.from_place.code,
                row.to_place.code,
                row.quantity,
                row.found,
                row.taken_back,
            )
            for row in queries.history(lot=lot)
        ]

    assert rows == [
        ("Wrong pot", "store", "count_difference", 1, False, False),
        ("Wrong pot", "in_pots", "store", 3, False, False),
        ("Pot K7M2X", "store", "in_pots", 3, False, True),
        ("Pot K7M2X", "count_difference", "store", 1, True, True),
        ("", "supplier", "store", 2, False, False),
    ]
    assert len(queries.history(item=item, limit=2)) == 2


# Found at the pot


def found():
    return [(row.item.name, row.lot.name, row.quantity, row.source) for row in queries.found_at_the_pot()]


def test_what_was_found_is_listed_with_what_caused_it(lot, django_assert_num_queries):
    stock = dye("Madder brown stock")
    move(
        Step(stock, lot, 40_000, at("store"), at("consumed")),
        find_missing=True,
        source="entry:1",
        happened_at=MARCH,
    )

    with django_assert_num_queries(1):
        rows = queries.found_at_the_pot()

    assert [(r.item, r.lot, r.quantity, r.happened_at, r.place.code) for r in rows] == [
        (stock, lot, 40_000, MARCH, "store")
    ]
    assert found() == [("Madder brown stock", "77", 40_000, "entry:1")]
    assert queries.found_at_the_pot(since=MARCH + DAY) == []


def test_what_was_taken_back_or_counted_since_is_no_longer_listed(item, lot):
    other = mill_lot("78")
    taken = move(Step(item, lot, 1, at("store"), at("in_pots")), find_missing=True)
    move(Step(item, other, 1, at("store"), at("in_pots")), find_missing=True)
    assert [row[1] for row in found()] == ["78", "77"]

    reverse(movement=taken, key=uuid.uuid4(), who=None, why="Wrong pot")
    assert [row[1] for row in found()] == ["78"]

    move(Step(item, other, 4, at("count_difference"), at("store")), why="Counted")
    assert found() == []


def test_a_count_that_agreed_with_the_book_settles_what_was_found_before_it(item, lot):
    move(Step(item, lot, 1, at("store"), at("in_pots")), find_missing=True)
    elsewhere = mill_lot("78")
    counted = {"item": item, "counted": 0, "who": OwnerFactory(), "place": fixed_place("store")}
    agree(key=uuid.uuid4(), lot=elsewhere, **counted)
    assert [row[1] for row in found()] == ["77"]

    agree(key=uuid.uuid4(), lot=lot, **counted)
    assert found() == []

    move(Step(item, lot, 1, at("store"), at("in_pots")), find_missing=True)
    assert [row[1] for row in found()] == ["77"]


def test_an_ordinary_count_difference_was_not_found_at_the_pot(item, lot):
    move(Step(item, lot, 4, at("count_difference"), at("store")), why="Counted")

    assert found() == []


def test_another_finding_does_not_settle_the_first(item, lot):
    for _ in range(2):
        move(Step(item, lot, 1, at("store"), at("in_pots")), find_missing=True)

    assert len(found()) == 2
