"""Every page that answers, from the table of all addresses: readable by rule, and nothing cut off, on both sizes."""

from __future__ import annotations

from typing import Any

import pytest
from playwright.sync_api import Browser, Locator, Page, expect
from pytest_django.live_server_helper import LiveServer

from quality.models import Role
from tests.browser.conftest import LYING, UPRIGHT
from tests.browser.floor import assert_fit_for_the_floor, at
from tests.browser.test_office import assert_readable, sign_in
from tests.shopfloor import test_access
from tests.shopfloor.test_access import DESK, TABLET, address, rows
from tests.small_shop import SmallShop, person

things = test_access.things  # a fixture: what stands in an address
pytestmark = pytest.mark.django_db(transaction=True)
ROLES = ("administrator", "supervisor")  # between them they see every page of a desk
PARTS = 4  # so that several processes share the work
OF_A_DESK = [
    (name, role)
    for _, name, role in sorted(
        {
            (ROLES.index(role), name, role)
            for method, name, answers in rows(DESK)
            for role in ROLES
            if method == "GET" and answers[role] == 200 and (role == ROLES[0] or answers[ROLES[0]] != 200)
        }
    )
]
OF_A_TABLET = [name for method, name, answers in rows(TABLET) if method == "GET" and answers["worker"] == 200]


def is_page(page: Page, where: str) -> bool:
    """Neither a file, nor a part of a page, nor a way to another one."""
    answer = page.request.get(where, max_redirects=0)
    return answer.status == 200 and "text/html" in answer.headers["content-type"] and "<title>" in answer.text()


def both_ways(page: Page, where: str, check: Any) -> None:
    page.goto(where)
    for size in (LYING, UPRIGHT):
        page.set_viewport_size(size)
        check(page, size["width"])


@pytest.mark.parametrize("part", range(PARTS))
def test_every_page_of_a_desk(
    live_server: LiveServer,
    page: Page,
    shop: SmallShop,
    things: dict[str, Any],
    part: int,
) -> None:
    person("ada", Role.ADMINISTRATOR)
    seen, signed_in = 0, ""
    for name, role in OF_A_DESK[part::PARTS]:
        if role != signed_in:
            page.context.clear_cookies()
            sign_in(page, live_server, "ada" if role == "administrator" else "sam-supervisor")
            signed_in = role
        where = live_server.url + address(name, things)
        if is_page(page, where):
            both_ways(page, where, assert_readable)
            seen += 1
    assert seen > 10


def test_every_page_of_a_tablet(
    live_server: LiveServer,
    page: Page,
    shop: SmallShop,
    things: dict[str, Any],
) -> None:
    at(page, live_server, "cut")
    seen = 0
    for name in OF_A_TABLET:
        where = live_server.url + address(name, things)
        if is_page(page, where):
            both_ways(page, where, assert_fit_for_the_floor)
            seen += 1
    assert seen > 8


def wide(shown: Locator) -> float:
    box = shown.bounding_box()
    assert box is not None
    return box["width"]


def test_a_tap_shows_a_drawing_at_full_size_and_the_next_brings_the_page_back(
    live_server: LiveServer, page: Page, browser: Browser, shop: SmallShop, things: dict[str, Any]
) -> None:
    """Without a script, on a tablet that hangs upright: figures that were too small can be read, and nothing covers them."""
    sign_in(page, live_server, "sam-supervisor")
    bare = browser.new_context(
        storage_state=page.context.storage_state(), viewport=UPRIGHT, java_script_enabled=False
    ).new_page()
    bare.goto(live_server.url + address("holes:holes", things))
    drawing, summary = bare.locator("svg.hole-map"), bare.locator("details.large > summary")
    assert wide(drawing) < UPRIGHT["width"]
    summary.click()
    expect(bare.get_by_text("Back to the page")).to_be_visible()
    assert wide(drawing) >= 590 * 2  # its smallest type is then 14 px high
    summary.click()
    expect(bare.get_by_text("See it larger")).to_be_visible()
    assert wide(drawing) < UPRIGHT["width"]
    bare.context.close()
