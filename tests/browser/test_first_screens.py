"""The first screens in a real browser: readable by rule, usable by keyboard, sent once, found by a scanner."""

from __future__ import annotations

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect
from pytest_django.live_server_helper import LiveServer

from quality.models import Person, Role
from tests.browser.pages import press
from tests.browser.scanner import scan
from tests.small_shop import SmallShop, person, small_shop

pytestmark = pytest.mark.django_db(transaction=True)
RULES = {"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]}


@pytest.fixture
def rows() -> SmallShop:
    made = small_shop()
    person("ada", Role.ADMINISTRATOR)
    return made


def sign_in(page: Page, live_server: LiveServer, username: str) -> None:
    page.goto(f"{live_server.url}/sign-in/")
    page.get_by_label("User name").fill(username)
    page.get_by_label("Password").fill("a long pass phrase")
    press(page.get_by_role("button", name="Sign in"))
    expect(page.get_by_role("button", name="Sign out")).to_be_visible()


def assert_readable(page: Page, width: int) -> None:
    page.wait_for_load_state()
    found = Axe().run(page, options=RULES)
    assert found.violations_count == 0, found.generate_report()
    assert page.evaluate("document.documentElement.scrollWidth") <= width, "the page scrolls sideways"


def test_what_a_stranger_sees(live_server: LiveServer, page: Page, tablet: dict[str, int], rows: SmallShop) -> None:
    for path in ("/", "/sign-in/", "/glossary/", "/nowhere/"):
        page.goto(live_server.url + path)
        assert_readable(page, tablet["width"])


def test_people_and_settings(live_server: LiveServer, page: Page, tablet: dict[str, int], rows: SmallShop) -> None:
    rows.released(quantity=2)
    sign_in(page, live_server, "ada")
    for path in (
        "/people/",
        f"/people/{rows.worker.pk}/",
        "/people/new/",
        "/people/shop/",
        "/tablets/",
        "/tablets/new/",
        "/board/",
        "/orders/",
    ):
        page.goto(live_server.url + path)
        assert_readable(page, tablet["width"])


def test_what_is_wrong_is_in_focus(live_server: LiveServer, page: Page, rows: SmallShop) -> None:
    sign_in(page, live_server, "ada")
    page.goto(f"{live_server.url}/people/{rows.worker.pk}/")
    page.get_by_label("New PIN").fill("123456")
    page.get_by_label("The same again").first.fill("123456")
    press(page.get_by_role("button", name="Set the PIN"))
    field = page.get_by_label("New PIN")
    expect(field).to_be_focused()
    expect(field).to_have_accessible_description(
        "6 to 12 digits. Its owner types it; nobody else needs to know it. "
        "This PIN is easily guessed; choose one without rows or repeats."
    )
    assert_readable(page, 1280)


def test_two_presses_send_one_form(live_server: LiveServer, page: Page, rows: SmallShop) -> None:
    sign_in(page, live_server, "ada")
    page.goto(f"{live_server.url}/people/{rows.worker.pk}/")
    page.get_by_label("New PIN").fill("730164")
    page.get_by_label("The same again").first.fill("730164")
    page.get_by_role("button", name="Set the PIN").dblclick()
    expect(page.get_by_text("has a new PIN")).to_be_visible()
    assert Person.objects.get(pk=rows.worker.pk).pin_version == 2


def test_a_scanner_finds_the_drum_from_any_page(live_server: LiveServer, page: Page, rows: SmallShop) -> None:
    serial = rows.released()[0].serial
    sign_in(page, live_server, "ada")
    page.goto(f"{live_server.url}/people/")
    scan(page, serial)
    page.wait_for_url(f"{live_server.url}/trace/{serial}/")


def test_slow_typing_is_no_scanner(live_server: LiveServer, page: Page, rows: SmallShop) -> None:
    serial = rows.released()[0].serial
    sign_in(page, live_server, "ada")
    page.goto(f"{live_server.url}/people/")
    page.keyboard.type(serial, delay=80)
    page.keyboard.press("Enter")
    expect(page.get_by_label("Serial number")).to_have_value("")
    assert page.url.endswith("/people/")
