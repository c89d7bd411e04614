"""A trial at the pot on a phone: how many touches it takes, and that a row stands at once."""

from __future__ import annotations

import io
import uuid
from collections.abc import Callable

import pytest
from django.urls import reverse
from playwright.sync_api import Page, Route, expect

from recipes.lots.contents import what_is_in
from recipes.lots.log import keep_line
from recipes.lots.models import LogEntry, Pot
from tests import factories
from tests.browser.walking import barriers, let_in

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

PHONE, DESK, NARROWEST = (
    {"width": 390, "height": 844},
    {"width": 1280, "height": 900},
    {"width": 320, "height": 640},
)
ROW_STANDS_WITHIN_MS = 300


@pytest.fixture
def browser_context_args(browser_context_args: dict) -> dict:
    return {**browser_context_args, "viewport": PHONE, "has_touch": True, "is_mobile": True}


@pytest.fixture
def complaints(page: Page) -> list[str]:
    """What the browser's console says against the page."""
    said: list[str] = []
    page.on("console", lambda it: said.append(it.text) if it.type in {"error", "warning"} else None)
    page.on("pageerror", lambda error: said.append(str(error)))
    return said


@pytest.fixture
def pot() -> Pot:
    """A loaded pot, Red and Teal on the bench at 1 %, a jar of Violet, vinegar; 7.5 ml of Red went in before."""
    factories.studio()
    marit = factories.OwnerFactory(username="marit")
    factories.bottle(jar=factories.jar(dye=factories.dye("Teal", chip="#1d6f78"), who=marit), who=marit)
    factories.bottle(jar=factories.jar(dye=factories.dye("Red"), who=marit), who=marit)
    factories.jar(dye=factories.dye("Violet", chip="#5b3a86"), who=marit)
    factories.auxiliary(amount=1_000_000, who=marit)
    pot = factories.loaded_pot(who=marit)
    keep_line(pot=pot, key=uuid.uuid4(), typed="7.5 ml red", who=marit)
    return pot


@pytest.fixture
def at_pot(page: Page, live_server, pot: Pot, complaints: list[str]) -> Page:
    """The pot's page, open on the owner's phone."""
    let_in(page, live_server.url, "marit")
    page.goto(live_server.url + reverse("pot", args=[pot.code]))
    return page


class Hand:
    """Touches, counted. Nothing else is done with it: no swipe, no long press, no hover."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.touches = 0

    def touch(self, selector: str, name: str = "") -> None:
        found = self.page.locator(selector).filter(has_text=name) if name else self.page.locator(selector)
        found.first.tap()
        self.touches += 1


@pytest.fixture
def hand(at_pot: Page) -> Hand:
    return Hand(at_pot)


def kept(page: Page, kind: str, count: int = 1) -> LogEntry:
    """The newest entry of a kind, once the page shows that nothing waits any more."""
    expect(page.locator("#pot-waiting > li")).to_have_count(0)
    entries = LogEntry.objects.filter(kind=kind).order_by("-id")
    assert entries.count() == count
    return entries[0]


def test_a_bottle_and_its_last_amount_take_two_touches(at_pot: Page, hand: Hand):
    hand.touch(".tap-box > summary", "Red 1 %")
    hand.touch("details[open] .tap-amount", "7.5 ml")

    expect(at_pot.locator("#pot-latest .entry-words").first).to_contain_text("7.5 ml Red 1 %")
    assert kept(at_pot, "stock", 2).microlitres == 7_500
    assert hand.touches == 2


def test_another_amount_takes_two_touches_and_its_digits(at_pot: Page, hand: Hand):
    hand.touch(".tap-box > summary", "Teal 1 %")
    expect(at_pot.locator("details[open] [data-amount]")).to_be_focused()
    assert at_pot.locator("details[open] [data-amount]").get_attribute("inputmode") == "decimal"
    at_pot.keyboard.type("12,5")
    hand.touch("details[open] .tap-other .button")

    assert kept(at_pot, "stock", 2).microlitres == 12_500
    assert hand.touches == 2


def test_enter_keeps_another_amount_too(at_pot: Page, hand: Hand):
    hand.touch(".tap-box > summary", "Teal 1 %")
    at_pot.keyboard.type("4")
    at_pot.keyboard.press("Enter")

    assert kept(at_pot, "stock", 2).microlitres == 4_000


def test_a_new_last_amount_is_at_hand_without_opening_the_page_afresh(at_pot: Page, hand: Hand):
    hand.touch(".tap-box > summary", "Teal 1 %")
    at_pot.keyboard.type("4")
    at_pot.keyboard.press("Enter")
    kept(at_pot, "stock", 2)

    hand.touch(".tap-box > summary", "Teal 1 %")
    hand.touch("details[open] .tap-amount", "4 ml")

    assert kept(at_pot, "stock", 3).microlitres == 4_000


def test_heat_takes_one_touch_and_says_when_it_was_last_recorded(at_pot: Page, hand: Hand):
    hand.touch("#pot-heat .tap", "Heat on")

    entry = kept(at_pot, "heat")
    assert entry.heat_on is True
    assert hand.touches == 1
    expect(at_pot.locator("#pot-heat")).to_contain_text("last recorded on")


def test_a_photo_takes_two_touches_and_is_kept_without_a_third(at_pot: Page, hand: Hand):
    with at_pot.expect_file_chooser() as camera:
        hand.touch(".tap-photo .tap")
    hand.touches += 1  # the shutter
    picture = factories.photo_file(size=(320, 240))
    camera.value.set_files([{"name": "pot.jpg", "mimeType": "image/jpeg", "buffer": picture.getvalue()}])

    expect(at_pot.locator("#pot-latest .entry-photo")).to_be_visible()
    assert kept(at_pot, "photo").photo is not None
    assert hand.touches == 2
    camera_input = at_pot.locator("#pot-photo")
    assert camera_input.get_attribute("capture") == "environment"


def test_a_hostile_photo_is_refused_with_a_sentence_beside_the_button(at_pot: Page):
    not_a_photo = io.BytesIO(b"<svg onload='alert(1)'></svg>")
    at_pot.locator("#pot-photo").set_input_files(
        [{"name": "pot.jpg", "mimeType": "image/jpeg", "buffer": not_a_photo.getvalue()}]
    )

    expect(at_pot.locator('[data-errors="photo"]')).to_contain_text("no photo that can be read")
    assert not LogEntry.objects.filter(kind="photo").exists()


def test_an_entry_is_struck_in_two_touches_and_stays_visible(at_pot: Page, hand: Hand, pot: Pot):
    hand.touch("#pot-latest .entry-line", "7.5 ml Red")
    hand.touch("#pot-latest .entry-body[open] .button", "Strike it")

    expect(at_pot.locator("#pot-latest .entry-struck")).to_contain_text("counts for nothing")
    assert what_is_in(pot).is_empty
    assert hand.touches == 2


def test_an_entry_is_corrected_in_two_touches_and_the_typing(at_pot: Page, hand: Hand):
    hand.touch("#pot-latest .entry-line", "7.5 ml Red")
    hand.touch("#pot-latest .entry-body[open] [name=typed]")
    at_pot.keyboard.press("Control+A")
    at_pot.keyboard.type("15 ml red")
    at_pot.keyboard.press("Enter")

    expect(at_pot.locator("#pot-latest .entry:not(.entry-struck)")).to_contain_text("15 ml Red 1 %")
    assert LogEntry.objects.get(microlitres=15_000).corrects is not None
    assert hand.touches == 2


def test_the_line_shows_how_it_is_read_and_enter_keeps_it(at_pot: Page):
    at_pot.locator("#pot-line").fill("14:20 +5 ml red, heat off")
    expect(at_pot.locator("#pot-reading")).to_contain_text("5 ml red 1 %", ignore_case=True)
    expect(at_pot.locator("#pot-reading")).to_contain_text("Heat off")
    at_pot.keyboard.press("Enter")

    assert kept(at_pot, "heat").heat_on is False
    expect(at_pot.locator("#pot-line")).to_have_value("")
    assert LogEntry.objects.filter(kind="stock", microlitres=5_000).count() == 1


def test_the_line_is_in_reach_however_much_is_in_the_pot(at_pot: Page, pot: Pot):
    for number in range(12):
        keep_line(pot=pot, key=uuid.uuid4(), typed=f"{number + 1} ml of number{number}x", who=pot.started_by)
    at_pot.reload()

    expect(at_pot.locator("#pot-line")).to_be_in_viewport(ratio=1)


def test_a_question_is_answered_with_one_touch(at_pot: Page, hand: Hand):
    at_pot.locator("#pot-line").fill("5 red")
    at_pot.keyboard.press("Enter")
    expect(at_pot.locator(".entry-ask")).to_contain_text("unit")

    hand.touch(".entry-ask .button", "5 ml")

    expect(at_pot.locator(".entry-ask")).to_have_count(0)
    assert LogEntry.objects.get(kind="stock", microlitres=5_000).dye.name == "Red"


def hold_posts(page: Page) -> Callable[[], None]:
    """Let no post through until the returned function is called."""
    held: list[Route] = []
    waiting = True

    def hold(route: Route) -> None:
        if route.request.method == "POST" and waiting:
            held.append(route)
        else:
            route.continue_()

    page.route("**/pots/**", hold)

    def let_go() -> None:
        nonlocal waiting
        waiting = False
        for route in held:
            route.continue_()
        held.clear()

    return let_go


def test_a_row_stands_at_once_however_slow_the_house_is(at_pot: Page, hand: Hand):
    let_go = hold_posts(at_pot)
    at_pot.evaluate(
        """() => {
            const list = document.getElementById("pot-waiting");
            document.addEventListener("submit", () => { window.keptAt = performance.now(); }, true);
            new MutationObserver(() => { window.stoodAt ??= performance.now(); }).observe(list, { childList: true });
        }"""
    )

    hand.touch(".tap-box > summary", "Red 1 %")
    hand.touch("details[open] .tap-amount", "7.5 ml")

    expect(at_pot.locator("#pot-waiting > li")).to_contain_text("7.5 ml Red 1 %")
    expect(at_pot.locator("#pot-waiting > li")).to_be_in_viewport()
    assert at_pot.evaluate("window.stoodAt - window.keptAt") < ROW_STANDS_WITHIN_MS
    assert LogEntry.objects.filter(kind="stock").count() == 1
    let_go()
    kept(at_pot, "stock", 2)


def test_what_could_not_be_sent_waits_in_order_and_is_kept_once(at_pot: Page):
    at_pot.context.set_offline(True)
    for typed in ("heat on", "5 ml red", "heat off"):
        at_pot.locator("#pot-line").fill(typed)
        at_pot.keyboard.press("Enter")
    expect(at_pot.locator("#pot-waiting > li")).to_have_count(3)
    expect(at_pot.locator("#pot-waiting")).to_contain_text("no connection")

    at_pot.context.set_offline(False)

    expect(at_pot.locator("#pot-waiting > li")).to_have_count(0, timeout=10_000)
    new = LogEntry.objects.order_by("id").values_list("kind", flat=True)
    assert list(new) == ["stock", "heat", "stock", "heat"]


def test_a_refused_weighing_comes_back_with_what_was_typed(at_pot: Page, hand: Hand):
    hand.touch(".tap-box > summary", "Violet")
    at_pot.locator("details[open] [name=before]").fill("25.06")
    at_pot.locator("details[open] [name=after]").fill("25.43")
    hand.touch("details[open] .button", "Keep the weighing")

    expect(at_pot.locator("details[open] .error")).to_contain_text("not lighter than before")
    expect(at_pot.locator("details[open] [name=after]")).to_have_value("25.43")
    assert not LogEntry.objects.filter(kind="powder").exists()


def test_nothing_scrolls_sideways_and_the_policy_holds(at_pot: Page, complaints: list[str]):
    at_pot.evaluate("document.querySelectorAll('details:not(.person)').forEach(more => more.open = true)")

    for size in (NARROWEST, PHONE, DESK):
        at_pot.set_viewport_size(size)
        assert at_pot.evaluate("document.documentElement.scrollWidth") <= size["width"]
    assert complaints == []


def test_controls_are_large_enough_for_wet_gloves(at_pot: Page):
    at_pot.evaluate(
        "document.querySelectorAll('.pot-page details').forEach(more => { more.name = ''; more.open = true; })"
    )
    low = at_pot.evaluate(
        """() => [...document.querySelectorAll(".pot-page :is(button, .button, input:not([type=hidden], .unseen), select, summary.tap)")]
            .filter(part => part.offsetParent && part.getBoundingClientRect().height < 48)
            .map(part => `${part.getBoundingClientRect().height} ${part.outerHTML.slice(0, 80)}`)"""
    )
    assert "\n".join(low) == ""


def test_the_page_has_no_barrier_that_a_machine_can_find(at_pot: Page):
    at_pot.evaluate(
        "document.querySelectorAll('.pot-page details').forEach(more => { more.name = ''; more.open = true; })"
    )

    assert barriers(at_pot, PHONE, DESK) == []
