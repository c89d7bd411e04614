"""Closing the day: each pot whose heat was last recorded on is gone to, and what was found there is in its log."""

from __future__ import annotations

import datetime as dt
import uuid

import pytest
import time_machine
from django.db import IntegrityError, transaction
from django.test import Client
from django.urls import reverse

from dyehouse.day.closing import closing_page
from dyehouse.day.queries import day_page
from recipes.colourways import keep_secret
from recipes.lots.closing import (
    NotLookedAt,
    close_day,
    heat_is_off,
    leave_on_overnight,
    pots_to_look_at,
)
from recipes.lots.log import keep_line, strike
from recipes.lots.models import DayClosed, LogEntry, Pot
from tests import factories

pytestmark = pytest.mark.django_db
SIX = dt.datetime(2026, 3, 4, 18, 0, tzinfo=dt.UTC)


def after(minutes: float) -> dt.datetime:
    return SIX + dt.timedelta(minutes=minutes)


@pytest.fixture
def marit():
    factories.studio()
    return factories.OwnerFactory(called="Marit")


@pytest.fixture
def jo():
    return factories.HelperFactory(called="Jo")


@pytest.fixture
def pots(marit) -> list[Pot]:
    return [factories.loaded_pot(who=marit, happened_at=after(-240 + number)) for number in range(4)]


def keep(pot: Pot, typed: str, who, *, minutes: float) -> LogEntry:
    return keep_line(
        pot=pot, key=uuid.uuid4(), typed=typed, who=who, clock=after(minutes), now=after(minutes)
    )[0]


def to_look_at(*, minutes: float = 0) -> list[Pot]:
    return pots_to_look_at(now=after(minutes))


def close(who, *, minutes: float = 0) -> DayClosed:
    return close_day(key=uuid.uuid4(), who=who, now=after(minutes))


def test_it_goes_to_the_pots_whose_heat_was_last_recorded_on(pots, marit):
    keep(pots[0], "heat on", marit, minutes=-200)
    keep(pots[1], "heat on", marit, minutes=-200)
    keep(pots[1], "heat off", marit, minutes=-60)
    keep(pots[2], "heat off", marit, minutes=-200)
    keep(pots[2], "heat on low", marit, minutes=-100)

    assert to_look_at() == [pots[0], pots[2]]


def test_a_late_entry_of_heat_off_takes_its_own_place_in_time(pots, marit):
    keep(pots[0], "heat on", marit, minutes=-30)
    keep(pots[0], "15:00 heat off", marit, minutes=-20)

    assert to_look_at() == [pots[0]]


def test_a_struck_heat_on_is_no_heat(pots, marit):
    strike(entry=keep(pots[0], "heat on", marit, minutes=-30), key=uuid.uuid4(), who=marit)

    assert to_look_at() == []


def test_pots_that_are_out_or_not_loaded_need_nobody(pots, marit):
    keep(pots[0], "heat on", marit, minutes=-30)
    factories.lot_out(pot=pots[0], who=marit)
    factories.planned_pot(who=marit)

    assert to_look_at() == []


def test_heat_off_now_is_an_entry_of_its_own_and_the_day_can_be_closed(pots, marit, jo):
    keep(pots[0], "heat on", marit, minutes=-30)
    with pytest.raises(NotLookedAt, match=pots[0].code):
        close(marit)
    assert not DayClosed.objects.exists()

    entry = heat_is_off(pot=pots[0], key=uuid.uuid4(), who=jo, now=after(1))

    assert (entry.kind, entry.heat_on, entry.who, entry.happened_at) == ("heat", False, jo, after(1))
    closed = close(jo, minutes=2)
    assert (closed.by, closed.closed_at) == (jo, after(2))


def test_what_stays_on_is_a_note_in_its_own_words_and_the_heat_stays_recorded_as_it_was(pots, marit):
    keep(pots[0], "heat on", marit, minutes=-30)

    entry = leave_on_overnight(
        pot=pots[0], key=uuid.uuid4(), who=marit, words="  on low,\nlid on ", now=after(0)
    )

    assert (entry.kind, entry.text) == ("note", "Heat stays on overnight: on low, lid on")
    assert to_look_at(minutes=1) == []
    page = closing_page(user=marit, now=after(1))
    assert [each.pot for each in page.staying_on] == [pots[0]]
    assert page.staying_on[0].contents.heat_last.at == after(-30)
    close(marit, minutes=2)


def test_without_words_it_is_enough_that_it_stays_on(pots, marit):
    keep(pots[0], "heat on", marit, minutes=-30)

    assert (
        leave_on_overnight(pot=pots[0], key=uuid.uuid4(), who=marit, now=after(0)).text
        == "Heat stays on overnight"
    )


def test_who_looked_yesterday_has_not_looked_tonight(pots, marit):
    keep(pots[0], "heat on", marit, minutes=-30)
    leave_on_overnight(pot=pots[0], key=uuid.uuid4(), who=marit, now=after(0))

    assert to_look_at(minutes=12 * 60) == []
    assert to_look_at(minutes=12 * 60 + 1) == [pots[0]]


def test_heat_recorded_anew_after_that_is_looked_at_again(pots, marit):
    keep(pots[0], "heat on", marit, minutes=-30)
    leave_on_overnight(pot=pots[0], key=uuid.uuid4(), who=marit, now=after(0))
    keep(pots[0], "heat on high", marit, minutes=30)

    assert to_look_at(minutes=31) == [pots[0]]


def test_a_strike_of_what_stayed_on_brings_the_pot_back(pots, marit):
    keep(pots[0], "heat on", marit, minutes=-30)
    said = leave_on_overnight(pot=pots[0], key=uuid.uuid4(), who=marit, now=after(0))
    strike(entry=said, key=uuid.uuid4(), who=marit)

    assert to_look_at(minutes=1) == [pots[0]]


def test_the_same_key_closes_once_and_nothing_of_it_can_be_changed(marit):
    key = uuid.uuid4()

    first = close_day(key=key, who=marit, now=after(0))
    again = close_day(key=key, who=marit, now=after(5))

    assert first == again
    with pytest.raises(IntegrityError), transaction.atomic():
        DayClosed.objects.filter(pk=first.pk).update(closed_at=after(60))


# --- The pages --------------------------------------------------------------------------------------------------------


@pytest.fixture
def client_of():
    def made(user) -> Client:
        client = Client()
        client.force_login(user)
        return client

    return made


@time_machine.travel(SIX, tick=False)
def test_a_walk_from_heat_on_to_a_closed_day(pots, marit, jo, client_of):
    keep(pots[0], "heat on", marit, minutes=-235)
    keep(pots[1], "heat on low", marit, minutes=-180)
    keep(pots[2], "heat off", marit, minutes=-90)
    lot = factories.lot_out(pot=pots[3], who=marit)
    client, where = client_of(jo), reverse("day-close")

    page = client.get(where).content.decode()
    assert "heat last recorded on at 14:05" in page
    assert "heat last recorded on, low, at 15:00" in page
    assert "heat last recorded off at 16:30" in page
    assert f"3 of {lot.code}" not in page
    assert f">{lot.code}</a>" in page
    assert "2 pots to go to first" in page

    refused = client.post(where, {"key": uuid.uuid4()})
    assert refused.status_code == 422
    assert f"The heat of {pots[0].code} and {pots[1].code} was last recorded on." in refused.content.decode()

    for pot, fields in (
        (pots[0], {"found": "off"}),
        (pots[1], {"found": "stays", "words": "slow cooker on warm"}),
    ):
        answered = client.post(reverse("day-close-pot", args=[pot.code]), {"key": uuid.uuid4(), **fields})
        assert (answered.status_code, answered["Location"]) == (303, where)
    page = client.get(where).content.decode()
    assert "Heat stays on overnight: slow cooker on warm" in page
    assert "to go to first" not in page

    answered = client.post(where, {"key": uuid.uuid4()})
    assert (answered.status_code, answered["Location"]) == (303, reverse("day"))
    assert "The day was closed at 18:00 by Jo" in client.get(reverse("day")).content.decode()
    assert LogEntry.objects.filter(who=jo, kind="heat", heat_on=False).count() == 1


@pytest.mark.parametrize(
    ("hour", "heat", "linked"),
    [(10, "heat off", False), (10, "heat on", True), (17, "heat off", True), (1, "heat off", True)],
)
def test_the_day_leads_there_in_the_evening_and_whenever_heat_was_last_recorded_on(
    marit, client_of, hour, heat, linked
):
    with time_machine.travel(SIX.replace(hour=hour), tick=False):
        pot = factories.loaded_pot(who=marit)
        keep_line(pot=pot, key=uuid.uuid4(), typed=heat, who=marit)

        for where in (reverse("day"), reverse("pots")):
            assert (reverse("day-close") in client_of(marit).get(where).content.decode()) is linked


@time_machine.travel(SIX, tick=False)
def test_a_day_without_pots_leads_nowhere(marit, client_of):
    factories.put_up(pieces=3, who=marit)

    assert reverse("day-close") not in client_of(marit).get(reverse("day")).content.decode()
    assert (
        "No pot’s heat was last recorded on." in client_of(marit).get(reverse("day-close")).content.decode()
    )


@time_machine.travel(SIX, tick=False)
def test_a_secret_colourway_goes_by_its_code_for_a_helper(pots, marit, jo, client_of):
    pots[0].colourway.name = "Frost Fair"
    pots[0].colourway.save()
    keep_secret(colourway=pots[0].colourway, until=after(60 * 24 * 30))
    keep(pots[0], "heat on", marit, minutes=-30)

    assert "Frost Fair" in client_of(marit).get(reverse("day-close")).content.decode()
    assert "Frost Fair" not in client_of(jo).get(reverse("day-close")).content.decode()


def test_yesterdays_closing_is_not_said_of_today(marit):
    close(marit)

    with time_machine.travel(after(60), tick=False):
        assert day_page(user=marit).closed_today
    with time_machine.travel(after(18 * 60), tick=False):
        assert not day_page(user=marit).closed_today


def test_a_pot_that_was_not_loaded_is_refused_with_a_sentence(marit, client_of):
    pot = factories.planned_pot(who=marit)

    answered = client_of(marit).post(
        reverse("day-close-pot", args=[pot.code]), {"key": uuid.uuid4(), "found": "off"}, follow=True
    )

    assert f"Pot {pot.code} is planned. Load it first" in answered.content.decode()
    assert not LogEntry.objects.exists()
