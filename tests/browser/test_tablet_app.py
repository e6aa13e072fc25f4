"""What a real browser makes of the floor: installable, and a screen that stays on during a step."""

from __future__ import annotations

from typing import Any

import pytest
from playwright.sync_api import Page, expect
from pytest_django.live_server_helper import LiveServer

from tests.browser.conftest import enrol
from tests.browser.floor import assert_fit_for_the_floor, at
from tests.browser.pages import press, until_page_says
from tests.browser.test_first_screens import assert_readable
from tests.small_shop import SmallShop, small_shop

pytestmark = pytest.mark.django_db(transaction=True)
LISTEN = """
    window.asked = []
    const lock = { request: async (what) => {
        window.asked.push(what)
        return new EventTarget()
    } }
    Object.defineProperty(navigator, "wakeLock", { value: lock })
"""


@pytest.fixture
def rows() -> SmallShop:
    return small_shop()


def test_chromium_takes_the_manifest(live_server: LiveServer, page: Page, rows: SmallShop) -> None:
    enrol(page.context, live_server.url)
    page.goto(f"{live_server.url}/floor/")
    browser = page.context.new_cdp_session(page)
    found: dict[str, Any] = browser.send("Page.getAppManifest")
    assert found["url"].endswith("/manifest.webmanifest")
    assert found["errors"] == []
    # A window of its own is a private one in tests, where nothing is put on a home screen.
    errors = browser.send("Page.getInstallabilityErrors")["installabilityErrors"]
    assert {error["errorId"] for error in errors} <= {"in-incognito"}


def test_the_screen_stays_on_during_a_step(live_server: LiveServer, page: Page, rows: SmallShop) -> None:
    (shell,) = rows.released()
    page.add_init_script(LISTEN)
    at(page, live_server, "cut")
    assert page.evaluate("asked") == [], "a queue may go dark"
    press(page.get_by_role("link", name=shell.serial))
    until_page_says(page, "asked.length === 1 && asked[0] === 'screen'", "the step did not ask")
    page.evaluate("document.dispatchEvent(new Event('visibilitychange'))")
    until_page_says(page, "asked.length === 2", "it did not ask again")


def test_a_browser_without_it_says_nothing(live_server: LiveServer, page: Page, rows: SmallShop) -> None:
    (shell,) = rows.released()
    page.add_init_script("Object.defineProperty(navigator, 'wakeLock', { value: undefined })")
    at(page, live_server, "cut")
    press(page.get_by_role("link", name=shell.serial))
    expect(page.get_by_role("button", name="Sign as Wanda Worker")).to_be_visible()


def test_what_the_rings_say_opens_without_leaving_the_page(
    live_server: LiveServer, page: Page, tablet: dict[str, int], rows: SmallShop
) -> None:
    rows.released()
    enrol(page.context, live_server.url)
    page.goto(f"{live_server.url}/floor/cut/sign-in/")
    page.get_by_text("Rings", exact=True).click()
    expect(page.get_by_text("Somebody can begin now.")).to_be_visible()
    assert_fit_for_the_floor(page, tablet["width"])
    box = page.locator(".ring-legend ul").bounding_box()
    assert box is not None and box["x"] >= 0 and box["x"] + box["width"] <= tablet["width"]
    assert box["y"] + box["height"] <= tablet["height"]


def test_the_guide_on_a_tablet_and_at_a_desk(
    live_server: LiveServer, page: Page, tablet: dict[str, int], rows: SmallShop
) -> None:
    paths = ["/guide/", *(f"/guide/{who}/" for who in ("worker", "checker", "supervisor", "office")), "/glossary/"]
    for path in paths:
        page.goto(live_server.url + path)
        assert_readable(page, tablet["width"])
    enrol(page.context, live_server.url)
    for path in paths:
        page.goto(live_server.url + path)
        expect(page.get_by_role("link", name="Back to the floor")).to_be_visible()
        assert_fit_for_the_floor(page, tablet["width"])
    press(page.get_by_role("link", name="Back to the floor"))
    assert page.url.endswith("/floor/")
