"""What is usual, at the pot on a phone: one touch opens it, one fills the line, one keeps it."""

from __future__ import annotations

import uuid

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.urls import reverse
from playwright.sync_api import Page, expect

from recipes.lots.log import keep_line
from recipes.lots.models import Pot
from tests import factories
from tests.browser.walking import Walk

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def browser_context_args(browser_context_args: dict) -> dict:
    return {
        **browser_context_args,
        "viewport": {"width": 320, "height": 640},
        "has_touch": True,
        "is_mobile": True,
    }


@pytest.fixture
def pot() -> Pot:
    """500 g of wool with a milling dye in 10 litres, citric acid in the store."""
    studio = factories.studio()
    studio.water_alkalinity_mg_per_litre = 140
    studio.save()
    marit = factories.OwnerFactory(username="marit")
    factories.auxiliary(
        "Citric acid", form="powder", strength_hundredths_percent=None, amount=500_000, who=marit
    )
    factories.jar(dye=factories.dye("Rust", dye_class="milling"), who=marit)
    put_up = factories.put_up(base=factories.base(fibres={"wool": 1000}), pieces=5, who=marit)
    pot = factories.loaded_pot(put_up=put_up, who=marit)
    for line in ("10 l water", "5 g rust"):
        keep_line(pot=pot, key=uuid.uuid4(), typed=line, who=marit)
    return pot


def test_three_touches_keep_a_usual_amount(page: Page, live_server, pot: Pot):
    walk = Walk(page, live_server.url)
    walk.sign_in("marit")
    page.wait_for_url(live_server.url + "/")
    walk.open(reverse("pot", args=[pot.code]))

    page.locator("#pot-usual > summary").tap()
    # 15 g on a pound is 16.5 g on 500 g; P. E. Burch.
    page.locator('[data-pot-line="16.5 g Citric acid"]').tap()
    expect(page.locator("#pot-line")).to_have_value("16.5 g Citric acid")
    expect(page.locator("#pot-reading")).to_contain_text("16.5 g")
    walk.fits()
    found = Axe().run(page).response["violations"]
    page.locator(".pot-line button").tap()

    expect(page.locator("#pot-in")).to_contain_text("Citric acid")
    assert [f"{each['id']} {each['nodes'][0]['html'][:120]}" for each in found] == []
    assert walk.complaints == []
