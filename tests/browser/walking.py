"""What the walks through the house share: signing in, a console that must stay clean, pages that must not scroll sideways."""

from __future__ import annotations

from dataclasses import dataclass, field

from axe_playwright_python.sync_playwright import Axe
from django.conf import settings
from django.test import Client
from playwright.sync_api import Page, ViewportSize, expect

from dyehouse.studio.models import User
from tests.factories import PASSWORD

CALLED_OFF = ("htmx:afterRequest", "htmx:sendAbort")
TOO_WIDE = """width => document.documentElement.scrollWidth <= width ? [] :
    [...document.querySelectorAll("main *, .spine > *")].filter(each => each.getBoundingClientRect().right > width)
    .map(each => `${each.tagName} ${each.className} ${Math.round(each.getBoundingClientRect().right)}`).slice(-6)"""


def let_in(page: Page, home: str, username: str) -> None:
    """Have somebody signed in already, where signing in is not what is walked through."""
    client = Client()
    client.force_login(User.objects.get(username=username))
    cookie = client.cookies[settings.SESSION_COOKIE_NAME].value
    page.context.add_cookies([{"name": settings.SESSION_COOKIE_NAME, "value": cookie, "url": home}])


def barriers(page: Page, *sizes: ViewportSize) -> list[str]:
    """What a machine finds that keeps somebody from using the page, at each size of the window."""
    found: list[str] = []
    for number, size in enumerate(sizes):
        page.set_viewport_size(size)
        # The program that looks is half a megabyte, and stays on the page once it is there.
        said = Axe().run(page).response if number == 0 else page.evaluate("axe.run()")
        found += [
            f"{size['width']}: {each['id']} {each['nodes'][0]['html'][:120]}" for each in said["violations"]
        ]
    return found


@dataclass(slots=True)
class Walk:
    """One person going through the house in a real browser."""

    page: Page
    home: str
    complaints: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        # A method of a slotted class cannot be marked by the browser library; a plain function can.
        self.page.on("console", lambda message: self._heard(message))
        self.page.on("pageerror", lambda error: self.complaints.append(str(error)))

    def _heard(self, message: object) -> None:
        kind, text = getattr(message, "type", ""), getattr(message, "text", "")
        # The browser itself reports every answer of 422; those are asked for. A reading that is still asked while the page
        # is left is called off, which htmx mentions.
        if kind in {"error", "warning"} and "422" not in text and not text.startswith(CALLED_OFF):
            self.complaints.append(text)

    def sign_in(self, username: str) -> None:
        self.page.goto(self.home + "/sign-in/")
        self.page.get_by_label("Sign-in name").fill(username)
        self.page.get_by_label("Password").fill(PASSWORD)
        self.page.get_by_role("button", name="Sign in").click()

    def open(self, address: str) -> None:
        """Open an address of the house; it must answer with a page that does not scroll sideways."""
        answer = self.page.goto(self.home + address)
        assert answer is not None
        assert answer.ok, f"{address} answered {answer.status}"
        self.fits()

    def fits(self) -> None:
        """Nothing reaches over the right edge."""
        size = self.page.viewport_size
        assert size is not None
        over = self.page.evaluate(TOO_WIDE, size["width"])
        assert over == [], f"{self.page.url} scrolls sideways: {over}"

    def fill(self, **fields: str) -> None:
        """Fill fields by their names."""
        for name, value in fields.items():
            self.page.locator(f"[name={name}]").first.fill(value)

    def press(self, name: str) -> None:
        """Press the button or link of this name and wait for the page that follows."""
        self.page.get_by_role("button", name=name).or_(self.page.get_by_role("link", name=name)).first.click()
        self.page.wait_for_load_state()

    def sees(self, text: str) -> None:
        expect(self.page.locator("main")).to_contain_text(text)

    def type_at_pot(self, *lines: str) -> None:
        """Lines at the pot, each kept with Enter and read by the house before the next."""
        for line in lines:
            box = self.page.locator(".pot-line-input input").first
            box.fill(line)
            box.press("Enter")
            expect(self.page.locator("#pot-waiting > li")).to_have_count(0)
