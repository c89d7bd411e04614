"""What was printed is written down, and how many labels a lot has had."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID, uuid4

from django.db import transaction
from django.db.models import Max, Sum
from django.utils import timezone

from dyehouse.paper.models import PrintedCode, PrintRun
from dyehouse.paper.sheets import Sheet
from dyehouse.studio.models import User


@transaction.atomic
def record_run(
    *,
    key: UUID,
    kind: str,
    who: User,
    counts: Mapping[str, int],
    pieces: int | None = None,
    sheet: str = "",
    start_at: int = 1,
    offset_x_um: int = 0,
    offset_y_um: int = 0,
    names_opened: bool = False,
    payload: Mapping[str, Any] | None = None,
    printed_at: datetime | None = None,
) -> PrintRun:
    """Write down a printing: pieces of paper by the short code of the lot or pot, in the order printed.

    `pieces` is said where they are not the sum of the counts: stickers for no lot, one list for many pots.

    The same key with the same paper gives the first run and writes nothing. With other paper, as from a page that stayed
    open after a first printing, it is another run under a key of its own.
    """
    first = PrintRun.objects.filter(key=key).first()
    if first is not None:
        before = (
            first.kind,
            first.sheet,
            first.start_at,
            first.offset_x_um,
            first.offset_y_um,
            first.payload,
        )
        # Through JSON, as it comes back from the database.
        same = json.loads(json.dumps(dict(payload or {})))
        if before == (kind, sheet, start_at, offset_x_um, offset_y_um, same):
            return first
        key = uuid4()
    run = PrintRun.objects.create(
        key=key,
        kind=kind,
        printed_at=printed_at or timezone.now(),
        printed_by=who,
        count=sum(counts.values()) if pieces is None else pieces,
        codes=list(counts),
        sheet=sheet,
        start_at=start_at,
        offset_x_um=offset_x_um,
        offset_y_um=offset_y_um,
        names_opened=names_opened,
        payload=dict(payload or {}),
    )
    PrintedCode.objects.bulk_create(
        PrintedCode(run=run, code=code, count=count) for code, count in counts.items() if count
    )
    return run


@dataclass(frozen=True, slots=True)
class Printed:
    """How many pieces of paper a lot or pot has had, and when the last of them."""

    count: int
    last_at: datetime


def printed_for(codes: Iterable[str], *, kind: str = PrintRun.Kind.YARN_LABELS) -> dict[str, Printed]:
    """What was printed so far for each code that had any. One query."""
    rows = (
        PrintedCode.objects.filter(run__kind=kind, code__in=list(codes))
        .values_list("code")
        .annotate(Sum("count"), Max("run__printed_at"))
    )
    return {code: Printed(count, last_at) for code, count, last_at in rows}


def printed_counts(codes: Iterable[str], *, kind: str = PrintRun.Kind.YARN_LABELS) -> dict[str, int]:
    """How many labels (or tags, or cards) were printed so far for each code that had any. One query."""
    return {code: printed.count for code, printed in printed_for(codes, kind=kind).items()}


def next_label(sheet: Sheet) -> int:
    """The label after the last one that was printed on such a sheet, where the next printing may begin; 1 on a new sheet.

    One query.
    """
    last = PrintRun.objects.filter(sheet=sheet.slug).order_by("-id").values_list("start_at", "count").first()
    if last is None:
        return 1
    start_at, count = last
    return int((start_at - 1 + count) % sheet.labels) + 1
