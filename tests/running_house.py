"""A real house for tests: `manage.py studio` in a process of its own, on a free port, with its own data folder."""

from __future__ import annotations

import contextlib
import http.cookiejar
import json
import os
import re
import shutil
import signal
import subprocess
import sys
import tempfile
import threading
import time
import urllib.error
import urllib.parse
import urllib.request
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from dyehouse.running.bootstrap import ROOT
from dyehouse.running.testing import EMPTY_HOUSE

OWNER = "owner"
PASSWORD = "madder-weld-and-woad"


@dataclass
class House:
    """A running house: where it answers, its process, and what it has said so far."""

    address: str
    data: Path
    process: subprocess.Popen[str]
    said: list[str] = field(default_factory=list)

    def children(self) -> list[int]:
        """The process ids of everything below the house's own process (Linux)."""
        found, waiting = [], [self.process.pid]
        while waiting:
            pid = waiting.pop()
            for path in Path(f"/proc/{pid}/task").glob("*/children"):
                with contextlib.suppress(OSError):
                    waiting += (ids := [int(word) for word in path.read_text().split()])
                    found += ids
        return found

    def stop(self, how: int = signal.SIGINT, *, within_seconds: float = 20) -> int:
        """Stop it as Ctrl-C would; the exit code."""
        if self.process.poll() is None:
            self.process.send_signal(how)
        return self.process.wait(within_seconds)

    def signed_in(self) -> urllib.request.OpenerDirector:
        """Something that opens pages as the owner."""
        opener = urllib.request.build_opener(urllib.request.HTTPCookieProcessor(http.cookiejar.CookieJar()))
        page = opener.open(f"{self.address}sign-in/", timeout=20)
        token = re.search(r'name="csrfmiddlewaretoken" value="([^"]+)"', page.read().decode())
        assert token, "the sign-in page has no form"
        form = {"username": OWNER, "password": PASSWORD, "csrfmiddlewaretoken": token[1]}
        opener.open(page.url, urllib.parse.urlencode(form).encode(), timeout=20)
        return opener


@contextlib.contextmanager
def running_house(
    data_dir: Path,
    *arguments: str,
    environment: Mapping[str, str] | None = None,
    wait_seconds: float = 90,
    from_nothing: bool = False,
) -> Iterator[House]:
    """Start a house on `data_dir` and give it once it answers; stop it afterwards, whatever happened.

    Its owner signs in with OWNER and PASSWORD. More arguments (such as --demo) and environment are handed on. A new house
    begins with the tables and the static files that were made once for this run, or else `from_nothing`.
    """
    surroundings = {**os.environ, "DYEHOUSE_DATA": str(data_dir), "DYEHOUSE_OWNER_PASSWORD": PASSWORD}
    # Its database is the one in data_dir unless the caller names another: never the one the tests run on.
    surroundings.pop("DATABASE_URL", None)
    surroundings.update(environment or {})
    if not from_nothing:
        collected_before(Path(data_dir))
        made_before(Path(data_dir))
    process = subprocess.Popen(
        [sys.executable, str(ROOT / "manage.py"), "studio", "--port", "0", *arguments],
        cwd=ROOT,
        env=surroundings,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    )
    house = House(address="", data=Path(data_dir), process=process)
    reader = threading.Thread(target=listen, args=(house,), daemon=True)
    reader.start()
    try:
        until = time.monotonic() + wait_seconds
        while not house.address:
            if process.poll() is not None or time.monotonic() > until:
                reader.join(2)
                raise AssertionError("The house did not open. It said:\n" + "".join(house.said))
            time.sleep(0.05)
            house.address = address_of(house)
        keep_collected(house.data)
        yield house
    finally:
        if process.poll() is None:
            process.send_signal(signal.SIGINT)
            try:
                process.wait(20)
            except subprocess.TimeoutExpired:
                process.kill()
                process.wait()
        reader.join(5)


# Collected static files of an earlier house in this run: the next one need not compress them again.
COLLECTED: list[tempfile.TemporaryDirectory[str]] = []


def collected_before(data: Path) -> None:
    """Give a new data folder the static files that an earlier house of this run collected."""
    if COLLECTED and not (data / "static").exists():
        shutil.copytree(COLLECTED[0].name, data, dirs_exist_ok=True)


def keep_collected(data: Path) -> None:
    """Keep what this house collected, once."""
    if not COLLECTED and (data / "static-stamp").exists():
        COLLECTED.append(tempfile.TemporaryDirectory(prefix="dyehouse-collected-"))
        shutil.copytree(data / "static", Path(COLLECTED[0].name) / "static")
        shutil.copy(data / "static-stamp", COLLECTED[0].name)


def made_before(data: Path) -> None:
    """Give a new data folder the empty database of this run, where the test command made one."""
    made, wanted = os.environ.get(EMPTY_HOUSE), data / "dyehouse.sqlite3"
    if made and not wanted.exists():
        data.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(made, wanted)


def address_of(house: House) -> str:
    """Where this very house answers, empty until it does; a house that was killed leaves its address behind."""
    try:
        noted = json.loads((house.data / "running.json").read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return ""
    return noted["address"] if noted["process"] == house.process.pid else ""


def listen(house: House) -> None:
    """Keep what the house says, so that its pipe never fills."""
    assert house.process.stdout is not None
    with house.process.stdout as lines:
        for line in lines:
            house.said.append(line)


def status_of(address: str) -> int:
    """The HTTP status that an address answers with, 0 for no answer."""
    try:
        return urllib.request.urlopen(address, timeout=10).status
    except urllib.error.HTTPError as error:
        return error.code
    except OSError:
        return 0
