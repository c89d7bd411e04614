"""Yarn that was wound off, for tests."""

from __future__ import annotations

import uuid

from inventory import putups
from inventory.models import PutUpChange
from recipes import yarn
from tests import factories


def put_up_change() -> PutUpChange:
    """One skein of a shelved lot wound off into five minis."""
    owner = factories.OwnerFactory()
    lot, place, dyed = factories.shelved_lot(who=owner)
    minis = yarn.add_put_up(base=dyed.put_up.base, nominal_milligrams=20_000, name="mini")
    return putups.change_put_up(
        key=uuid.uuid4(), of=putups.Dyed(dyed, lot, place), pieces=1, made={minis: 5}, who=owner
    )
