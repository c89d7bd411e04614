"""The invented studio: its sizes, its ledger, the same each time, and a page of everything to show."""

from __future__ import annotations

import datetime as dt
import hashlib

import pytest
from django.db import transaction
from django.db.models import Count
from django.test import Client
from django.urls import reverse

from dyehouse.demo.fill import fill_house, is_empty
from dyehouse.ledger.models import Balance, Line
from dyehouse.ledger.verify import breaches
from dyehouse.studio.models import User
from recipes.lots.jugs import lots_from_its_jugs
from recipes.lots.learning import learned_before, propose_way
from recipes.lots.models import DyeLot, LogEntry, Pot, ReferenceChoice, WayOrigin
from recipes.models import Base, Colourway, Dye, Mix, StockBottle, WayOfDyeing

NOW = dt.datetime(2026, 11, 20, 15, 0, tzinfo=dt.UTC)


class Undone(Exception):
    """Raised to leave no trace of a filled house."""


def digest_of_the_year() -> str:
    """What was done in all pots but those of today."""
    rows = (
        LogEntry.objects.filter(pot__made_at__lt=NOW - dt.timedelta(days=1))
        .order_by("key")
        .values_list("key", "pot__code", "kind", "typed", "milligrams", "microlitres", "happened_at")
    )
    return hashlib.sha256(repr(list(rows)).encode()).hexdigest()


@pytest.mark.django_db(transaction=True)
def test_the_same_moment_gives_the_same_house_and_it_holds_together():
    assert is_empty()
    digests = []
    with pytest.raises(Undone), transaction.atomic():  # noqa: PT012 - all of it is to be undone
        fill_house(NOW)
        digests.append(digest_of_the_year())
        raise Undone
    assert is_empty()

    fill_house(NOW)

    assert digests == [digest_of_the_year()]
    assert not is_empty()
    assert breaches() == []
    # Sizes: 8 bases, 12-25 dyes, 30 stock bottles, 45 colourways, about 140 combinations, three sessions a week.
    assert Base.objects.count() == 8
    assert 12 <= Dye.objects.count() <= 25
    assert StockBottle.objects.filter(finished_at__isnull=True).count() >= 30
    assert Colourway.objects.exclude(name="").count() == 45
    learned = WayOfDyeing.objects.filter(departs_from=None, from_notes=False)
    assert 120 <= learned.count() == ReferenceChoice.objects.count() <= 160
    corrected = WayOfDyeing.objects.exclude(departs_from=None)
    assert 3 <= corrected.count() <= 10
    for origin in WayOrigin.objects.select_related("pot").order_by("pk")[::14]:
        before = learned_before(propose_way(origin.pot))
        assert before is not None
        assert before.departs == []
    assert Pot.objects.count() > 600
    assert Line.objects.count() > 7_000
    assert Balance.objects.filter(place__kind="shelf", on_hand__gt=0).count() > 40
    assert Pot.objects.filter(loaded_at__isnull=False, out_at__isnull=True).count() == 4

    (jug_lot,) = DyeLot.objects.annotate(count=Count("pots")).filter(count__gt=1)
    assert lots_from_its_jugs(jug_lot.pots.first())[0].joins
    assert not LogEntry.objects.filter(kind="mix").exclude(question="").exists()
    assert Mix.objects.filter(finished_at=None).count() == 1

    lot = DyeLot.objects.order_by("-made_at").first()
    pot = Pot.objects.filter(out_at__isnull=True, loaded_at__isnull=False).first()
    assert lot is not None
    assert pot is not None
    addresses = [reverse(name) for name in ("day", "pots", "store", "colourways", "shelf", "labels")] + [
        reverse("pot", args=[pot.code]),
        reverse("lot", args=[lot.code]),
        reverse("lot", args=[jug_lot.code]),
        reverse("lot-judge", args=[jug_lot.code]),
        reverse("mixes"),
        reverse("mix", args=[Mix.objects.latest("pk").code]),
        reverse("before-day"),
        reverse("lot-judge", args=[lot.code]),
        reverse("colourway", args=[lot.colourway.code]),
        reverse("redye", args=[lot.colourway.code]),
        reverse("colourway", args=[corrected[0].colourway.code]),
        reverse("redye", args=[corrected[0].colourway.code]),
        reverse("way", args=[corrected[0].pk]),
    ]
    secrets = [each for each in Colourway.objects.all() if each.is_secret]
    for person in User.objects.all():
        client = Client()
        client.force_login(person)
        for address in addresses:
            answer = client.get(address)
            assert answer.status_code == 200, address
            if not person.is_owner:
                page = answer.content.decode()
                assert not [each.name for each in secrets if each.name in page], address
