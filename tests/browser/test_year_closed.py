"""A year closed in a real browser: what is entered into it afterwards stands in the new year's list, and closing is opening."""

from __future__ import annotations

import datetime as dt

import pytest
from django.urls import reverse
from django.utils import timezone
from playwright.sync_api import Page

from inventory.costing.models import ClosedYear
from tests import factories
from tests.browser.walking import Walk, barriers, let_in
from tests.inventory.costing import factories as costs

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_closing_is_opening_and_a_late_entry_is_told_in_the_new_year(page: Page, live_server):
    factories.studio(currency="EUR")
    marit = factories.OwnerFactory(username="marit")
    put_up = factories.put_up(base=factories.base("Heron Sock"))
    lot = costs.mill_lot(put_up)
    came = timezone.now() - dt.timedelta(days=40)
    costs.bought(put_up, 10, mill_lot=lot, at=came, who=marit)
    walk = Walk(page, live_server.url)
    let_in(page, live_server.url, "marit")

    walk.open(reverse("costs-paid"))
    page.get_by_role("link", name="Heron Sock").first.click()
    walk.fill(goods="40", freight="2.50")
    walk.press("Keep the price")
    walk.open(reverse("costs-years"))
    walk.fill(ends_on=f"{timezone.localdate() - dt.timedelta(days=10):%Y-%m-%d}")
    walk.press("Close it for good")
    walk.sees("Closing stock")
    walk.sees("42.50 EUR")

    late = costs.bought(put_up, 2, mill_lot=lot, at=came, who=marit)
    assert late.movement.happened_at.date() < ClosedYear.objects.get().ends_on
    walk.open(reverse("costs-year-now"))
    opening = page.get_by_role("row", name="Opening stock")
    assert opening.locator("td").last.inner_text() == "42.50 EUR"
    walk.sees("Dated before, entered since the last closing")
    # Two more at 4.25, the price of their own lot.
    assert page.get_by_role("row", name="Closing stock").locator("td").last.inner_text() == "51.00 EUR"
    found = page.locator("section", has_text="Changes the stock by")
    assert "2 pieces" in found.inner_text()
    assert "8.50 EUR" in found.inner_text()
    sizes = ({"width": 320, "height": 640}, {"width": 1280, "height": 900})
    assert barriers(page, *sizes) == []
    walk.fits()
    assert walk.complaints == []
