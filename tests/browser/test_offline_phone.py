"""The phone without network, on an origin that is not localhost: what is written there arrives once, in order, at its time."""

from __future__ import annotations

import datetime as dt

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

from tests import factories
from tests.browser.phone_in_hand import DyeRoom, Phone, sign_in

pytestmark = pytest.mark.browser

# Whole minutes of some hours ago, so that they can have been and are told apart from the time of arrival.
EARLIER = (dt.datetime.now(dt.UTC) - dt.timedelta(hours=5)).replace(second=0, microsecond=0)
ARRIVES_MS = 60_000


def comes_true(page: Page, asked: str, about: object) -> None:
    """Wait until what a page is asked, with a promise for an answer, is so."""
    page.evaluate(
        f"""async about => {{
            const asked = {asked};
            const until = performance.now() + {ARRIVES_MS};
            while (!await asked(about)) {{
                if (performance.now() > until) throw new Error("It did not come true.");
                await new Promise(resolve => setTimeout(resolve, 50));
            }}
        }}""",
        about,
    )


def is_at_hand(page: Page, path: str) -> None:
    """Wait until the phone has a page and its worker hands it out."""
    has = "async path => navigator.serviceWorker.controller && (await caches.open('pages')).match(path)"
    comes_true(page, has, path)


def at_clock(page: Page, minutes: int) -> dt.datetime:
    """Set the phone's clock so many minutes into the hour that was."""
    moment = EARLIER + dt.timedelta(minutes=minutes)
    page.clock.set_fixed_time(moment)
    return moment


def write(page: Page, words: str) -> None:
    page.locator("#pot-line").fill(words)
    page.locator("#pot-line").press("Enter")


def take_photo(page: Page) -> None:
    picture = factories.photo_file(size=(320, 240)).getvalue()
    page.locator("#pot-photo").set_input_files(
        [{"name": "pot.jpg", "mimeType": "image/jpeg", "buffer": picture}]
    )


def waits(page: Page, count: int) -> None:
    expect(page.locator("#pot-waiting > li")).to_have_count(count, timeout=ARRIVES_MS)


def safe(page: Page, count: int) -> None:
    """Wait until so many entries lie in the phone's own database."""
    counted = """count => new Promise(resolve => {
        const opening = indexedDB.open("dyehouse", 1);
        opening.onsuccess = () => {
            const counting = opening.result.transaction("entries").objectStore("entries").count();
            counting.onsuccess = () => { opening.result.close(); resolve(counting.result === count); };
        };
    })"""
    comes_true(page, counted, count)


def test_written_without_network_through_reload_and_restart_it_is_kept_once_in_order_at_its_own_time(
    room: DyeRoom, trusting: Phone
):
    pot = room.pots[0]
    page = trusting.switch_on()
    trusting.pair(page, room, "jonas")
    page.goto(f"{room.https}/pots/{pot}/")
    assert page.evaluate("window.isSecureContext")
    is_at_hand(page, f"/pots/{pot}/")
    page.reload()

    room.close()
    page.reload()
    expect(page.locator("#unsent")).to_contain_text("No connection to the house")
    times = []
    for minutes, words in ((15, "heat on"), (20, "5 ml red"), (31, "82 C")):
        times.append(at_clock(page, minutes))
        write(page, words)
    times.append(at_clock(page, 34))
    take_photo(page)
    waits(page, 4)
    expect(page.locator("#pot-waiting")).to_contain_text("Not sent yet: no connection")
    safe(page, 4)
    page.reload()
    waits(page, 4)
    expect(page.locator("#pot-waiting > li").last).to_contain_text("heat on")
    trusting.switch_off()

    page = trusting.switch_on()
    page.goto(f"{room.https}/pots/{pot}/")
    waits(page, 4)
    expect(page.locator("#pot-waiting > li").last).to_contain_text("Not sent yet")
    other = page.context.new_page()
    other.goto(f"{room.https}/pots/")
    expect(other.locator("#unsent")).to_contain_text(f"4 entries are not sent yet: {pot} (4)")
    room.open()

    waits(page, 0)
    expect(other.locator("#unsent")).to_be_empty(timeout=ARRIVES_MS)
    kinds = ["heat", "stock", "temperature", "photo"]
    assert room.log(pot) == list(zip(kinds, times, strict=True))
    assert room.arrived(pot) == kinds
    expect(page.locator("#pot-latest .entry-photo")).to_be_visible()
    expect(page.locator("#unsent")).to_be_empty()
    assert {
        who
        for (who,) in room.rows(
            "SELECT u.username FROM lots_logentry e JOIN studio_user u ON u.id = e.who_id"
        )
    } == {"jonas"}


def test_a_pot_never_opened_on_this_phone_is_at_hand_from_the_list(room: DyeRoom, trusting: Phone):
    page = trusting.switch_on()
    trusting.pair(page, room, "jonas")
    is_at_hand(page, f"/pots/{room.pots[1]}/")

    room.close()
    page.goto(f"{room.https}/pots/{room.pots[1]}/")

    expect(page.locator("#pot-line")).to_be_visible()
    page.goto(f"{room.https}/store/")
    expect(page.get_by_role("heading")).to_have_text("No connection to the house")
    room.open()


def test_an_ended_sign_in_keeps_what_was_written_and_it_goes_after_signing_in(room: DyeRoom, trusting: Phone):
    pot = room.pots[1]
    page = trusting.switch_on()
    trusting.pair(page, room, "jonas")
    page.goto(f"{room.https}/pots/{pot}/")
    is_at_hand(page, f"/pots/{pot}/")
    room.rows("UPDATE studio_pairedphone SET revoked_at = '2026-01-01'")
    room.rows("DELETE FROM django_session")
    before = len(room.log(pot))

    moment = at_clock(page, 40)
    write(page, "heat on")
    expect(page.locator("#pot-waiting")).to_contain_text("you are signed out here")
    expect(page.locator("#unsent")).to_contain_text("1 entry that is not sent yet goes then")
    page.get_by_role("link", name="Sign in as jonas").click()
    expect(page.locator("#unsent")).to_contain_text("1 entry that jonas wrote on this phone is not sent yet")
    assert page.evaluate("caches.has('pages')") is False
    sign_in(page, "jonas")

    waits(page, 0)
    expect(page).to_have_url(f"{room.https}/pots/{pot}/")
    expect(page.locator("#pot-latest")).to_contain_text("Heat on")
    assert room.log(pot)[-1] == ("heat", moment)
    assert len(room.log(pot)) == before + 1


def test_somebody_else_on_the_same_phone_sees_neither_the_pages_nor_sends_the_entries_as_their_own(
    room: DyeRoom, trusting: Phone
):
    pot = room.pots[1]
    page = trusting.switch_on()
    trusting.pair(page, room, "jonas")
    page.goto(f"{room.https}/pots/{pot}/")
    is_at_hand(page, f"/pots/{pot}/")
    page.context.set_offline(True)
    write(page, "heat off")
    safe(page, 1)
    room.rows("DELETE FROM django_session")
    page.context.set_offline(False)
    before = len(room.log(pot))

    page.goto(f"{room.https}/sign-in/")
    sign_in(page, "marit")
    page.goto(f"{room.https}/pots/{pot}/")

    expect(page.locator("#unsent")).to_contain_text("1 entry that jonas wrote on this phone is not sent yet")
    expect(page.locator("#pot-waiting")).to_contain_text("it goes once jonas is signed in here")
    assert len(room.log(pot)) == before
    page.locator("details.person > summary").click()
    page.get_by_role("button", name="Sign out").click()
    page.wait_for_url("**/sign-in/**")
    sign_in(page, "jonas")
    page.wait_for_url(f"{room.https}/")
    safe(page, 0)
    expect(page.locator("#unsent")).to_be_empty(timeout=ARRIVES_MS)
    assert room.arrived(pot)[-1] == "heat"
    assert len(room.log(pot)) == before + 1


def test_over_plain_http_the_open_page_keeps_its_queue(room: DyeRoom, phone: Phone):
    pot = room.pots[0]
    page = phone.switch_on()
    page.goto(f"{room.http}/sign-in/?next=/pots/{pot}/")
    sign_in(page, "jonas")
    page.wait_for_url(f"{room.http}/pots/{pot}/")
    assert not page.evaluate("window.isSecureContext")
    before = room.arrived(pot)

    room.close()
    for words in ("heat off", "3 ml red", "pH 4.5"):
        write(page, words)
    waits(page, 3)
    expect(page.locator("#pot-waiting")).to_contain_text("Not sent yet: no connection")
    safe(page, 3)
    room.open()

    waits(page, 0)
    assert room.arrived(pot) == [*before, "heat", "stock", "ph"]


def test_over_plain_http_what_waits_outlives_the_page_too(room: DyeRoom, phone: Phone):
    pot = room.pots[0]
    page = phone.switch_on()
    page.goto(f"{room.http}/sign-in/?next=/pots/{pot}/")
    sign_in(page, "jonas")
    page.wait_for_url(f"{room.http}/pots/{pot}/")
    before = room.arrived(pot)
    page.context.set_offline(True)
    write(page, "heat on")
    safe(page, 1)
    page.close()

    page.context.set_offline(False)
    one, other = page.context.new_page(), page.context.new_page()
    for each in (one, other):
        each.goto(f"{room.http}/pots/{pot}/", wait_until="commit")

    for each in (one, other):
        each.wait_for_load_state()
        safe(each, 0)
    assert room.arrived(pot) == [*before, "heat"]


def test_what_the_house_cannot_keep_stays_with_its_reason_until_it_is_removed(room: DyeRoom, phone: Phone):
    pot = room.pots[0]
    page = phone.switch_on()
    page.goto(f"{room.http}/sign-in/?next=/pots/{pot}/")
    sign_in(page, "jonas")
    page.wait_for_url(f"{room.http}/pots/{pot}/")
    before = room.arrived(pot)
    page.context.set_offline(True)
    page.locator(".taps-readings .tap-box > summary", has_text="Temperature").click()
    page.locator("details[open] [data-amount]").fill("hot")
    page.locator("details[open] [data-amount]").press("Enter")
    write(page, "heat off")
    safe(page, 2)
    page.close()
    page.context.set_offline(False)

    page = page.context.new_page()
    page.goto(f"{room.http}/pots/")
    expect(page.locator("#unsent")).to_contain_text(f"1 entry could not be kept: {pot} (1)")
    page.goto(f"{room.http}/pots/{pot}/")

    waits(page, 1)
    expect(page.locator("#pot-waiting")).to_contain_text("Not kept:")
    assert room.arrived(pot) == [*before, "heat"]
    page.locator("#pot-waiting").get_by_role("button", name="Remove").click()
    waits(page, 0)
    safe(page, 0)


def test_a_form_token_that_is_worth_nothing_any_more_is_replaced_unasked(room: DyeRoom, phone: Phone):
    pot = room.pots[0]
    page = phone.switch_on()
    page.goto(f"{room.http}/sign-in/?next=/pots/{pot}/")
    sign_in(page, "jonas")
    page.wait_for_url(f"{room.http}/pots/{pot}/")
    before = room.arrived(pot)
    other = page.context.new_page()
    other.goto(f"{room.http}/store/")
    other.locator("details.person > summary").click()
    other.get_by_role("button", name="Sign out").click()
    other.wait_for_url("**/sign-in/**")
    sign_in(other, "jonas")
    other.wait_for_url(f"{room.http}/")

    write(page, "heat off")

    waits(page, 0)
    assert room.arrived(pot) == [*before, "heat"]


def test_the_phone_page_says_whether_this_phone_trusts_the_house(room: DyeRoom, phone: Phone):
    page = phone.switch_on()
    page.goto(f"{room.http}/phone/")
    expect(page.locator("[data-trust]")).to_contain_text("does not trust the house yet")
    expect(page.get_by_text("Certificate Trust Settings")).to_be_visible()
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    found = Axe().run(page)
    assert found.violations_count == 0, found.generate_report()


def test_once_trusted_a_code_pairs_the_phone_over_https(room: DyeRoom, trusting: Phone):
    page = trusting.switch_on()
    page.goto(f"{room.http}/phone/")
    expect(page.locator("[data-trust]")).to_contain_text("This phone trusts the house.")

    page.goto(f"{room.http}/phone/#abcdefghjkmn")
    page.reload()

    page.wait_for_url(f"{room.https}/phone/pair/#abcdefghjkmn")
    expect(page.get_by_label("Code")).to_have_value("abcdefghjkmn")
