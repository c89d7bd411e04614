"""How the pieces of a pot lie: its sections along the hank are said, changed and taken away, and the log tells who said so."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from dyehouse.studio.models import User
from recipes.dyeing.lay import Lay, check_lay, lay_as_json, lay_from_json
from recipes.lots.log import add_entry
from recipes.lots.missing import LAY, NOTED
from recipes.lots.models import LogEntry, Pot, PotLoad
from recipes.models import Base

NO_SECTIONS = "no sections"


@transaction.atomic
def keep_lay(*, pot: Pot, lay: Lay, key: UUID, who: User, said_at: datetime | None = None) -> Pot:
    """Keep how a pot's pieces lie; a lay without sections takes it away. The log of a loaded pot gets a note of it.

    The same key again, or the same lay, changes nothing. Raises recipes.dyeing.lay.LayUnclear.
    """
    locked = Pot.objects.select_for_update().get(pk=pot.pk)
    plan = lay_as_json(check_lay(lay))
    if locked.lay_plan == plan or LogEntry.objects.filter(key=key).exists():
        return locked
    locked.lay_plan = plan
    locked.save(update_fields=["lay_plan"])
    if locked.loaded_at is not None:
        words = f"How it lies: {lay.words or NO_SECTIONS}"[:500]
        add_entry(
            pot=locked,
            key=key,
            kind=LogEntry.Kind.NOTE,
            who=who,
            happened_at=said_at or timezone.now(),
            name=NOTED[LAY],
            text=words,
            typed=words,
        )
    return locked


def main_base_of(loads: Sequence[PotLoad]) -> Base | None:
    """The base that most of a pot is of; None where nothing lies in it. The loads come with their bases."""
    if not loads:
        return None
    return max(loads, key=lambda load: load.dry_milligrams).put_up.base


def circumference_of(loads: Sequence[PotLoad]) -> int | None:
    """Once round the hank of a pot's main base, in millimetres; None where nobody has said."""
    base = main_base_of(loads)
    return None if base is None else base.hank_circumference_millimetres


def lay_of(pot: Pot, put_on: Iterable[LogEntry]) -> Lay | None:
    """A pot's lay, coloured by the dyes that its log puts on each section."""
    lay = lay_from_json(pot.lay_plan)
    if lay is None:
        return None
    return lay.coloured_by((entry.section, entry.dye.chip) for entry in put_on if entry.dye is not None)
