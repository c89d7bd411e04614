"""Daily copies of the database and the photos: taken while the house runs, proved before they count, seven kept.

A day's copy is a folder `copies/YYYY-MM-DD/` with `database.sqlite3` (or `database.pgdump`), `photos/` and a
`manifest.json` that names every file with its bytes and SHA-256. The manifest is written last and the folder gets
its name after that, so a folder with a date is a whole copy.
"""

from __future__ import annotations

import contextlib
import datetime as dt
import hashlib
import json
import os
import shutil
import sqlite3
import subprocess
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from django.conf import settings
from django.db import connection
from django.utils import timezone

KEPT = 7
UNFINISHED = ".unfinished-"
REPLACED = ".replaced-"
CHUNK_BYTES = 1024 * 1024


class CopyFailed(Exception):
    """No copy was made, or one does not hold what it should; str() says which file and why."""


@dataclass(frozen=True, kw_only=True)
class GoodCopy:
    """One whole copy: when it was made, where it lies, and how much is in it."""

    made_at: dt.datetime
    folder: Path
    database_bytes: int
    photos: int


def copies_folder() -> Path:
    """Where the copies lie: in the data folder, beside what they are copies of."""
    return Path(settings.DATA) / "copies"


def make_copy(*, now: dt.datetime | None = None) -> GoodCopy:
    """Copy the database and the photos into today's folder, prove the copy, and drop all but the last seven.

    Work goes on meanwhile: SQLite's own online copy sees one instant. A second copy on the same day takes the
    place of the first once it is proved. Raises CopyFailed and leaves the copies that were there as they were.
    """
    now = now or timezone.now()
    # The machine's own day: a copy belongs to the day that the dyer's clock shows.
    day = now.astimezone().date().isoformat()
    home = copies_folder()
    home.mkdir(parents=True, exist_ok=True)
    clear_unfinished(home)
    fresh = home / f"{UNFINISHED}{day}"
    try:
        fresh.mkdir()
        database = copy_database(fresh)
        files = {database.name: describe(database)}
        files.update(copy_photos(fresh, newest_folder(home)))
        write_manifest(fresh, now, database.name, files)
        problems = problems_of(fresh)
        if problems:
            raise CopyFailed(problems[0])
        put_in_place(fresh, home / day)
    except OSError as error:
        raise CopyFailed(f"The copy could not be written: {error}.") from error
    finally:
        shutil.rmtree(fresh, ignore_errors=True)
    drop_all_but_the_last(home, KEPT)
    return good_copy(home / day)


def last_good_copy() -> GoodCopy | None:
    """The newest whole copy, or None. Quick enough for a page: files are looked at by size, not read."""
    for folder in reversed(dated_folders(copies_folder())):
        with contextlib.suppress(CopyFailed):
            return good_copy(folder)
    return None


def verify_copy(folder: Path) -> GoodCopy:
    """Read every file of a copy and compare it with its manifest; check the database. Raises CopyFailed."""
    problems = problems_of(folder)
    if problems:
        raise CopyFailed(problems[0])
    return good_copy(folder)


def problems_of(folder: Path) -> list[str]:
    """What is wrong with a copy, a sentence each; empty for a good one. Reads everything."""
    try:
        manifest = read_manifest(folder)
    except CopyFailed as reason:
        return [str(reason)]
    problems = []
    for name, told in manifest["files"].items():
        path = folder / name
        if not path.is_file():
            problems.append(f"{name} is missing from the copy of {folder.name}.")
        elif describe(path) != told:
            problems.append(f"{name} in the copy of {folder.name} is not what was copied.")
    if not problems and manifest["database"].endswith(".sqlite3"):
        problems += sqlite_problems(folder / manifest["database"])
    return problems


# --- The database ------------------------------------------------------------------------------------------------


def copy_database(fresh: Path) -> Path:
    """A proved copy of the database at one instant, as one file."""
    if connection.vendor == "sqlite":
        return copy_sqlite(Path(str(connection.settings_dict["NAME"])), fresh / "database.sqlite3")
    return dump_postgres(fresh / "database.pgdump")


def copy_sqlite(source: Path, target: Path) -> Path:
    """SQLite's online copy, proved by its own checks. Never a copy of the live file, which lacks the WAL's part."""
    partial = target.with_suffix(".partial")
    try:
        with (
            contextlib.closing(sqlite3.connect(f"{source.as_uri()}?mode=rw", uri=True, timeout=20)) as live,
            contextlib.closing(sqlite3.connect(partial)) as copy,
        ):
            live.backup(copy)
            # One file alone, that opens anywhere without a -wal beside it.
            copy.execute("PRAGMA journal_mode=DELETE")
    except sqlite3.Error as error:
        raise CopyFailed(f"The database could not be copied: {error}.") from error
    problems = sqlite_problems(partial)
    if problems:
        raise CopyFailed(problems[0])
    to_disk(partial)
    partial.rename(target)
    return target


def sqlite_problems(path: Path) -> list[str]:
    """What SQLite's own checks say against a file; empty where it is whole and every reference leads somewhere."""
    try:
        with contextlib.closing(sqlite3.connect(f"{path.as_uri()}?mode=ro&immutable=1", uri=True)) as copy:
            said = [row[0] for row in copy.execute("PRAGMA integrity_check")]
            astray = copy.execute("PRAGMA foreign_key_check").fetchall()
            tables = copy.execute("SELECT count(*) FROM sqlite_master WHERE type = 'table'").fetchone()[0]
    except sqlite3.Error as error:
        return [f"{path.name} cannot be read as a database: {error}."]
    problems = [] if said == ["ok"] else [f"{path.name} fails SQLite's integrity check: {said[0]}."]
    if astray:
        problems.append(f"{path.name} has {len(astray)} rows that refer to rows which are not there.")
    if not tables:
        problems.append(f"{path.name} holds no tables.")
    return problems


def dump_postgres(target: Path) -> Path:
    """pg_dump in its own format, proved by reading its table of contents back."""
    if not shutil.which("pg_dump") or not shutil.which("pg_restore"):
        raise CopyFailed(
            "PostgreSQL is not copied here: install its client programs (pg_dump, pg_restore) on this machine."
        )
    named = connection.settings_dict
    environment = {**os.environ, "PGCONNECT_TIMEOUT": "20"}
    options = {**named.get("OPTIONS", {}), "dbname": named["NAME"]}
    for key, variable in (
        ("HOST", "PGHOST"),
        ("PORT", "PGPORT"),
        ("USER", "PGUSER"),
        ("PASSWORD", "PGPASSWORD"),
    ):
        if named.get(key):
            # Not as arguments: those every user of the machine can read.
            environment[variable] = str(named[key])
    if options.get("sslmode"):
        environment["PGSSLMODE"] = str(options["sslmode"])
    for command in (
        ["pg_dump", "-Fc", "--no-password", "-f", str(target), str(options["dbname"])],
        ["pg_restore", "--list", str(target)],
    ):
        answer = subprocess.run(
            command, env=environment, stdin=subprocess.DEVNULL, capture_output=True, text=True
        )
        if answer.returncode:
            raise CopyFailed(f"{command[0]} could not copy the database: {answer.stderr.strip()[-500:]}")
    to_disk(target)
    return target


# --- The photos --------------------------------------------------------------------------------------------------


def copy_photos(fresh: Path, before: Path | None) -> dict[str, dict[str, Any]]:
    """Copy the photos; one that an earlier copy already holds is shared with it, never with the live folder."""
    source = Path(settings.MEDIA_ROOT)
    known = {}
    if before is not None:
        with contextlib.suppress(CopyFailed):
            known = read_manifest(before)["files"]
    files = {}
    for path in sorted(walk(source)):
        name = f"photos/{path.relative_to(source).as_posix()}"
        target = fresh / name
        target.parent.mkdir(parents=True, exist_ok=True)
        # A photo may be taken away between the listing and the copy.
        with contextlib.suppress(FileNotFoundError):
            live = describe(path)
            if before is None or known.get(name) != live or not share(before / name, target, live):
                shutil.copy2(path, target)
                to_disk(target)
            files[name] = live
    return files


def walk(folder: Path) -> Iterator[Path]:
    """Every plain file below a folder; links lead out of it and are left."""
    for where, _, names in os.walk(folder):
        for name in names:
            path = Path(where) / name
            if path.is_file() and not path.is_symlink():
                yield path


def share(earlier: Path, target: Path, live: dict[str, Any]) -> bool:
    """Link an earlier copy's file into this one if it still holds what it should."""
    try:
        if describe(earlier) != live:
            return False
        os.link(earlier, target)
    except OSError:
        return False
    return True


def describe(path: Path) -> dict[str, Any]:
    """A file's bytes and SHA-256."""
    digest = hashlib.sha256()
    size = 0
    with open(path, "rb") as handle:
        while chunk := handle.read(CHUNK_BYTES):
            digest.update(chunk)
            size += len(chunk)
    return {"bytes": size, "sha256": digest.hexdigest()}


# --- Folders and manifests ---------------------------------------------------------------------------------------


def write_manifest(fresh: Path, now: dt.datetime, database: str, files: dict[str, dict[str, Any]]) -> None:
    manifest = {
        "version": settings.VERSION,
        "made_at": now.astimezone(dt.UTC).isoformat(),
        "database": database,
        "files": files,
    }
    path = fresh / "manifest.json"
    path.write_text(json.dumps(manifest, indent=1, sort_keys=True), encoding="utf-8")
    to_disk(path)


def read_manifest(folder: Path) -> dict[str, Any]:
    try:
        manifest = json.loads((folder / "manifest.json").read_text(encoding="utf-8"))
        if not isinstance(manifest["files"], dict) or manifest["database"] not in manifest["files"]:
            raise KeyError("database")
    except (OSError, ValueError, KeyError, TypeError):
        raise CopyFailed(f"The copy of {folder.name} has no readable manifest.") from None
    return manifest


def good_copy(folder: Path) -> GoodCopy:
    """What a copy's manifest tells, if all its files are there in their sizes. Raises CopyFailed."""
    manifest = read_manifest(folder)
    for name, told in manifest["files"].items():
        try:
            size = (folder / name).stat().st_size
        except OSError:
            size = -1
        if size != told["bytes"]:
            raise CopyFailed(f"{name} in the copy of {folder.name} is missing or cut short.")
    return GoodCopy(
        made_at=dt.datetime.fromisoformat(manifest["made_at"]),
        folder=folder,
        database_bytes=manifest["files"][manifest["database"]]["bytes"],
        photos=len(manifest["files"]) - 1,
    )


def dated_folders(home: Path) -> list[Path]:
    """The copies by date, oldest first."""
    found = []
    for path in home.iterdir() if home.is_dir() else ():
        with contextlib.suppress(ValueError):
            dt.date.fromisoformat(path.name)
            found.append(path)
    return sorted(found)


def newest_folder(home: Path) -> Path | None:
    found = dated_folders(home)
    return found[-1] if found else None


def put_in_place(fresh: Path, named: Path) -> None:
    """Give the proved copy its name; the copy made earlier that day goes only then."""
    earlier = named.with_name(f"{REPLACED}{named.name}")
    if named.exists():
        named.rename(earlier)
    fresh.rename(named)
    to_disk(named.parent)
    shutil.rmtree(earlier, ignore_errors=True)


def clear_unfinished(home: Path) -> None:
    """Take away what a start that was cut off left; a copy that was just being replaced gets its name back."""
    for path in home.glob(f"{REPLACED}*"):
        named = path.with_name(path.name.removeprefix(REPLACED))
        if named.exists():
            shutil.rmtree(path, ignore_errors=True)
        else:
            path.rename(named)
    for path in home.glob(f"{UNFINISHED}*"):
        shutil.rmtree(path, ignore_errors=True)


def drop_all_but_the_last(home: Path, kept: int) -> None:
    for folder in dated_folders(home)[:-kept]:
        shutil.rmtree(folder, ignore_errors=True)


def to_disk(path: Path) -> None:
    """Wait until a file or folder lies on the disk itself."""
    if path.is_dir() and os.name != "posix":
        return
    descriptor = os.open(path, os.O_RDONLY if path.is_dir() or os.name == "posix" else os.O_RDWR)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
