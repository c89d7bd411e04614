"""The whole way in a real browser, from an empty house to printed labels: once on a phone, once at a desk."""

from __future__ import annotations

import re

import pytest
from django.db.models import Sum
from playwright.sync_api import Page, expect

from dyehouse.ledger.models import Balance
from dyehouse.ledger.verify import breaches
from recipes.lots.models import DyeLot, Pot, RedyePlan
from recipes.models import WayOfDyeing
from tests import factories
from tests.browser.walking import Walk

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True}
DESK = {"viewport": {"width": 1280, "height": 900}}


@pytest.fixture(params=[PHONE, DESK], ids=["phone", "desk"])
def browser_context_args(browser_context_args: dict, request) -> dict:
    return {**browser_context_args, **request.param, "accept_downloads": True}


def test_from_an_empty_house_to_labelled_skeins(page: Page, live_server):
    factories.OwnerFactory(username="marit")
    page.set_default_timeout(8_000)
    walk = Walk(page, live_server.url)

    # The first minute.
    walk.sign_in("marit")
    expect(page).to_have_url(re.compile("set-up"))
    walk.fits()
    page.get_by_label("The studio's name").fill("Weir Lane")
    page.locator("[name=vessel-0-name]").fill("Big blue")
    page.locator("[name=vessel-0-working_millilitres]").fill("20")
    walk.press("Keep")
    expect(page).to_have_url(live_server.url + "/")
    walk.sees("The house is ready.")

    # The store.
    walk.open("/store/")
    walk.press("A base")
    walk.fill(name="Heron Sock", nominal_milligrams="100", metres="400", pieces="40")
    walk.press("Write it down")
    expect(page).not_to_have_url(re.compile("/new/"))
    walk.open("/store/")
    walk.press("A dye")
    walk.fill(name="Red", milligrams="100")
    walk.press("Write it down")
    expect(page).not_to_have_url(re.compile("/new/"))
    walk.open("/store/")
    walk.press("A stock")
    page.locator("[name=jar]").select_option(index=1)
    walk.fill(microlitres="500")
    walk.press("It is made")
    expect(page).not_to_have_url(re.compile("/new/"))
    walk.open("/store/")
    walk.sees("500 ml")

    # A trial at the pot.
    walk.open("/pots/new/")
    page.locator("[name=pieces]").fill("3")
    walk.press("Load the pot")
    pot = Pot.objects.get()
    walk.sees(pot.code)
    walk.fits()
    walk.type_at_pot("7.5 l water", "heat on", "45 ml red 1%", "82 C", "heat off")
    walk.sees("0.15 %")

    # Out of the pot, judged dry.
    walk.press("Out of the pot")
    walk.fits()
    page.get_by_text("clear", exact=True).first.click()
    walk.press("Out of the pot")
    lot = DyeLot.objects.get()
    walk.sees("not yet judged")
    walk.press("Judge it")
    walk.fits()
    page.locator("[name=words]").fill("Better than planned.")
    page.locator("[name=photo]").set_input_files(
        {"name": "photo.jpg", "mimeType": "image/jpeg", "buffer": factories.photo_file().getvalue()}
    )
    walk.press("Judged")
    walk.sees("the one to repeat")
    walk.sees("3 good")

    # Made repeatable.
    walk.press("Make it repeatable")
    walk.fits()
    walk.press("Keep this way of dyeing")
    assert WayOfDyeing.objects.count() == 1

    # Ten skeins of it.
    walk.open(f"/colourways/{lot.colourway.code}/redye/")
    page.locator("[name=pieces]").fill("10")
    walk.press("Work it out")
    walk.fits()
    walk.sees("10 pieces in 2 pots of 5")
    page.get_by_role("button", name=re.compile("^Plan 2 pots")).click()
    page.wait_for_url(re.compile("/redye/"))
    assert [planned.loads.get().pieces for planned in Pot.objects.filter(plan=RedyePlan.objects.get())] == [
        5,
        5,
    ]
    walk.fits()
    card = page.request.get(live_server.url + f"/paper/cards/{RedyePlan.objects.get().pk}/")
    assert card.headers["content-type"] == "application/pdf"
    page.get_by_role("link", name="Load").first.click()
    walk.press("Load the pot")
    walk.sees("Planned")
    page.get_by_role("button", name="Done as planned").first.click()
    expect(page.locator("#pot-waiting > li")).to_have_count(0)
    walk.sees("of water")

    # Shelf and labels.
    walk.open("/shelf/place/new/")
    walk.fill(name="Shelf A3")
    walk.press("Add it")
    walk.press("Put away")
    walk.fits()
    page.get_by_text("Shelf A3", exact=True).first.click()
    page.locator("main").get_by_role("button", name="Put away").click()
    walk.sees("Shelf A3")
    walk.open(f"/paper/labels/?lot={lot.code}")
    walk.sees("3 good, none labelled yet.")
    # A PDF in a window of its own is not a page that a test can look at: the same form is sent beside it.
    form = page.locator("form[target=_blank]")
    sent = form.evaluate("form => Object.fromEntries(new FormData(form))")
    labels = page.request.post(page.url, form=sent, headers={"Referer": page.url})
    assert labels.headers["content-type"] == "application/pdf"

    # The day.
    walk.open("/")
    walk.sees("Every good piece has its label.")
    assert Balance.objects.filter(lot=lot.lot).aggregate(sum=Sum("on_hand"))["sum"] == 3
    assert breaches() == []
    assert walk.complaints == []
