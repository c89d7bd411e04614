from __future__ import annotations

import datetime as dt
import uuid

import pytest
from django.db import IntegrityError, transaction

from dyehouse.ledger.models import Claim, Line, Movement
from dyehouse.ledger.operations import (
    AlreadyReversed,
    Bucket,
    KeyUsedBefore,
    NotEnough,
    ReasonMissing,
    Step,
    claim_for,
    hold,
    post,
    release,
    reverse,
)
from dyehouse.ledger.places import fixed_place
from dyehouse.ledger.verify import breaches
from tests.dyehouse.ledger.helpers import arrive, at, book, dye, everything_kept, mill_lot, move, shelf, yarn

pytestmark = [pytest.mark.both_engines, pytest.mark.django_db]


@pytest.fixture
def item():
    return yarn()


@pytest.fixture
def lot():
    return mill_lot()


def test_what_arrives_lies_in_the_store_and_the_outside_keeps_no_balance(item, lot):
    movement = arrive(item, lot, 12)

    assert book(item, lot, "store") == (12, 0)
    assert everything_kept()[0] == {(fixed_place("store").pk, item.pk, lot.pk, 12, 0)}
    assert (movement.line_count, movement.found_count) == (1, 0)


def test_the_steps_of_one_movement_may_build_on_each_other(item, lot):
    dyed, dye_lot = yarn("Fell DK in Rook"), mill_lot("K7M2X")
    arrive(item, lot, 5)
    move(Step(item, lot, 5, at("store"), at("in_pots")))

    move(
        Step(item, lot, 5, at("in_pots"), at("consumed")),
        Step(dyed, dye_lot, 5, at("made"), at("drying")),
        Step(dyed, dye_lot, 2, at("drying"), at("dry")),
    )

    assert book(item, lot, "in_pots") == (0, 0)
    assert book(dyed, dye_lot, "drying") == (3, 0)
    assert book(dyed, dye_lot, "dry") == (2, 0)


def test_taking_more_than_is_free_says_what_there_is_and_posts_nothing(item, lot):
    arrive(item, lot, 2)
    before = everything_kept()

    with pytest.raises(NotEnough) as refused:
        move(Step(item, lot, 1, at("store"), at("in_pots")), Step(item, lot, 3, at("store"), at("in_pots")))

    assert str(refused.value) == (
        "Only 1 piece of Fell DK, 100 g, lot 77, is free in the store; 3 pieces are wanted."
    )
    assert (refused.value.wanted, refused.value.free, refused.value.place.code) == (3, 1, "store")
    assert (refused.value.item, refused.value.lot) == (item, lot)
    assert everything_kept() == before
    assert Movement.objects.count() == 1


def test_what_was_never_there_is_said_to_be_none(item, lot):
    with pytest.raises(NotEnough) as refused:
        move(Step(item, lot, 1, at("dry"), at("customer")))

    assert str(refused.value) == "None of Fell DK, 100 g, lot 77, is free in Dry; 1 piece is wanted."


def test_a_dye_that_is_short_is_said_in_grams(lot):
    powder = dye()
    arrive(powder, lot, 2_500)

    with pytest.raises(NotEnough) as refused:
        move(Step(powder, lot, 4_000, at("store"), at("consumed")))

    assert str(refused.value) == "Only 2.5 g of Madder brown, lot 77, is free in the store; 4 g are wanted."


def test_the_same_key_with_the_same_steps_posts_once(item, lot):
    key = uuid.uuid4()
    step = Step(item, lot, 4, at("supplier"), at("store"))

    first, second = move(step, key=key), move(step, key=key)

    assert first == second
    assert book(item, lot, "store") == (4, 0)


def test_the_same_key_gives_the_first_movement_even_when_nothing_is_left_to_take(item, lot):
    arrive(item, lot, 4)
    key, step = uuid.uuid4(), Step(item, lot, 4, at("store"), at("in_pots"))

    first = move(step, key=key)

    assert move(step, key=key) == first


@pytest.mark.parametrize("other", ["quantity", "place", "one step more"])
def test_the_same_key_with_other_steps_is_refused(item, lot, other):
    key, step = uuid.uuid4(), Step(item, lot, 4, at("supplier"), at("store"))
    move(step, key=key)
    others = {
        "quantity": [Step(item, lot, 5, at("supplier"), at("store"))],
        "place": [Step(item, lot, 4, at("before_the_house"), at("store"))],
        "one step more": [step, step],
    }

    with pytest.raises(KeyUsedBefore):
        move(*others[other], key=key)

    assert book(item, lot, "store") == (4, 0)


@pytest.mark.parametrize("quantity", [0, -1, 1.0, True, 10**15 + 1])
def test_a_step_takes_a_whole_quantity_from_one(item, lot, quantity):
    with pytest.raises(ValueError):
        Step(item, lot, quantity, at("supplier"), at("store"))


def test_a_step_goes_somewhere(item, lot):
    with pytest.raises(ValueError):
        Step(item, lot, 1, at("store"), at("store"))


def test_a_movement_has_steps_and_an_aware_time(item, lot):
    step = Step(item, lot, 1, at("supplier"), at("store"))

    with pytest.raises(ValueError):
        move()
    with pytest.raises(ValueError):
        move(step, happened_at=dt.datetime(2026, 3, 1, 12))  # noqa: DTZ001 - naive is what is refused


# Holding


def test_held_pieces_cannot_be_taken_by_anybody_else(item, lot):
    arrive(item, lot, 3)
    store, box = fixed_place("store"), claim_for(key=uuid.uuid4(), held_for="March box, Ines")

    move(hold(item=item, lot=lot, quantity=2, place=store, claim=box))

    assert book(item, lot, "store") == (3, 2)
    with pytest.raises(NotEnough):
        move(Step(item, lot, 2, at("store"), at("customer")))
    move(Step(item, lot, 2, Bucket(store, box), at("customer")))
    assert book(item, lot, "store") == (1, 0)


def test_held_pieces_move_with_their_claim(item, lot):
    arrive(item, lot, 3)
    store, rack, box = fixed_place("store"), shelf(), claim_for(key=uuid.uuid4(), held_for="March box, Ines")
    move(hold(item=item, lot=lot, quantity=2, place=store, claim=box))

    move(Step(item, lot, 2, Bucket(store, box), Bucket(rack, box)))

    assert book(item, lot, "store") == (1, 0)
    assert book(item, lot, rack) == (2, 2)


def test_released_pieces_are_free_again(item, lot):
    arrive(item, lot, 3)
    store, box = fixed_place("store"), claim_for(key=uuid.uuid4(), held_for="March box, Ines")
    move(hold(item=item, lot=lot, quantity=3, place=store, claim=box))

    move(release(item=item, lot=lot, quantity=2, place=store, claim=box))

    assert book(item, lot, "store") == (3, 1)
    with pytest.raises(NotEnough) as refused:
        move(release(item=item, lot=lot, quantity=2, place=store, claim=box))
    assert str(refused.value) == (
        "Only 1 piece of Fell DK, 100 g, lot 77, is held for March box, Ines in the store; 2 pieces are wanted."
    )


def test_one_claim_can_pass_what_it_holds_to_another(item, lot):
    arrive(item, lot, 1)
    store = fixed_place("store")
    ines, oona = (claim_for(key=uuid.uuid4(), held_for=name) for name in ("Ines", "Oona"))
    move(hold(item=item, lot=lot, quantity=1, place=store, claim=ines))

    move(Step(item, lot, 1, Bucket(store, ines), Bucket(store, oona)))

    assert everything_kept()[1] == {(oona.pk, store.pk, item.pk, lot.pk, 1)}
    assert breaches() == []


def test_the_same_key_gives_the_same_claim():
    key = uuid.uuid4()

    assert claim_for(key=key, held_for="Ines") == claim_for(key=key, held_for="Ines")
    assert Claim.objects.count() == 1


# Found at the pot


def test_what_is_short_is_found_within_the_same_movement(item, lot):
    arrive(item, lot, 2)

    movement = move(Step(item, lot, 5, at("store"), at("in_pots")), find_missing=True)

    lines = list(
        movement.lines.order_by("number").values_list("from_place__code", "to_place__code", "quantity")
    )
    assert lines == [("count_difference", "store", 3), ("store", "in_pots", 5)]
    assert movement.found_count == 1
    assert book(item, lot, "in_pots") == (5, 0)
    assert book(item, lot, "store") == (0, 0)


def test_nothing_is_found_when_there_is_enough(item, lot):
    arrive(item, lot, 5)

    movement = move(Step(item, lot, 5, at("store"), at("in_pots")), find_missing=True)

    assert (movement.found_count, movement.line_count) == (0, 1)


def test_two_short_steps_from_one_place_are_found_in_one_line(item, lot):
    movement = move(
        Step(item, lot, 2, at("store"), at("in_pots")),
        Step(item, lot, 3, at("store"), at("consumed")),
        find_missing=True,
    )

    assert list(movement.lines.filter(number=1).values_list("quantity", flat=True)) == [5]


def test_a_repeat_after_finding_posts_nothing_more(item, lot):
    key, step = uuid.uuid4(), Step(item, lot, 5, at("store"), at("in_pots"))

    first = move(step, key=key, find_missing=True)

    assert move(step, key=key, find_missing=True) == first
    assert Line.objects.count() == 2


def test_taking_back_what_was_found_takes_the_finding_back_too(item, lot):
    arrive(item, lot, 2)
    before = everything_kept()
    movement = move(Step(item, lot, 5, at("store"), at("in_pots")), find_missing=True)

    reverse(movement=movement, key=uuid.uuid4(), who=None, why="Wrong pot")

    assert everything_kept() == before
    assert breaches() == []


# Taking back


def test_taking_back_restores_what_was(item, lot):
    arrive(item, lot, 9)
    before = everything_kept()
    movement = move(
        Step(item, lot, 4, at("store"), at("in_pots")), Step(item, lot, 4, at("in_pots"), at("written_off"))
    )

    back = reverse(movement=movement, key=uuid.uuid4(), who=None, why=" Counted twice ")

    assert everything_kept() == before
    assert (back.reverses, back.why) == (movement, "Counted twice")


def test_a_movement_is_taken_back_once(item, lot):
    movement = arrive(item, lot, 9)
    key = uuid.uuid4()
    back = reverse(movement=movement, key=key, who=None, why="Other mill")

    assert reverse(movement=movement, key=key, who=None, why="Other mill") == back
    with pytest.raises(AlreadyReversed):
        reverse(movement=movement, key=uuid.uuid4(), who=None, why="Other mill")
    with pytest.raises(AlreadyReversed):
        reverse(movement=back, key=uuid.uuid4(), who=None, why="Not the other mill")


def test_taking_back_needs_a_reason(item, lot):
    movement = arrive(item, lot, 9)

    with pytest.raises(ReasonMissing):
        reverse(movement=movement, key=uuid.uuid4(), who=None, why="  ")


def test_what_has_moved_on_cannot_be_taken_back(item, lot):
    movement = arrive(item, lot, 9)
    move(Step(item, lot, 1, at("store"), at("in_pots")))

    with pytest.raises(NotEnough) as refused:
        reverse(movement=movement, key=uuid.uuid4(), who=None, why="Other mill")

    assert (refused.value.wanted, refused.value.free) == (9, 8)


# Together with other work


def test_a_refusal_leaves_the_callers_own_work_to_the_caller(item, lot):
    with transaction.atomic():
        arrive(item, lot, 1)
        with pytest.raises(NotEnough):
            move(Step(item, lot, 2, at("store"), at("in_pots")))
        arrive(item, lot, 1)

    assert book(item, lot, "store") == (2, 0)


def test_another_fault_of_the_database_is_not_dressed_up(item, lot, monkeypatch):
    def broken(*_, **__):
        raise IntegrityError("something else")

    monkeypatch.setattr(Line.objects, "bulk_create", broken)

    with pytest.raises(IntegrityError, match="something else"):
        arrive(item, lot, 1)


def test_a_shortage_that_only_the_database_saw_is_said_in_words(item, lot, monkeypatch):
    """Somebody who posts past this code can take the piece between reading and writing."""
    from dyehouse.ledger import operations

    arrive(item, lot, 1)
    truly, answers = operations._shortages, iter([[]])
    monkeypatch.setattr(operations, "_shortages", lambda steps: next(answers, truly(steps)))

    with pytest.raises(NotEnough):
        move(Step(item, lot, 2, at("store"), at("in_pots")))


def test_posting_a_hundred_lines_takes_no_more_queries_than_posting_ten(item, django_assert_max_num_queries):
    lots = [mill_lot(str(number)) for number in range(100)]
    supplier, store = at("supplier"), at("store")
    steps = [Step(item, lot, 1, supplier, store) for lot in lots]

    with django_assert_max_num_queries(10):
        post(key=uuid.uuid4(), who=None, steps=steps)
