"""What work and small things usually cost, from a day on, and what one pot really took."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from dyehouse.ledger.models import Line
from dyehouse.studio.models import User
from dyehouse.studio.refusals import Refused
from inventory.costing.again import all_costs_again, costs_again
from inventory.costing.models import PotCosts, UsualCosts
from inventory.costing.working_out import STAGES
from recipes.lots.models import Pot

SECONDS = tuple(f"{stage}_seconds" for stage in STAGES)
USUAL = (*SECONDS, "wage_minor", "energy_minor", "label_minor", "kit_minor", "kit_seconds", "second_percent")


class NotUsual(Refused):
    """A figure that is below nothing, or a share above the whole."""


@transaction.atomic
def say_usual(*, key: UUID, from_day: dt.date, figures: Mapping[str, int | None], who: User) -> UsualCosts:
    """Write down what is usual from a day on: seconds, and smallest units of the studio's money; None is not known.

    Earlier days keep what was said for them. The same key again gives the first. Raises NotUsual.
    """
    first = UsualCosts.objects.filter(key=key).first()
    if first is not None:
        return first
    _refuse_below_nothing(figures)
    percent = figures.get("second_percent")
    if percent is not None and percent > 100:
        raise NotUsual("A second brings at most its full price. Write a share from 0 to 100 %.")
    said = UsualCosts.objects.create(
        key=key,
        from_day=from_day,
        said_at=timezone.now(),
        by=who,
        **{name: figures.get(name) for name in USUAL},
    )
    all_costs_again()
    return said


@transaction.atomic
def say_pot_costs(*, key: UUID, pot: Pot, figures: Mapping[str, int | None], who: User) -> PotCosts:
    """Write down what one pot really took, all its pieces together; what is None is as usual.

    The same key again gives the first. Raises NotUsual.
    """
    first = PotCosts.objects.filter(key=key).first()
    if first is not None:
        return first
    _refuse_below_nothing(figures)
    said = PotCosts.objects.create(
        key=key,
        pot=pot,
        said_at=timezone.now(),
        by=who,
        **{name: figures.get(name) for name in (*SECONDS, "energy_minor")},
    )
    made = Line.objects.filter(movement__source=f"pot:{pot.code}", from_place__code="made")
    costs_again(made.values_list("item_id", "lot_id"))
    return said


def _refuse_below_nothing(figures: Mapping[str, int | None]) -> None:
    if any(value is not None and value < 0 for value in figures.values()):
        raise NotUsual("Minutes and money are 0 or more. Leave empty what is not known.")


def usual_now(on: dt.date | None = None) -> UsualCosts | None:
    """What is usual on a day, today unless said otherwise; before the first that was said, that one. One query."""
    day = on or timezone.localdate()
    said = list(UsualCosts.objects.order_by("from_day", "id"))
    return next((row for row in reversed(said) if row.from_day <= day), said[0] if said else None)


def pot_costs(pot: Pot) -> PotCosts | None:
    """What was said last of a pot."""
    return PotCosts.objects.filter(pot=pot).order_by("-id").first()
