"""When an entry happened: told late, over midnight, and in the two nights when the clocks change."""

from __future__ import annotations

import datetime as dt
import uuid
from zoneinfo import ZoneInfo

import pytest
import time_machine
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from hypothesis import given
from hypothesis import strategies as st

from dyehouse.studio.templatetags.house import at_clock
from recipes.lots.log import correct, keep_line
from recipes.lots.models import LogEntry
from recipes.lots.resolving import CLOCK_AHEAD, moment_near, moment_of
from tests import factories

BERLIN = ZoneInfo("Europe/Berlin")
# The rule of the European Union since 1996: forward at 01:00 UTC on the last Sunday of March, back on that of October.
FORWARD = dt.datetime(2026, 3, 29, 1, 0, tzinfo=dt.UTC)
BACK = dt.datetime(2026, 10, 25, 1, 0, tzinfo=dt.UTC)


@pytest.fixture(autouse=True)
def in_berlin():
    with timezone.override(BERLIN):
        yield


def utc(month: int, day: int, hour: int, minute: int = 0) -> dt.datetime:
    return dt.datetime(2026, month, day, hour, minute, tzinfo=dt.UTC)


@pytest.mark.parametrize(
    ("told_at", "clock", "meant"),
    [
        # An ordinary day in winter, an hour ahead of UTC.
        (utc(3, 4, 13, 40), "14:20", utc(3, 4, 13, 20)),
        (utc(3, 4, 13, 40), "23:10", utc(3, 3, 22, 10)),
        # Just after midnight in the studio: the evening before, and the minute just gone.
        (utc(3, 4, 23, 5), "23:50", utc(3, 4, 22, 50)),
        (utc(3, 4, 23, 5), "00:01", utc(3, 4, 23, 1)),
        # A kitchen clock that runs ahead over midnight.
        (utc(3, 4, 22, 58), "00:01", utc(3, 4, 22, 58)),
        # The clocks went forward: half past two was there on no clock, and half past one is an hour and a half ago.
        (FORWARD + dt.timedelta(minutes=60), "01:30", utc(3, 29, 0, 30)),
        (FORWARD + dt.timedelta(minutes=60), "02:30", utc(3, 29, 1, 30)),
        (FORWARD + dt.timedelta(minutes=10), "02:30", utc(3, 28, 1, 30)),
        (FORWARD + dt.timedelta(minutes=10), "23:00", utc(3, 28, 22, 0)),
        # The clocks went back: half past two was there twice, and the one just gone is meant.
        (BACK + dt.timedelta(minutes=40), "02:30", utc(10, 25, 1, 30)),
        (BACK + dt.timedelta(minutes=10), "02:30", utc(10, 25, 0, 30)),
        (BACK + dt.timedelta(minutes=10), "02:05", utc(10, 25, 1, 5)),
        (BACK + dt.timedelta(hours=10), "22:00", utc(10, 24, 20, 0)),
    ],
)
def test_a_clock_time_means_the_last_moment_it_was_shown(told_at, clock, meant):
    assert moment_of(clock, told_at=told_at) == meant


@given(
    gone=st.timedeltas(dt.timedelta(), dt.timedelta(days=364)),
    hour=st.integers(0, 23),
    minute=st.integers(0, 59),
)
def test_what_is_told_never_lies_ahead_and_never_more_than_a_day_back(gone, hour, minute):
    told_at = utc(1, 1, 0) + gone
    with timezone.override(BERLIN):
        at = moment_of(f"{hour:02}:{minute:02}", told_at=told_at)

    assert at <= told_at
    # A day with an hour more, and the five minutes that a clock may run ahead.
    assert told_at - at <= dt.timedelta(hours=25) + CLOCK_AHEAD


def test_a_correction_takes_the_nearest_moment_over_midnight_but_none_to_come():
    happened = utc(3, 4, 22, 50)  # 23:50

    assert moment_near("00:10", at=happened) == utc(3, 4, 23, 10)
    assert moment_near("00:10", at=happened, told_at=utc(3, 4, 23, 0)) == utc(3, 3, 23, 10)


@pytest.mark.parametrize(
    ("at", "words"),
    [
        (utc(3, 5, 7, 0), "at 08:00"),
        (utc(3, 4, 22, 50), "yesterday at 23:50"),
        (utc(3, 2, 9, 0), "on Monday 2 March at 10:00"),
        (dt.datetime(2025, 3, 2, 9, 0, tzinfo=dt.UTC), "on 2 March 2025 at 10:00"),
    ],
)
def test_a_clock_time_says_its_day_where_that_is_not_today(at, words):
    assert at_clock(at, utc(3, 5, 8, 0)) == words


@pytest.mark.django_db
def test_a_pot_over_midnight_shows_the_day_of_what_was_done_before_it(client: Client):
    factories.studio(time_zone="Europe/Berlin")
    marit = factories.OwnerFactory()
    with time_machine.travel(utc(3, 4, 22, 30), tick=False):  # 23:30
        pot = factories.loaded_pot(who=marit)
        keep_line(pot=pot, key=uuid.uuid4(), typed="82 C, pH 4.5, heat on", who=marit)
    with time_machine.travel(utc(3, 4, 23, 20), tick=False):  # 00:20
        keep_line(pot=pot, key=uuid.uuid4(), typed="23:50 heat off", who=marit)
        client.force_login(marit)
        page = client.get(reverse("pot", args=[pot.code])).content.decode()

    assert LogEntry.objects.get(heat_on=False).happened_at == utc(3, 4, 22, 50)
    assert "23:30<small>yesterday</small>" in page
    assert "82 °C yesterday at 23:30" in page
    assert "pH 4.5" in page
    assert "last recorded off yesterday 23:50" in page


@pytest.mark.django_db
def test_a_correction_told_before_its_clock_time_is_not_in_the_future():
    marit = factories.OwnerFactory()
    pot = factories.loaded_pot(who=marit)
    noon = utc(3, 4, 11, 0)
    (entry,) = keep_line(pot=pot, key=uuid.uuid4(), typed="82 C", who=marit, clock=noon, now=noon)

    told = noon + dt.timedelta(minutes=10)
    corrected = correct(entry=entry, key=uuid.uuid4(), who=marit, typed="12:30 80 C", now=told)

    assert corrected.happened_at == noon + dt.timedelta(minutes=30) - dt.timedelta(days=1)
