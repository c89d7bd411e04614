"""Test databases on SQLite begin with the tables that the test command made once, rather than making them in each process."""

from __future__ import annotations

import contextlib
import os
import sqlite3
from collections.abc import Iterator
from typing import Any

import pytest
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.backends.signals import connection_created

from dyehouse.running.testing import EMPTY_HOUSE


@pytest.fixture(scope="session")
def django_db_modify_db_settings(django_db_modify_db_settings_parallel_suffix: None) -> Iterator[None]:
    """Copy the tables into the database of this process when it is first opened."""
    made = os.environ.get(EMPTY_HOUSE)

    def fill(connection: BaseDatabaseWrapper, **named: Any) -> None:
        connection_created.disconnect(fill)
        if connection.vendor == "sqlite":
            with contextlib.closing(sqlite3.connect(made)) as tables:
                tables.backup(connection.connection)

    if made:
        connection_created.connect(fill)
    yield
    connection_created.disconnect(fill)
