"""A supervisor at a desk in a real browser: sign in, open an order, release it, see its shells."""

from __future__ import annotations

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect
from pytest_django.live_server_helper import LiveServer

from quality.models import Role
from routing.models import KitOrder, OrderState, Shell
from tests.browser.pages import press
from tests.small_shop import SmallShop, person, small_shop

pytestmark = pytest.mark.django_db(transaction=True)
RULES = {"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]}


@pytest.fixture
def rows() -> SmallShop:
    return small_shop()


def sign_in(page: Page, live_server: LiveServer, username: str, password: str = "a long pass phrase") -> None:
    page.goto(f"{live_server.url}/sign-in/")
    page.get_by_label("User name").fill(username)
    page.get_by_label("Password").fill(password)
    press(page.get_by_role("button", name="Sign in"))


def assert_readable(page: Page, width: int) -> None:
    page.wait_for_load_state()
    found = Axe().run(page, options=RULES)
    assert found.violations_count == 0, found.generate_report()
    assert page.evaluate("document.documentElement.scrollWidth") <= width, "the page scrolls sideways"


def test_an_order_is_released_and_its_shells_are_seen(
    live_server: LiveServer, page: Page, tablet: dict[str, int], rows: SmallShop
) -> None:
    rows.order("K-1", quantity=2)
    sign_in(page, live_server, "sam-supervisor")
    press(page.get_by_role("navigation", name="Main").get_by_role("link", name="Orders"))
    assert_readable(page, tablet["width"])
    press(page.get_by_role("link", name="K-1"))
    assert_readable(page, tablet["width"])
    assert not Shell.objects.exists()
    press(page.get_by_role("button", name="Release"))
    expect(page.get_by_role("status").filter(has_text="is released")).to_be_visible()
    shells = list(Shell.objects.order_by("pk"))
    assert len(shells) == 2
    assert KitOrder.objects.get().state == OrderState.RELEASED
    for shell in shells:
        expect(page.get_by_role("main").get_by_text(shell.serial).first).to_be_visible()
    assert_readable(page, tablet["width"])
    press(page.get_by_role("navigation", name="Main").get_by_role("link", name="Board"))
    for shell in shells:
        expect(page.locator(f'main a[href="/trace/{shell.serial}/"]')).to_be_visible()
    assert_readable(page, tablet["width"])


def test_the_story_of_a_drum_is_one_search_away(
    live_server: LiveServer, page: Page, tablet: dict[str, int], rows: SmallShop
) -> None:
    (shell,) = rows.released()
    sign_in(page, live_server, "sam-supervisor")
    page.get_by_label("Serial number").fill(shell.serial.lower())
    press(page.get_by_role("button", name="Look up"))
    page.wait_for_url(f"{live_server.url}/trace/{shell.serial}/")
    expect(page.get_by_role("main").get_by_text("Harrow Lane School").first).to_be_visible()
    assert_readable(page, tablet["width"])


def test_a_wrong_password_is_said_and_signing_out_shuts_the_door(
    live_server: LiveServer, page: Page, rows: SmallShop
) -> None:
    sign_in(page, live_server, "sam-supervisor", "something else")
    expect(page.get_by_text("User name and password do not fit.")).to_be_visible()
    sign_in(page, live_server, "sam-supervisor")
    press(page.get_by_role("button", name="Sign out"))
    page.goto(f"{live_server.url}/orders/")
    assert page.url.startswith(f"{live_server.url}/sign-in/")


def test_somebody_in_the_office_releases_nothing(live_server: LiveServer, page: Page, rows: SmallShop) -> None:
    person("olive-office", Role.OFFICE)
    rows.order("K-1")
    sign_in(page, live_server, "olive-office")
    page.goto(f"{live_server.url}/orders/order/K-1/")
    expect(page.get_by_role("heading", level=1)).to_contain_text("K-1")
    expect(page.get_by_role("button", name="Release")).to_have_count(0)
