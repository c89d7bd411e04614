"""The invented house as its owner and its helper open it: full pages, few queries, its sizes, nothing real."""

from __future__ import annotations

import datetime as dt

import pytest
from django.db import transaction
from django.test import Client
from django.urls import reverse

from dyehouse.day.queries import day_page
from dyehouse.demo import invented
from dyehouse.demo.fill import fill_house, is_empty
from dyehouse.ledger.models import Movement
from dyehouse.ledger.verify import breaches
from dyehouse.studio.models import Studio, User
from recipes.lots.models import LogEntry, Pot
from recipes.models import Base, Colourway, Dye, StockBottle

NOW = dt.datetime(2026, 11, 20, 15, 0, tzinfo=dt.UTC)
MAIN_PAGES = ("day", "pots", "store", "colourways", "shelf", "labels")


@pytest.fixture(scope="module")
def house(django_db_setup, django_db_blocker):
    """One filled house for all tests here, in the studio of an owner who was there first; undone at the end."""
    with django_db_blocker.unblock(), transaction.atomic():
        was_empty = is_empty()
        owner = User.objects.create(username="ingrid", role=User.Role.OWNER, called="Ingrid")
        here = Studio.current()
        here.name = "Weir End"
        here.save()
        fill_house(NOW)
        yield was_empty
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


def test_a_house_is_empty_before_it_is_filled_and_not_after(house, db):
    assert house
    assert not is_empty()


def test_an_owner_and_a_studio_that_were_there_keep_their_names(house, db):
    assert Studio.current().name == "Weir End"
    assert User.objects.get(role=User.Role.OWNER).username == "ingrid"
    assert User.objects.get(role=User.Role.HELPER).called == invented.HELPER_NAME


def test_the_house_has_the_sizes_of_a_studio_with_a_year_behind_it(house, db):
    assert (Base.objects.count(), Dye.objects.count()) == (8, 21)
    assert Colourway.objects.exclude(name="").count() == 45
    assert Pot.objects.count() > 600
    assert StockBottle.objects.filter(finished_at__isnull=True).count() >= 30


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


@pytest.mark.parametrize("name", MAIN_PAGES)
def test_every_main_page_opens_for_owner_and_helper(client, name):
    assert client.get(reverse(name)).status_code == 200
