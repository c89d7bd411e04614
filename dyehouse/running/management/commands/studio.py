"""Opens the house: database, owner, server, worker and daily copies with one command."""

from __future__ import annotations

import argparse
import contextlib
import io
import os
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.db import connections

from dyehouse.running.address import (
    AlreadyRunning,
    NoPort,
    answers,
    free_port,
    lan_address,
    note_address,
    only_house_here,
    own_address,
)
from dyehouse.running.opening import (
    DatabaseAway,
    bring_database_up_to_date,
    collect_static,
    fill_demo,
    make_owner,
)
from dyehouse.running.supervisor import (
    Child,
    Copyist,
    Fell,
    StopAsked,
    keep_running,
    server_command,
    stop_on_signals,
    worker_command,
)


def port_number(typed: str) -> int:
    """A port as typed; 0 lets the system choose."""
    if not typed.isdigit() or int(typed) > 65535:
        raise argparse.ArgumentTypeError(
            f"{typed} is not a port; write a number up to 65535, for example 8620."
        )
    return int(typed)


class Command(BaseCommand):
    help = "Opens the house in the browser: makes what is missing, serves it until Ctrl-C, and copies it every day."

    def add_arguments(self, parser: Any) -> None:
        parser.add_argument("--demo", action="store_true", help="fill an empty house with an invented studio")
        parser.add_argument(
            "--lan", action="store_true", help="let phones on the same network in, and show a QR code"
        )
        parser.add_argument(
            "--port", type=port_number, default=None, help="the port; else the first free one from 8620"
        )
        parser.add_argument("--data", metavar="DIR", help="the folder for database, photos and copies")

    def handle(self, *args: Any, **options: Any) -> None:
        data = Path(settings.DATA)
        # Database, photos and copies are for this user of the machine alone.
        os.umask(0o077)
        try:
            with stop_on_signals(), only_house_here(data):
                self.open_house(data, demo=options["demo"], lan=options["lan"], asked_port=options["port"])
        except StopAsked:
            self.say("\nThe house is closed. Everything is kept.")
        except (AlreadyRunning, NoPort, Fell, DatabaseAway) as reason:
            raise CommandError(str(reason)) from None

    def open_house(self, data: Path, *, demo: bool, lan: bool, asked_port: int | None) -> None:
        host = "0.0.0.0" if lan else "127.0.0.1"  # noqa: S104
        port = free_port(host, asked_port)
        self.say(f"The house keeps its data in {data}.")
        bring_database_up_to_date(self.say)
        collect_static(self.say)
        make_owner(self.say)
        if demo:
            fill_demo(self.say)
        # The children have their own connections; an open one here would only keep the database's log from shrinking.
        connections.close_all()

        on_network = lan_address() if lan else None
        environment = {**os.environ, "DYEHOUSE_DATA": str(data), "PYTHONUNBUFFERED": "1"}
        if on_network:
            environment["DYEHOUSE_HOSTS"] = ",".join([*settings.ALLOWED_HOSTS, on_network])
        copyist = Copyist(self.say)

        def opened() -> None:
            note_address(data, own_address(port))
            self.tell_address(port, lan, on_network)
            copyist.start()

        try:
            keep_running(
                [
                    Child("The server", server_command(host, port), environment),
                    Child("The task worker", worker_command(), environment),
                ],
                ready=lambda: answers(port),
                opened=opened,
            )
        finally:
            copyist.stop.set()

    def tell_address(self, port: int, lan: bool, on_network: str | None) -> None:
        self.say(f"The house is open: {own_address(port)}")
        if on_network:
            import segno

            address = f"http://{on_network}:{port}/"
            self.say(f"On a phone in the same network: {address}")
            drawn = io.StringIO()
            segno.make_qr(address).terminal(out=drawn, compact=True)
            # A terminal without block characters still has the address in letters.
            with contextlib.suppress(UnicodeEncodeError):
                self.say(drawn.getvalue())
        elif lan:
            self.say("This machine is on no network now, so a phone cannot reach it yet.")
        self.say("Ctrl-C closes it.")

    def say(self, line: str) -> None:
        self.stdout.write(line)
        self.stdout.flush()
