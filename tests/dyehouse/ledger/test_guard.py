from __future__ import annotations

import pytest
from django.core import checks
from django.core.management import call_command
from django.db import connection, models
from django.test.utils import isolate_apps

from dyehouse.ledger import guard
from dyehouse.ledger.models import Claim, Line, Movement
from dyehouse.ledger.triggers import Trigger, append_only_triggers, unique_sets
from tests.dyehouse.ledger.helpers import arrive, mill_lot, refusal, yarn

pytestmark = [pytest.mark.both_engines, pytest.mark.django_db]


def warnings():
    return checks.run_checks(databases=["default"], tags=[checks.Tags.database])


def drop_one() -> Trigger:
    trigger = next(t for t in guard.expected(connection) if t.what == "kept")
    with connection.cursor() as cursor:
        cursor.execute(guard._drop(connection, trigger.name, trigger.table))
    return trigger


def test_all_triggers_stand_after_a_migrate():
    assert guard.missing(connection) == []
    assert warnings() == []


def test_the_ledgers_own_records_are_guarded():
    assert {Movement, Line, Claim} <= set(guard.guarded_models())


def test_a_missing_trigger_is_named_by_the_system_check_and_comes_back():
    trigger = drop_one()

    assert [warning.id for warning in warnings()] == ["ledger.W001"]
    assert "kept on ledger_line" in warnings()[0].msg
    assert guard.missing(connection) == [trigger]
    guard.arm(connection)
    assert warnings() == []


def test_a_migrate_puts_back_what_is_missing():
    drop_one()

    call_command("migrate", verbosity=0)

    assert guard.missing(connection) == []


def test_a_trigger_of_an_older_text_is_replaced():
    trigger = drop_one()
    older = trigger.name[:-8] + "00000000"
    with connection.cursor() as cursor:
        cursor.execute(trigger.create.replace(trigger.name, older))

    guard.arm(connection)

    standing = guard._read(connection, guard.NAMED)
    assert trigger.name in standing
    assert older not in standing


def test_a_trigger_that_was_switched_off_counts_as_missing_and_comes_back():
    if connection.vendor != "postgresql":
        pytest.skip("SQLite cannot switch a trigger off")
    with connection.cursor() as cursor:
        cursor.execute("ALTER TABLE ledger_line DISABLE TRIGGER USER")

    assert guard.missing(connection) != []
    guard.arm(connection)
    assert guard.missing(connection) == []


def test_disarmed_the_records_can_be_changed_and_armed_they_cannot():
    arrive(yarn(), mill_lot(), 1)
    change = "UPDATE ledger_movement SET why = 'Otherwise'"

    guard.disarm(connection)
    assert refusal(change) == "done"
    guard.arm(connection)
    assert refusal(change) == "movement_only_added"


def test_arming_twice_changes_nothing():
    before = guard._read(connection, guard.STANDING)

    guard.arm(connection)

    assert guard._read(connection, guard.STANDING) == before


@pytest.mark.django_db(transaction=True)
def test_a_rebuilt_table_is_armed_again():
    """SQLite makes a table anew for many changes of it, and drops its triggers with the old one."""
    if connection.vendor != "sqlite":
        pytest.skip("PostgreSQL alters tables in place")

    with connection.schema_editor() as editor:
        editor._remake_table(Claim)

    assert {trigger.table for trigger in guard.missing(connection)} == {"ledger_claim"}
    guard.arm(connection)
    assert guard.missing(connection) == []


def test_every_key_of_a_model_is_guarded_against_replacement():
    assert unique_sets(Line) == [["id"], ["movement_id", "number"]]
    assert unique_sets(Movement) == [["id"], ["key"], ["reverses_id"]]


@pytest.mark.parametrize("vendor", ["sqlite", "postgresql"])
@isolate_apps("dyehouse.ledger")
def test_names_fit_and_differ(vendor):
    class AVeryLongNameForARecordThatIsOnlyEverAddedToTheHouse(models.Model):
        class Meta:
            app_label = "ledger"
            managed = False

    names = [
        t.name for t in append_only_triggers(AVeryLongNameForARecordThatIsOnlyEverAddedToTheHouse, vendor)
    ]

    # PostgreSQL keeps 63 bytes of a name ("NAMEDATALEN", its documentation, 4.1.1 Identifiers and Key Words).
    assert all(len(name) <= 63 for name in names)
    assert len(set(names)) == len(names)


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("time", ["first", "second"])
def test_emptying_the_test_database_works_and_leaves_it_armed(time):
    assert not Line.objects.exists()
    arrive(yarn(), mill_lot(), 1)
    assert guard.missing(connection) == []
