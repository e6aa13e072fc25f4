"""A worker signed in at a tablet, and what every page of the floor owes to gloves and glare."""

from __future__ import annotations

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect
from pytest_django.live_server_helper import LiveServer

from tests.browser.conftest import enrol
from tests.browser.pages import press
from tests.small_shop import PIN

RULES = {
    "runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"],
    "rules": {"color-contrast-enhanced": {"enabled": True}},  # 7:1, for glare
}
TARGET_PX = 64
# Whatever a finger presses; words that open something further down are not what one presses with gloves on.
PRESSED = (
    "main button, main a.button, main a.floor-row, main .choice label, main .choice-one, main .rack-row, "
    "main input:not([type=hidden], [type=radio], [type=checkbox], [type=file])"
)


def at(page: Page, live_server: LiveServer, station: str, name: str = "Wanda Worker") -> None:
    """Sign in by the keys on the screen."""
    enrol(page.context, live_server.url)
    page.goto(f"{live_server.url}/floor/{station}/")
    press(page.get_by_role("link", name=name))
    for digit in PIN:
        page.get_by_role("button", name=digit, exact=True).click()
    press(page.get_by_role("button", name="Sign in"))
    expect(page.locator("#live")).to_be_visible()


def assert_fit_for_the_floor(page: Page, width: int) -> None:
    page.wait_for_load_state()
    found = Axe().run(page, options=RULES)
    assert found.violations_count == 0, found.generate_report()
    assert page.evaluate("document.documentElement.scrollWidth") <= width, f"{page.url} scrolls sideways"
    for target in page.locator(PRESSED).all():
        box = target.bounding_box()
        if box is not None:
            assert box["height"] >= TARGET_PX and box["width"] >= TARGET_PX, (
                f"{box} {target.evaluate('element => element.outerHTML')[:160]}"
            )
