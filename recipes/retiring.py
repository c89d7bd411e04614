"""What is no longer used: taken out of every list to choose from, kept in every record, and brought back at will."""

from __future__ import annotations

from dataclasses import dataclass

from django.db import transaction
from django.utils import timezone

from recipes.models import Auxiliary, Base, Dye

Retirable = Base | Dye | Auxiliary


@transaction.atomic
def retire(*, thing: Retirable) -> None:
    """Take a base, a dye or an auxiliary out of use. What is left of it stays in the book; retiring it again changes nothing."""
    locked = type(thing).objects.select_for_update().get(pk=thing.pk)
    locked.retired_at = locked.retired_at or timezone.now()
    locked.save(update_fields=["retired_at"])


@transaction.atomic
def bring_back(*, thing: Retirable) -> None:
    """Take it into use again; what is in use stays so."""
    locked = type(thing).objects.select_for_update().get(pk=thing.pk)
    locked.retired_at = None
    locked.save(update_fields=["retired_at"])


@dataclass(frozen=True, slots=True)
class NoLongerUsed:
    """Everything that was taken out of use, by kind and name."""

    bases: list[Base]
    dyes: list[Dye]
    auxiliaries: list[Auxiliary]

    @property
    def any(self) -> bool:
        return bool(self.bases or self.dyes or self.auxiliaries)


def no_longer_used() -> NoLongerUsed:
    """What was taken out of use. Three queries."""
    return NoLongerUsed(
        bases=list(Base.objects.filter(retired_at__isnull=False).order_by("name")),
        dyes=list(Dye.objects.filter(retired_at__isnull=False).order_by("name")),
        auxiliaries=list(Auxiliary.objects.filter(retired_at__isnull=False).order_by("name")),
    )
