"""Four pots at work and one phone: the same few touches, any pot a touch away, one entry into several, and the board."""

from __future__ import annotations

import datetime as dt
import uuid

import pytest
from django.urls import reverse
from django.utils import timezone
from playwright.sync_api import Page, expect

from recipes.lots.log import add_entry, keep_line
from recipes.lots.models import LogEntry, Pot
from recipes.lots.pots import load_planned
from tests import factories
from tests.browser.test_pot_phone import DESK, NARROWEST, PHONE, ROW_STANDS_WITHIN_MS, Hand, hold_posts
from tests.browser.walking import barriers, let_in

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

# Counts what would sound, since nobody listens here.
DEAF = """
  window.struck = 0;
  window.AudioContext = class {
    constructor() { this.state = "suspended"; this.currentTime = 0; this.destination = {}; }
    async resume() { this.state = "running"; }
    async suspend() { this.state = "suspended"; }
    createOscillator() { return { frequency: {}, connect: (next) => next, start: () => { window.struck += 1; }, stop: () => {} }; }
    createGain() {
      const ramp = () => {};
      return { gain: { setValueAtTime: ramp, exponentialRampToValueAtTime: ramp }, connect: (next) => next };
    }
  };
"""


@pytest.fixture
def browser_context_args(browser_context_args: dict) -> dict:
    return {**browser_context_args, "viewport": PHONE, "has_touch": True, "is_mobile": True}


@pytest.fixture
def complaints(page: Page) -> list[str]:
    said: list[str] = []
    page.on("console", lambda it: said.append(it.text) if it.type in {"error", "warning"} else None)
    page.on("pageerror", lambda error: said.append(str(error)))
    return said


@pytest.fixture
def marit():
    factories.studio()
    return factories.OwnerFactory(username="marit", called="Marit")


@pytest.fixture
def pots(marit) -> list[Pot]:
    """Four pots at work; Red and Teal on the bench at 1 %, vinegar; 7.5 ml of Red went into the first of them."""
    factories.bottle(jar=factories.jar(dye=factories.dye("Teal", chip="#1d6f78"), who=marit), who=marit)
    factories.bottle(jar=factories.jar(dye=factories.dye("Red"), who=marit), who=marit)
    factories.auxiliary(amount=1_000_000, who=marit)
    loaded = timezone.now() - dt.timedelta(hours=1)
    pots = [
        factories.loaded_pot(who=marit, happened_at=loaded + dt.timedelta(minutes=number))
        for number in range(4)
    ]
    keep_line(pot=pots[0], key=uuid.uuid4(), typed="7.5 ml red", who=marit, clock=loaded)
    return pots


def open_at(page: Page, home: str, where: str) -> None:
    let_in(page, home, "marit")
    page.goto(home + where)


@pytest.fixture
def at_pot(page: Page, live_server, pots: list[Pot], complaints: list[str]) -> Page:
    open_at(page, live_server.url, reverse("pot", args=[pots[0].code]))
    return page


@pytest.fixture
def hand(at_pot: Page) -> Hand:
    return Hand(at_pot)


def settled(page: Page) -> None:
    expect(page.locator("#pot-waiting > li")).to_have_count(0)


def logged(pots: list[Pot]) -> list[list[str]]:
    return [
        list(LogEntry.objects.filter(pot=pot).order_by("id").values_list("kind", flat=True)) for pot in pots
    ]


# --- As few touches as with one pot -----------------------------------------------------------------------------------


def test_a_bottle_and_its_last_amount_still_take_two_touches(at_pot: Page, hand: Hand, pots):
    hand.touch(".tap-box > summary", "Red 1 %")
    hand.touch("details[open] .tap-amount", "7.5 ml")

    settled(at_pot)
    assert logged(pots) == [["stock", "stock"], [], [], []]
    assert hand.touches == 2


def test_another_amount_still_takes_two_touches_and_its_digits(at_pot: Page, hand: Hand, pots):
    hand.touch(".tap-box > summary", "Teal 1 %")
    at_pot.keyboard.type("12,5")
    hand.touch("details[open] .tap-other .button")

    settled(at_pot)
    assert LogEntry.objects.get(microlitres=12_500).pot == pots[0]
    assert hand.touches == 2


def test_heat_still_takes_one_touch_and_a_photo_two(at_pot: Page, hand: Hand, pots):
    hand.touch("#pot-heat .tap", "Heat on")
    settled(at_pot)
    assert hand.touches == 1

    with at_pot.expect_file_chooser() as camera:
        hand.touch(".tap-photo .tap")
    hand.touches += 1  # the shutter
    picture = factories.photo_file(size=(320, 240))
    camera.value.set_files([{"name": "pot.jpg", "mimeType": "image/jpeg", "buffer": picture.getvalue()}])

    expect(at_pot.locator("#pot-latest .entry-photo")).to_be_visible()
    assert logged(pots)[0] == ["stock", "heat", "photo"]
    assert hand.touches == 3


def test_the_same_again_takes_one_touch(at_pot: Page, hand: Hand, pots):
    expect(at_pot.locator("#pot-again")).to_contain_text("7.5 ml Red 1 %")

    hand.touch("#pot-again .tap")

    settled(at_pot)
    assert [entry.microlitres for entry in LogEntry.objects.filter(pot=pots[0])] == [7_500, 7_500]
    assert hand.touches == 1


def test_any_other_pot_is_one_touch_away(at_pot: Page, hand: Hand, pots):
    for number, pot in enumerate((pots[2], pots[3], pots[0]), start=1):
        hand.touch(".pots-row-pot", pot.code)
        expect(at_pot).to_have_url(at_pot.url.split("/pots/")[0] + reverse("pot", args=[pot.code]))
        expect(at_pot.locator(".pots-row-pot[aria-current]")).to_contain_text(pot.code)
        assert hand.touches == number


def test_the_row_of_pots_is_in_sight_when_a_pot_opens(at_pot: Page):
    for pot in at_pot.locator(".pots-row-pot").all():
        expect(pot).to_be_in_viewport(ratio=1)


def test_the_next_planned_step_is_done_with_one_touch_at_the_top(page: Page, live_server, marit):
    pot = factories.redye_plan(who=marit, pieces=3).pots.get()
    for _ in range(3):
        factories.loaded_pot(who=marit)
    load_planned(key=uuid.uuid4(), pot=pot, mill_lot=None, dry_milligrams=None, who=marit)
    open_at(page, live_server.url, reverse("pot", args=[pot.code]))
    hand = Hand(page)
    first = page.locator("#pot-next .next-words").inner_text()
    expect(page.locator("#pot-next .button")).to_be_in_viewport(ratio=1)

    hand.touch("#pot-next .button", "Done as planned")

    settled(page)
    expect(page.locator("#pot-next .next-words")).not_to_have_text(first)
    assert LogEntry.objects.get(pot=pot).planned is not None
    assert hand.touches == 1


# --- Into several pots at once ----------------------------------------------------------------------------------------


def test_what_is_chosen_gets_every_touch_and_the_line_until_it_is_let_go(at_pot: Page, hand: Hand, pots):
    expect(at_pot.locator("#into-now")).to_be_hidden()
    hand.touch(".into-pot", pots[1].code)
    hand.touch(".into-pot", pots[3].code)
    expect(at_pot.locator("#into-now")).to_contain_text(
        f"Goes into 3 pots: {pots[0].code}, {pots[1].code}, {pots[3].code}"
    )

    hand.touch("#pot-heat .tap", "Heat on")
    settled(at_pot)
    hand.touch(".tap-box > summary", "Red 1 %")
    hand.touch("details[open] .tap-amount", "7.5 ml")
    settled(at_pot)
    at_pot.locator("#pot-line").fill("82 C")
    at_pot.keyboard.press("Enter")
    settled(at_pot)
    hand.touch("#pot-again .tap")
    settled(at_pot)
    once = ["heat", "stock", "temperature", "stock"]
    assert logged(pots) == [["stock", *once], once, [], once]

    hand.touch("#into-now .button", "Only this pot")
    hand.touch("#pot-heat .tap", "Heat off")

    settled(at_pot)
    expect(at_pot.locator("#into-now")).to_be_hidden()
    assert logged(pots) == [["stock", *once, "heat"], once, [], once]


def test_what_is_chosen_outlives_a_reload_and_is_of_this_pot_alone(at_pot: Page, hand: Hand, pots):
    hand.touch(".into-pot", pots[1].code)

    at_pot.reload()
    expect(at_pot.locator("#into-now")).to_contain_text("Goes into 2 pots")
    hand.touch(".pots-row-pot", pots[2].code)

    expect(at_pot.locator(".pots-row-pot[aria-current]")).to_contain_text(pots[2].code)
    expect(at_pot.locator("#into-now")).to_be_hidden()


def test_without_a_connection_it_waits_as_one_and_then_goes_into_all(at_pot: Page, hand: Hand, pots):
    hand.touch(".into-pot", pots[1].code)
    hand.touch(".into-pot", pots[2].code)
    at_pot.context.set_offline(True)
    hand.touch("#pot-heat .tap", "Heat on")
    expect(at_pot.locator("#pot-waiting > li")).to_have_count(1)
    expect(at_pot.locator("#pot-waiting > li")).to_contain_text("Heat on, into 3 pots")
    # Let go meanwhile: what waits still means what was chosen when it was touched.
    hand.touch("#into-now .button", "Only this pot")

    at_pot.context.set_offline(False)

    expect(at_pot.locator("#pot-waiting > li")).to_have_count(0, timeout=10_000)
    assert logged(pots) == [["stock", "heat"], ["heat"], ["heat"], []]


def test_the_row_stands_at_once_for_several_pots_too(at_pot: Page, hand: Hand, pots):
    hand.touch(".into-pot", pots[1].code)
    hand.touch(".into-pot", pots[2].code)
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

    expect(at_pot.locator("#pot-waiting > li")).to_contain_text("7.5 ml Red 1 %, into 3 pots")
    assert at_pot.evaluate("window.stoodAt - window.keptAt") < ROW_STANDS_WITHIN_MS
    let_go()
    settled(at_pot)
    assert logged(pots) == [["stock", "stock"], ["stock"], ["stock"], []]


def test_struck_in_one_pot_it_is_struck_in_all_with_two_touches(at_pot: Page, hand: Hand, pots):
    hand.touch(".into-pot", pots[1].code)
    hand.touch("#pot-heat .tap", "Heat on")
    settled(at_pot)
    hand.touches = 0

    hand.touch("#pot-latest .entry-line", "Heat on")
    hand.touch("#pot-latest .entry-body[open] .button", "Strike it in all 2 pots")

    expect(at_pot.locator("#pot-latest .entry-struck")).to_contain_text("counts for nothing")
    assert LogEntry.objects.filter(kind="strike").count() == 2
    assert hand.touches == 2


def test_what_may_be_there_twice_is_removed_with_one_touch(at_pot: Page, hand: Hand, pots, marit):
    jo = factories.HelperFactory(called="Jo")
    for who in (jo, marit):
        keep_line(pot=pots[0], key=uuid.uuid4(), typed="25 ml vinegar", who=who)
    at_pot.reload()
    expect(at_pot.locator(".entry-twice")).to_contain_text("twice? last at")
    expect(at_pot.locator(".entry-twice")).to_contain_text("by Jo")

    hand.touch(".entry-twice .button", "Remove")

    expect(at_pot.locator(".entry-twice")).to_have_count(0)
    assert LogEntry.objects.filter(kind="strike").count() == 1
    assert hand.touches == 1


# --- The board --------------------------------------------------------------------------------------------------------


def hold(pot: Pot, who, *, ends_in_seconds: int) -> None:
    long = 1_800
    at = timezone.now() + dt.timedelta(seconds=ends_in_seconds - long)
    add_entry(
        pot=pot, key=uuid.uuid4(), kind="technique", technique="hold", seconds=long, who=who, happened_at=at
    )


@pytest.fixture
def at_board(page: Page, live_server, pots: list[Pot], marit, complaints: list[str]) -> Page:
    """The board, with a hold in the second pot that runs ten minutes more. The page's clock stands still."""
    for typed in ("12 l water", "50 ml teal", "25 ml vinegar", "heat on"):
        keep_line(pot=pots[1], key=uuid.uuid4(), typed=typed, who=marit)
    hold(pots[1], marit, ends_in_seconds=600)
    page.add_init_script(DEAF)
    open_at(page, live_server.url, reverse("pots"))
    page.clock.install(time=timezone.now())
    page.reload()
    return page


def test_a_pot_opens_from_the_board_with_one_touch_anywhere_on_it(at_board: Page, pots):
    at_board.locator(".board-pot").nth(1).tap()

    expect(at_board.locator("h1")).to_contain_text(pots[1].code)


def test_a_hold_counts_down_and_its_end_is_seen_in_the_card_and_the_title(at_board: Page, pots):
    shown = at_board.locator(".board-pot").nth(1).locator("[data-hold-words]")
    expect(shown).to_contain_text("hold, ")
    expect(shown).to_contain_text("left")
    assert at_board.title().startswith("Pots")

    at_board.clock.fast_forward("11:00")

    expect(shown).to_contain_text("hold over since")
    expect(at_board.locator(".board-pot").nth(1).locator(".hold-over")).to_be_visible()
    assert at_board.title().startswith(f"Time is up: {pots[1].code}")


def test_it_sounds_only_once_somebody_has_turned_the_sound_on(at_board: Page):
    at_board.clock.fast_forward("11:00")
    assert at_board.evaluate("window.struck") == 0
    expect(at_board.locator("[data-sound]")).to_have_attribute("aria-pressed", "false")

    at_board.locator("[data-sound]").tap()

    expect(at_board.locator("[data-sound]")).to_contain_text("Sound is on")
    expect(at_board.locator("[data-sound]")).to_have_attribute("aria-pressed", "true")
    assert at_board.evaluate("window.struck") == 3


def test_a_hold_that_ends_sounds_and_sounds_again_but_not_for_ever(at_board: Page):
    at_board.locator("[data-sound]").tap()
    expect(at_board.locator("[data-sound]")).to_contain_text("Sound is on")
    heard = at_board.evaluate("window.struck")
    at_board.clock.run_for(9 * 60_000)
    assert at_board.evaluate("window.struck") == heard

    at_board.clock.run_for(90_000)
    # Three strikes, four times.
    at_board.clock.run_for(5 * 60_000)

    assert at_board.evaluate("window.struck") == heard + 12


def test_the_sound_comes_back_with_the_first_touch_of_the_next_page(at_board: Page):
    at_board.locator("[data-sound]").tap()
    expect(at_board.locator("[data-sound]")).to_contain_text("Sound is on")
    at_board.reload()
    expect(at_board.locator("[data-sound]")).to_contain_text("Sound on")

    at_board.locator("h1").tap()

    expect(at_board.locator("[data-sound]")).to_contain_text("Sound is on")


def test_the_board_shows_by_itself_what_another_phone_wrote(at_board: Page, pots, marit):
    opened = at_board.locator(f"#board-{pots[2].code}")
    opened.focus()
    keep_line(pot=pots[2], key=uuid.uuid4(), typed="heat on low", who=marit)

    at_board.clock.run_for(21_000)

    expect(at_board.locator(".board-pot").nth(2)).to_contain_text("heat last recorded on, low")
    expect(at_board.locator(f"#board-{pots[2].code}")).to_be_focused()


def test_on_a_pots_page_a_hold_counts_down_too(at_board: Page, live_server, pots):
    at_board.goto(live_server.url + reverse("pot", args=[pots[1].code]))

    expect(at_board.locator("#pot-next [data-hold-words]")).to_contain_text("left")
    at_board.locator("#pot-next [data-sound]").tap()
    expect(at_board.locator("#pot-next [data-sound]")).to_have_attribute("aria-pressed", "true")
    at_board.goto(live_server.url + reverse("pot", args=[pots[0].code]))
    expect(at_board.locator(".pots-row [data-hold-words]")).to_contain_text("left")


def pages(pots: list[Pot]) -> list[str]:
    return [reverse("pots"), reverse("pot", args=[pots[0].code]), reverse("day-close"), reverse("day")]


def test_no_page_of_four_pots_scrolls_sideways_or_breaks_the_policy(
    at_board: Page, live_server, pots, complaints
):
    for where in pages(pots):
        at_board.goto(live_server.url + where)
        for size in (NARROWEST, PHONE, DESK):
            at_board.set_viewport_size(size)
            assert at_board.evaluate("document.documentElement.scrollWidth") <= size["width"], where
    assert complaints == []


def test_no_page_of_four_pots_has_a_barrier_that_a_machine_can_find(page: Page, live_server, pots, marit):
    keep_line(pot=pots[1], key=uuid.uuid4(), typed="heat on", who=marit)
    hold(pots[1], marit, ends_in_seconds=-60)
    for _ in range(2):
        keep_line(pot=pots[0], key=uuid.uuid4(), typed="25 ml vinegar", who=marit)
    let_in(page, live_server.url, "marit")
    for where in pages(pots):
        page.goto(live_server.url + where)
        for box in page.locator(".into-pot input").all():
            box.check()
        assert barriers(page, PHONE, DESK) == [], where


def test_what_is_touched_with_wet_gloves_is_large_enough(at_board: Page, live_server, pots):
    low = """() => [...document.querySelectorAll("main :is(button, .button, .into-pot, .pots-row-pot, .board-pot, input:not([type=hidden], [type=checkbox], .unseen), summary.tap)")]
        .filter(part => part.offsetParent && part.getBoundingClientRect().height < 44)
        .map(part => `${part.getBoundingClientRect().height} ${part.outerHTML.slice(0, 80)}`)"""
    for where in pages(pots)[:3]:
        at_board.goto(live_server.url + where)
        assert "\n".join(at_board.evaluate(low)) == "", where


def test_the_day_is_closed_with_a_touch_a_pot_and_one_more(at_board: Page, live_server, pots, marit):
    keep_line(pot=pots[2], key=uuid.uuid4(), typed="heat on low", who=marit)
    at_board.goto(live_server.url + reverse("day-close"))
    hand = Hand(at_board)

    hand.touch(".board-pot .button", "Heat is off now")
    at_board.wait_for_load_state()
    hand.touch(".board-pot .button", "Stays on overnight")
    expect(at_board.locator("main")).to_contain_text("Heat stays on overnight")
    hand.touch("main form > .button", "Close the day")

    expect(at_board.locator("main")).to_contain_text("The day was closed")
    assert hand.touches == 3
