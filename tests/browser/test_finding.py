"""From a code in the box that finds everything to what went into a lot, and to the other pots that had the same."""

from __future__ import annotations

import re
import uuid

import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect

from recipes.lots.log import add_entry
from recipes.lots.models import LogEntry
from tests import factories
from tests.browser.walking import Walk, barriers, let_in

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

NARROWEST, DESK = {"width": 320, "height": 640}, {"width": 1280, "height": 900}


def test_from_a_code_to_its_way_and_from_what_shared_it_back(page: Page, live_server):
    factories.studio()
    marit = factories.OwnerFactory(username="marit")
    red = factories.bottle(jar=factories.jar(dye=factories.dye("Red"), label="jar 7", who=marit), who=marit)
    first, second = (factories.loaded_pot(who=marit) for _ in range(2))
    for pot in (first, second):
        add_entry(
            pot=pot, key=uuid.uuid4(), kind=LogEntry.Kind.STOCK, who=marit, happened_at=timezone.now(),
            bottle=red, microlitres=5_000,
        )  # fmt: skip
    lot = factories.judged_lot(lot=factories.lot_out(pot=first, who=marit), who=marit)
    walk = Walk(page, live_server.url)
    let_in(page, live_server.url, "marit")
    page.set_viewport_size(NARROWEST)
    walk.open("/find/")

    # A part of a name gives a list, a whole code its page at once, in small letters and with spaces too.
    page.get_by_label("A code, a colourway").fill("heron")
    page.locator("main").get_by_role("button", name="Find").click()
    walk.sees("Base")
    page.get_by_label("A code, a colourway").fill(f" {lot.code.lower()} ")
    page.get_by_label("A code, a colourway").press("Enter")
    page.wait_for_url(re.compile(f"/lots/{lot.code}/"))
    walk.press("Its whole way")
    walk.sees("Where it lies")
    walk.fits()

    # What went in, the other pot that had it, and from there back to the first.
    shared = page.locator("details.more").filter(has_text="1 other pot").first
    shared.locator("summary").click()
    expect(shared).to_contain_text(second.code)
    assert barriers(page, DESK, NARROWEST) == []
    shared.get_by_role("link", name=second.code).click()
    expect(page.locator("h1")).to_contain_text(second.code)
    shared = page.locator("details.more").filter(has_text="1 other pot").first
    shared.locator("summary").click()
    shared.get_by_role("link", name="All that had it").click()
    walk.sees("Everything that had some of it.")
    for pot in (first, second):
        expect(page.get_by_role("link", name=pot.code, exact=True).first).to_be_visible()
    page.get_by_role("link", name=first.code, exact=True).first.click()
    expect(page.locator("h1")).to_contain_text(first.code)

    # What nobody has is said with what was typed, which stays in the box.
    walk.open("/find/?for=weasel")
    walk.sees("Nothing in the house is called “weasel”.")
    expect(page.get_by_label("A code, a colourway")).to_have_value("weasel")
    assert walk.complaints == []
