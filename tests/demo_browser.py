"""The browser that looks at a demo shop: Chromium as it is found here, and people who sign in with it at a desk or a station."""

from __future__ import annotations

import shutil
import sys

from playwright.sync_api import Browser, Page, Playwright

from shopfloor.demo.people import PEOPLE, DemoPerson

BROWSERS = ("chromium", "chromium-headless-shell", "google-chrome")
GRETA = next(person for person in PEOPLE if person.username == "greta")  # the supervisor


def chromium(playwright: Playwright) -> Browser:
    found = next(filter(None, map(shutil.which, BROWSERS)), None)
    if found is None:
        sys.exit("Chromium is needed: sudo apt-get install chromium")
    return playwright.chromium.launch(executable_path=found, args=["--no-sandbox", "--disable-gpu"])


def press(page: Page, target: str) -> None:
    with page.expect_navigation():
        page.locator(target).first.click()


def sign_in(page: Page, who: DemoPerson) -> None:
    """At a desk."""
    page.goto("/sign-in/")
    page.fill("[name=username]", who.username)
    page.fill("[name=password]", who.password)
    press(page, "main button[type=submit]")


def choose_name(page: Page, code: str, who: DemoPerson) -> None:
    """At a station: the page that asks for the PIN comes next."""
    page.goto(f"/floor/{code}/sign-in/")
    press(page, f'main a:has-text("{who.name}")')


def give_pin(page: Page, who: DemoPerson) -> None:
    page.fill("#pin", who.pin)
    press(page, "main button[type=submit]")


def sign_in_at(page: Page, code: str, who: DemoPerson) -> None:
    choose_name(page, code, who)
    give_pin(page, who)
