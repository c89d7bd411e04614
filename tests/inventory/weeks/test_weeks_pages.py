"""The weeks ahead: a lost day before it is kept, what becomes late and whom to tell, pots that stay, and how weeks go."""

from __future__ import annotations

import datetime as dt

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from inventory.spoken_for import spoken_for
from inventory.weeks import keeping
from inventory.weeks.ahead import weeks_ahead
from inventory.weeks.models import LostDay, PotDay, WeekHabits
from recipes.lots.models import Pot
from tests import factories
from tests.dyehouse.paper.reading import text_of
from tests.inventory.promises import factories as promises
from tests.inventory.weeks.factories import in_days, promise, wanted

pytestmark = pytest.mark.django_db

HABITS = {
    "own_days": {},
    "drying_days": [2] * 12,
    "holds": {},
    "loads_a_session": 1,
    "soaks_overnight": False,
    "rack_pieces": None,
    "finishing_pieces": None,
    "spares_percent": 0,
    "spares_pieces": 0,
    "vessel": None,
}


@pytest.fixture
def marit():
    factories.studio()
    return factories.OwnerFactory()


@pytest.fixture
def owner(marit):
    client = Client()
    client.force_login(marit)
    return client


@pytest.fixture
def way(marit):
    return factories.way(who=marit)


@pytest.fixture
def three_sessions(marit):
    """A session in two, four and nine days, each for one load that dries in two."""
    keeping.keep_habits(**HABITS | {"own_days": {in_days(each): 1 for each in (2, 4, 9)}}, weekdays=[])


def days(plan) -> list[dt.date]:
    return sorted(plan.standing.values())


def test_a_lost_day_is_shown_kept_told_and_taken_back(owner, marit, way, three_sessions, monkeypatch):
    """Three hang unjudged, so of 11 eight are dyed: two loads of four, on the two sessions that dry by day 6."""
    promise(monkeypatch, of=way, pieces=11, due=in_days(6))
    before = weeks_ahead(user=marit).plan
    assert days(before) == [in_days(2), in_days(4)]
    assert before.most_late == 0

    shown = owner.get(
        reverse("weeks-lose"), {"day": in_days(4).isoformat(), "loads_left": 0}
    ).content.decode()
    assert "5 days late" in shown
    assert "the harbour club, March" in shown
    assert "it will now be ready about" in shown
    assert not LostDay.objects.exists()

    owner.post(reverse("weeks-lose"), {"day": in_days(4).isoformat(), "loads_left": 0, "why": "a cold"})
    now = weeks_ahead(user=marit).plan
    assert days(now) == [in_days(2), in_days(9)]
    assert (now.most_late, now.as_good_as_can_be) == (5, True)
    page = owner.get(reverse("weeks")).content.decode()
    assert "No plan on these sessions makes the longest wait shorter than 5 days." in page
    assert "a cold" in page

    lost = LostDay.objects.get()
    owner.post(reverse("weeks-back", args=[lost.pk]))
    assert weeks_ahead(user=marit).plan == before
    assert LostDay.objects.filter(taken_back_at__isnull=False).count() == 1


def test_a_day_that_is_no_session_or_gone_by_is_refused_beside_its_field(owner, way, three_sessions):
    for day, left, words in (
        (in_days(3), 0, "There is no session on this day."),
        (in_days(-1), 0, "This day has gone by."),
        (in_days(4), 1, "It takes 1 loads as it is."),
    ):
        answer = owner.post(reverse("weeks-lose"), {"day": day.isoformat(), "loads_left": left})
        assert answer.status_code == 422
        assert words in answer.content.decode()
    assert not LostDay.objects.exists()


def test_a_pot_that_is_to_stay_on_its_day_stays_when_the_day_is_lost(owner, marit, way, three_sessions):
    plan = factories.redye_plan(who=marit, of=way, pieces=4)
    pot = Pot.objects.get(plan=plan)
    owner.post(reverse("weeks-pin", args=[pot.code]), {"day": in_days(4).isoformat()})
    assert PotDay.objects.get().day == in_days(4)

    shown = owner.get(
        reverse("weeks-lose"), {"day": in_days(4).isoformat(), "loads_left": 0}
    ).content.decode()
    assert "No load moves." in shown
    assert f"{pot.code}</span> was to stay on this day" in shown

    owner.post(reverse("weeks-pin", args=[pot.code]), {})
    assert not PotDay.objects.exists()
    assert days(weeks_ahead(user=marit).plan) == [in_days(2)]


def test_how_the_weeks_go_is_kept_by_the_owner_alone_and_what_is_wrong_is_said(owner, marit):
    page = owner.get(reverse("weeks-settings"))
    assert "Days until yarn is dry" in page.content.decode()
    said = {
        "weekdays": ["1", "5"], "own_days": "2026-12-06 3\nsoon", "spares_percent": "5", "spares_pieces": "0",
        "rack_pieces": "80", **{f"month_{number}": "2" for number in range(1, 13)},
    }  # fmt: skip
    wrong = owner.post(reverse("weeks-settings"), said)
    assert wrong.status_code == 422
    assert "“soon” is not a day and its loads." in wrong.content.decode()
    assert not WeekHabits.objects.exists()

    owner.post(reverse("weeks-settings"), {**said, "own_days": "2026-12-06 3"})
    habits = WeekHabits.objects.get()
    assert (habits.weekdays, habits.own_days, habits.rack_pieces) == ([1, 5], {"2026-12-06": 3}, 80)
    assert (habits.loads_a_session, habits.finishing_pieces) == (None, None)


def test_on_paper_a_secret_stands_by_its_code_and_each_load_has_its_box(owner, marit, way, three_sessions):
    hidden = factories.colourway("Tin Roof", secret_until=timezone.now() + dt.timedelta(days=30))
    wanted(of=way, count=6, colourway=hidden)

    text = text_of(owner.get(reverse("dyelist-paper")).content)

    assert "2 pot loads, 6 pieces" in text
    assert "Tin Roof" not in text
    assert hidden.code in text


def test_boxes_from_one_pot_tell_their_sets(marit, way):
    box = promises.box_of_round(put_up=way.base.put_ups.get(), colourway=way.colourway, pieces=3)
    box.same_pot = True
    box.save()

    told = [each.sets for each in spoken_for() if not each.what.startswith("spares")]

    assert told == [(3,)]
