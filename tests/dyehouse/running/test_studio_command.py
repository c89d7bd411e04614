"""The house's one command, really run: opens, refuses a second start, closes cleanly, copies itself."""

from __future__ import annotations

import json
import os
import re
import signal
import socket
import ssl
import subprocess
import sys
import time
import urllib.request
from pathlib import Path

import pytest

from dyehouse.running.bootstrap import ROOT
from dyehouse.running.copies import dated_folders, problems_of
from tests.running_house import House, running_house, status_of

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="looks at processes through /proc")


def alive(pid: int) -> bool:
    """Whether a process runs; one that only waits to be collected does not."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return False


def wait_for(what, seconds: float = 20) -> bool:
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        if what():
            return True
        time.sleep(0.05)
    return False


def start_again(data: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "manage.py", "studio", *arguments, "--data", str(data)],
        cwd=ROOT, stdin=subprocess.DEVNULL, capture_output=True, text=True, timeout=60,
    )  # fmt: skip


def test_the_house_opens_refuses_a_second_start_copies_itself_and_closes_cleanly(tmp_path: Path) -> None:
    with running_house(tmp_path, from_nothing=True) as house:
        assert 200 <= status_of(house.address) < 500
        children = house.children()
        commands = [Path(f"/proc/{pid}/cmdline").read_bytes().decode() for pid in children]
        assert any("granian" in command for command in commands)
        assert any("house_worker" in command for command in commands)
        for name in ("dyehouse.sqlite3", "secret-key"):
            assert (tmp_path / name).stat().st_mode & 0o077 == 0, f"{name} is not for this user alone"

        second = start_again(tmp_path)

        assert second.returncode == 1
        assert house.address in second.stderr
        assert "already running" in second.stderr
        assert wait_for(lambda: dated_folders(tmp_path / "copies"))
        [copy] = dated_folders(tmp_path / "copies")
        assert problems_of(copy) == []

        assert house.stop(signal.SIGINT) == 0

    assert not [pid for pid in children if alive(pid)]
    assert not (tmp_path / "running.json").exists()
    assert "The house is closed" in "".join(house.said)
    assert "Traceback" not in "".join(house.said)


def server_of(house: House) -> int:
    """The process that answers over plain HTTP."""
    [server] = [
        pid
        for pid in house.children()
        if b"granian" in (command := Path(f"/proc/{pid}/cmdline").read_bytes())
        and b"-m\0granian" in command
        and b"--ssl-certificate" not in command
        and Path(f"/proc/{pid}/status").read_text().split("PPid:")[1].split()[0] == str(house.process.pid)
    ]
    return server


def test_opened_to_phones_it_serves_both_ways_starts_a_fallen_server_again_and_stops_both(
    tmp_path: Path,
) -> None:
    with running_house(tmp_path, "--lan") as house:
        noted = json.loads((tmp_path / "running.json").read_text())
        trusting = ssl.create_default_context(cafile=str(tmp_path / "https" / "house.pem"))
        over_https = urllib.request.urlopen(
            f"https://localhost:{noted['https_port']}/sign-in/", timeout=10, context=trusting
        )
        assert over_https.status == 200
        assert over_https.headers["Set-Cookie"].strip().startswith("__Host-csrftoken=")
        assert "Secure" in over_https.headers["Set-Cookie"]
        assert 200 <= status_of(house.address) < 500

        os.kill(server_of(house), signal.SIGKILL)

        assert wait_for(lambda: any("starting it again" in line for line in house.said))
        assert wait_for(lambda: 200 <= status_of(house.address) < 500)
        children = house.children()

        assert house.stop(signal.SIGINT) == 0

    assert not [pid for pid in children if alive(pid)]
    assert "Traceback" not in "".join(house.said)


def test_a_house_that_is_killed_leaves_no_children_and_can_be_started_again(tmp_path: Path) -> None:
    """Without a terminal a random password is said, and once only."""
    with running_house(tmp_path, environment={"DYEHOUSE_OWNER_PASSWORD": ""}) as house:
        children = house.children()
        house.process.kill()
        house.process.wait()

        assert wait_for(lambda: not any(alive(pid) for pid in children))

    with running_house(tmp_path, environment={"DYEHOUSE_OWNER_PASSWORD": ""}) as again:
        assert 200 <= status_of(again.address) < 500

    assert re.search(r"password  [a-z2-9]{5}(-[a-z2-9]{5}){3}\n", "".join(house.said))
    assert "password" not in "".join(again.said)


def test_a_port_that_is_taken_is_said_in_a_sentence(tmp_path: Path) -> None:
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        port = other.getsockname()[1]

        answer = start_again(tmp_path, "--port", str(port))

    assert answer.returncode == 1
    assert f"Port {port} is taken" in answer.stderr


def test_a_database_that_does_not_answer_is_said_in_a_sentence(tmp_path: Path) -> None:
    nowhere = {**os.environ, "DATABASE_URL": f"postgres://dyehouse@/dyehouse?host={tmp_path}"}
    refused = subprocess.run(
        [sys.executable, "manage.py", "studio", "--data", str(tmp_path)],
        cwd=ROOT, env=nowhere, stdin=subprocess.DEVNULL, capture_output=True, text=True, timeout=60,
    )  # fmt: skip

    assert refused.returncode == 1
    assert "The database dyehouse does not answer" in refused.stderr
    assert "createdb dyehouse" in refused.stderr
    assert "Traceback" not in refused.stderr
