"""Check the ledger against its own lines."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandParser
from django.db.utils import DEFAULT_DB_ALIAS

from dyehouse.ledger.models import Line, Movement
from dyehouse.ledger.verify import breaches


class Command(BaseCommand):
    help = "Reckons every balance and hold again from the lines, and names what differs. Exits with 1 if anything does."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument(
            "--database", default=DEFAULT_DB_ALIAS, help="Which database, by its name in the settings."
        )

    def handle(self, *_: Any, **options: Any) -> None:
        using = options["database"]
        found = breaches(using=using)
        for sentence in found:
            self.stderr.write(sentence)
        if found:
            self.stderr.write(f"The ledger does not agree with itself in {len(found)} places.")
            raise SystemExit(1)
        movements, lines = Movement.objects.using(using).count(), Line.objects.using(using).count()
        self.stdout.write(f"The ledger agrees with its {lines} lines in {movements} movements.")
