"""The page of components in a real browser: readable by machine, no sideways scroll, nothing against the policy."""

from __future__ import annotations

import pytest
from django.urls import reverse
from playwright.sync_api import Page

from tests import factories
from tests.browser.walking import barriers, let_in

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

PHONE, DESK, NARROWEST = (
    {"width": 390, "height": 844},
    {"width": 1280, "height": 900},
    {"width": 320, "height": 640},
)


@pytest.fixture
def complaints(page: Page) -> list[str]:
    """What the browser's console says against the page."""
    said: list[str] = []
    page.on(
        "console", lambda message: said.append(message.text) if message.type in {"error", "warning"} else None
    )
    page.on("pageerror", lambda error: said.append(str(error)))
    return said


@pytest.fixture
def look(page: Page, live_server, settings, complaints: list[str]) -> Page:
    """The page of components, opened by the owner."""
    settings.DEBUG = True
    factories.studio()
    marit = factories.OwnerFactory()
    let_in(page, live_server.url, marit.username)
    page.goto(live_server.url + reverse("look"))
    return page


def test_the_components_have_no_barrier_stay_within_the_screen_and_keep_to_the_policy(
    look: Page, complaints: list[str]
):
    look.evaluate("document.querySelectorAll('details:not(.person)').forEach(more => more.open = true)")
    look.wait_for_load_state("networkidle")

    assert barriers(look, PHONE, DESK) == []
    for size in (NARROWEST, PHONE, DESK):
        look.set_viewport_size(size)
        assert look.evaluate("document.documentElement.scrollWidth") <= size["width"], size
    assert complaints == []


def test_controls_are_large_enough_for_a_wet_hand(look: Page):
    look.set_viewport_size(PHONE)
    low = """selector => [...document.querySelectorAll(selector)]
        .filter(part => part.offsetParent && part.getBoundingClientRect().height < %d)
        .map(part => part.outerHTML.slice(0, 100))"""

    assert (
        look.evaluate(
            low % 44, "main :is(button, .button, summary, input:not([type=radio], [type=checkbox]), select)"
        )
        == []
    )
    assert look.evaluate(low % 48, "section[aria-labelledby=look-pot] :is(button, input)") == []


def test_a_stepper_counts_within_its_limits(look: Page):
    pieces = look.get_by_label("Pieces", exact=True)
    more = look.locator("[data-stepper]", has=pieces).locator("[data-step='1']")

    more.click()
    assert pieces.input_value() == "6"

    pieces.fill("40")
    more.click()
    assert pieces.input_value() == "40"


def test_a_menu_closes_with_escape_and_gives_the_focus_back(look: Page):
    menu = look.locator("details.person")
    menu.locator("summary").click()

    look.keyboard.press("Escape")

    assert menu.get_attribute("open") is None
    assert look.evaluate("document.activeElement.tagName") == "SUMMARY"


def test_the_page_works_with_the_keyboard_from_the_skip_link_on(look: Page):
    look.keyboard.press("Tab")
    assert look.evaluate("document.activeElement.textContent") == "Skip to the page"

    look.keyboard.press("Enter")

    assert look.evaluate("document.activeElement.id") == "content"
