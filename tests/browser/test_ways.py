"""Ways of dyeing in a real browser: amounts are reckoned anew as a basis is chosen, departures as a step is left out."""

from __future__ import annotations

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

from recipes.models import WayOfDyeing
from recipes.ways import rules_of
from tests import factories
from tests.browser.walking import Walk

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

PHONE = {"width": 390, "height": 844}


@pytest.fixture
def way() -> WayOfDyeing:
    factories.studio()
    return factories.way(who=factories.OwnerFactory(username="marit"))


@pytest.fixture
def walk(page: Page, live_server, way) -> Walk:
    page.set_viewport_size(PHONE)
    walk = Walk(page, live_server.url)
    walk.sign_in("marit")
    page.wait_for_url(live_server.url + "/")
    return walk


def well_read(walk: Walk) -> None:
    walk.fits()
    assert [each["id"] for each in Axe().run(walk.page).response["violations"]] == []
    assert walk.complaints == []


def test_another_basis_shows_the_old_amounts_beside_the_new_and_something_missing_is_answered(walk, way):
    page, pot = walk.page, way.origin.pot
    walk.open(f"/pots/{pot.code}/repeatable/")

    page.get_by_label("Goes with").nth(2).select_option("pot")
    expect(page.get_by_text("4.5 g per pot")).to_be_visible()
    expect(page.get_by_text("as proposed")).to_be_visible()
    well_read(walk)

    page.get_by_label("Lay", exact=True).fill("Loose, covered by the bath")
    page.get_by_role("button", name="Answer Lay").click()
    page.wait_for_load_state()
    expect(page.get_by_label("Lay", exact=True)).to_have_count(0)
    expect(page.get_by_text("4.5 g per pot").first).to_be_visible()

    page.get_by_role("button", name="Keep this way of dyeing").click()
    walk.sees("Citric acid: 4.5 g per pot instead of 1.5 % of dry fibre.")
    well_read(walk)


def test_a_correction_says_what_departs_before_it_is_kept(walk, way):
    page = walk.page
    citric = rules_of(way)[3]
    walk.open(f"/ways/{way.pk}/correct/")

    page.locator(f"[name=amount_{citric.pk}]").fill("6")
    page.locator(f"[name=basis_{citric.pk}]").select_option("pot")
    walk.sees("6 g per pot instead of 1.5 % of dry fibre.")
    page.get_by_label("Keep this step").last.uncheck()
    walk.sees("Left out: Heat off.")
    well_read(walk)

    page.get_by_role("button", name="Keep the corrected way").click()
    walk.sees("Say why it departs")
    well_read(walk)
    assert page.locator(f"[name=amount_{citric.pk}]").input_value() == "6"

    page.get_by_label("Why it departs").fill("Too pale")
    page.get_by_role("button", name="Keep the corrected way").click()
    walk.sees("Way 2 is kept; way 1 stays as it is.")
    walk.sees("Departs from way 1: “Too pale”")
    well_read(walk)
    assert [rule.kind for rule in rules_of(WayOfDyeing.objects.get(departs_from=way))] == [
        "water",
        "heat",
        "dye",
        "auxiliary",
        "temperature",
    ]
