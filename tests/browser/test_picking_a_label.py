"""The first label to use is picked by touch on a picture of the sheet, which follows the sheet that is chosen."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, expect

from tests import factories
from tests.browser.walking import Walk

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_a_touched_label_is_the_first_to_be_printed_on(page: Page, live_server):
    factories.studio()
    marit = factories.OwnerFactory(username="marit")
    lot = factories.judged_lot(who=marit, good=4, second=1)
    walk = Walk(page, live_server.url)
    walk.sign_in("marit")
    page.wait_for_url(live_server.url + "/")
    walk.open(f"/paper/labels/?lot={lot.code}")

    page.locator("[data-label='6']").click()
    expect(page.locator("[name=start_at]")).to_have_value("6")
    expect(page.locator("[data-used]")).to_have_count(4)
    walk.sees("Labels 6 to 9.")

    page.get_by_label("Sheet", exact=True).select_option("letter-3x10")
    expect(page.locator("[data-label]")).to_have_count(30)
    walk.sees("Labels 1 to 4.")
    assert walk.complaints == []
