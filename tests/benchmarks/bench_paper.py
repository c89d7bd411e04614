"""Labels: what drawing each distinct one once is worth, and what a thousand that differ take of the machine."""

from __future__ import annotations

import os
import subprocess
import sys
from decimal import Decimal
from typing import Any

from tests.benchmarks.harness import benchmark, stopwatch

LOTS, LABELS, ONE_OFFS = 50, 1_200, 500


def _label(number: int) -> Any:
    from dyehouse.paper.composition import Market, fibre_line
    from dyehouse.paper.yarn_label import YarnLabel
    from dyehouse.paper.yarn_words import care_words, origin_words

    shares = {"wool": 750, "nylon": 250}
    code = f"K{number:04d}"
    return YarnLabel(
        studio="Weir Lane Dyeworks",
        colourway=f"Slate after Rain {number}",
        base="Harbour Sock",
        fibres=fibre_line(shares, Market.EU).line,
        nominal_milligrams=100_000,
        metres=400,
        lot=code,
        qr=code,
        care=care_words(shares, superwash=True),
        origin=origin_words(spun_in="PE", dyed_in="IE"),
        maker="2 Weir Lane, Ballydun, Ireland, post@weirlane.example",
    )


@benchmark("labels_beside_plain", bar=12, unit="times", better="more", database=False)
def labels_beside_plain() -> Decimal:
    """1,200 labels of 50 lots on A4 3 x 8 as the house prints them, beside one plain WeasyPrint document of them all."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "dyehouse.settings")
    import django

    django.setup()
    from dyehouse.paper.label_said import code_of
    from dyehouse.paper.placed import pdf_of_pages
    from dyehouse.paper.sheets import sheet_named
    from dyehouse.paper.yarn_label import lay_out, yarn_labels

    sheet = sheet_named("a4-3x8")
    labels = [_label(number) for number in range(LOTS) for _ in range(LABELS // LOTS)]
    # Fonts, templates and WeasyPrint itself are loaded before either is measured.
    yarn_labels(labels[:1], sheet)
    with stopwatch() as ours:
        yarn_labels(labels, sheet)
    # The plain document is spared finding the size of each label's type: its pages are laid out already.
    page_of = {label: lay_out(label, sheet).page for label in set(labels)}
    pages = [page_of[label] for label in labels]
    codes = {label.qr: code_of(label, sheet).png for label in set(labels)}
    with stopwatch() as plain:
        pdf_of_pages(pages, sheet.label_width_um, sheet.label_height_um, title="Labels", pictures=codes)
    return plain.seconds / ours.seconds


@benchmark("one_offs_memory", bar=350, unit="MB")
def one_offs_memory() -> Decimal:
    """The most memory that a worker takes which draws 500 labels that all differ."""
    import uuid

    from django.db import connection

    from dyehouse.paper.long_printing import start_long_printing
    from dyehouse.paper.sheets import Offset, sheet_named
    from dyehouse.studio.models import User

    start_long_printing(
        key=uuid.uuid4(),
        who=User.objects.create(username="una", role=User.Role.OWNER),
        labels=[_label(number) for number in range(ONE_OFFS)],
        sheet=sheet_named("a4-3x8"),
        start_at=1,
        offset=Offset(),
    )
    connection.close()
    answer = subprocess.run(
        [sys.executable, "-c", _WORKER], check=True, capture_output=True, text=True, env=dict(os.environ)
    )
    return Decimal(answer.stdout.split()[-1]) / 1024


_WORKER = """
import resource
import django
django.setup()
from django.core.management import call_command
call_command("house_worker", batch=True, interval=0.1, reload=False)
from dyehouse.paper.models import PrintJob
assert PrintJob.objects.get().state == "done", PrintJob.objects.get().why
print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)
"""
