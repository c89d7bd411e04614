"""The packing table in a real browser: a wrong scan is seen and read out and stays out, then whole parcels, then sent."""

from __future__ import annotations

import pytest
from django.urls import reverse
from django.utils import timezone
from playwright.sync_api import Page, expect

from dyehouse.ledger.verify import breaches
from inventory.promises.models import PackedPieces, Parcel, Payment
from tests import factories
from tests.browser.walking import Walk, barriers, let_in
from tests.inventory.promises.factories import club_round, held_box, somewhere

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

PHONE, DESK = {"width": 390, "height": 844}, {"width": 1280, "height": 900}


def test_a_wrong_scan_then_whole_parcels_then_sent_off(page: Page, live_server):
    factories.studio()
    owner = factories.OwnerFactory(username="marit")
    lot, other = (factories.shelved_lot(good=5, second=0, who=owner)[0] for _ in range(2))
    round_ = club_round()
    for pieces in (2, 1, 1):
        box = held_box(lot=lot, pieces=pieces, of=round_, receiver=somewhere(), who=owner)
        Payment.objects.create(box=box, kind="paid", at=timezone.now(), by=owner)
    walk = Walk(page, live_server.url)
    let_in(page, live_server.url, "marit")
    page.set_viewport_size(PHONE)
    page.goto(live_server.url + reverse("parcels"))
    walk.fits()
    page.get_by_role("button", name="Make parcels of all that is ready").click()
    expect(page.get_by_text("4 pieces, in shelf order")).to_be_visible()
    walk.fits()
    page.get_by_role("link", name="Start packing").click()
    code = page.locator("#scan-code")
    expect(code).to_be_focused()
    # As a hand scanner types it: the code and Enter.
    page.keyboard.type(other.code)
    page.keyboard.press("Enter")
    wrong = page.locator("[aria-live=assertive]")
    expect(wrong).to_contain_text(f"Lot {other.code} does not belong in this parcel")
    assert barriers(page, PHONE, DESK) == []
    assert not PackedPieces.objects.exists()
    page.keyboard.type(lot.code)
    page.keyboard.press("Enter")
    expect(page.locator("[data-pack-tally]")).to_have_text("1 of 2 pieces in")
    expect(wrong).to_be_empty()
    expect(code).to_be_focused()
    page.keyboard.type(lot.code)
    page.keyboard.press("Enter")
    expect(page.get_by_text("2 of 3, to pack")).to_be_visible()
    page.get_by_role("button", name="Packed: all of it is in").click()
    expect(page.get_by_text("3 of 3, to pack")).to_be_visible()
    page.get_by_role("button", name="Packed: all of it is in").click()
    page.get_by_role("button", name="Send off 3 packed parcels").click()
    expect(page.get_by_text("3 parcels are on their way.")).to_be_visible()
    assert set(Parcel.objects.values_list("state", flat=True)) == {"gone"}
    assert [(row.pieces, row.checked) for row in PackedPieces.objects.order_by("pk")] == [
        (2, True),
        (1, False),
        (1, False),
    ]
    assert walk.complaints == []
    assert breaches() == []
