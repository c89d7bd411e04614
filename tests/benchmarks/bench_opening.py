"""From a clone to the first page, and how long the demo takes to fill."""

from __future__ import annotations

import json
import os
import shutil
import signal
import subprocess
import tempfile
import time
import urllib.error
import urllib.request
from decimal import Decimal
from pathlib import Path

from dyehouse.running.bootstrap import ROOT, base_python
from tests.benchmarks.harness import Stopwatch, benchmark, stopwatch


@benchmark("clone_to_first_page", bar=90, unit="s", database=False)
def clone_to_first_page() -> Decimal:
    """As a newcomer does it: no environment, no uv, nothing in any cache; until the sign-in page is there."""
    with tempfile.TemporaryDirectory(prefix="dyehouse-newcomer-") as name:
        folder = Path(name)
        environment = {
            **os.environ,
            "PATH": os.pathsep.join(part for part in os.get_exec_path() if not shutil.which("uv", path=part)),
            "UV_CACHE_DIR": str(folder / "uv-cache"),
            "PIP_NO_CACHE_DIR": "1",
            "DYEHOUSE_DATA": str(folder / "data"),
        }
        environment.pop("DATABASE_URL", None)
        watch = Stopwatch()
        subprocess.run(["git", "clone", "--quiet", str(ROOT), str(folder / "clone")], check=True)
        house = subprocess.Popen(
            [base_python(), "manage.py", "studio", "--demo", "--port", "0"],
            cwd=folder / "clone",
            env=environment,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
        )
        try:
            while not first_page(folder / "data"):
                if house.poll() is not None:
                    raise RuntimeError("The house did not open.")
                time.sleep(0.05)
            return watch.stop()
        finally:
            house.send_signal(signal.SIGINT)
            house.wait(30)


def first_page(data: Path) -> bool:
    """Whether the sign-in page is served."""
    try:
        address = json.loads((data / "running.json").read_text(encoding="utf-8"))["address"]
        return urllib.request.urlopen(f"{address}sign-in/", timeout=10).status == 200
    except (OSError, ValueError, urllib.error.URLError):
        return False


@benchmark("demo_fill", bar=20, unit="s")
def demo_fill() -> Decimal:
    """The invented studio's year into an empty house."""
    from dyehouse.demo.fill import fill_house

    with stopwatch() as watch:
        fill_house()
    return watch.seconds
