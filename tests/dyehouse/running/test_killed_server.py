"""The house's own server is killed while stock is posted: each form that was sent is there whole, or not at all."""

from __future__ import annotations

import contextlib
import http.client
import os
import random
import re
import signal
import sqlite3
import subprocess
import sys
import threading
import time
import urllib.parse
import uuid
from pathlib import Path

from dyehouse.running.bootstrap import ROOT
from tests.running_house import House, running_house

ROUNDS = 2


def keep_writing_down_bases(
    house: House, turn: int, under_way: threading.Event, stop: threading.Event
) -> None:
    """Send one form after another, as fast as the house takes them, until it is gone."""
    opener = house.signed_in()
    page = opener.open(f"{house.address}store/bases/new/", timeout=20).read().decode()
    token = re.search(r'name="csrfmiddlewaretoken" value="([^"]+)"', page)
    assert token
    number = 0
    with contextlib.suppress(OSError, http.client.HTTPException):
        while not stop.is_set():
            number += 1
            form = {
                "csrfmiddlewaretoken": token[1],
                "key": str(uuid.uuid4()),
                "name": f"Base {turn}-{number}",
                "nominal_milligrams": "100",
                "pieces": "7",
                "came": "now",
            }
            opener.open(f"{house.address}store/bases/new/", urllib.parse.urlencode(form).encode(), timeout=20)
            under_way.set()


def kill_everything(house: House) -> None:
    """The power goes: no process of the house gets another word in."""
    for pid in [house.process.pid, *house.children()]:
        with contextlib.suppress(ProcessLookupError):
            os.kill(pid, signal.SIGKILL)


def test_a_killed_server_leaves_all_of_a_form_or_none(tmp_path: Path):
    data = tmp_path / "house"
    chance = random.Random(86)
    for turn in range(ROUNDS):
        with running_house(data) as house:
            under_way, stop = threading.Event(), threading.Event()
            sender = threading.Thread(target=keep_writing_down_bases, args=(house, turn, under_way, stop))
            sender.start()
            assert under_way.wait(60)
            time.sleep(chance.random())
            kill_everything(house)
            stop.set()
            sender.join(timeout=30)
            house.process.wait(20)

    with contextlib.closing(sqlite3.connect(data / "dyehouse.sqlite3")) as database:
        bases = database.execute("SELECT COUNT(*) FROM recipes_base").fetchone()[0]
        whole = database.execute(
            "SELECT COUNT(*) FROM recipes_base JOIN recipes_putup ON recipes_putup.base_id = recipes_base.id"
            " JOIN ledger_balance ON ledger_balance.item_id = recipes_putup.item_id AND ledger_balance.on_hand = 7"
        ).fetchone()[0]
        movements = database.execute("SELECT COUNT(*) FROM ledger_movement").fetchone()[0]
    assert bases > ROUNDS
    assert bases == whole == movements
    verified = subprocess.run(
        [sys.executable, "manage.py", "verify_ledger"],
        cwd=ROOT,
        env={**{k: v for k, v in os.environ.items() if k != "DATABASE_URL"}, "DYEHOUSE_DATA": str(data)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert verified.returncode == 0, verified.stdout + verified.stderr
