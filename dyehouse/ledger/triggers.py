"""What the database itself refuses, whatever the code above it does: the triggers and how each engine writes them.

A trigger's name ends in a digest of its text, so that one of an older text counts as missing and is made anew.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass

from django.db import models

PREFIX = "guard_"


@dataclass(frozen=True, slots=True)
class Trigger:
    """One trigger: what it is called for short, the table it stands on, and the SQL after CREATE TRIGGER name.

    `function` is the PostgreSQL function it calls, made before it; empty on SQLite.
    """

    what: str
    table: str
    body: str
    function: str = ""

    @property
    def name(self) -> str:
        text = f"{self.table}\n{self.body}\n{self.function}"
        digest = hashlib.sha256(text.encode()).hexdigest()[:8]
        # PostgreSQL cuts names at 63 characters.
        return f"{PREFIX}{self.table}_{self.what}"[: 63 - 9] + f"_{digest}"

    @property
    def create(self) -> str:
        return f"CREATE TRIGGER {self.name} {self.body}"


def append_only_triggers(model: type[models.Model], vendor: str) -> list[Trigger]:
    """The triggers that let rows of a model be added, never changed, deleted or replaced.

    The refusal's constraint name is <model>_only_added.
    """
    table = model._meta.db_table
    refusal = f"{model._meta.model_name}_only_added"
    if vendor == "postgresql":
        return _only_added_postgresql(table, refusal)
    return [
        *_kept_sqlite(table, refusal),
        Trigger("not_replaced", table, not_replaced_sqlite(model, refusal)),
    ]


def unique_sets(model: type[models.Model]) -> list[list[str]]:
    """The columns of each key of a model that holds without a condition, the primary key among them."""
    options = model._meta
    sets = [[str(field.column)] for field in options.local_concrete_fields if field.unique]
    for constraint in options.constraints:
        if (
            isinstance(constraint, models.UniqueConstraint)
            and constraint.fields
            and constraint.condition is None
        ):
            sets.append([_column(model, name) for name in constraint.fields])
    sets += [[_column(model, name) for name in names] for names in options.unique_together]
    return sets


def _column(model: type[models.Model], name: str) -> str:
    field = model._meta.get_field(name)
    assert isinstance(field, models.Field)
    return str(field.column)


def not_replaced_sqlite(model: type[models.Model], refusal: str) -> str:
    """INSERT OR REPLACE deletes the old row without firing any delete trigger: refuse a key that is there already."""
    table = model._meta.db_table
    taken = " OR ".join(
        f"EXISTS (SELECT 1 FROM {table} WHERE "  # noqa: S608 - names of our own models' columns
        f"{' AND '.join(f'{column} = NEW.{column}' for column in columns)})"
        for columns in unique_sets(model)
    )
    return f"BEFORE INSERT ON {table} WHEN {taken} BEGIN SELECT RAISE(ABORT, '{refusal}'); END"


def _kept_sqlite(table: str, refusal: str) -> Iterable[Trigger]:
    for what, event in (("not_changed", "UPDATE"), ("not_deleted", "DELETE")):
        yield Trigger(what, table, f"BEFORE {event} ON {table} BEGIN SELECT RAISE(ABORT, '{refusal}'); END")


REFUSE_POSTGRESQL = """
CREATE OR REPLACE FUNCTION guard_refuse() RETURNS trigger LANGUAGE plpgsql AS $body$
BEGIN
    RAISE EXCEPTION '%', TG_ARGV[0] USING ERRCODE = 'check_violation', CONSTRAINT = TG_ARGV[0], TABLE = TG_TABLE_NAME;
END
$body$
"""


def _only_added_postgresql(table: str, refusal: str) -> list[Trigger]:
    return [
        Trigger(
            "not_changed",
            table,
            f"BEFORE UPDATE OR DELETE ON {table} FOR EACH ROW EXECUTE FUNCTION guard_refuse('{refusal}')",
            REFUSE_POSTGRESQL,
        ),
        not_truncated_postgresql(table, refusal),
    ]


def not_truncated_postgresql(table: str, refusal: str) -> Trigger:
    """TRUNCATE fires no row trigger, so it is refused by one of its own."""
    return Trigger(
        "not_emptied",
        table,
        f"BEFORE TRUNCATE ON {table} FOR EACH STATEMENT EXECUTE FUNCTION guard_refuse('{refusal}')",
        REFUSE_POSTGRESQL,
    )


def ledger_triggers(vendor: str) -> list[Trigger]:
    """What only the ledger's tables need: balances kept from lines, and what may never change beneath them."""
    from dyehouse.ledger import triggers_postgresql, triggers_sqlite

    return triggers_postgresql.triggers() if vendor == "postgresql" else triggers_sqlite.triggers()
