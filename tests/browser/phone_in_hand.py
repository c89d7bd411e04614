"""A phone of its own for tests: a Chromium with its own folder, which knows the house by a name in the network and trusts it
only if it was told to, as a phone is."""

from __future__ import annotations

import contextlib
import datetime as dt
import os
import random
import signal
import socket
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from PIL import Image
from playwright.sync_api import BrowserContext, Page, Playwright

from dyehouse.running.bootstrap import ROOT
from tests.conftest import CHROMIUM_FLAGS
from tests.factories import PASSWORD
from tests.running_house import House, running_house

NAME = "dyeroom.local"
SIZE = {"width": 390, "height": 844}

FURNISH = """
from tests import factories
factories.studio()
marit = factories.OwnerFactory(username="marit")
jonas = factories.HelperFactory(username="jonas")
factories.bottle(jar=factories.jar(dye=factories.dye("Red"), who=marit), who=marit)
here, there = factories.shelf_place("Counted shelf"), factories.shelf_place("Another shelf")
print("POTS", *(factories.loaded_pot(who=marit).code for _ in range(2)),
      *(factories.shelved_lot(place=here if number < 4 else there, who=marit)[0].code for number in range(5)))
"""
NEW_CODE = """
from dyehouse.studio.models import User
from dyehouse.studio.phones import open_code
print("CODE", open_code(person=User.objects.get(username={who!r}))[1])
"""


def two_free_ports() -> int:
    """A port that is free together with the next one, out of those that no program is given by chance."""
    for _ in range(50):
        with socket.socket() as first, socket.socket() as second, contextlib.suppress(OSError):
            port = random.randrange(20_000, 32_000)
            first.bind(("0.0.0.0", port))
            second.bind(("0.0.0.0", port + 1))
            return port
    raise AssertionError("No two free ports in a row.")


@dataclass
class DyeRoom:
    """A house on one data folder and one port, which can be closed and opened again."""

    data: Path
    port: int = field(default_factory=two_free_ports)
    pots: list[str] = field(default_factory=list)
    # Four lots of four on one shelf, and one on another.
    lots: list[str] = field(default_factory=list)
    house: House | None = None
    _stack: contextlib.ExitStack = field(default_factory=contextlib.ExitStack)

    @property
    def https(self) -> str:
        return f"https://{NAME}:{self.port + 1}"

    @property
    def http(self) -> str:
        return f"http://{NAME}:{self.port}"

    def open(self) -> None:
        """Open it; one that is open stays so."""
        if self.house is not None:
            return
        hosts = {"DYEHOUSE_HOSTS": f"localhost,127.0.0.1,{NAME}"}
        started = running_house(
            self.data, "--lan", "--port", str(self.port), environment=hosts, wait_seconds=240
        )
        self.house = self._stack.enter_context(started)
        if not self.pots:
            codes = self.run(FURNISH, "POTS")
            self.pots, self.lots = codes[:2], codes[2:]

    def close(self) -> None:
        if self.house is None:
            return
        stopped = self.house.stop(signal.SIGINT, within_seconds=60)
        self.house = None
        self._stack.close()
        assert stopped == 0

    def run(self, code: str, word: str) -> list[str]:
        """Run a piece of Python in the house's own surroundings; what it printed after a word."""
        surroundings = {**os.environ, "DYEHOUSE_DATA": str(self.data)}
        surroundings.pop("DATABASE_URL", None)
        ran = subprocess.run(
            [sys.executable, "manage.py", "shell", "--no-imports", "-c", code],
            cwd=ROOT, env=surroundings, stdin=subprocess.DEVNULL, capture_output=True, text=True, check=True,
        )  # fmt: skip
        return next(line for line in ran.stdout.splitlines() if line.startswith(word)).split()[1:]

    def rows(self, sql: str) -> list[tuple]:
        with contextlib.closing(sqlite3.connect(self.data / "dyehouse.sqlite3", timeout=20)) as database:
            rows = database.execute(sql).fetchall()
            database.commit()
            return rows

    def log(self, pot: str) -> list[tuple[str, dt.datetime]]:
        """What the house has of a pot's log: kinds with their clock times, in the order they happened."""
        found = self.rows(
            "SELECT e.kind, e.happened_at FROM lots_logentry e JOIN lots_pot p ON p.id = e.pot_id "
            f"WHERE p.code = '{pot}' ORDER BY e.happened_at, e.id"
        )
        return [(kind, dt.datetime.fromisoformat(at).replace(tzinfo=dt.UTC)) for kind, at in found]

    def arrived(self, pot: str) -> list[str]:
        """The same in the order in which it arrived."""
        found = self.rows(
            f"SELECT e.kind FROM lots_logentry e JOIN lots_pot p ON p.id = e.pot_id WHERE p.code = '{pot}' ORDER BY e.id"
        )
        return [kind for (kind,) in found]


@dataclass
class Phone:
    """A browser with a folder and a store of certificates of its own. Switched off and on it is the same phone."""

    playwright: Playwright
    chromium: str
    folder: Path
    context: BrowserContext | None = None
    flags: list[str] = field(default_factory=list)

    def trust(self, authority: Path) -> None:
        """Trust the house's certificate, as the steps on the phone's page do."""
        # Chromium looks into the one that is there, by its version.
        for place in (".pki/nssdb", ".local/share/pki/nssdb"):
            store = self.folder / "home" / place
            store.mkdir(parents=True)
            known = ["certutil", "-d", f"sql:{store}"]
            subprocess.run([*known, "-N", "--empty-password"], check=True, capture_output=True)
            subprocess.run(
                [*known, "-A", "-t", "C,,", "-n", "house", "-i", str(authority)],
                check=True,
                capture_output=True,
            )

    def sees(self, frame: Image.Image) -> None:
        """From now on its camera sees this, and is given to every page that asks."""
        film = self.folder / "seen.mjpeg"
        frame.save(film, "JPEG", quality=95)
        self.flags = [
            "--use-fake-ui-for-media-stream",
            "--use-fake-device-for-media-stream",
            f"--use-file-for-fake-video-capture={film}",
        ]

    def switch_on(self) -> Page:
        home = self.folder / "home"
        home.mkdir(parents=True, exist_ok=True)
        self.context = self.playwright.chromium.launch_persistent_context(
            self.folder / "profile",
            executable_path=self.chromium,
            args=[*CHROMIUM_FLAGS, *self.flags, f"--host-resolver-rules=MAP {NAME} 127.0.0.1"],
            env={**os.environ, "HOME": str(home), "XDG_DATA_HOME": str(home / ".local/share")},
            viewport=SIZE,
            has_touch=True,
            is_mobile=True,
        )
        self.context.set_default_timeout(60_000)
        return self.context.new_page()

    def switch_off(self) -> None:
        if self.context is not None:
            self.context.close()
            self.context = None

    def pair(self, page: Page, room: DyeRoom, who: str) -> None:
        """Pair it over HTTPS with a code off the owner's screen."""
        [code] = room.run(NEW_CODE.format(who=who), "CODE")
        page.goto(f"{room.https}/phone/pair/#{code}")
        page.get_by_label("What is this phone called?").fill("By the pot")
        page.get_by_role("button", name="Pair this phone").click()
        page.wait_for_url(f"{room.https}/pots/")


def sign_in(page: Page, who: str) -> None:
    page.get_by_label("Sign-in name").fill(who)
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()


@contextlib.contextmanager
def phone_in_hand(playwright: Playwright, chromium: str, folder: Path) -> Iterator[Phone]:
    phone = Phone(playwright, chromium, folder)
    try:
        yield phone
    finally:
        phone.switch_off()
