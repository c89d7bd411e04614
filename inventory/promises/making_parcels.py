"""Parcels of all that is ready of a round, a product or an order, with whatever else is ready for the same people."""

from __future__ import annotations

from collections.abc import Sequence

from django.db import transaction

from dyehouse.studio.models import User
from inventory.promises.boxes import Stand
from inventory.promises.models import Parcel, PickBatch
from inventory.promises.parcel_queries import Group, groups_to_pack
from inventory.promises.parcels import MOST_IN_A_BATCH, NothingReady, make_batch, open_parcels


@transaction.atomic
def make_ready(*, key: str, who: User, asked_too: bool = False) -> list[PickBatch]:
    """Put all that is ready of one group, and all else that is ready for its people, into parcels in batches.

    `key` is that of a Group. `asked_too` takes in those whose address asks something. Raises NothingReady.
    """
    groups = groups_to_pack()
    ready = {group.key: _ready(group, asked_too=asked_too) for group in groups}
    mine = ready.get(key, [])
    if not mine:
        raise NothingReady("Nothing of this is ready for a parcel any more.")
    people = {stand.box.receiver_id for stand in mine}
    along = [stand for other in ready.values() for stand in other if stand.box.receiver_id in people]
    parcels = open_parcels(boxes=[stand.box for stand in along], who=who)
    return batches_of([parcel for parcel in parcels if parcel.batch_id is None], who=who)


def _ready(group: Group, *, asked_too: bool) -> list[Stand]:
    return group.ready + ([each.stand for each in group.asked] if asked_too else [])


@transaction.atomic
def batches_of(parcels: Sequence[Parcel], *, who: User) -> list[PickBatch]:
    """Parcels in as many batches as tables are needed; none where there is no parcel."""
    return [
        make_batch(parcels=parcels[at : at + MOST_IN_A_BATCH], who=who)
        for at in range(0, len(parcels), MOST_IN_A_BATCH)
    ]
