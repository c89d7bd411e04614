"""The README's pictures, taken of the invented studio in a real house: python -m tests.browser.pictures"""

from __future__ import annotations

import os
import re
import tempfile
from pathlib import Path

import django
from PIL import Image
from playwright.sync_api import Browser, sync_playwright

from tests.running_house import OWNER, PASSWORD, House, running_house

HERE = Path(__file__).resolve().parent / "pictures"
COLOURS = 96


def main() -> None:
    """Open a house with the demo and take each picture anew."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "dyehouse.settings")
    django.setup()
    # The tests' own set-up knows where the browser is; it wants Django to be ready first.
    from tests.conftest import CHROMIUM_FLAGS, find_chromium

    HERE.mkdir(exist_ok=True)
    with (
        tempfile.TemporaryDirectory() as folder,
        running_house(Path(folder), "--demo") as house,
        sync_playwright() as playwright,
    ):
        browser = playwright.chromium.launch(executable_path=find_chromium(), args=CHROMIUM_FLAGS)
        picture(browser, house, "pot", 390, 844, "/", r"/pots/[0-9A-Z]+/")
        picture(browser, house, "day", 1280, 860, "/")
        picture(
            browser,
            house,
            "redye",
            1280,
            1150,
            "/colourways/?find=Quince",
            r"/colourways/[0-9A-Z]+/",
            "redye/?pieces=10",
        )
        browser.close()


def picture(
    browser: Browser,
    house: House,
    name: str,
    width: int,
    height: int,
    address: str,
    follow: str = "",
    then: str = "",
) -> None:
    """One picture: the page of an address, or of the first link on it that fits `follow`, with `then` behind it."""
    context = browser.new_context(viewport={"width": width, "height": height})
    page = context.new_page()
    page.goto(house.address + "sign-in/")
    page.get_by_label("Sign-in name").fill(OWNER)
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url(house.address)
    page.goto(house.address.rstrip("/") + address)
    if follow:
        links = page.eval_on_selector_all(
            "main a[href]", "links => links.map(link => link.getAttribute('href'))"
        )
        found = next(link for link in links if re.fullmatch(follow, link) and "new" not in link)
        page.goto(house.address.rstrip("/") + found + then)
        if "pieces=" in then:
            page.get_by_role("button", name="Work it out").click()
            page.wait_for_load_state()
    page.wait_for_timeout(500)
    file = HERE / f"{name}.png"
    page.screenshot(path=file)
    context.close()
    # A picture of few colours is a fifth of the size and looks the same.
    Image.open(file).convert("RGB").quantize(COLOURS).save(file, optimize=True)
    print(f"{file.name}: {file.stat().st_size // 1024} KB")


if __name__ == "__main__":
    main()
