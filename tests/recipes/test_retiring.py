"""Bases, dyes and auxiliaries are taken out of use and brought back; nothing recorded changes."""

from __future__ import annotations

import uuid

import pytest
from django.test import Client
from django.urls import reverse

from dyehouse.ledger.models import Movement
from recipes import queries
from recipes.lots.bench import set_bench, stands_open
from recipes.lots.log import keep_line
from recipes.lots.redye_forms import put_ups_in_use
from recipes.retiring import bring_back, no_longer_used, retire
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def studio():
    return factories.studio()


@pytest.fixture
def marit():
    return factories.OwnerFactory()


@pytest.fixture
def owner(marit) -> Client:
    client = Client()
    client.force_login(marit)
    return client


@pytest.fixture
def things(marit) -> dict[str, object]:
    """A base with yarn, a dye with jar and bottle, an acid."""
    dye = factories.dye("Rust")
    factories.bottle(jar=factories.jar(dye=dye, who=marit), who=marit)
    return {
        "base": factories.put_up(pieces=5, who=marit).base,
        "dye": dye,
        "auxiliary": factories.auxiliary("Vinegar", amount=500_000, who=marit),
    }


@pytest.mark.parametrize("kind", ["base", "dye", "auxiliary"])
def test_the_owner_takes_it_out_of_use_and_brings_it_back(owner, things, kind):
    thing = things[kind]
    before = Movement.objects.count()

    answer = owner.post(reverse(f"{kind}-retire", args=[thing.pk]))

    assert answer.status_code == 303
    page = owner.get(answer["Location"]).content.decode()
    assert f"{thing} is no longer offered." in page
    assert "Use it again" in page
    assert f'href="{reverse(kind, args=[thing.pk])}"' in owner.get(reverse("store-retired")).content.decode()
    assert Movement.objects.count() == before

    owner.post(reverse(f"{kind}-retire", args=[thing.pk]), {"back": "1"})

    thing.refresh_from_db()
    assert thing.retired_at is None
    assert not no_longer_used().any


@pytest.mark.parametrize("kind", ["base", "dye", "auxiliary"])
def test_a_helper_sees_no_button_and_is_refused(things, kind):
    client = Client()
    client.force_login(factories.HelperFactory())
    thing = things[kind]

    page = client.get(reverse(kind, args=[thing.pk])).content.decode()
    answer = client.post(reverse(f"{kind}-retire", args=[thing.pk]))

    thing.refresh_from_db()
    assert reverse(f"{kind}-retire", args=[thing.pk]) not in page
    assert answer.status_code == 403
    assert thing.retired_at is None


def test_what_is_out_of_use_is_offered_nowhere(things):
    for thing in things.values():
        retire(thing=thing)

    store = queries.the_store()
    assert not store.bases
    assert not store.dyes
    assert not store.auxiliaries
    there = stands_open()
    assert (there.bottles, there.jars, there.auxiliaries) == ([], [], [])
    assert not put_ups_in_use()
    assert not set_bench().dyes


def test_what_was_recorded_with_it_stays(marit, things):
    pot = factories.loaded_pot(who=marit)
    keep_line(pot=pot, key=uuid.uuid4(), typed="20 ml vinegar", who=marit)
    retire(thing=things["auxiliary"])

    (entry,) = pot.entries.all()

    assert entry.auxiliary == things["auxiliary"]
    assert queries.left_of(things["auxiliary"].lot, things["auxiliary"].item) == 480_000


def test_twice_is_once(things):
    dye = things["dye"]
    retire(thing=dye)
    dye.refresh_from_db()
    first = dye.retired_at

    retire(thing=dye)

    dye.refresh_from_db()
    assert dye.retired_at == first
    bring_back(thing=dye)
    bring_back(thing=dye)
    dye.refresh_from_db()
    assert dye.retired_at is None
