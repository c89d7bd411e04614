"""The test command: everything on SQLite, then what touches stock and races again on PostgreSQL.

Imports nothing of Django: each part is a pytest of its own, so that each begins with its own settings.
"""

from __future__ import annotations

import contextlib
import json
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from dyehouse.running.bootstrap import ROOT
from dyehouse.running.cluster import ClusterRefused, postgres_programs, throwaway_cluster

# pytest's own exit code for "nothing was selected", which is no failure of a part that selects by marker.
NOTHING_SELECTED = 5
NO_POSTGRES = "PostgreSQL tests skipped: no PostgreSQL server programs on this machine and DYEHOUSE_TEST_POSTGRES names no server."


@dataclass
class Tally:
    """How the tests ended over all parts of a run."""

    counts: dict[str, int] = field(default_factory=lambda: {"passed": 0, "failed": 0, "skipped": 0})
    worst: int = 0

    def line(self) -> str:
        return f"{self.counts['passed']} passed, {self.counts['failed']} failed, {self.counts['skipped']} skipped"


def strict() -> bool:
    """Whether a test that could not run counts as failed: in CI, or with DYEHOUSE_STRICT."""
    return any(
        os.environ.get(name, "").lower() in {"1", "true", "yes", "on"} for name in ("CI", "DYEHOUSE_STRICT")
    )


def run_tests(arguments: Sequence[str]) -> int:
    """Run the tests with pytest's own arguments; the exit code is 0 only where nothing failed."""
    try:
        return run_parts(arguments)
    except KeyboardInterrupt:
        print("\nThe tests were stopped.", file=sys.stderr)
        return 130


def run_parts(arguments: Sequence[str]) -> int:
    """The parts one after the other, and the line that counts them all."""
    started = time.monotonic()
    tally = Tally()
    with tempfile.TemporaryDirectory(prefix="dyehouse-tests-") as folder:
        os.environ["DYEHOUSE_DATA"] = folder
        if any(
            word in {"-h", "--help", "--version", "--collect-only", "--co", "--fixtures", "--markers"}
            for word in arguments
        ):
            return pytest(arguments)
        if arguments:
            run_part(tally, "The tests named", arguments, folder)
        else:
            several = str(min(4, os.cpu_count() or 1))
            run_part(tally, "All but the browser's walks", ["-n", several, "-m", "not browser"], folder)
            # A walk waits for pages more than it reckons, so one more than there are processors go at once. A file stays
            # with one of them, since its house is opened once.
            walkers = str(min(4, (os.cpu_count() or 1) + 1))
            walks = ["-n", walkers, "--dist", "loadfile", "-m", "browser"]
            run_part(tally, "The browser's walks", walks, folder)
        run_on_postgres(tally, arguments, folder)
    print(f"The tests took {time.monotonic() - started:.0f} s.")
    print(tally.line(), flush=True)
    return tally.worst


def run_on_postgres(tally: Tally, arguments: Sequence[str], folder: str) -> None:
    """What must hold on both engines, once more on PostgreSQL; where there is none, one visible line."""
    if os.environ.get("DATABASE_URL"):
        return
    try:
        with postgres() as address:
            if address is None:
                print(NO_POSTGRES, flush=True)
                if strict():
                    print("That counts as a failure here, since CI or DYEHOUSE_STRICT is set.", flush=True)
                    tally.counts["failed"] += 1
                    tally.worst = tally.worst or 1
                return
            run_part(
                tally,
                "Stock and races on PostgreSQL",
                both_engines_only(arguments or ["-n", str(min(4, os.cpu_count() or 1))]),
                folder,
                DATABASE_URL=address,
            )
    except ClusterRefused as reason:
        print(f"PostgreSQL tests failed to start: {reason}", flush=True)
        tally.counts["failed"] += 1
        tally.worst = tally.worst or 1


@contextlib.contextmanager
def postgres() -> Iterator[str | None]:
    """The address of a server for tests: the one that is named, else a throwaway one, else None."""
    named = os.environ.get("DYEHOUSE_TEST_POSTGRES")
    if named:
        yield named
        return
    programs = postgres_programs() if os.name == "posix" else None
    if programs is None:
        yield None
        return
    with throwaway_cluster(programs) as address:
        yield address


def both_engines_only(arguments: Sequence[str]) -> list[str]:
    """The same arguments, narrowed to the tests marked for both engines."""
    rest = list(arguments)
    chosen = "both_engines or postgres"
    if "-m" in rest[:-1]:
        at = rest.index("-m")
        chosen = f"({rest[at + 1]}) and ({chosen})"
        del rest[at : at + 2]
    return [*rest, "-m", chosen]


def run_part(tally: Tally, title: str, arguments: Sequence[str], folder: str, **environment: str) -> None:
    """Run one pytest and add its counts."""
    print(f"\n{title}:", flush=True)
    counts = Path(folder) / "counts.json"
    counts.unlink(missing_ok=True)
    code = pytest(arguments, DYEHOUSE_TEST_COUNTS=str(counts), **environment)
    try:
        for name, number in json.loads(counts.read_text(encoding="utf-8")).items():
            tally.counts[name] += number
    except (OSError, ValueError):
        # pytest did not come as far as counting: that alone is a failure.
        tally.counts["failed"] += 1
        code = code or 1
    if code != NOTHING_SELECTED:
        tally.worst = tally.worst or code


def pytest(arguments: Sequence[str], **environment: str) -> int:
    """One pytest in the house's environment; Ctrl-C reaches it directly and ends both."""
    command = [sys.executable, "-m", "pytest", *arguments]
    with subprocess.Popen(command, cwd=ROOT, env={**os.environ, **environment}) as running:
        try:
            return running.wait()
        except KeyboardInterrupt:
            # pytest heard the same Ctrl-C; let it put its things away before the run ends.
            running.wait()
            raise
