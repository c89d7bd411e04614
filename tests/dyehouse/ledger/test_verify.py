from __future__ import annotations

import io
import uuid

import pytest
from django.core.management import call_command
from django.db import connection
from django.utils import timezone

from dyehouse.ledger import guard
from dyehouse.ledger.models import Movement
from dyehouse.ledger.operations import Step, claim_for, hold, reverse
from dyehouse.ledger.places import fixed_place
from dyehouse.ledger.verify import breaches
from tests.dyehouse.ledger.helpers import arrive, at, mill_lot, move, yarn

pytestmark = [pytest.mark.both_engines, pytest.mark.django_db]


@pytest.fixture
def worked():
    """A little of everything: arrival, hold, what was found, and a taking back."""
    item, lot = yarn(), mill_lot()
    arrive(item, lot, 9)
    move(
        hold(
            item=item,
            lot=lot,
            quantity=2,
            place=fixed_place("store"),
            claim=claim_for(key=uuid.uuid4(), held_for="Ines"),
        )
    )
    movement = move(Step(item, lot, 12, at("store"), at("in_pots")), find_missing=True)
    reverse(movement=movement, key=uuid.uuid4(), who=None, why="Wrong pot")
    move(Step(item, lot, 3, at("store"), at("in_pots")))
    return item, lot


def past_the_triggers(sql: str) -> None:
    guard.disarm(connection)
    with connection.cursor() as cursor:
        cursor.execute(sql)
    guard.arm(connection)


def verify() -> tuple[str, str, int]:
    out, err = io.StringIO(), io.StringIO()
    try:
        call_command("verify_ledger", stdout=out, stderr=err)
    except SystemExit as left:
        return out.getvalue(), err.getvalue(), left.code
    return out.getvalue(), err.getvalue(), 0


def test_a_sound_ledger_says_so(worked):
    assert breaches() == []
    assert verify() == ("The ledger agrees with its 7 lines in 5 movements.\n", "", 0)


def test_an_empty_ledger_is_sound():
    assert verify()[2] == 0


@pytest.mark.parametrize(
    ("sql", "sentence"),
    [
        (
            "UPDATE ledger_balance SET on_hand = 7 WHERE held = 2",
            "Fell DK, 100 g, lot 77, at The store: 7 on hand and 2 held are kept, the lines come to 6 on hand and 2 held.",
        ),
        (
            "DELETE FROM ledger_balance WHERE held = 0",
            "Fell DK, 100 g, lot 77, at In the pots: nothing is kept, the lines come to 3 on hand and 0 held.",
        ),
        (
            "UPDATE ledger_held SET quantity = 1",
            "Fell DK, 100 g, lot 77, at The store: 1 kept as held for one claim, the lines come to 2.",
        ),
    ],
)
def test_a_balance_or_hold_that_differs_is_named(worked, sql, sentence):
    past_the_triggers(sql)

    assert breaches() == [sentence]
    assert verify()[1:] == (f"{sentence}\nThe ledger does not agree with itself in 1 places.\n", 1)


def test_a_line_that_was_changed_is_named(worked):
    first = Movement.objects.order_by("id").first()
    past_the_triggers(f"UPDATE ledger_line SET quantity = 10 WHERE movement_id = {first.pk}")

    assert f"The lines of movement {first.key} are not those that were posted." in breaches()


def test_a_line_that_was_deleted_is_named(worked):
    first = Movement.objects.order_by("id").first()
    past_the_triggers("DELETE FROM ledger_line WHERE id = (SELECT min(id) FROM ledger_line)")

    assert f"Movement {first.key} says 1 lines and has 0, numbered None to None." in breaches()


def test_lines_that_took_more_than_there_was_are_named(worked):
    item, lot = worked
    now = timezone.now()
    guard.disarm(connection)
    movement = Movement.objects.create(
        key=uuid.uuid4(), happened_at=now, recorded_at=now, line_count=1, digest=""
    )
    movement.lines.create(
        number=1,
        item=item,
        lot=lot,
        quantity=50,
        from_place=fixed_place("dry"),
        to_place=fixed_place("customer"),
    )
    guard.arm(connection)

    assert (
        "Fell DK, 100 g, lot 77, at Dry: the lines take more than was free, or more than was held, at some moment."
        in breaches()
    )


def test_missing_triggers_are_a_breach():
    guard.disarm(connection)

    found = breaches()

    assert len(found) == len(guard.expected(connection))
    assert "The trigger kept on ledger_line is missing; manage.py migrate puts it back." in found
