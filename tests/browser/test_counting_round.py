"""A place counted through on a phone, with an interruption: typed, seen by the camera, read by a hand scanner, from a photo."""

from __future__ import annotations

import io
import re

import pytest
import segno
from PIL import Image
from playwright.sync_api import Browser, Page, expect

from dyehouse.paper.code128 import make_code128
from tests.browser.phone_in_hand import DyeRoom, Phone, sign_in

pytestmark = pytest.mark.browser

# A skein of a lot is sold while the count is left alone.
SELL = """
import uuid
from dyehouse.ledger.models import Balance
from dyehouse.ledger.operations import Bucket, Step, post
from dyehouse.ledger.places import fixed_place
row = Balance.objects.get(lot__name={code!r}, place__name="Counted shelf", item__dyed__grade="good")
post(key=uuid.uuid4(), who=None, steps=[Step(row.item, row.lot, 1, Bucket(row.place), Bucket(fixed_place("customer")))])
print("SOLD", 1)
"""


def seen_from_afar(code: str) -> Image.Image:
    """A QR code on a label that lies on a table, as a camera sees it."""
    drawn = io.BytesIO()
    segno.make_qr(code, error="m").save(drawn, kind="png", scale=7, border=4)
    with Image.open(drawn) as label:
        frame = Image.new("RGB", (640, 480), "#8a7f70")
        turned = label.convert("RGB").rotate(8, expand=True, fillcolor="#8a7f70")
        frame.paste(turned, (200, 120))
    return frame


def photo_of_bars(code: str) -> bytes:
    """A bar code as a photo shows it."""
    with Image.open(io.BytesIO(make_code128(code).png)) as bars:
        wide = bars.convert("L").resize((bars.width * 2, 160), Image.Resampling.NEAREST)
        photo = Image.new("RGB", (wide.width + 200, 400), "#d8d2c4")
        photo.paste(wide, (100, 120))
    taken = io.BytesIO()
    photo.save(taken, "JPEG", quality=88)
    return taken.getvalue()


def number_of(page: Page, code: str):
    """The number field of a lot's good skeins."""
    row = page.locator(".count-row").filter(has_text=code).filter(has_not_text="second")
    return row.locator("[data-count]")


def kept(page: Page, code: str) -> None:
    row = page.locator(".count-row").filter(has_text=code).filter(has_not_text="second")
    expect(row.locator("[data-state]")).to_contain_text(re.compile("^(kept|counted)"))


def test_a_place_is_counted_in_four_ways_left_and_settled_on_another_device(
    room: DyeRoom, trusting: Phone, browser: Browser
):
    typed, by_camera, by_scanner, sold, elsewhere = room.lots
    trusting.sees(seen_from_afar(by_camera))
    page = trusting.switch_on()
    trusting.pair(page, room, "jonas")
    page.goto(f"{room.https}/shelf/counts/")
    page.get_by_role("button", name="Count Counted shelf").click()
    expect(page.locator("h1")).to_contain_text("Counted shelf")

    # One number a row, kept without a button; what is no number is said beside it.
    number_of(page, typed).fill("-3")
    number_of(page, typed).press("Enter")
    expect(page.locator(".count-row").filter(has_text=typed).first).to_contain_text("Write a whole number")
    number_of(page, typed).fill("3")
    number_of(page, typed).press("Enter")
    kept(page, typed)
    number_of(page, sold).fill("4")
    # A hand scanner types what it read and Enter, wherever one is: into the number that was just written.
    page.keyboard.type(f"{by_scanner}\n")
    expect(number_of(page, by_scanner)).to_be_focused()
    page.keyboard.type("5\n")
    kept(page, by_scanner)

    # The camera finds the row of the label that lies before it.
    page.get_by_role("button", name="Camera").click()
    page.wait_for_url(re.compile(rf"code={by_camera}$"))
    expect(number_of(page, by_camera)).to_be_focused()
    page.keyboard.type("4\n")
    kept(page, by_camera)

    # A photo of a bar code of what should not be here at all.
    photo = {"name": "code.jpg", "mimeType": "image/jpeg", "buffer": photo_of_bars(elsewhere)}
    page.locator("input[name=picture]").set_input_files([photo])
    page.wait_for_url(re.compile(rf"code={elsewhere}$"))
    expect(page.locator("main")).to_contain_text(f"The book has none of {elsewhere} in Counted shelf")
    number_of(page, elsewhere).fill("1")
    number_of(page, elsewhere).press("Enter")
    kept(page, elsewhere)
    assert page.evaluate("document.documentElement.scrollWidth") <= page.viewport_size["width"]
    trusting.switch_off()
    room.run(SELL.format(code=sold), "SOLD")

    # Somebody else goes on at the desk, where the number of what was sold meanwhile stays what was counted then.
    desk = browser.new_context(viewport={"width": 1280, "height": 900}).new_page()
    home = f"http://localhost:{room.port}"
    desk.goto(f"{home}/sign-in/?next=/shelf/counts/")
    sign_in(desk, "marit")
    expect(desk.locator("main")).to_contain_text("begun by Jonas")
    desk.get_by_role("button", name="Go on Counted shelf").click()
    expect(number_of(desk, typed)).to_have_value("3")
    expect(desk.locator(".count-row").filter(has_text=sold).first).to_contain_text("−1 moved since")
    desk.get_by_role("button", name="The book follows the count").click()
    expect(desk.locator("main")).to_contain_text("Say in a few words why the count differs")
    desk.get_by_label("Why it differs").fill("sold at the door")
    desk.get_by_role("button", name="The book follows the count").click()
    expect(desk.locator("main")).to_contain_text("Counted shelf is counted, and the book follows.")
    desk.context.close()

    there = room.rows(
        "SELECT l.name, b.on_hand FROM ledger_balance b JOIN ledger_lot l ON l.id = b.lot_id "
        "JOIN ledger_place p ON p.id = b.place_id JOIN recipes_dyedyarn d ON d.item_id = b.item_id "
        "WHERE p.name = 'Counted shelf' AND d.grade = 'good'"
    )
    assert dict(there) == {typed: 3, by_camera: 4, by_scanner: 5, sold: 3, elsewhere: 1}
