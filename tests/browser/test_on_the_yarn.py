"""A hand-painted pot and a dipped one on a phone, with how they lie: by touch and by line, down to the drawing."""

from __future__ import annotations

import uuid

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.urls import reverse
from playwright.sync_api import Page, expect

from recipes.lots.log import keep_line
from recipes.lots.models import LogEntry, Pot, PotLoad
from tests import factories
from tests.browser.walking import Walk

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

PHONE, NARROWEST, DESK = (
    {"width": 390, "height": 844},
    {"width": 320, "height": 640},
    {"width": 1280, "height": 900},
)


@pytest.fixture
def browser_context_args(browser_context_args: dict) -> dict:
    return {**browser_context_args, "viewport": PHONE, "has_touch": True, "is_mobile": True}


@pytest.fixture
def pot() -> Pot:
    """Three skeins, 1.5 m round; Red and Teal on the bench at 1 %."""
    factories.studio()
    marit = factories.OwnerFactory(username="marit")
    for name, chip in (("Teal", "#1d6f78"), ("Red", "#b02a37")):
        factories.bottle(jar=factories.jar(dye=factories.dye(name, chip=chip), who=marit), who=marit)
    pot = factories.loaded_pot(who=marit, pieces=3)
    base = PotLoad.objects.get(pot=pot).put_up.base
    base.hank_circumference_millimetres = 1500
    base.save()
    keep_line(pot=pot, key=uuid.uuid4(), typed="7.5 ml red", who=marit)
    return pot


@pytest.fixture
def walk(page: Page, live_server, pot: Pot) -> Walk:
    walk = Walk(page, live_server.url)
    walk.sign_in("marit")
    return walk


def all_kept(page: Page) -> None:
    expect(page.locator("#pot-waiting > li")).to_have_count(0)


def touch(page: Page, technique: str) -> None:
    """Opens a technique's button, among the further ones where it is not at hand."""
    tap = page.locator(f"#tap-technique-{technique} > summary")
    if not tap.is_visible():
        page.locator("details.more > summary", has_text="more technique").tap()
    tap.tap()


def look(walk: Walk, address: str) -> None:
    """The page at every width, without a sideways scroll, and nothing that axe complains of."""
    for size in (NARROWEST, DESK, PHONE):
        walk.page.set_viewport_size(size)
        walk.open(address)
    found = Axe().run(walk.page, options={"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa"]})
    assert found.violations_count == 0, found.generate_report()


def test_a_pot_is_painted_in_sections(walk: Walk, pot: Pot):
    page = walk.page
    address = reverse("pot", args=[pot.code])
    walk.open(address)
    page.get_by_role("link", name="How it lies").first.tap()
    page.wait_for_load_state()
    page.get_by_role("button", name="Thirds").tap()
    page.wait_for_load_state()
    expect(page.locator(".lay-strip")).to_be_visible()
    page.get_by_role("button", name="Keep how it lies").tap()
    page.wait_for_url(f"**{address}")
    expect(page.locator("#pot-yarn .lay-strip")).to_be_visible()

    touch(page, "hand_paint")
    page.locator("#tap-technique-hand_paint").get_by_role("button", name="Keep").tap()
    all_kept(page)
    page.locator(".onto-section", has_text="B").tap()
    page.locator(".tap-box > summary", has_text="Red 1 %").tap()
    page.locator("details[open] .tap-amount", has_text="7.5 ml").tap()
    all_kept(page)
    walk.type_at_pot("paint A 30 ml teal", "wrap in film", "steam 30 min")

    entries = LogEntry.objects.filter(pot=pot, section__gt="").order_by("id")
    assert [(entry.dye.name, entry.section, entry.microlitres) for entry in entries if entry.dye] == [
        ("Red", "B", 7_500),
        ("Teal", "A", 30_000),
    ]
    # 30 ml on a third of 300 g are 30 ml on 100 g. Arithmetic.
    yarn = page.locator("#pot-yarn")
    expect(yarn).to_contain_text("30 ml on 100 g")
    expect(yarn.locator('rect[fill="#1d6f78"]')).to_have_count(1)
    page.locator("#pot-yarn .on-yarn .working > summary").first.tap()
    expect(yarn).to_contain_text("× 1/3")
    look(walk, address)
    look(walk, reverse("pot-lay", args=[pot.code]))
    assert walk.complaints == []


def test_a_pot_is_dipped_by_touch_and_by_line(walk: Walk, pot: Pot):
    page = walk.page
    walk.open(reverse("pot", args=[pot.code]))
    touch(page, "dip")
    page.keyboard.type("20")
    page.locator("#seconds-technique-dip").fill("30")
    page.locator("#what-technique-dip").fill("red")
    page.locator("#tap-technique-dip").get_by_role("button", name="Keep").tap()
    all_kept(page)
    expect(page.locator("#pot-latest .entry-words").first).to_contain_text("Dip 20 cm for 30 s in red")

    touch(page, "dip")
    page.locator("#tap-technique-dip .tap-amount", has_text="20 cm for 30 s").tap()
    all_kept(page)
    walk.type_at_pot("dipped half the hank 10 sec", "dip 20 30 s")

    dips = LogEntry.objects.filter(pot=pot, technique="dip").order_by("id")
    assert [(dip.millimetres, dip.seconds, dip.section) for dip in dips] == [
        (200, 30, ""),
        (200, 30, ""),
        (None, 10, "half the hank"),
    ]
    assert LogEntry.objects.filter(pot=pot, kind="note").exclude(question="").count() == 1
    assert walk.complaints == []


def test_hanks_that_enter_one_after_the_other_are_told_apart(walk: Walk, pot: Pot):
    page = walk.page
    walk.open(reverse("pot", args=[pot.code]))
    touch(page, "enter")
    page.locator("#tap-technique-enter .tap-amount", has_text="1 hank").tap()
    all_kept(page)
    walk.type_at_pot("5 ml teal 1%", "enter 2 hanks")

    expect(page.locator("#pot-yarn")).to_contain_text("Which hank saw what")
    expect(page.locator("#pot-yarn")).to_contain_text("Hanks 2 to 3")
    look(walk, reverse("pot", args=[pot.code]))
    assert walk.complaints == []
