"""A Saturday is lost on the phone: what moves and who is told is seen before it is kept, and it is taken back."""

from __future__ import annotations

import datetime as dt

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.urls import reverse
from playwright.sync_api import Page, expect

from inventory.weeks import keeping
from inventory.weeks.models import usual_drying_days
from tests import factories
from tests.browser.walking import Walk
from tests.inventory.promises import factories as promises
from tests.inventory.weeks.factories import in_days

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def browser_context_args(browser_context_args: dict) -> dict:
    return {**browser_context_args, "viewport": {"width": 390, "height": 844}}


@pytest.fixture
def saturday() -> dt.date:
    """A club box of eight and a spare, three of them in work: two loads, on a Thursday and the Saturday in time for it."""
    day = next(day for day in (in_days(ahead) for ahead in range(5, 12)) if day.weekday() == 5)
    factories.studio()
    marit = factories.OwnerFactory(username="marit")
    way = factories.way(who=marit)
    ships = promises.club_round(
        of=promises.club("Harbour Club"), called="March", ships_on=day + dt.timedelta(4)
    )
    promises.box_of_round(of=ships, put_up=way.base.put_ups.get(), colourway=way.colourway, pieces=8)
    keeping.keep_habits(
        weekdays=[],
        own_days={day + dt.timedelta(days): 1 for days in (-2, 0, 7)},
        drying_days=usual_drying_days(),
        holds={},
        loads_a_session=1,
        soaks_overnight=True,
        rack_pieces=40,
        finishing_pieces=None,
        spares_percent=0,
        spares_pieces=0,
        vessel=None,
    )
    return day


def test_lose_a_saturday_and_take_it_back(page: Page, live_server, saturday: dt.date):
    walk = Walk(page, live_server.url)
    walk.sign_in("marit")
    page.wait_for_url(live_server.url + "/")
    walk.open(reverse("weeks"))
    walk.sees("Everything that has a day can be ready on it.")
    on_saturday = page.locator(f"#on-{saturday.isoformat()}")
    expect(on_saturday).to_contain_text("1 of 1 load")
    assert Axe().run(page).response["violations"] == []

    on_saturday.get_by_role("link", name="I lost this day").click()
    walk.sees("1 load moves; all others stay.")
    walk.sees("Harbour Club, March")
    page.locator("summary", has_text="Words to send").click()
    assert (
        "it will now be ready about"
        in page.get_by_label("Words to send about Harbour Club, March").input_value()
    )
    walk.fits()
    assert Axe().run(page).response["violations"] == []
    walk.press("Take the day out")

    walk.sees("The day is taken out")
    walk.sees("What is late")
    expect(page.locator(f"#on-{(saturday + dt.timedelta(7)).isoformat()}")).to_contain_text("late")
    walk.press("It takes place after all")

    walk.sees("The plan is the one from before.")
    walk.sees("Everything that has a day can be ready on it.")
    expect(on_saturday).to_contain_text("1 of 1 load")
    assert walk.complaints == []
