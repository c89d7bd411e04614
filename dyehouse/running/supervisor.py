"""The server and the task worker as children: started, watched, started again if they fall, stopped together."""

from __future__ import annotations

import contextlib
import ctypes
import datetime as dt
import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Mapping, Sequence
from types import FrameType
from typing import Any

from django.db import connections
from django.utils import timezone

from dyehouse.running.bootstrap import ROOT
from dyehouse.running.certificate import HouseCertificate
from dyehouse.running.copies import CopyFailed, last_good_copy, make_copy

STOP_SECONDS = 8
FALLS_ALLOWED = 3
FALLS_WITHIN_SECONDS = 60
# More would only wait for each other: the interpreter runs one at a time.
SERVER_THREADS = min(8, 2 * (os.cpu_count() or 1) + 1)
COPY_RETRY_SECONDS = 3600


class Fell(Exception):
    """A child keeps ending by itself; str() says which."""


class Child:
    """One program that the house needs while it runs."""

    def __init__(self, name: str, command: Sequence[str], environment: Mapping[str, str]) -> None:
        self.name = name
        self.command = list(command)
        self.environment = dict(environment)
        self.falls: list[float] = []
        self.process = self._start()

    def _start(self) -> subprocess.Popen[bytes]:
        options: dict[str, Any] = {"cwd": ROOT, "env": self.environment, "stdin": subprocess.DEVNULL}
        if os.name == "posix":
            # A group of its own: Ctrl-C in the terminal reaches the house alone, which then stops its children.
            options["start_new_session"] = True
            if sys.platform.startswith("linux"):
                options["preexec_fn"] = end_with_parent
        else:
            options["creationflags"] = subprocess.CREATE_NEW_PROCESS_GROUP  # type: ignore[attr-defined]
        return subprocess.Popen(self.command, **options)

    def look_after(self) -> None:
        """Start it again if it ended by itself. Raises Fell when that happened too often."""
        code = self.process.poll()
        if code is None:
            return
        self.sweep()
        now = time.monotonic()
        self.falls = [fall for fall in self.falls if now - fall < FALLS_WITHIN_SECONDS] + [now]
        if len(self.falls) > FALLS_ALLOWED:
            raise Fell(f"{self.name} keeps stopping by itself (code {code}). What it said stands above.")
        print(f"{self.name} stopped by itself (code {code}); starting it again.", file=sys.stderr, flush=True)
        self.process = self._start()

    def ask_to_stop(self) -> None:
        with contextlib.suppress(OSError):
            self.process.terminate()

    def wait_stopped(self, until: float) -> None:
        try:
            self.process.wait(max(0.1, until - time.monotonic()))
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()
        self.sweep()

    def sweep(self) -> None:
        """End whatever the child itself had started and left behind."""
        if os.name == "posix":
            with contextlib.suppress(OSError):
                os.killpg(self.process.pid, signal.SIGKILL)


def end_with_parent() -> None:
    """Linux only, in the child before it begins: ask for SIGTERM when the house dies without stopping its children."""
    pr_set_pdeathsig = 1
    ctypes.CDLL(None).prctl(pr_set_pdeathsig, signal.SIGTERM)


def server_command(host: str, port: int, certificate: HouseCertificate | None = None) -> list[str]:
    """The production server: one process with several threads, which SQLite and a small studio are best served by.

    With a certificate it speaks HTTPS, from TLS 1.2 on, which phones of ten years ago know.
    """
    over_https = []
    if certificate is not None:
        over_https = [
            "--ssl-certificate", str(certificate.certificate), "--ssl-keyfile", str(certificate.key),
            "--ssl-protocol-min", "tls1.2",
        ]  # fmt: skip
    return [
        sys.executable, "-m", "granian", "--interface", "wsgi", "--host", host, "--port", str(port),
        "--workers", "1", "--blocking-threads", str(SERVER_THREADS), "--no-ws", "--log-level", "warning",
        "--respawn-failed-workers", "--workers-kill-timeout", "5", *over_https, "dyehouse.wsgi:application",
    ]  # fmt: skip


def worker_command() -> list[str]:
    """The worker for long work such as a year's labels."""
    return [sys.executable, str(ROOT / "manage.py"), "house_worker", "--interval", "2", "--no-reload"]


class Copyist(threading.Thread):
    """Makes the daily copy: at the start and when the machine's day changes, beside everything else."""

    def __init__(self, say: Callable[[str], None]) -> None:
        super().__init__(daemon=True, name="copyist")
        self.say = say
        self.stop = threading.Event()

    def run(self) -> None:
        done: dt.date | None = None
        while True:
            today = timezone.now().astimezone().date()
            pause = 30
            if done != today:
                if self.copy():
                    done = today
                else:
                    pause = COPY_RETRY_SECONDS
            if self.stop.wait(pause):
                return

    def copy(self) -> bool:
        """Make today's copy; a failure is said and tried again in an hour."""
        try:
            make_copy()
            return True
        except CopyFailed as reason:
            last = last_good_copy()
            since = f"The last good copy is of {last.made_at:%Y-%m-%d}." if last else "There is no copy yet."
            self.say(f"Today's copy was not made: {reason} {since}")
            return False
        finally:
            connections.close_all()


class StopAsked(Exception):
    """Somebody pressed Ctrl-C or sent SIGTERM."""


@contextlib.contextmanager
def stop_on_signals() -> Any:
    """Turn the first Ctrl-C, SIGTERM or closed terminal into StopAsked; later ones change nothing."""

    def stop(number: int, frame: FrameType | None) -> None:
        for each in names:
            signal.signal(each, signal.SIG_IGN)
        raise StopAsked

    names = [signal.SIGINT, signal.SIGTERM, *([signal.SIGHUP] if hasattr(signal, "SIGHUP") else [])]
    before = {each: signal.signal(each, stop) for each in names}
    try:
        yield
    finally:
        for each, handler in before.items():
            signal.signal(each, handler)


def keep_running(children: Sequence[Child], *, ready: Callable[[], bool], opened: Callable[[], None]) -> None:
    """Watch the children, call `opened` once the server answers, until StopAsked or Fell. Stops all children."""
    is_open = False
    try:
        while True:
            for child in children:
                child.look_after()
            if not is_open and ready():
                is_open = True
                opened()
            time.sleep(1 if is_open else 0.1)
    finally:
        until = time.monotonic() + STOP_SECONDS
        for child in children:
            child.ask_to_stop()
        for child in children:
            child.wait_stopped(until)
