"""Two at the packing table at once: a parcel is packed once, and sent once."""

from __future__ import annotations

import uuid

import pytest

from dyehouse.ledger.models import Line
from dyehouse.ledger.verify import breaches
from inventory.promises.models import PackedPieces, Parcel, ParcelEvent
from inventory.promises.parcels import pack_whole, send_off
from tests import factories
from tests.dyehouse.ledger.test_races import all_at_once
from tests.inventory.promises.factories import parcel

pytestmark = [pytest.mark.both_engines, pytest.mark.django_db(transaction=True)]


def test_packing_and_sending_at_once_packs_once_and_sends_once():
    who = factories.OwnerFactory()
    made = parcel(who=who)

    def pack(_: int) -> str:
        return pack_whole(parcel=made, key=uuid.uuid4(), who=who).state

    assert all_at_once(pack, people=6) == {"packed": 6}
    assert PackedPieces.objects.get().pieces == 1

    def send(_: int) -> str:
        return str(send_off(parcels=[made], key=uuid.uuid4(), who=who))

    assert all_at_once(send, people=6) == {"1": 1, "0": 5}
    assert Line.objects.filter(to_place__code="customer").count() == 1
    assert list(ParcelEvent.objects.order_by("pk").values_list("kind", flat=True)) == ["packed", "gone"]
    assert Parcel.objects.get().state == "gone"
    assert breaches() == []
