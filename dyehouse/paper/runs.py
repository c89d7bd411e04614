"""What was printed is written down, and how many labels a lot has had."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import transaction
from django.db.models import Sum
from django.utils import timezone

from dyehouse.paper.models import PrintedCode, PrintRun
from dyehouse.studio.models import User


@transaction.atomic
def record_run(
    *,
    key: UUID,
    kind: str,
    who: User,
    counts: Mapping[str, int],
    sheet: str = "",
    start_at: int = 1,
    offset_x_um: int = 0,
    offset_y_um: int = 0,
    payload: Mapping[str, Any] | None = None,
    printed_at: datetime | None = None,
) -> PrintRun:
    """Write down a printing: pieces of paper by the short code of the lot or pot, in the order printed.

    The same key again gives the first run and writes nothing.
    """
    first = PrintRun.objects.filter(key=key).first()
    if first is not None:
        return first
    run = PrintRun.objects.create(
        key=key,
        kind=kind,
        printed_at=printed_at or timezone.now(),
        printed_by=who,
        count=sum(counts.values()),
        codes=list(counts),
        sheet=sheet,
        start_at=start_at,
        offset_x_um=offset_x_um,
        offset_y_um=offset_y_um,
        payload=dict(payload or {}),
    )
    PrintedCode.objects.bulk_create(
        PrintedCode(run=run, code=code, count=count) for code, count in counts.items() if count
    )
    return run


def printed_counts(codes: Iterable[str], *, kind: str = PrintRun.Kind.YARN_LABELS) -> dict[str, int]:
    """How many labels (or tags, or cards) were printed so far for each code that had any. One query."""
    rows = (
        PrintedCode.objects.filter(run__kind=kind, code__in=list(codes))
        .values("code")
        .annotate(printed=Sum("count"))
    )
    return {row["code"]: row["printed"] for row in rows}
