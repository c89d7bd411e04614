"""The invented house as its owner and its helper open it: full pages, few queries, its sizes, nothing real."""

from __future__ import annotations

import datetime as dt
import hashlib
from dataclasses import dataclass, field

import pytest
from django.db import connection, transaction
from django.db.models import Count
from django.test import Client
from django.urls import reverse

from dyehouse.day.queries import day_page
from dyehouse.demo import invented
from dyehouse.demo.fill import fill_house, is_empty
from dyehouse.ledger.models import Balance, Line, Movement
from dyehouse.ledger.verify import breaches
from dyehouse.studio.models import Studio, User
from recipes.lots.jugs import lots_from_its_jugs
from recipes.lots.learning import learned_before, propose_way
from recipes.lots.models import DyeLot, LogEntry, Pot, ReferenceChoice, WayOrigin
from recipes.models import Base, Colourway, Dye, Mix, StockBottle, WayOfDyeing

NOW = dt.datetime(2026, 11, 20, 15, 0, tzinfo=dt.UTC)
MAIN_PAGES = ("day", "pots", "store", "colourways", "shelf", "labels")


def digest_of_the_year() -> str:
    """What was done in all pots but those of today."""
    rows = (
        LogEntry.objects.filter(pot__made_at__lt=NOW - dt.timedelta(days=1))
        .order_by("key")
        .values_list("key", "pot__code", "kind", "typed", "milligrams", "microlitres", "happened_at")
    )
    return hashlib.sha256(repr(list(rows)).encode()).hexdigest()


@dataclass
class Filled:
    """How the house was before, and what the year is told as, time after time."""

    was_empty: list[bool] = field(default_factory=list)
    digests: list[str] = field(default_factory=list)

    def fill(self) -> None:
        self.was_empty.append(is_empty())
        fill_house(NOW)
        self.digests.append(digest_of_the_year())


@pytest.fixture(scope="module")
def house(django_db_setup, django_db_blocker):
    """One house for all tests here, filled twice, in the studio of an owner who was there first; undone at the end."""
    filled = Filled()
    with django_db_blocker.unblock(), transaction.atomic():
        owner = User.objects.create(username="ingrid", role=User.Role.OWNER, called="Ingrid")
        here = Studio.current()
        here.name = "Weir End"
        here.save()
        with transaction.atomic():
            filled.fill()
            connection.check_constraints()
            transaction.set_rollback(True)
        filled.fill()
        yield filled
        transaction.set_rollback(True)
    with django_db_blocker.unblock():
        assert is_empty()
        assert not User.objects.filter(pk=owner.pk).exists()


@pytest.fixture(params=[User.Role.OWNER, User.Role.HELPER])
def person(house, db, request) -> User:
    return User.objects.get(role=request.param)


@pytest.fixture
def client(person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def test_a_house_is_empty_before_it_is_filled_and_not_after(house: Filled, db):
    assert house.was_empty == [True, True]
    assert not is_empty()


def test_the_same_moment_gives_the_same_house(house: Filled, db):
    assert house.digests[0] == house.digests[1]


def test_an_owner_and_a_studio_that_were_there_keep_their_names(house, db):
    assert Studio.current().name == "Weir End"
    assert User.objects.get(role=User.Role.OWNER).username == "ingrid"
    assert User.objects.get(role=User.Role.HELPER).called == invented.HELPER_NAME


def test_the_house_has_the_sizes_of_a_studio_with_a_year_behind_it(house, db):
    # Sizes: 8 bases, 12-25 dyes, 30 stock bottles, 45 colourways, about 140 combinations, three sessions a week.
    assert Base.objects.count() == 8
    assert Dye.objects.count() == 21
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


def test_a_lot_of_several_pots_came_from_one_jug(house, db):
    (jug_lot,) = DyeLot.objects.annotate(count=Count("pots")).filter(count__gt=1)
    assert lots_from_its_jugs(jug_lot.pots.first())[0].joins
    assert not LogEntry.objects.filter(kind="mix").exclude(question="").exists()
    assert Mix.objects.filter(finished_at=None).count() == 1


def test_the_ledgers_own_check_finds_nothing(house, db):
    assert breaches() == []


def test_nothing_happened_after_the_moment_that_the_house_was_filled_for(house, db):
    assert not Movement.objects.filter(happened_at__gt=NOW).exists()
    assert not LogEntry.objects.filter(happened_at__gt=NOW).exists()
    assert not Pot.objects.filter(out_at__gt=NOW).exists()


def test_every_name_in_the_house_is_one_of_the_invented(house, db):
    assert set(Base.objects.values_list("name", flat=True)) == {base.name for base in invented.BASES}
    assert set(Dye.objects.values_list("name", flat=True)) == {dye.name for dye in invented.DYES}
    assert set(Colourway.objects.exclude(name="").values_list("name", flat=True)) == {
        colourway.name for colourway in invented.COLOURWAYS
    }


def test_the_day_shows_something_of_all_that_waits_for_a_hand(house, person):
    day = day_page(user=person, now=NOW)

    assert not day.empty
    assert len(day.in_work) == 4
    for stage in ("planned", "to_judge", "to_shelf", "to_label", "found"):
        assert getattr(day, stage), stage


def test_the_day_is_read_in_few_queries_with_a_year_behind_it(house, person, django_assert_max_num_queries):
    # Twelve for the whole page, of which the session, the person and the studio take three.
    with django_assert_max_num_queries(9):
        day_page(user=person, now=NOW)


def test_pages_of_everything_open_and_tell_the_helper_no_secret(client, person):
    lot = DyeLot.objects.order_by("-made_at").first()
    pot = Pot.objects.filter(out_at__isnull=True, loaded_at__isnull=False).first()
    (jug_lot,) = DyeLot.objects.annotate(count=Count("pots")).filter(count__gt=1)
    corrected = WayOfDyeing.objects.exclude(departs_from=None).first()
    assert None not in (lot, pot, corrected)
    addresses = [reverse(name) for name in MAIN_PAGES] + [
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
        reverse("colourway", args=[corrected.colourway.code]),
        reverse("redye", args=[corrected.colourway.code]),
        reverse("way", args=[corrected.pk]),
    ]
    secrets = [each.name for each in Colourway.objects.all() if each.is_secret]
    for address in addresses:
        answer = client.get(address)
        assert answer.status_code == 200, address
        if not person.is_owner:
            page = answer.content.decode()
            assert not [name for name in secrets if name in page], address
