"""The task worker as the house runs it: quiet about coming and going, loud about work that failed."""

from __future__ import annotations

import logging
from typing import Any

from django_tasks_db.management.commands import db_worker


class Command(db_worker.Command):
    help = "Runs the house's long work, such as a year's labels, beside the server."

    def configure_logging(self, verbosity: int) -> None:
        super().configure_logging(verbosity)
        if verbosity == 1:
            logging.getLogger("django_tasks").setLevel(logging.WARNING)
            logging.getLogger("django_tasks_db").setLevel(logging.ERROR)

    def handle(self, **options: Any) -> None:
        super().handle(**options)
