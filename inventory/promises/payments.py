"""Whether a box was paid: told by hand, many at once. How a membership stands is another matter."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable

from django.db import transaction
from django.utils import timezone

from dyehouse.studio.models import User
from dyehouse.studio.refusals import Refused
from inventory.promises.boxes import paid_kinds
from inventory.promises.models import Box, Payment, Round
from recipes.words import one_line


class NobodyTicked(Refused):
    """No box was chosen."""


@transaction.atomic
def say_paid(
    *, boxes: Iterable[Box], kind: str, who: User, why: str = "", now: dt.datetime | None = None
) -> int:
    """Write down how the payment of boxes stands; those of which the same was said last are left. How many were written.

    Raises NobodyTicked without boxes.
    """
    wanted = {box.pk: box for box in boxes}
    if not wanted:
        raise NobodyTicked("Tick at least one box.")
    # Two who say the same at once write it once.
    list(Box.objects.select_for_update().filter(pk__in=wanted).order_by("pk").values_list("pk"))
    said = paid_kinds(wanted)
    at = now or timezone.now()
    rows = [
        Payment(box=box, kind=kind, why=one_line(why)[:300], at=at, by=who)
        for box in wanted.values()
        if said.get(box.pk, Payment.Kind.DUE) != kind
    ]
    Payment.objects.bulk_create(rows)
    return len(rows)


@transaction.atomic
def all_paid_but(
    *, round: Round, these: Iterable[int], who: User, failed: bool = True, now: dt.datetime | None = None
) -> tuple[int, int]:
    """All boxes of a round are paid but these (ids), of which the payment failed or is still due. How many of each were written.

    What was given back stays as it is.
    """
    but = set(these)
    boxes = list(Box.objects.filter(round=round, withdrawn_at=None).order_by("pk"))
    said = paid_kinds([box.pk for box in boxes])
    paid = [
        box
        for box in boxes
        if box.pk not in but and said.get(box.pk) not in (Payment.Kind.PAID, Payment.Kind.REFUNDED)
    ]
    others = [box for box in boxes if box.pk in but]
    kind = Payment.Kind.FAILED if failed else Payment.Kind.DUE
    return (
        say_paid(boxes=paid, kind=Payment.Kind.PAID, who=who, now=now) if paid else 0,
        say_paid(boxes=others, kind=kind, who=who, now=now) if others else 0,
    )
