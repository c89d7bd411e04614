"""A show there and back on a phone, with interruptions; a kit built and broken up at the packing table."""

from __future__ import annotations

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.db.models import Sum
from playwright.sync_api import Page, expect

from dyehouse.ledger.models import Balance, Line
from dyehouse.ledger.verify import breaches
from inventory import kits
from inventory.models import BuiltKit
from inventory.shows.models import Result, Show
from inventory.shows.planning import keep_normal_numbers
from inventory.shows.tallying import tallied
from inventory.shows.things import Sort, SortKind, Thing
from recipes.models import DyedYarn
from tests import factories
from tests.browser.walking import Walk

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

PHONE = {"width": 390, "height": 844}
DESK = {"width": 1280, "height": 900}


@pytest.fixture
def shelved() -> DyedYarn:
    """Eight good skeins of one lot on Shelf A1."""
    factories.studio()
    owner = factories.OwnerFactory(username="marit")
    place = factories.shelf_place("Shelf A1")
    _, _, dyed = factories.shelved_lot(
        good=8, second=0, who=owner, place=place, colourway=factories.colourway("Tin Roof")
    )
    return dyed


@pytest.fixture
def walk(page: Page, live_server, shelved) -> Walk:
    walk = Walk(page, live_server.url)
    walk.sign_in("marit")
    page.wait_for_url(live_server.url + "/")
    return walk


def well_read(walk: Walk) -> None:
    walk.fits()
    assert [each["id"] for each in Axe().run(walk.page).response["violations"]] == []


def on_hand(dyed: DyedYarn, **where: object) -> int:
    return Balance.objects.filter(item=dyed.item, **where).aggregate(sum=Sum("on_hand"))["sum"] or 0


def type_number(page: Page, field: str, number: str) -> None:
    """A number in its row, kept by the house before anything else is done."""
    page.locator(f"[name={field}]").fill(number)
    page.locator(f"[name={field}]").press("Tab")
    expect(page.locator(f"#row-{field} [data-state]")).to_contain_text("kept")


def test_a_show_there_and_back(walk, shelved):
    page = walk.page
    page.set_viewport_size(PHONE)
    keep_normal_numbers(
        numbers={Sort(SortKind.YARN, shelved.colourway_id, shelved.put_up_id): 5},
        who=factories.OwnerFactory(),
    )
    walk.open("/shows/new/")
    walk.fill(name="Tarn Wool Fair", where="Tarn Mill", starts_on="2027-05-15", ends_on="2027-05-16")
    walk.press("Keep")
    show = Show.objects.get()

    walk.press("Pack list")
    walk.sees("5 pieces to pack")
    well_read(walk)
    balance = Balance.objects.get(item=shelved.item, on_hand=8)
    row = f"n_{balance.item_id}_{balance.lot_id}"
    type_number(page, f"{row}_{balance.place_id}", "6")
    # Called away: the number is there on coming back, and nothing has moved.
    walk.open("/shelf/")
    walk.open(f"/shows/{show.pk}/pack/")
    expect(page.locator(f"[name={row}_{balance.place_id}]")).to_have_value("6")
    assert on_hand(shelved, place=show.place) == 0
    walk.press("Taken: all of this is at the show")
    walk.sees("6 pieces are at Tarn Wool Fair.")
    well_read(walk)
    assert (on_hand(shelved, place=show.place), on_hand(shelved)) == (6, 8)

    walk.press("Tally")
    more = page.locator(".tally-more")
    more.click()
    page.context.set_offline(True)
    more.click()
    more.click()
    expect(page.locator("[data-tally-count]")).to_have_text("3")
    expect(page.locator("[data-tally-waits]")).to_contain_text("not sent yet")
    page.context.set_offline(False)
    expect(page.locator("[data-tally-waits]")).to_have_text("", timeout=10_000)
    with page.expect_response(lambda answer: "/tally/" in answer.url):
        page.get_by_role("button", name="One fewer of Tin Roof").click()
    expect(page.locator("[data-tally-count]")).to_have_text("2")
    well_read(walk)
    size = more.bounding_box()
    assert size is not None
    assert size["height"] >= 48

    walk.open(f"/shows/{show.pk}/back/")
    assert tallied(show) == {Thing(shelved.item_id): 2}
    type_number(page, row, "3")
    walk.open("/")
    walk.open(f"/shows/{show.pk}/back/")
    walk.sees("3 gone: 2 sold, 1 missing")
    walk.press("Counted: the book follows")
    walk.sees("1 is missing. Say in a word or two")
    well_read(walk)
    walk.fill(why="left on a bench")
    walk.press("Counted: the book follows")
    walk.sees("What came of it")
    well_read(walk)

    result = Result.objects.get()
    assert (result.taken, result.returned, result.sold, result.missing) == (6, 3, 2, 1)
    assert on_hand(shelved, place=balance.place) == 5
    assert Line.objects.get(to_place__code="customer").quantity == 2
    walk.press("For the next show")
    well_read(walk)
    walk.press("Keep as normal numbers")
    walk.sees("Kept as normal numbers")
    assert breaches() == []
    # What could not be sent without a connection is told by the browser itself.
    assert [said for said in walk.complaints if "ERR_INTERNET_DISCONNECTED" not in said] == []


def test_a_kit_is_built_and_broken_up(walk, shelved):
    page = walk.page
    page.set_viewport_size(DESK)
    part = kits.PartWanted(shelved.colourway, shelved.put_up, 3)
    kit = kits.make_kit(name="Low tide shawl", kind="kit", parts=[part])

    walk.open(f"/shelf/kits/{kit.pk}/")
    walk.sees("Can make 2 of what is free now")
    well_read(walk)
    page.locator("[name=count]").fill("2")
    page.get_by_text("Shelf A1", exact=True).click()
    walk.press("Build")
    walk.sees("In Shelf A1:")
    walk.sees("Can make 0")
    assert on_hand(shelved) == 2
    built = BuiltKit.objects.order_by("-id").first()
    assert built is not None

    page.get_by_text("Break it up").first.click()
    page.get_by_role("button", name=f"Break up {built.code}").click()
    walk.sees(f"{built.code} is broken up; its skeins are free where they had lain.")
    walk.sees("Can make 1")
    well_read(walk)
    assert on_hand(shelved) == 5
    assert breaches() == []
    assert walk.complaints == []
