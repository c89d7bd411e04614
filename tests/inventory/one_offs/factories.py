"""One-offs out of a lot on a shelf."""

from __future__ import annotations

import uuid

from dyehouse.studio.models import User
from inventory import one_offs
from inventory.models import OneOff
from tests import factories


def one_off(name: str = "Reed Bunting", *, who: User | None = None) -> OneOff:
    """One piece of four on a shelf that goes by its own name."""
    owner = who or factories.OwnerFactory()
    lot, place, dyed = factories.shelved_lot(who=owner)
    named = [one_offs.Named(name)]
    return one_offs.take_one_offs(
        key=uuid.uuid4(), dye_lot=lot, dyed=dyed, place=place, named=named, who=owner
    )[0]
