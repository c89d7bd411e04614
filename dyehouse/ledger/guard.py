"""Records that are only ever added, and the ledger's own rules, held by the database itself.

Any room may register its records with `append_only` in its AppConfig.ready(). The triggers are taken away before a
migration and put back after it, since SQLite drops those of a table that a migration rebuilds.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.apps import AppConfig
from django.core import checks
from django.db import IntegrityError, connections, models, transaction
from django.db.backends.base.base import BaseDatabaseWrapper

from dyehouse.ledger.triggers import PREFIX, Trigger, append_only_triggers, ledger_triggers

_append_only: dict[str, type[models.Model]] = {}

STANDING = {
    "sqlite": "SELECT name, tbl_name FROM sqlite_master WHERE type = 'trigger'",
    "postgresql": """
        SELECT tgname, relname FROM pg_trigger JOIN pg_class ON pg_class.oid = tgrelid
        WHERE NOT tgisinternal AND tgenabled <> 'D' AND relnamespace = current_schema()::regnamespace""",
}
# A trigger that was switched off still has its name, so that making it anew must first drop it.
NAMED = {
    "sqlite": STANDING["sqlite"],
    "postgresql": STANDING["postgresql"].replace("AND tgenabled <> 'D'", ""),
}


def append_only(*registered: type[models.Model]) -> None:
    """Register models whose rows may be added, but never changed, deleted or replaced. Call it in AppConfig.ready()."""
    for model in registered:
        _append_only[model._meta.label_lower] = model


def guarded_models() -> list[type[models.Model]]:
    """The registered models, by their label."""
    return [_append_only[label] for label in sorted(_append_only)]


def expected(connection: BaseDatabaseWrapper) -> list[Trigger]:
    """The triggers that this database should have, for those of its tables that exist."""
    tables = set(connection.introspection.table_names())
    wanted = [
        trigger for model in guarded_models() for trigger in append_only_triggers(model, connection.vendor)
    ]
    return [trigger for trigger in wanted + ledger_triggers(connection.vendor) if trigger.table in tables]


def arm(connection: BaseDatabaseWrapper) -> None:
    """Make every trigger that should stand and does not, and drop those of an older text. Harmless when repeated."""
    wanted = {trigger.name: trigger for trigger in expected(connection)}
    standing = _read(connection, STANDING)
    with transaction.atomic(using=connection.alias), connection.cursor() as cursor:
        for name, table in _read(connection, NAMED).items():
            if name not in wanted or name not in standing:
                cursor.execute(_drop(connection, name, table))
        functions = {
            trigger.function: None
            for trigger in wanted.values()
            if trigger.function and trigger.name not in standing
        }
        for function in functions:
            cursor.execute(function)
        for trigger in wanted.values():
            if trigger.name not in standing:
                cursor.execute(trigger.create)


def disarm(connection: BaseDatabaseWrapper) -> None:
    """Drop every trigger of the guard. Only for migrations and for emptying a test database."""
    with transaction.atomic(using=connection.alias), connection.cursor() as cursor:
        for name, table in _read(connection, NAMED).items():
            cursor.execute(_drop(connection, name, table))


def missing(connection: BaseDatabaseWrapper) -> list[Trigger]:
    """The triggers that should stand in this database and do not."""
    standing = _read(connection, STANDING)
    return [trigger for trigger in expected(connection) if trigger.name not in standing]


def constraint_of(error: IntegrityError) -> str:
    """The name of the constraint or trigger rule that refused, the same on both engines where it is ours."""
    diagnosis = getattr(error.__cause__, "diag", None)
    if diagnosis is not None:
        return diagnosis.constraint_name or ""
    return str(error).removeprefix("CHECK constraint failed: ")


def _read(connection: BaseDatabaseWrapper, statements: dict[str, str]) -> dict[str, str]:
    with connection.cursor() as cursor:
        cursor.execute(statements[connection.vendor])
        return {name: table for name, table in cursor.fetchall() if name.startswith(PREFIX)}


def _drop(connection: BaseDatabaseWrapper, name: str, table: str) -> str:
    on = f" ON {table}" if connection.vendor == "postgresql" else ""
    return f"DROP TRIGGER IF EXISTS {name}{on}"


def before_migrating(sender: AppConfig, using: str, **_: Any) -> None:
    """Take the triggers away, so that a migration may rebuild tables and move rows."""
    disarm(connections[using])


def after_migrating(sender: AppConfig, using: str, **_: Any) -> None:
    """Put the triggers back, and the fixed places where they are missing."""
    from dyehouse.ledger.models import Place
    from dyehouse.ledger.places import make_fixed_places

    connection = connections[using]
    arm(connection)
    if Place._meta.db_table in connection.introspection.table_names():
        make_fixed_places(using=using)


def check_triggers_stand(
    app_configs: Sequence[AppConfig] | None, databases: Sequence[str] | None = None, **_: Any
) -> list[checks.CheckMessage]:
    """A warning, not an error: it must not stop the very migrate that puts the triggers back."""
    found: list[checks.CheckMessage] = []
    for alias in databases or []:
        gone = missing(connections[alias])
        if gone:
            names = ", ".join(f"{trigger.what} on {trigger.table}" for trigger in gone[:5])
            found.append(
                checks.Warning(
                    f"{len(gone)} of the ledger's triggers are missing in database {alias}: {names}.",
                    hint="Run: python3 manage.py migrate. It puts them back.",
                    id="ledger.W001",
                )
            )
    return found
