"""A process that is killed in the middle of posting leaves all of a movement or none of it."""

from __future__ import annotations

import random
import subprocess
import sys
import threading
from pathlib import Path

import pytest
from django.db import connection

from dyehouse.ledger.models import Movement
from dyehouse.ledger.verify import breaches
from tests.dyehouse.ledger.helpers import mill_lot, yarn

pytestmark = [pytest.mark.both_engines, pytest.mark.django_db(transaction=True)]

ROOT = Path(__file__).resolve().parents[3]
LINES = 60
KILLS = 10


def post_and_be_killed(saved: int, wait_ms: int) -> list[str]:
    """Start a process that posts, kill it that long after it said so many were saved, and give what it said."""
    command = [sys.executable, "-m", "tests.dyehouse.ledger.posting_loop"]
    database = str(connection.settings_dict["NAME"])
    with subprocess.Popen(
        [*command, database, str(LINES)], cwd=ROOT, stdout=subprocess.PIPE, text=True
    ) as process:
        assert process.stdout is not None
        said = [process.stdout.readline().strip() for _ in range(saved)]
        threading.Event().wait(wait_ms / 1000)
        process.kill()
        return said + process.stdout.read().split()


def test_a_kill_leaves_all_of_a_movement_or_none():
    for number in range(6):
        yarn(f"Fell DK {number}")
        mill_lot(str(number))
    # The moment of each kill falls anywhere within a posting, at the same moments in every run.
    moments = random.Random(77)
    said: list[str] = []

    for _ in range(KILLS):
        said += post_and_be_killed(saved=moments.randint(1, 4), wait_ms=moments.randint(0, 25))
        assert breaches() == []

    saved = set(map(str, Movement.objects.values_list("key", flat=True)))
    assert len(said) >= KILLS
    # The last word of a killed process may be cut short or never said, but nothing said is lost.
    assert {key for key in said if len(key) == 36} <= saved
    assert all(movement.lines.count() == movement.line_count for movement in Movement.objects.all())
