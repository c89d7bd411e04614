"""One whole dye day with its interruptions: four pots and a pan, two jugs, a bath used again, an hour without network, a helper."""

from __future__ import annotations

import re
from fractions import Fraction

import pytest
from playwright.sync_api import Browser, Page, expect

from dyehouse.ledger.verify import breaches
from recipes.lots.contents import what_is_in
from recipes.lots.models import DayClosed, DyeLot, LogEntry, Pot
from recipes.models import Colourway, Mix
from tests import factories
from tests.browser.walking import Walk

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True}
VESSELS = ("Big blue", "Old steel", "Jam pot", "Short one", "Long pan")


@pytest.fixture
def browser_context_args(browser_context_args: dict) -> dict:
    return {**browser_context_args, **PHONE}


@pytest.fixture
def studio():
    """An owner and a helper, five vessels, a base with 40 skeins, three dyes in jars, citric acid."""
    factories.studio()
    marit = factories.OwnerFactory(username="marit", called="Marit")
    factories.HelperFactory(username="jonas", called="Jonas")
    for name in VESSELS:
        factories.VesselFactory(name=name, kind="pan" if "pan" in name else "pot")
    factories.put_up(base=factories.base("Heron Sock"), pieces=40, who=marit)
    for name in ("Red", "Teal", "Navy"):
        factories.jar(dye=factories.dye(name), who=marit)
    factories.auxiliary(name="Citric acid", form="powder", amount=1_000_000, who=marit)
    factories.colourway("Estuary")
    return marit


def make_jug(walk: Walk, name: str, millilitres: int, **grams: str) -> Mix:
    """Weigh powders from their jars into a jug and fill it up."""
    walk.open("/store/mixes/new/")
    for number, (dye, amount) in enumerate(grams.items()):
        of = walk.page.locator(f"[name$='-{number}-of']")
        value = of.locator("option", has_text=re.compile(dye, re.IGNORECASE)).first.get_attribute("value")
        of.select_option(value)
        walk.page.locator(f"[name$='-{number}-amount']").fill(amount)
    walk.fill(name=name, microlitres=str(millilitres))
    walk.press("It is made")
    return Mix.objects.get(name=name)


def load(walk: Walk, vessel: str, *, pieces: int = 2, colourway: str = "") -> Pot:
    """Load a pot with skeins of 100 g."""
    walk.open("/pots/new/")
    walk.fill(pieces=str(pieces))
    walk.page.locator(f"label:has-text('{vessel}')").first.click()
    if colourway:
        of = walk.page.locator("[name=colourway]")
        value = of.locator("option", has_text=colourway).first.get_attribute("value")
        of.select_option(value)
    walk.press("Load the pot")
    walk.page.wait_for_url(re.compile(r"/pots/[0-9A-Z]{5}/$"))
    return Pot.objects.get(code=walk.page.url.rstrip("/").rsplit("/", 1)[1])


def also_into(page: Page, *pots: Pot) -> None:
    for pot in pots:
        page.locator("#pot-into label", has_text=pot.code).click()


def logged(pot: Pot) -> list[str]:
    """What counts in a pot's log, kind by kind in its order."""
    entries = LogEntry.objects.filter(pot=pot, struck_by__isnull=True).exclude(kind="strike")
    return list(entries.order_by("happened_at", "id").values_list("kind", flat=True))


def test_a_whole_day_with_its_interruptions(page: Page, browser: Browser, live_server, studio):
    page.set_default_timeout(10_000)
    walk = Walk(page, live_server.url)
    walk.sign_in("marit")
    page.wait_for_url(live_server.url + "/")

    # Two jugs before the first pot, each of two dyes.
    dusk = make_jug(walk, "Dusk", 600, Red="1.2", Teal="0.6")
    night = make_jug(walk, "Night", 500, Navy="2.5", Teal="0.5")

    # Two pots from one jug for one colour, a third from the other, and a pan of trials.
    first = load(walk, "Big blue", colourway="Estuary")
    second = load(walk, "Old steel", colourway="Estuary")
    third = load(walk, "Jam pot")
    pan = load(walk, "Long pan", pieces=1)

    # One line into both pots of the colour; the acid once too often, and one of them taken away.
    walk.open(f"/pots/{first.code}/")
    also_into(page, second)
    walk.type_at_pot("6 l water", f"150 ml jug {dusk.code}", "heat on", "4 g citric acid")
    walk.type_at_pot("4 g citric acid")
    expect(page.locator(".entry-twice").first).to_contain_text("twice? last")
    page.locator(".entry-twice .button").first.click()
    expect(page.locator(".entry-twice")).to_have_count(0)
    expect(page.locator("#pot-waiting > li")).to_have_count(0)
    assert logged(second).count("auxiliary") >= 1

    # The telephone: from the board one sees at once what is in, and since when nothing was written.
    walk.open("/pots/")
    for pot in (first, second, third, pan):
        walk.sees(pot.code)
    walk.sees("heat last recorded on")
    expect(page.locator("main")).not_to_contain_text("heat is on")

    # An hour without network at the third pot: the open page keeps what is written, in order.
    walk.open(f"/pots/{third.code}/")
    page.context.set_offline(True)
    for line in ("5 l water", f"200 ml jug {night.code}", "heat on", "hold 20 min"):
        page.locator("#pot-line").fill(line)
        page.locator("#pot-line").press("Enter")
    expect(page.locator("#pot-waiting > li")).to_have_count(4)
    assert logged(third) == []
    page.context.set_offline(False)
    expect(page.locator("#pot-waiting > li")).to_have_count(0, timeout=20_000)
    assert logged(third) == ["water", "mix", "heat", "technique"]

    # Meanwhile the helper takes the pan, on a phone of their own.
    theirs = browser.new_context(**PHONE)
    try:
        helper = Walk(theirs.new_page(), live_server.url)
        helper.sign_in("jonas")
        helper.page.wait_for_url(live_server.url + "/")
        helper.open(f"/pots/{pan.code}/")
        helper.type_at_pot("low immersion", "1.5 l water", "jar 20.00 19.60 teal", "heat on low")
        taken = load(helper, "Short one", pieces=2)
        helper.type_at_pot("6 l water", f"100 ml jug {night.code}")
        assert taken.started_by.username == "jonas"
        assert set(LogEntry.objects.filter(pot=taken).values_list("who__username", flat=True)) == {"jonas"}
        assert helper.complaints == []
    finally:
        theirs.close()
    walk.open("/pots/")
    walk.sees("of Jonas")

    # The two pots from one jug come out as one lot; each keeps its code.
    for pot in (first, second):
        walk.open(f"/pots/{pot.code}/")
        walk.press("Out of the pot")
        walk.fits()
        page.get_by_text("tinted", exact=True).first.click()
        page.locator("main").get_by_role("button", name="Out of the pot").click()
        page.wait_for_url(re.compile("/lots/"))
    lot = DyeLot.objects.get(colourway=Colourway.objects.get(name="Estuary"))
    assert {pot.code for pot in lot.pots.all()} == {first.code, second.code}
    walk.sees("same lot")

    # The first bath is used again; what dye it held is unknown until somebody says.
    again = load(walk, "Big blue")
    walk.open(f"/pots/{again.code}/bath/")
    page.locator("[name=bath_from]").select_option(first.code)
    walk.press("Keep the bath")
    walk.open(f"/pots/{again.code}/")
    walk.sees(first.code)
    walk.sees("unknown")
    walk.type_at_pot("1.2 g citric acid", "heat on")

    # The day is closed pot by pot: off, or on overnight with a word.
    walk.open("/day/close/")
    for _ in range(8):
        off = page.get_by_role("button", name=re.compile("Heat is off now"))
        if not page.locator(".board-pot .button-primary").count():
            break
        off.first.click()
        page.wait_for_load_state()
    page.get_by_role("button", name="Close the day").last.click()
    walk.sees("closed")
    assert DayClosed.objects.count() == 1

    # Afterwards the record holds: the dye of the jugs by their shares, every gram accounted for.
    in_first = {each.dye.name: each.milligrams for each in what_is_in(first).dyes}
    assert in_first == {"Red": Fraction(1200 * 150, 600), "Teal": Fraction(600 * 150, 600)}
    in_third = {each.dye.name: each.milligrams for each in what_is_in(third).dyes}
    assert in_third == {"Navy": Fraction(2500 * 200, 500), "Teal": Fraction(500 * 200, 500)}
    assert breaches() == []
    # The browser and htmx report that there was no network, which was so.
    offline = ("INTERNET_DISCONNECTED", "htmx:sendError")
    assert [each for each in walk.complaints if not any(word in each for word in offline)] == []
