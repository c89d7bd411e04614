"""A throwaway PostgreSQL: made in a temporary folder, reachable through a socket there only, gone afterwards."""

from __future__ import annotations

import contextlib
import os
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

# Nothing in it outlives the run, so it need not wait for the disk.
SERVER_OPTIONS = "-c listen_addresses='' -c fsync=off -c synchronous_commit=off -c full_page_writes=off -c max_connections=200"


class ClusterRefused(Exception):
    """The PostgreSQL programs are here but would not start a cluster; str() is what they said."""


def postgres_programs() -> Path | None:
    """The folder with initdb and pg_ctl: of the PATH, else the newest that Debian or a package manager put down."""
    folders = [Path(found).resolve().parent] if (found := shutil.which("initdb")) else []
    for pattern in ("usr/lib/postgresql/*/bin", "usr/pgsql-*/bin", "opt/homebrew/opt/postgresql*/bin"):
        folders += sorted(
            Path("/").glob(pattern),
            key=lambda p: [int(n) for n in p.parent.name.split("-") if n.isdigit()],
            reverse=True,
        )
    for folder in folders:
        if (folder / "initdb").exists() and (folder / "pg_ctl").exists():
            return folder
    return None


def unprivileged() -> dict[str, Any]:
    """Popen's words for running as somebody else than root, who may not run PostgreSQL; empty for anybody else."""
    if os.geteuid() != 0:
        return {}
    import pwd

    for name in ("postgres", "nobody"):
        with contextlib.suppress(KeyError):
            person = pwd.getpwnam(name)
            return {"user": person.pw_uid, "group": person.pw_gid, "extra_groups": []}
    raise ClusterRefused(
        "PostgreSQL does not run as root, and this machine has neither a user postgres nor nobody."
    )


@contextlib.contextmanager
def throwaway_cluster(programs: Path) -> Iterator[str]:
    """Start a cluster and give its address (as DATABASE_URL); stop and delete it afterwards.

    Raises ClusterRefused with the programs' own words when it does not start.
    """
    who = unprivileged()
    # Short, since a socket's whole path may have 107 characters only.
    folder = Path(tempfile.mkdtemp(prefix="dyehouse-pg-", dir="/tmp"))
    if who:
        os.chown(folder, who["user"], who["group"])
    folder.chmod(0o755)
    data = folder / "data"
    environment = {name: value for name, value in os.environ.items() if not name.startswith("PG")}
    environment["LC_ALL"] = "C.UTF-8"

    def run(program: str, *arguments: str) -> None:
        # Output goes to a file: the server inherits it, and a pipe would never come to its end.
        with open(folder / f"{program}.said", "w+") as said:
            answer = subprocess.run(
                [str(programs / program), *arguments],
                cwd=folder, env=environment, stdin=subprocess.DEVNULL, stdout=said, stderr=subprocess.STDOUT, **who,
            )  # fmt: skip
            if answer.returncode:
                said.seek(0)
                raise ClusterRefused(said.read().strip()[-2000:])

    try:
        run("initdb", "-D", str(data), "-U", "dyehouse", "-A", "trust", "-E", "UTF8", "--no-sync")
        run(
            "pg_ctl",
            "-D",
            str(data),
            "-w",
            "-l",
            str(folder / "log"),
            "-o",
            f"-k {folder} {SERVER_OPTIONS}",
            "start",
        )
        try:
            yield f"postgresql://dyehouse@/dyehouse?host={folder}"
        finally:
            with contextlib.suppress(ClusterRefused):
                run("pg_ctl", "-D", str(data), "-w", "-m", "immediate", "stop")
    finally:
        shutil.rmtree(folder, ignore_errors=True)
