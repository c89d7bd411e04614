"""The day's page: what is where, and what each thing waits for."""

from __future__ import annotations

import datetime as dt
import uuid

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from dyehouse.day.queries import day_page
from dyehouse.studio.models import Studio
from recipes.colourways import keep_secret
from recipes.lots.log import keep_line
from recipes.lots.models import DyeLot
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def studio():
    return factories.studio()


@pytest.fixture
def marit():
    return factories.OwnerFactory()


def signed_in(person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def test_an_owner_who_has_not_set_up_is_sent_there_and_a_helper_is_not(marit):
    Studio.objects.update(set_up_at=None)

    assert signed_in(marit).get(reverse("day"))["Location"] == reverse("set-up")
    assert signed_in(factories.HelperFactory()).get(reverse("day")).status_code == 200


def test_an_empty_house_says_what_to_do_first(marit):
    page = signed_in(marit).get(reverse("day")).content.decode()

    assert "The house is ready." in page
    assert reverse("base-new") in page


def test_heat_is_said_as_last_recorded_and_never_as_on(marit):
    pot = factories.loaded_pot(who=marit)
    keep_line(pot=pot, key=uuid.uuid4(), typed="heat on low", who=marit)

    page = " ".join(signed_in(marit).get(reverse("day")).content.decode().split())

    assert pot.code in page
    assert "heat last recorded on, low" in page


def test_a_lot_dries_for_a_day_then_waits_to_be_judged_then_for_shelf_and_label(marit):
    lot = factories.lot_out(who=marit)
    now = timezone.now()
    assert [line.pieces for line in day_page(user=marit).drying] == [5]

    DyeLot.objects.filter(pk=lot.pk).update(made_at=now - dt.timedelta(days=2))
    page = day_page(user=marit)
    assert (page.drying, [line.lot for line in page.to_judge]) == ([], [lot])

    factories.judged_lot(lot=lot, who=marit, good=4, second=1)
    page = day_page(user=marit)
    assert page.to_judge == []
    assert [(line.pieces, line.grades) for line in page.to_shelf] == [(5, "4 good, 1 second")]
    assert [line.pieces for line in page.to_label] == [4]


def test_what_a_bottle_did_not_hold_is_found_short(marit):
    pot = factories.loaded_pot(who=marit)
    factories.bottle(jar=factories.jar(dye=factories.dye("Red"), who=marit), who=marit, millilitres=50)
    keep_line(pot=pot, key=uuid.uuid4(), typed="80 ml red 1%", who=marit)

    found = day_page(user=marit).found

    assert [(row.amount, row.pot_code) for row in found] == [("30 ml", pot.code)]
    assert "30 ml more than the book had" in signed_in(marit).get(reverse("day")).content.decode()


def test_a_helper_sees_a_secret_lot_by_its_code(marit):
    lot = factories.lot_out(who=marit, colourway=factories.colourway("Tin Roof"))
    keep_secret(colourway=lot.colourway, until=timezone.now() + dt.timedelta(days=3))

    assert "Tin Roof" in signed_in(marit).get(reverse("day")).content.decode()
    page = signed_in(factories.HelperFactory()).get(reverse("day")).content.decode()
    assert "Tin Roof" not in page
    assert lot.code in page


def test_a_missing_copy_is_told_to_the_owner_alone(marit, monkeypatch):
    monkeypatch.setattr("dyehouse.day.queries.last_good_copy", lambda: None)
    factories.loaded_pot(who=marit)

    assert "copy of the house" in signed_in(marit).get(reverse("day")).content.decode()
    assert (
        "copy of the house" not in signed_in(factories.HelperFactory()).get(reverse("day")).content.decode()
    )
