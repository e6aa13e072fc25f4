"""The cutting plan in a real browser: it is watched while it is made, stopped, and its sheets are seen and printed."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from io import BytesIO
from threading import Thread

import pypdf
import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect
from pytest_django.live_server_helper import LiveServer

from shopfloor.cutting import background
from tests.browser.pages import press
from tests.browser.test_office import assert_readable, sign_in
from tests.slow_search import slow_search
from tests.small_shop import SmallShop, small_shop

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def rows() -> SmallShop:
    return small_shop()


@pytest.fixture(autouse=True)
def threads(monkeypatch: pytest.MonkeyPatch) -> Iterator[list[Thread]]:
    """No thread outlives its test and its database."""
    begun: list[Thread] = []
    real = background.start
    monkeypatch.setattr(background, "start", lambda pk: begun.append(real(pk)))
    yield begun
    for thread in begun:
        thread.join(60)
        assert not thread.is_alive()


def test_a_plan_is_watched_stopped_and_seen(
    live_server: LiveServer, page: Page, tablet: dict[str, int], rows: SmallShop, monkeypatch: pytest.MonkeyPatch
) -> None:
    rows.released("K-1", due=timezone.localdate())
    rows.released("K-2", due=timezone.localdate() + timedelta(days=40))
    search = slow_search(monkeypatch)
    sign_in(page, live_server, "sam-supervisor")
    page.goto(f"{live_server.url}/cutting/")
    assert_readable(page, tablet["width"])
    press(page.get_by_role("link", name="due today and late 1"))
    expect(page.get_by_label("Due by")).to_have_value(timezone.localdate().isoformat())
    expect(page.get_by_label("K-1")).to_be_visible()
    expect(page.get_by_label("K-2")).to_have_count(0)
    press(page.get_by_role("button", name="Make the plan"))
    # Nobody reloads the page: it asks by itself.
    expect(page.locator("#progress")).to_contain_text("Sheet kind 1 of 2: Ash")
    expect(page.locator("#progress")).to_contain_text(f"{search.told[0].sheets} sheets so far, at least 2 needed")
    assert_readable(page, tablet["width"])
    press(page.get_by_role("button", name="Stop"))
    expect(page.get_by_role("heading", name="Sheets to fetch")).to_be_visible()
    expect(page.get_by_text("Stopped by hand")).to_have_count(2)
    expect(page.locator("figure")).to_have_count(2 * search.told[0].sheets)
    assert_readable(page, tablet["width"])


def test_the_plan_on_paper_has_each_sheet_whole_and_no_buttons(
    live_server: LiveServer, page: Page, rows: SmallShop
) -> None:
    shells = rows.released("K-1", quantity=12)
    sign_in(page, live_server, "sam-supervisor")
    page.goto(f"{live_server.url}/cutting/")
    press(page.get_by_role("button", name="Make the plan"))
    expect(page.get_by_role("heading", name="Sheets to fetch")).to_be_visible()
    page.wait_for_load_state()  # the heading comes before the drawings
    sheets = page.locator("figure").count()
    assert sheets >= 2
    paper = [leaf.extract_text() for leaf in pypdf.PdfReader(BytesIO(page.pdf(format="A4"))).pages]
    for number in range(1, sheets + 1):
        # The words over a drawing and those under it are on one leaf.
        (leaf,) = [text for text in paper if f"Birch 3.0, sheet {number} of {sheets}" in text]
        assert f"sheet {number}, " in leaf.partition(f"Birch 3.0, sheet {number} of {sheets}")[2]
    words = "\n".join(paper)
    assert all(shell.serial in words for shell in shells)
    assert "Change or make again" not in words and "Sign out" not in words
