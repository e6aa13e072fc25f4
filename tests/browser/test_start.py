"""The start page in a real browser, both ways a tablet hangs on the wall."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page
from pytest_django.live_server_helper import LiveServer

from tests.small_shop import small_shop

pytestmark = pytest.mark.django_db(transaction=True)


def test_the_start_page_fits_the_tablet(live_server: LiveServer, page: Page, tablet: dict[str, int]) -> None:
    small_shop()
    answer = page.goto(live_server.url)
    assert answer is not None and answer.ok
    assert page.evaluate("[innerWidth, innerHeight]") == [tablet["width"], tablet["height"]]
    assert page.evaluate("document.documentElement.scrollWidth") <= tablet["width"], "the page scrolls sideways"
    assert page.locator("h1").is_visible()
    assert page.evaluate("document.styleSheets.length") > 0, "the page came without its style"
