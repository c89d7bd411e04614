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
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO

from dyehouse.running.bootstrap import ROOT
from dyehouse.running.cluster import ClusterRefused, postgres_programs, throwaway_cluster

# pytest's own exit code for "nothing was selected", which is no failure of a part that selects by marker.
NOTHING_SELECTED = 5
# Names the database of a house with nothing in it, which tests copy rather than make the tables each time.
EMPTY_HOUSE = "DYEHOUSE_TEST_EMPTY_HOUSE"
NO_POSTGRES = "PostgreSQL tests skipped: no PostgreSQL server programs on this machine and DYEHOUSE_TEST_POSTGRES names no server."


@dataclass
class Tally:
    """How the tests ended over all parts of a run."""

    counts: dict[str, int] = field(default_factory=lambda: {"passed": 0, "failed": 0, "skipped": 0})
    worst: int = 0

    def add(self, code: int, counts: Path) -> None:
        """Add what one pytest counted, and how it ended."""
        try:
            for name, number in json.loads(counts.read_text(encoding="utf-8")).items():
                self.counts[name] += number
        except (OSError, ValueError):
            # pytest did not come as far as counting: that alone is a failure.
            self.counts["failed"] += 1
            code = code or 1
        if code != NOTHING_SELECTED:
            self.worst = self.worst or code

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
    """The parts, and the line that counts them all."""
    started = time.monotonic()
    tally = Tally()
    with tempfile.TemporaryDirectory(prefix="dyehouse-tests-") as folder:
        os.environ["DYEHOUSE_DATA"] = folder
        if os.environ.pop("PYTHONDONTWRITEBYTECODE", ""):
            # Nothing is written beside the sources then; what the many programs of a run compile they keep for each other.
            os.environ["PYTHONPYCACHEPREFIX"] = str(Path(folder) / "bytecode")
        if any(
            word in {"-h", "--help", "--version", "--collect-only", "--co", "--fixtures", "--markers"}
            for word in arguments
        ):
            return pytest(arguments)
        if arguments:
            run_part(tally, "The tests named", arguments, folder)
            run_on_postgres(tally, arguments, folder)
        else:
            make_empty_house(Path(folder))
            several = str(min(4, os.cpu_count() or 1))
            # A walk waits for pages more than it reckons, so the walks go beside what reckons; what they say comes after it.
            walks = ["-n", several, "--dist", "loadgroup", "-m", "browser", "-p", "no:cacheprovider"]
            with part_beside(tally, "The browser's walks, which went beside", walks, folder):
                run_part(tally, "All but the browser's walks", ["-n", several, "-m", "not browser"], folder)
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


def make_empty_house(folder: Path) -> None:
    """Make the tables once, for the tests' databases and the houses that tests open to begin with.

    Where that fails they make their own, and say why.
    """
    empty = folder / "empty"
    surroundings = {**os.environ, "DYEHOUSE_DATA": str(empty)}
    surroundings.pop("DATABASE_URL", None)
    made = subprocess.run(
        [sys.executable, str(ROOT / "manage.py"), "migrate", "--verbosity", "0"],
        cwd=ROOT, env=surroundings, stdin=subprocess.DEVNULL, capture_output=True,
    )  # fmt: skip
    if made.returncode == 0:
        os.environ[EMPTY_HOUSE] = str(empty / "dyehouse.sqlite3")


def run_part(tally: Tally, title: str, arguments: Sequence[str], folder: str, **environment: str) -> None:
    """Run one pytest and add its counts."""
    print(f"\n{title}:", flush=True)
    counts = Path(folder) / "counts.json"
    counts.unlink(missing_ok=True)
    tally.add(pytest(arguments, DYEHOUSE_TEST_COUNTS=str(counts), **environment), counts)


@contextlib.contextmanager
def part_beside(tally: Tally, title: str, arguments: Sequence[str], folder: str) -> Iterator[None]:
    """Run one pytest beside what is done meanwhile; what it says and its counts come at the end."""
    own = Path(folder) / "beside"
    own.mkdir()
    counts, said = own / "counts.json", own / "said"
    # A data folder of its own, since the databases of the tests lie in it.
    surroundings = {**os.environ, "DYEHOUSE_DATA": str(own), "DYEHOUSE_TEST_COUNTS": str(counts)}
    with said.open("wb") as into, pytest_process(arguments, surroundings, into) as beside:
        try:
            yield
        finally:
            print(f"\n{title}:", flush=True)
            try:
                follow(beside, said)
            except KeyboardInterrupt:
                follow(beside, said)
                raise
    tally.add(beside.returncode, counts)


def follow(running: subprocess.Popen[bytes], said: Path) -> None:
    """Hand on what a program wrote and writes into a file, until it ends."""
    with said.open("rb") as lines:
        ended = False
        while not ended:
            ended = running.poll() is not None
            sys.stdout.buffer.write(lines.read())
            sys.stdout.flush()
            if not ended:
                time.sleep(0.2)


def pytest(arguments: Sequence[str], **environment: str) -> int:
    """One pytest in the house's environment; Ctrl-C reaches it directly and ends both."""
    with pytest_process(arguments, {**os.environ, **environment}) as running:
        try:
            return running.wait()
        except KeyboardInterrupt:
            # pytest heard the same Ctrl-C; let it put its things away before the run ends.
            running.wait()
            raise


def pytest_process(
    arguments: Sequence[str], surroundings: Mapping[str, str], into: IO[bytes] | None = None
) -> subprocess.Popen[bytes]:
    return subprocess.Popen(
        [sys.executable, "-m", "pytest", *arguments],
        cwd=ROOT,
        env=surroundings,
        stdout=into,
        stderr=subprocess.STDOUT if into else None,
    )
