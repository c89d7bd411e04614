"""What happens before the doors open: the database's tables, the static files, the owner's sign-in, the demo."""

from __future__ import annotations

import getpass
import hashlib
import os
import secrets
import sys
import time
from collections.abc import Callable
from pathlib import Path

from django.conf import settings
from django.contrib.auth import get_user_model
from django.contrib.staticfiles.finders import get_finders
from django.core.exceptions import ValidationError
from django.core.management import call_command
from django.db import OperationalError, connection
from django.db.migrations.executor import MigrationExecutor

from dyehouse.running.copies import CopyFailed, make_copy

Say = Callable[[str], None]
# Read aloud and typed once: no letters or figures that are taken for each other.
PASSWORD_LETTERS = "abcdefghjkmnpqrstuvwxyz23456789"  # noqa: S105


class DatabaseAway(Exception):
    """The database does not answer; str() says what to look at."""


def bring_database_up_to_date(say: Say) -> None:
    """Make or migrate the tables; what is there already is copied first. Raises DatabaseAway."""
    try:
        connection.ensure_connection()
    except OperationalError as away:
        name = connection.settings_dict["NAME"]
        raise DatabaseAway(
            f"The database {name} does not answer: {str(away).strip().splitlines()[-1]}. Make it (createdb {name}), "
            "or put its right address into DATABASE_URL, and start again."
            if connection.vendor == "postgresql"
            else f"The database {name} does not open: {away}. Look whether its folder is there and may be written."
        ) from None
    executor = MigrationExecutor(connection)
    plan = executor.migration_plan(executor.loader.graph.leaf_nodes())
    if not plan:
        return
    if executor.loader.applied_migrations:
        say("The database needs new tables or columns; copying it first.")
        try:
            make_copy()
        except CopyFailed as reason:
            say(f"{reason} Going on without that copy.")
    else:
        say("Making the database.")
    call_command("migrate", interactive=False, verbosity=0)


def collect_static(say: Say) -> None:
    """Collect stylesheets, scripts and fonts where the server takes them from, only when any of them changed."""
    root = Path(settings.STATIC_ROOT)
    stamp = root.with_name("static-stamp")
    wanted = static_fingerprint()
    if root.is_dir() and stamp.is_file() and stamp.read_text(encoding="ascii") == wanted:
        return
    say("Collecting stylesheets, scripts and fonts.")
    stamp.unlink(missing_ok=True)
    call_command("collectstatic", interactive=False, clear=True, verbosity=0)
    stamp.write_text(wanted, encoding="ascii")


def static_fingerprint() -> str:
    """Changes with the version and with any static file's name, size or time."""
    digest = hashlib.sha256(settings.VERSION.encode())
    for finder in get_finders():
        for name, storage in finder.list([]):
            status = os.stat(storage.path(name))
            digest.update(f"{name}\0{status.st_size}\0{status.st_mtime_ns}\n".encode())
    return digest.hexdigest()


def make_owner(say: Say) -> None:
    """The owner's sign-in, on the first start only: asked for on a terminal, else made up and said once."""
    people = get_user_model()
    if people._default_manager.filter(role="owner").exists():
        return
    given = os.environ.get("DYEHOUSE_OWNER_PASSWORD")
    if given:
        add_owner("owner", given)
        say("The owner signs in as owner, with the password from DYEHOUSE_OWNER_PASSWORD.")
    elif sys.stdin.isatty():
        ask_for_owner(say)
    else:
        password = "-".join("".join(secrets.choice(PASSWORD_LETTERS) for _ in range(5)) for _ in range(4))
        add_owner("owner", password)
        say("The owner's sign-in was made. Write it down, it is shown this once:")
        say("  name      owner")
        say(f"  password  {password}")


def ask_for_owner(say: Say) -> None:
    """Ask at the terminal until there is a sign-in."""
    say("Who owns this house? This makes the owner's sign-in.")
    username = input("Sign-in name [owner]: ").strip() or "owner"
    while True:
        password = getpass.getpass("Password (10 characters or more): ")
        if password != getpass.getpass("The same password again: "):
            say("The two passwords differ. Type the same one twice.")
            continue
        try:
            add_owner(username, password)
            return
        except ValidationError as error:
            say(" ".join(error.messages))


def add_owner(username: str, password: str) -> None:
    """Let the owner sign in. Raises ValidationError when the password is too easy."""
    from dyehouse.studio.people import add_person

    add_person(username=username, called="", role="owner", password=password)


def fill_demo(say: Say) -> None:
    """Fill an empty house with the invented studio; one with something in it is left alone."""
    from dyehouse.demo.fill import fill_house, is_empty

    if not is_empty():
        say("The house is not empty, so the demo was not put into it.")
        return
    say("Filling the house with an invented studio and its year.")
    started = time.monotonic()
    fill_house()
    say(f"The demo is in after {time.monotonic() - started:.0f} s.")
