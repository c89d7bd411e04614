"""The ledger's own triggers as PostgreSQL writes them."""

# Every name put into this SQL is written here.
# ruff: noqa: S608

from __future__ import annotations

from dyehouse.ledger.triggers import REFUSE_POSTGRESQL, Trigger, not_truncated_postgresql


def _refuse_if(condition: str, refusal: str) -> str:
    return f"""
    IF {condition} THEN
        RAISE EXCEPTION '{refusal}' USING ERRCODE = 'check_violation', CONSTRAINT = '{refusal}', TABLE = TG_TABLE_NAME;
    END IF;"""


PLACES_UNKNOWN = _refuse_if("from_is_real IS NULL OR to_is_real IS NULL", "line_places_are_known")
BEYOND = _refuse_if(
    "NEW.number > COALESCE((SELECT line_count FROM ledger_movement WHERE id = NEW.movement_id), 0)",
    "line_beyond_its_movement",
)
CLAIM_OUTSIDE = _refuse_if(
    "(NEW.from_claim_id IS NOT NULL AND NOT from_is_real) OR (NEW.to_claim_id IS NOT NULL AND NOT to_is_real)",
    "line_claims_real_places_only",
)
NOT_FREE = _refuse_if("NEW.quantity > COALESCE(there, 0)", "line_takes_more_than_is_free")
NOT_HELD = _refuse_if("NEW.quantity > COALESCE(there, 0)", "line_takes_more_than_is_held")

# The rows of both places are locked in one order before they are read, so that two lines that go opposite ways wait
# for each other instead of locking each other out.
LINE_KEPT = f"""
CREATE OR REPLACE FUNCTION guard_line_kept() RETURNS trigger LANGUAGE plpgsql AS $body$
DECLARE
    from_is_real boolean;
    to_is_real boolean;
    there bigint;
BEGIN
    SELECT kind <> 'boundary' INTO from_is_real FROM ledger_place WHERE id = NEW.from_place_id;
    SELECT kind <> 'boundary' INTO to_is_real FROM ledger_place WHERE id = NEW.to_place_id;
    {PLACES_UNKNOWN}
    {BEYOND}
    {CLAIM_OUTSIDE}
    PERFORM 1 FROM ledger_balance
        WHERE item_id = NEW.item_id AND lot_id = NEW.lot_id AND place_id IN (NEW.from_place_id, NEW.to_place_id)
        ORDER BY place_id FOR UPDATE;
    IF from_is_real AND NEW.from_claim_id IS NULL THEN
        SELECT on_hand - held INTO there FROM ledger_balance
            WHERE place_id = NEW.from_place_id AND item_id = NEW.item_id AND lot_id = NEW.lot_id;
        {NOT_FREE}
    ELSIF from_is_real THEN
        SELECT quantity INTO there FROM ledger_held
            WHERE claim_id = NEW.from_claim_id AND place_id = NEW.from_place_id
              AND item_id = NEW.item_id AND lot_id = NEW.lot_id
            FOR UPDATE;
        {NOT_HELD}
        UPDATE ledger_held SET quantity = quantity - NEW.quantity, last_line_id = NEW.id
            WHERE claim_id = NEW.from_claim_id AND place_id = NEW.from_place_id
              AND item_id = NEW.item_id AND lot_id = NEW.lot_id;
    END IF;
    IF NEW.from_place_id = NEW.to_place_id AND from_is_real THEN
        UPDATE ledger_balance SET
            held = held + (CASE WHEN NEW.to_claim_id IS NULL THEN 0 ELSE NEW.quantity END)
                        - (CASE WHEN NEW.from_claim_id IS NULL THEN 0 ELSE NEW.quantity END),
            last_line_id = NEW.id
            WHERE place_id = NEW.from_place_id AND item_id = NEW.item_id AND lot_id = NEW.lot_id;
    ELSE
        IF from_is_real THEN
            UPDATE ledger_balance SET
                on_hand = on_hand - NEW.quantity,
                held = held - (CASE WHEN NEW.from_claim_id IS NULL THEN 0 ELSE NEW.quantity END),
                last_line_id = NEW.id
                WHERE place_id = NEW.from_place_id AND item_id = NEW.item_id AND lot_id = NEW.lot_id;
        END IF;
        IF to_is_real THEN
            INSERT INTO ledger_balance AS balance (place_id, item_id, lot_id, on_hand, held, last_line_id)
                VALUES (NEW.to_place_id, NEW.item_id, NEW.lot_id, NEW.quantity,
                        CASE WHEN NEW.to_claim_id IS NULL THEN 0 ELSE NEW.quantity END, NEW.id)
                ON CONFLICT (place_id, item_id, lot_id) DO UPDATE SET
                    on_hand = balance.on_hand + excluded.on_hand,
                    held = balance.held + excluded.held,
                    last_line_id = excluded.last_line_id;
        END IF;
    END IF;
    IF NEW.to_claim_id IS NOT NULL THEN
        INSERT INTO ledger_held AS hold (claim_id, place_id, item_id, lot_id, quantity, last_line_id)
            VALUES (NEW.to_claim_id, NEW.to_place_id, NEW.item_id, NEW.lot_id, NEW.quantity, NEW.id)
            ON CONFLICT (claim_id, place_id, item_id, lot_id) DO UPDATE SET
                quantity = hold.quantity + excluded.quantity, last_line_id = excluded.last_line_id;
    END IF;
    RETURN NULL;
END
$body$
"""

# Depth 1 is a statement of somebody's own; the lines' trigger writes at depth 2.
ONLY_LINES_WRITE = """
CREATE OR REPLACE FUNCTION guard_kept_by_lines() RETURNS trigger LANGUAGE plpgsql AS $body$
BEGIN
    IF pg_trigger_depth() < 2 OR TG_OP = 'DELETE' THEN
        RAISE EXCEPTION '%', TG_ARGV[0]
            USING ERRCODE = 'check_violation', CONSTRAINT = TG_ARGV[0], TABLE = TG_TABLE_NAME;
    END IF;
    RETURN NEW;
END
$body$
"""


def triggers() -> list[Trigger]:
    """All of them."""
    return [
        Trigger(
            "kept",
            "ledger_line",
            "AFTER INSERT ON ledger_line FOR EACH ROW EXECUTE FUNCTION guard_line_kept()",
            LINE_KEPT,
        ),
        *_kept_by_lines("ledger_balance", "balance_kept_by_lines"),
        *_kept_by_lines("ledger_held", "held_kept_by_lines"),
        _stays(
            "ledger_place",
            "(OLD.kind = 'boundary') IS DISTINCT FROM (NEW.kind = 'boundary')",
            "place_stays_real_or_outside",
        ),
        _stays("ledger_item", "OLD.unit IS DISTINCT FROM NEW.unit", "item_unit_stays"),
    ]


def _kept_by_lines(table: str, refusal: str) -> list[Trigger]:
    return [
        Trigger(
            "kept_by_lines",
            table,
            f"BEFORE INSERT OR UPDATE OR DELETE ON {table} FOR EACH ROW "
            f"EXECUTE FUNCTION guard_kept_by_lines('{refusal}')",
            ONLY_LINES_WRITE,
        ),
        not_truncated_postgresql(table, refusal),
    ]


def _stays(table: str, changed: str, refusal: str) -> Trigger:
    return Trigger(
        "stays",
        table,
        f"BEFORE UPDATE ON {table} FOR EACH ROW WHEN ({changed} OR NEW.id <> OLD.id) "
        f"EXECUTE FUNCTION guard_refuse('{refusal}')",
        REFUSE_POSTGRESQL,
    )
