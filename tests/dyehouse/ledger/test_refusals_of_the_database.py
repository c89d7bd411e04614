"""Whatever SQL somebody writes past the operations, the database keeps the ledger's rules."""

from __future__ import annotations

import uuid
from dataclasses import dataclass

import pytest
from django.db import connection
from django.utils import timezone

from dyehouse.ledger.models import Balance, Claim, Held, Item, Line, Lot, Movement, Place
from dyehouse.ledger.operations import claim_for, hold
from dyehouse.ledger.places import fixed_place
from dyehouse.ledger.verify import breaches
from tests.dyehouse.ledger.helpers import arrive, at, everything_kept, mill_lot, move, refusal, yarn

pytestmark = [pytest.mark.both_engines, pytest.mark.django_db]

ON_SQLITE = pytest.mark.skipif(
    "connection.vendor != 'sqlite'", reason="INSERT OR … and columns without a strict type are SQLite's"
)
LINE = (
    "INSERT {how} INTO ledger_line (movement_id, number, item_id, lot_id, quantity, "
    "from_place_id, from_claim_id, to_place_id, to_claim_id) VALUES (%s, %s, %s, %s, %s, %s, %s, %s, %s)"
)


@dataclass
class House:
    """Three pieces in the store, one of them held, and a movement that still has room for nine lines."""

    item: Item
    lot: Lot
    claim: Claim
    arrival: Movement
    open_movement: Movement

    def line(
        self,
        quantity: object,
        source: str,
        target: str,
        *,
        number: int = 1,
        from_claim: bool = False,
        to_claim: bool = False,
        how: str = "",
    ) -> str:
        return refusal(
            LINE.format(how=how),
            [
                self.open_movement.pk,
                number,
                self.item.pk,
                self.lot.pk,
                quantity,
                fixed_place(source).pk,
                self.claim.pk if from_claim else None,
                fixed_place(target).pk,
                self.claim.pk if to_claim else None,
            ],
        )


@pytest.fixture
def house():
    item, lot, claim = yarn(), mill_lot(), claim_for(key=uuid.uuid4(), held_for="March box, Ines")
    arrival = arrive(item, lot, 3)
    move(hold(item=item, lot=lot, quantity=1, place=fixed_place("store"), claim=claim))
    now = timezone.now()
    return House(
        item,
        lot,
        claim,
        arrival,
        Movement.objects.create(key=uuid.uuid4(), happened_at=now, recorded_at=now, line_count=9, digest=""),
    )


# Only ever added


@pytest.mark.parametrize("model", [Movement, Line, Claim])
def test_records_are_not_changed_or_deleted(house, model):
    table, name = model._meta.db_table, f"{model._meta.model_name}_only_added"

    assert refusal(f"UPDATE {table} SET id = id") == name
    assert refusal(f"DELETE FROM {table}") == name
    assert model.objects.exists()


@pytest.mark.parametrize("model", [Movement, Line, Claim])
def test_the_orm_cannot_change_or_delete_records_either(house, model):
    from django.db import IntegrityError, transaction

    record = model.objects.first()

    for attempt in (record.save, lambda: model.objects.filter(pk=record.pk)._raw_delete("default")):
        with pytest.raises(IntegrityError), transaction.atomic():
            attempt()


@pytest.mark.parametrize("model", [Movement, Line, Claim, Balance, Held])
def test_tables_are_not_emptied(house, model):
    if connection.vendor != "postgresql":
        pytest.skip("TRUNCATE is PostgreSQL's")
    connection.check_constraints()

    assert refusal(f"TRUNCATE {model._meta.db_table} CASCADE").endswith(("_only_added", "_kept_by_lines"))


@ON_SQLITE
@pytest.mark.parametrize("model", [Movement, Line, Claim])
def test_a_record_is_not_replaced_by_its_id(house, model):
    table = model._meta.db_table

    assert (
        refusal(f"INSERT OR REPLACE INTO {table} SELECT * FROM {table}")
        == f"{model._meta.model_name}_only_added"
    )


@ON_SQLITE
def test_a_movement_is_not_replaced_by_its_key_nor_a_line_by_its_number(house):
    copied = "happened_at, recorded_at, who_id, why, source, line_count, digest, reverses_id, found_count"

    assert (
        refusal(
            f"INSERT OR REPLACE INTO ledger_movement (id, key, {copied}) "
            f"SELECT id + 1000, key, {copied} FROM ledger_movement"
        )
        == "movement_only_added"
    )
    house.line(1, "supplier", "store", number=1)
    assert house.line(1, "supplier", "store", number=1, how="OR REPLACE") == "line_only_added"
    assert house.line(1, "supplier", "store", number=1) != "done"


def test_an_upsert_does_not_change_a_record(house):
    table, columns = "ledger_claim", "id, key, held_for, made_at"

    refused = refusal(
        f"INSERT INTO {table} ({columns}) SELECT {columns} FROM {table} WHERE true "
        "ON CONFLICT (key) DO UPDATE SET held_for = 'Oona'"
    )

    assert refused != "done"
    assert Claim.objects.get().held_for == "March box, Ines"


# No more than there is


@pytest.mark.parametrize("how", ["", "OR IGNORE", "OR REPLACE", "OR FAIL", "OR ROLLBACK"])
def test_no_line_takes_more_than_is_free(house, how):
    if how and connection.vendor != "sqlite":
        pytest.skip("INSERT OR … is SQLite's")
    before = everything_kept()

    assert house.line(3, "store", "in_pots", how=how) == "line_takes_more_than_is_free"

    assert everything_kept() == before
    assert not house.open_movement.lines.exists()
    assert house.line(2, "store", "in_pots", how=how) == "done"


def test_no_line_takes_more_than_is_held(house):
    assert house.line(2, "store", "customer", from_claim=True) == "line_takes_more_than_is_held"
    assert house.line(1, "dry", "customer", from_claim=True) == "line_takes_more_than_is_held"
    assert house.line(1, "store", "customer", from_claim=True) == "done"


def test_no_line_holds_more_than_is_free(house):
    assert house.line(3, "store", "store", to_claim=True) == "line_takes_more_than_is_free"
    assert house.line(2, "store", "store", to_claim=True) == "done"


def test_nothing_is_taken_from_where_nothing_ever_was(house):
    assert house.line(1, "dry", "customer") == "line_takes_more_than_is_free"


def test_two_lines_of_one_statement_cannot_take_the_same_piece(house):
    row = [
        house.open_movement.pk,
        house.item.pk,
        house.lot.pk,
        fixed_place("store").pk,
        fixed_place("in_pots").pk,
    ]
    values = "(%s, {}, %s, %s, 2, %s, %s)"

    refused = refusal(
        "INSERT INTO ledger_line (movement_id, number, item_id, lot_id, quantity, from_place_id, to_place_id) "
        f"VALUES {values.format(1)}, {values.format(2)}",
        row + row,
    )

    assert refused == "line_takes_more_than_is_free"
    assert not house.open_movement.lines.exists()


# Lines


def test_a_quantity_is_above_zero(house):
    assert house.line(0, "supplier", "store") == "line_quantity_above_zero"
    # PostgreSQL tries the column's own check first.
    assert house.line(-1, "supplier", "store") in {"line_quantity_above_zero", "ledger_line_quantity_check"}


def test_a_quantity_is_within_reason(house):
    assert house.line(10**15 + 1, "supplier", "store") == "line_quantity_within_reason"


@ON_SQLITE
@pytest.mark.parametrize("quantity", [1.5, "many", b"1"])
def test_a_quantity_is_a_whole_number(house, quantity):
    assert house.line(quantity, "supplier", "store") == "line_quantity_whole"


def test_a_line_goes_somewhere(house):
    assert house.line(1, "store", "store") == "line_goes_somewhere"
    assert house.line(1, "store", "store", from_claim=True, to_claim=True) == "line_goes_somewhere"


def test_a_line_belongs_to_those_its_movement_announced(house):
    assert house.line(1, "supplier", "store", number=10) == "line_beyond_its_movement"
    assert house.line(1, "supplier", "store", number=0) == "line_number_from_one"
    house.open_movement = house.arrival
    assert house.line(1, "supplier", "store", number=2) == "line_beyond_its_movement"


@pytest.mark.parametrize(
    ("source", "target", "from_claim", "to_claim"),
    [
        ("store", "customer", False, True),
        ("supplier", "store", True, False),
        ("supplier", "supplier", False, True),
    ],
)
def test_nothing_is_held_outside(house, source, target, from_claim, to_claim):
    refused = house.line(1, source, target, from_claim=from_claim, to_claim=to_claim)

    assert refused == "line_claims_real_places_only"


@ON_SQLITE
def test_a_line_of_an_older_number_cannot_slip_in_behind(house):
    """The balances are kept in the order of the lines."""
    first = Line.objects.order_by("id").first().pk

    refused = refusal(
        LINE.replace("movement_id, ", "id, movement_id, ", 1).format(how="").replace("VALUES (", "VALUES (%s, "),
        [first - 1000, house.open_movement.pk, 1, house.item.pk, house.lot.pk, 1, fixed_place("supplier").pk, None,
         fixed_place("store").pk, None],
    )  # fmt: skip

    assert refused == "line_comes_last"


# Places, items and lots beneath the lines


def test_a_place_stays_real_or_outside(house):
    assert (
        refusal("UPDATE ledger_place SET kind = 'boundary' WHERE code = 'store'")
        == "place_stays_real_or_outside"
    )
    assert (
        refusal("UPDATE ledger_place SET kind = 'shelf' WHERE code = 'supplier'")
        == "place_stays_real_or_outside"
    )
    assert refusal("UPDATE ledger_place SET kind = 'shelf' WHERE code = 'dry'") == "done"
    assert refusal("UPDATE ledger_place SET name = 'The barn' WHERE code = 'store'") == "done"


def test_a_place_is_of_a_known_kind(house):
    assert refusal("UPDATE ledger_place SET kind = 'attic' WHERE code = 'store'") == "place_kind_is_known"


def test_an_items_unit_stays(house):
    assert refusal("UPDATE ledger_item SET unit = 'mg'") == "item_unit_stays"
    assert refusal("UPDATE ledger_item SET name = 'Fell DK'") == "done"


@pytest.mark.parametrize("model", [Place, Item])
def test_an_id_stays(house, model):
    refused = refusal(f"UPDATE {model._meta.db_table} SET id = id + 1000")

    assert refused in {"place_stays_real_or_outside", "item_unit_stays"}


@ON_SQLITE
@pytest.mark.parametrize("model", [Place, Item, Lot])
def test_what_lines_stand_on_is_not_replaced(house, model):
    table = model._meta.db_table

    refused = refusal(f"INSERT OR REPLACE INTO {table} SELECT * FROM {table}")

    assert refused == f"{model._meta.model_name}_not_replaced"


# Balances and holds


@pytest.mark.parametrize(
    "sql",
    [
        "UPDATE ledger_balance SET on_hand = on_hand + 1",
        "UPDATE ledger_balance SET held = 0",
        "UPDATE ledger_balance SET on_hand = on_hand",
        "UPDATE ledger_balance SET last_line_id = (SELECT max(id) FROM ledger_line), on_hand = on_hand + 1",
        "DELETE FROM ledger_balance",
        "INSERT INTO ledger_balance (place_id, item_id, lot_id, on_hand, held, last_line_id) "
        "SELECT (SELECT id FROM ledger_place WHERE code = 'dry'), item_id, lot_id, 5, 0, last_line_id "
        "FROM ledger_balance",
    ],
)
def test_balances_are_written_by_lines_alone(house, sql):
    assert refusal(sql) == "balance_kept_by_lines"
    assert breaches() == [
        f"Movement {house.open_movement.key} says 9 lines and has 0, numbered None to None."
    ]


@pytest.mark.parametrize(
    "sql",
    [
        "UPDATE ledger_held SET quantity = quantity + 1",
        "UPDATE ledger_held SET claim_id = claim_id",
        "DELETE FROM ledger_held",
        "INSERT INTO ledger_held (claim_id, place_id, item_id, lot_id, quantity, last_line_id) "
        "SELECT claim_id, (SELECT id FROM ledger_place WHERE code = 'dry'), item_id, lot_id, 5, last_line_id "
        "FROM ledger_held",
    ],
)
def test_holds_are_written_by_lines_alone(house, sql):
    assert refusal(sql) == "held_kept_by_lines"


@ON_SQLITE
@pytest.mark.parametrize("table", ["ledger_balance", "ledger_held"])
def test_a_balance_is_not_replaced(house, table):
    refused = refusal(f"INSERT OR REPLACE INTO {table} SELECT * FROM {table}")

    assert refused.endswith("_kept_by_lines")


def test_two_lines_through_raw_sql_are_kept_as_any_other(house):
    assert house.line(2, "store", "in_pots", number=1) == "done"
    assert house.line(1, "in_pots", "drying", number=2) == "done"

    kept = {
        Place.objects.get(pk=place).code: (on_hand, held)
        for place, _, _, on_hand, held in everything_kept()[0]
    }
    assert kept == {"store": (1, 1), "in_pots": (1, 0), "drying": (1, 0)}
    assert at("store").place.balances.get().last_line.number == 1
