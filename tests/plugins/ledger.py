"""Emptying a test database past the guard that refuses to delete records."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from django.db.backends.base.operations import BaseDatabaseOperations

from dyehouse.ledger import guard


@pytest.fixture(scope="session", autouse=True)
def flush_past_the_guard() -> Iterator[None]:
    """Tests that commit are cleaned up by emptying every table: disarm before, arm after."""
    execute = BaseDatabaseOperations.execute_sql_flush

    def execute_disarmed(operations: BaseDatabaseOperations, sql_list: list[str]) -> None:
        guard.disarm(operations.connection)
        try:
            execute(operations, sql_list)
        finally:
            guard.arm(operations.connection)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(BaseDatabaseOperations, "execute_sql_flush", execute_disarmed)
        yield
