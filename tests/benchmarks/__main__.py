"""`python -m tests.benchmarks [NAME ...]`: one line a benchmark; the exit code is 1 where one is short."""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import tempfile
from decimal import Decimal

from tests.benchmarks.harness import Benchmark, discover

FIGURE = "figure="


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks", description=__doc__)
    parser.add_argument("names", nargs="*", metavar="NAME", help="which to run; all without one")
    parser.add_argument("--list", action="store_true", help="only name them")
    parser.add_argument("--alone", help=argparse.SUPPRESS)
    asked = parser.parse_args()
    known = discover()
    if asked.alone:
        return measure(known[asked.alone])
    unknown = [name for name in asked.names if name not in known]
    if unknown:
        parser.error(f"There is no benchmark called {unknown[0]}. There are: {', '.join(known)}.")
    if asked.list:
        print("\n".join(known))
        return 0
    good = [in_a_process_of_its_own(known[name]) for name in asked.names or known]
    return 0 if all(good) else 1


def in_a_process_of_its_own(one: Benchmark) -> bool:
    """Run one on a new data folder and print its line; False where it is short or could not be measured."""
    with tempfile.TemporaryDirectory(prefix="dyehouse-benchmark-") as folder:
        answer = subprocess.run(
            [sys.executable, "-m", "tests.benchmarks", "--alone", one.name],
            env={**os.environ, "DYEHOUSE_DATA": folder},
            stdin=subprocess.DEVNULL,
            capture_output=True,
            text=True,
        )
    said = [line for line in answer.stdout.splitlines() if line.startswith(FIGURE)]
    if answer.returncode or not said:
        print(
            f"{one.name:<28} could not be measured:\n{(answer.stdout + answer.stderr).strip()[-3000:]}",
            flush=True,
        )
        return False
    figure = Decimal(said[-1].removeprefix(FIGURE))
    print(one.line(figure), flush=True)
    return one.clears(figure)


def measure(one: Benchmark) -> int:
    """In the process of its own: set up, measure, hand the figure over."""
    if not one.database:
        print(f"{FIGURE}{one.measure()}")
        return 0
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "dyehouse.settings")
    import django

    django.setup()
    if os.environ.get("DATABASE_URL"):
        from django.test.utils import setup_databases, teardown_databases

        # Never the house that the address names: a database of its own beside it.
        made = setup_databases(verbosity=0, interactive=False)
        try:
            print(f"{FIGURE}{one.measure()}")
        finally:
            teardown_databases(made, verbosity=0)
        return 0
    from django.core.management import call_command

    call_command("migrate", interactive=False, verbosity=0)
    print(f"{FIGURE}{one.measure()}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
