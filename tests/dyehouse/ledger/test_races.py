"""Several people at once: one piece is never taken twice, one key never posts twice."""

from __future__ import annotations

import threading
import uuid
from collections import Counter
from collections.abc import Callable

import pytest
from django.db import DatabaseError, connection, transaction
from django.utils import timezone

from dyehouse.ledger import guard
from dyehouse.ledger.models import Item, Line, Lot, Movement
from dyehouse.ledger.operations import AlreadyReversed, NotEnough, Step, reverse
from dyehouse.ledger.queries import free
from dyehouse.ledger.verify import breaches
from tests.dyehouse.ledger.helpers import arrive, at, book, mill_lot, move, yarn

pytestmark = [pytest.mark.both_engines, pytest.mark.django_db(transaction=True)]

PEOPLE = 40


def all_at_once(deed: Callable[[int], str], people: int = PEOPLE) -> Counter[str]:
    """Let as many threads do it at the same moment; how often each word came back."""
    words: list[str] = []
    start = threading.Barrier(people)

    def person(number: int) -> None:
        try:
            connection.ensure_connection()
            start.wait()
            words.append(deed(number))
        except Exception as error:
            words.append(repr(error))
        finally:
            connection.close()

    threads = [threading.Thread(target=person, args=(number,)) for number in range(people)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return Counter(words)


@pytest.fixture
def last_skein() -> tuple[Item, Lot]:
    item, lot = yarn(), mill_lot()
    arrive(item, lot, 1)
    return item, lot


def test_forty_people_take_the_last_skein_and_one_gets_it(last_skein):
    item, lot = last_skein
    step = Step(item, lot, 1, at("store"), at("customer"))

    def take(_: int) -> str:
        try:
            move(step)
        except NotEnough as refused:
            return str(refused)
        return "got it"

    assert all_at_once(take) == {
        "got it": 1,
        "None of Fell DK, 100 g, lot 77, is free in the store; 1 piece is wanted.": PEOPLE - 1,
    }
    assert book(item, lot, "store") == (0, 0)
    assert breaches() == []


def check_then_take(item: Item, lot: Lot, people: int) -> Callable[[int], str]:
    """What a program does that trusts its own look at the shelf: look, then write, with nothing in between to hold it."""
    everybody_looked = threading.Barrier(people)
    store, customer = at("store").place, at("customer").place

    def take(_: int) -> str:
        there = free(item=item, lot=lot, place=store)
        everybody_looked.wait()
        if there < 1:
            return "none"
        now = timezone.now()
        try:
            with transaction.atomic():
                movement = Movement.objects.create(
                    key=uuid.uuid4(), happened_at=now, recorded_at=now, line_count=1, digest=""
                )
                Line.objects.create(
                    movement=movement,
                    number=1,
                    item=item,
                    lot=lot,
                    quantity=1,
                    from_place=store,
                    to_place=customer,
                )
        except DatabaseError as error:
            return guard.constraint_of(error)
        return "got it"

    return take


def test_without_the_triggers_looking_first_sells_the_last_skein_many_times(last_skein):
    item, lot = last_skein
    guard.disarm(connection)
    try:
        words = all_at_once(check_then_take(item, lot, PEOPLE))
    finally:
        guard.arm(connection)

    assert words == {"got it": PEOPLE}
    assert any("take more than was free" in sentence for sentence in breaches())


def test_with_the_triggers_the_same_code_sells_it_once(last_skein):
    item, lot = last_skein

    words = all_at_once(check_then_take(item, lot, PEOPLE))

    assert words == {"got it": 1, "line_takes_more_than_is_free": PEOPLE - 1}
    assert book(item, lot, "store") == (0, 0)


def test_the_same_key_from_many_threads_posts_once(last_skein):
    item, lot = last_skein
    key, step = uuid.uuid4(), Step(item, lot, 5, at("supplier"), at("store"))

    words = all_at_once(lambda _: str(move(step, key=key).pk), people=16)

    assert list(words.values()) == [16]
    assert book(item, lot, "store") == (6, 0)
    assert breaches() == []


def test_what_is_found_by_many_at_once_is_found_exactly(last_skein):
    item, lot = last_skein
    step = Step(item, lot, 2, at("store"), at("in_pots"))

    def take(_: int) -> str:
        move(step, find_missing=True)
        return "done"

    assert all_at_once(take, people=16) == {"done": 16}
    # The first takes the one that is there and finds one more; the others find both.
    assert (
        sum(Movement.objects.filter(found_count=1).values_list("lines__quantity", flat=True)) == 31 + 16 * 2
    )
    assert book(item, lot, "store") == (0, 0)
    assert book(item, lot, "in_pots") == (32, 0)
    assert breaches() == []


def test_a_movement_is_taken_back_once_by_many(last_skein):
    item, lot = last_skein
    movement = arrive(item, lot, 5)

    def take_back(_: int) -> str:
        try:
            reverse(movement=movement, key=uuid.uuid4(), who=None, why="Other mill")
        except AlreadyReversed:
            return "too late"
        return "done"

    assert all_at_once(take_back, people=16) == {"done": 1, "too late": 15}
    assert book(item, lot, "store") == (1, 0)


def test_movements_that_go_opposite_ways_do_not_lock_each_other_out():
    item, lots = yarn(), [mill_lot(str(number)) for number in range(6)]
    for lot in lots:
        arrive(item, lot, 100)
        move(Step(item, lot, 50, at("store"), at("dry")))
    there, back = (at("store"), at("dry")), (at("dry"), at("store"))

    def carry(number: int) -> str:
        ways = (there, back) if number % 2 else (back, there)
        for _ in range(3):
            order = lots if number % 2 else list(reversed(lots))
            move(*(Step(item, lot, 1, *ways[0]) for lot in order))
        return "done"

    assert all_at_once(carry, people=12) == {"done": 12}
    assert [book(item, lot, "store") for lot in lots] == [(50, 0)] * len(lots)
    assert breaches() == []
