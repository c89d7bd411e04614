"""Where the running house is found: a free port, the machine's address on the network, and who runs it already."""

from __future__ import annotations

import contextlib
import http.client
import json
import os
import re
import socket
import ssl
from collections.abc import Iterator
from pathlib import Path
from typing import IO

from dyehouse.running.bootstrap import take_lock

FIRST_PORT = 8620
PORTS_TRIED = 20


class AlreadyRunning(Exception):
    """The house runs on this data folder already; str() says where."""


class NoPort(Exception):
    """The port that was asked for, or every port tried, belongs to somebody else."""


@contextlib.contextmanager
def only_house_here(data: Path) -> Iterator[IO[str]]:
    """Hold the data folder for this process. Raises AlreadyRunning with the address of the one that holds it.

    The system lets go of the lock when the process ends, however it ends, so nothing stale is left behind.
    """
    data.mkdir(parents=True, exist_ok=True)
    with open(data / "running.lock", "a+", encoding="utf-8") as lock:
        if not take_lock(lock.fileno()):
            with contextlib.suppress(OSError, ValueError, KeyError):
                where = json.loads((data / "running.json").read_text(encoding="utf-8"))["address"]
                raise AlreadyRunning(
                    f"The house is already running on {data}: open {where}, or stop it there with Ctrl-C first."
                )
            raise AlreadyRunning(f"The house is already starting on {data}. Wait until it says its address.")
        (data / "running.json").unlink(missing_ok=True)
        try:
            yield lock
        finally:
            (data / "running.json").unlink(missing_ok=True)


def note_address(data: Path, address: str, *, https_port: int | None = None) -> None:
    """Write down where this house answers, for a second start to say."""
    fresh = data / "running.json.new"
    noted = {"address": address, "https_port": https_port, "process": os.getpid()}
    fresh.write_text(json.dumps(noted), encoding="utf-8")
    fresh.replace(data / "running.json")


def free_port(host: str, asked: int | None) -> int:
    """The port asked for, else the first free one from 8620. Raises NoPort."""
    for port in [asked] if asked is not None else range(FIRST_PORT, FIRST_PORT + PORTS_TRIED):
        with contextlib.closing(socket.socket(socket.AF_INET, socket.SOCK_STREAM)) as attempt:
            if os.name == "posix":
                # As the server does; otherwise a house that was just stopped would block its own port.
                attempt.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            with contextlib.suppress(OSError, OverflowError):
                attempt.bind((host, port))
                return int(attempt.getsockname()[1])
    if asked is not None:
        raise NoPort(
            f"Port {asked} is taken or not allowed here. Leave --port out, or name another, for example --port {FIRST_PORT}."
        )
    raise NoPort(
        f"Ports {FIRST_PORT} to {FIRST_PORT + PORTS_TRIED - 1} are all taken. Name a free one with --port."
    )


def free_port_after(host: str, port: int) -> int:
    """The next port, or the first free one after it. Raises NoPort."""
    for each in range(port + 1, min(port + 1 + PORTS_TRIED, 65536)):
        with contextlib.suppress(NoPort):
            return free_port(host, each)
    return free_port(host, 0)


def own_address(port: int) -> str:
    """The house's address on this machine; a machine that was never told the name localhost gets the number."""
    try:
        socket.getaddrinfo("localhost", port, socket.AF_INET)
        return f"http://localhost:{port}/"
    except OSError:
        return f"http://127.0.0.1:{port}/"


def lan_address() -> str | None:
    """This machine's address on the local network; None where it is on none."""
    with contextlib.closing(socket.socket(socket.AF_INET, socket.SOCK_DGRAM)) as probe:
        try:
            # Sends nothing: only asks the system which of its addresses would be used. (RFC 5737 address.)
            probe.connect(("192.0.2.1", 9))
            found = str(probe.getsockname()[0])
        except OSError:
            return None
    return None if found.startswith("127.") or found == "0.0.0.0" else found  # noqa: S104


def local_name() -> str | None:
    """What this machine is called on a network that knows names under .local; None where its name is no such name."""
    name = socket.gethostname().split(".")[0].lower()
    return f"{name}.local" if re.fullmatch(r"[a-z0-9][a-z0-9-]{0,62}", name) and name != "localhost" else None


def answers(port: int, *, authority: Path | None = None) -> bool:
    """Whether the house's server answers a request, with whatever status; over HTTPS where an authority is named."""
    if authority is None:
        asking = http.client.HTTPConnection("127.0.0.1", port, timeout=5)
    else:
        trusting = ssl.create_default_context(cafile=str(authority))
        asking = http.client.HTTPSConnection("127.0.0.1", port, timeout=5, context=trusting)
    try:
        asking.request("GET", "/sign-in/", headers={"Host": "localhost"})
        return asking.getresponse().status > 0
    except (OSError, http.client.HTTPException):
        return False
    finally:
        asking.close()
