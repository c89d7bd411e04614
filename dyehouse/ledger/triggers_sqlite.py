"""The ledger's own triggers as SQLite writes them.

Each refusal is an explicit RAISE(ABORT): the outer statement's OR IGNORE, OR FAIL or OR REPLACE is passed on to the
statements inside a trigger, where a failed CHECK would then skip the balance but keep the line.
"""

# Every name put into this SQL is written here.
# ruff: noqa: S608

from __future__ import annotations

from dyehouse.ledger.models import Balance, Held, Item, Lot, Place
from dyehouse.ledger.triggers import Trigger, not_replaced_sqlite

FROM_IS_REAL = "(SELECT kind FROM ledger_place WHERE id = NEW.from_place_id) <> 'boundary'"
TO_IS_REAL = "(SELECT kind FROM ledger_place WHERE id = NEW.to_place_id) <> 'boundary'"

LINE_CHECKED = f"""BEFORE INSERT ON ledger_line BEGIN
    SELECT RAISE(ABORT, 'line_quantity_whole') WHERE typeof(NEW.quantity) <> 'integer';
    SELECT RAISE(ABORT, 'line_quantity_above_zero') WHERE NEW.quantity < 1;
    SELECT RAISE(ABORT, 'line_number_from_one') WHERE typeof(NEW.number) <> 'integer' OR NEW.number < 1;
    SELECT RAISE(ABORT, 'line_beyond_its_movement')
        WHERE NEW.number > COALESCE((SELECT line_count FROM ledger_movement WHERE id = NEW.movement_id), 0);
    SELECT RAISE(ABORT, 'line_claims_real_places_only')
        WHERE (NEW.from_claim_id IS NOT NULL AND NOT COALESCE({FROM_IS_REAL}, 0))
           OR (NEW.to_claim_id IS NOT NULL AND NOT COALESCE({TO_IS_REAL}, 0));
    SELECT RAISE(ABORT, 'line_places_are_known')
        WHERE NOT EXISTS (SELECT 1 FROM ledger_place WHERE id = NEW.from_place_id)
           OR NOT EXISTS (SELECT 1 FROM ledger_place WHERE id = NEW.to_place_id);
    SELECT RAISE(ABORT, 'line_takes_more_than_is_free')
        WHERE NEW.from_claim_id IS NULL AND {FROM_IS_REAL} AND NEW.quantity > COALESCE(
            (SELECT on_hand - held FROM ledger_balance
             WHERE place_id = NEW.from_place_id AND item_id = NEW.item_id AND lot_id = NEW.lot_id), 0);
    SELECT RAISE(ABORT, 'line_takes_more_than_is_held')
        WHERE NEW.from_claim_id IS NOT NULL AND NEW.quantity > COALESCE(
            (SELECT quantity FROM ledger_held WHERE claim_id = NEW.from_claim_id
             AND place_id = NEW.from_place_id AND item_id = NEW.item_id AND lot_id = NEW.lot_id), 0);
END"""

LINE_KEPT = f"""AFTER INSERT ON ledger_line BEGIN
    SELECT RAISE(ABORT, 'line_comes_last') WHERE EXISTS (SELECT 1 FROM ledger_line WHERE id > NEW.id);
    UPDATE ledger_balance SET
        on_hand = on_hand + (CASE WHEN place_id = NEW.to_place_id THEN NEW.quantity ELSE 0 END)
                          - (CASE WHEN place_id = NEW.from_place_id THEN NEW.quantity ELSE 0 END),
        held = held
            + (CASE WHEN place_id = NEW.to_place_id AND NEW.to_claim_id IS NOT NULL THEN NEW.quantity ELSE 0 END)
            - (CASE WHEN place_id = NEW.from_place_id AND NEW.from_claim_id IS NOT NULL THEN NEW.quantity ELSE 0 END),
        last_line_id = NEW.id
        WHERE place_id IN (NEW.from_place_id, NEW.to_place_id) AND item_id = NEW.item_id AND lot_id = NEW.lot_id;
    INSERT INTO ledger_balance (place_id, item_id, lot_id, on_hand, held, last_line_id)
        SELECT NEW.to_place_id, NEW.item_id, NEW.lot_id, NEW.quantity,
               CASE WHEN NEW.to_claim_id IS NULL THEN 0 ELSE NEW.quantity END, NEW.id
        WHERE {TO_IS_REAL} AND NOT EXISTS (
            SELECT 1 FROM ledger_balance
            WHERE place_id = NEW.to_place_id AND item_id = NEW.item_id AND lot_id = NEW.lot_id);
    UPDATE ledger_held SET quantity = quantity - NEW.quantity, last_line_id = NEW.id
        WHERE claim_id = NEW.from_claim_id AND place_id = NEW.from_place_id
          AND item_id = NEW.item_id AND lot_id = NEW.lot_id;
    UPDATE ledger_held SET quantity = quantity + NEW.quantity, last_line_id = NEW.id
        WHERE claim_id = NEW.to_claim_id AND place_id = NEW.to_place_id
          AND item_id = NEW.item_id AND lot_id = NEW.lot_id;
    INSERT INTO ledger_held (claim_id, place_id, item_id, lot_id, quantity, last_line_id)
        SELECT NEW.to_claim_id, NEW.to_place_id, NEW.item_id, NEW.lot_id, NEW.quantity, NEW.id
        WHERE NEW.to_claim_id IS NOT NULL AND NOT EXISTS (
            SELECT 1 FROM ledger_held WHERE claim_id = NEW.to_claim_id AND place_id = NEW.to_place_id
            AND item_id = NEW.item_id AND lot_id = NEW.lot_id);
END"""

# A balance may change only as the newest line that touches it says, and once: nobody else can name such a line, since
# the line has changed the balance already when anybody else sees it.
OF_THIS_BALANCE = """SELECT 1 FROM ledger_line WHERE id = NEW.last_line_id AND item_id = NEW.item_id
    AND lot_id = NEW.lot_id AND NEW.place_id IN (from_place_id, to_place_id)
    AND NEW.on_hand - {on_hand} = (CASE WHEN to_place_id = NEW.place_id THEN quantity ELSE 0 END)
        - (CASE WHEN from_place_id = NEW.place_id THEN quantity ELSE 0 END)
    AND NEW.held - {held} = (CASE WHEN to_place_id = NEW.place_id AND to_claim_id IS NOT NULL THEN quantity ELSE 0 END)
        - (CASE WHEN from_place_id = NEW.place_id AND from_claim_id IS NOT NULL THEN quantity ELSE 0 END)"""
OF_THIS_HOLD = """SELECT 1 FROM ledger_line WHERE id = NEW.last_line_id AND item_id = NEW.item_id
    AND lot_id = NEW.lot_id
    AND ((from_place_id = NEW.place_id AND from_claim_id = NEW.claim_id)
      OR (to_place_id = NEW.place_id AND to_claim_id = NEW.claim_id))
    AND NEW.quantity - {quantity} =
        (CASE WHEN to_place_id = NEW.place_id AND to_claim_id = NEW.claim_id THEN quantity ELSE 0 END)
        - (CASE WHEN from_place_id = NEW.place_id AND from_claim_id = NEW.claim_id THEN quantity ELSE 0 END)"""


def triggers() -> list[Trigger]:
    """All of them, in the order they are made: SQLite runs those of one event newest first."""
    return [
        Trigger("checked", "ledger_line", LINE_CHECKED),
        Trigger("kept", "ledger_line", LINE_KEPT),
        *_kept_by_lines(
            table="ledger_balance",
            refusal="balance_kept_by_lines",
            stays=("id", "place_id", "item_id", "lot_id"),
            changed=OF_THIS_BALANCE.format(on_hand="OLD.on_hand", held="OLD.held"),
            added=OF_THIS_BALANCE.format(on_hand="0", held="0"),
            replaced=not_replaced_sqlite(Balance, "balance_kept_by_lines"),
        ),
        *_kept_by_lines(
            table="ledger_held",
            refusal="held_kept_by_lines",
            stays=("id", "claim_id", "place_id", "item_id", "lot_id"),
            changed=OF_THIS_HOLD.format(quantity="OLD.quantity"),
            added=OF_THIS_HOLD.format(quantity="0"),
            replaced=not_replaced_sqlite(Held, "held_kept_by_lines"),
        ),
        *_stays("ledger_place", "kind", "place_stays_real_or_outside", boundary=True),
        *_stays("ledger_item", "unit", "item_unit_stays"),
        *(
            Trigger("not_replaced", model._meta.db_table, not_replaced_sqlite(model, f"{name}_not_replaced"))
            for name, model in (("place", Place), ("item", Item), ("lot", Lot))
        ),
    ]


def _kept_by_lines(
    *, table: str, refusal: str, stays: tuple[str, ...], changed: str, added: str, replaced: str
) -> list[Trigger]:
    refuse = f"BEGIN SELECT RAISE(ABORT, '{refusal}'); END"
    same = " AND ".join(f"NEW.{column} = OLD.{column}" for column in stays)
    return [
        Trigger("not_replaced", table, replaced),
        Trigger("not_deleted", table, f"BEFORE DELETE ON {table} {refuse}"),
        Trigger("only_from_lines", table, f"BEFORE INSERT ON {table} WHEN NOT EXISTS ({added}) {refuse}"),
        Trigger(
            "only_as_lines_say",
            table,
            f"BEFORE UPDATE ON {table} WHEN NOT ({same} AND NEW.last_line_id > OLD.last_line_id "
            f"AND EXISTS ({changed})) {refuse}",
        ),
    ]


def _stays(table: str, column: str, refusal: str, *, boundary: bool = False) -> list[Trigger]:
    """A column that must stay, or only its being the boundary or not; and the id, which REPLACE could otherwise take."""
    changed = (
        f"(OLD.{column} = 'boundary') <> (NEW.{column} = 'boundary')"
        if boundary
        else f"OLD.{column} <> NEW.{column}"
    )
    return [
        Trigger(
            "stays",
            table,
            f"BEFORE UPDATE ON {table} WHEN {changed} OR NEW.id <> OLD.id BEGIN SELECT RAISE(ABORT, '{refusal}'); END",
        )
    ]
