"""Opens the house: database, owner, server, worker and daily copies with one command."""

from __future__ import annotations

import argparse
import contextlib
import io
import os
from dataclasses import dataclass
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
    free_port_after,
    lan_address,
    local_name,
    note_address,
    only_house_here,
    own_address,
)
from dyehouse.running.certificate import HouseCertificate, house_certificate, may_be_vouched_for
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


@dataclass(frozen=True, slots=True)
class PhonesWay:
    """How phones on the network reach this house: plain, and over HTTPS with the house's own certificate."""

    on_network: str | None
    name: str | None
    port: int
    https_port: int
    certificate: HouseCertificate

    @classmethod
    def now(cls, data: Path, host: str, port: int) -> PhonesWay:
        on_network, name = lan_address(), local_name()
        certificate = house_certificate(
            data,
            ["localhost", "127.0.0.1", *filter(None, [on_network, name]), *settings.ALLOWED_HOSTS],
        )
        return cls(on_network, name, port, free_port_after(host, port), certificate)

    @property
    def http(self) -> str:
        return f"http://{self.on_network}:{self.port}/" if self.on_network else ""

    @property
    def https(self) -> str:
        """Empty on a network that is nobody's own, whose addresses the house's authority may not vouch for."""
        if not self.on_network or not may_be_vouched_for(self.on_network):
            return ""
        return f"https://{self.on_network}:{self.https_port}/"

    def environment(self) -> dict[str, str]:
        """What both servers are told, so that their pages lead a phone the right way."""
        hosts = [*settings.ALLOWED_HOSTS, *filter(None, [self.on_network, self.name])]
        return {
            "DYEHOUSE_HOSTS": ",".join(hosts),
            "DYEHOUSE_PHONES_HTTP": self.http,
            "DYEHOUSE_PHONES_HTTPS_PORT": str(self.https_port),
            "DYEHOUSE_PHONES_NAME": self.name or "",
        }


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

        phones = PhonesWay.now(data, host, port) if lan else None
        environment = {**os.environ, "DYEHOUSE_DATA": str(data), "PYTHONUNBUFFERED": "1"}
        if phones:
            environment |= phones.environment()
        copyist = Copyist(self.say)

        def ready() -> bool:
            return answers(port) and (
                phones is None or answers(phones.https_port, authority=phones.certificate.authority)
            )

        def opened() -> None:
            note_address(data, own_address(port), https_port=phones.https_port if phones else None)
            self.tell_address(port, phones)
            copyist.start()

        children = [
            Child("The server", server_command(host, port), environment),
            Child("The task worker", worker_command(), environment),
        ]
        if phones:
            command = server_command(host, phones.https_port, phones.certificate)
            children.append(
                Child("The server for phones", command, {**environment, "DYEHOUSE_OWN_HTTPS": "1"})
            )
        try:
            keep_running(children, ready=ready, opened=opened)
        finally:
            copyist.stop.set()

    def tell_address(self, port: int, phones: PhonesWay | None) -> None:
        self.say(f"The house is open: {own_address(port)}")
        if phones and phones.on_network:
            import segno

            address = f"{phones.http}phone/"
            self.say(f"On a phone in the same network: {address}")
            drawn = io.StringIO()
            segno.make_qr(address).terminal(out=drawn, compact=True)
            # A terminal without block characters still has the address in letters.
            with contextlib.suppress(UnicodeEncodeError):
                self.say(drawn.getvalue())
            if phones.https:
                self.say(
                    f"Once the phone trusts this house, the pot pages work without network: {phones.https}"
                )
        elif phones:
            self.say("This machine is on no network now, so a phone cannot reach it yet.")
        self.say("Ctrl-C closes it.")

    def say(self, line: str) -> None:
        self.stdout.write(line)
        self.stdout.flush()
