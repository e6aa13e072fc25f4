"""A queue that is left alone: it follows the other tablets by its own clock, and notices that nobody is signed in."""

from __future__ import annotations

import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect
from pytest_django.live_server_helper import LiveServer

from quality.actions import sign_off
from quality.models import CheckPoint, SignOff
from quality.pins import set_pin
from quality.problems import report_problem
from tests.browser.conftest import enrol
from tests.browser.pages import press
from tests.small_shop import PIN, SmallShop, small_shop

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def rows() -> SmallShop:
    return small_shop()


def sign_in(page: Page, live_server: LiveServer) -> None:
    enrol(page.context, live_server.url)
    page.goto(f"{live_server.url}/floor/cut/")
    press(page.get_by_role("link", name="Wanda Worker"))
    page.get_by_label("Your PIN").fill(PIN)
    press(page.get_by_role("button", name="Sign in", exact=True))
    expect(page.locator("#live")).to_be_visible()


def test_it_follows_what_happens_at_other_tablets(live_server: LiveServer, page: Page, rows: SmallShop) -> None:
    signed, held, left = rows.released(quantity=3)
    page.clock.install()
    sign_in(page, live_server)
    expect(page.get_by_role("link", name=signed.serial)).to_be_visible()
    sign_off(serial=signed.serial, position=1, person=rows.checker, answers={}, stamp=rows.stamp(rows.checker))
    report_problem(
        serial=held.serial, position=1, person=rows.checker, text="Split at the scarf", stamp=rows.stamp(rows.checker)
    )
    gone = page.get_by_role("link", name=signed.serial)
    page.clock.fast_forward("00:16")
    expect(gone).to_have_count(0)
    expect(page.get_by_role("link", name=held.serial)).to_contain_text("Split at the scarf")
    expect(page.get_by_role("link", name=left.serial)).to_be_visible()


def test_it_goes_to_the_sign_in_when_its_worker_is_signed_out(
    live_server: LiveServer, page: Page, rows: SmallShop
) -> None:
    rows.released()
    page.clock.install()
    sign_in(page, live_server)
    set_pin(person=rows.worker, pin="730164", by=None, at=timezone.now())
    page.clock.fast_forward("00:16")
    page.wait_for_url(f"{live_server.url}/floor/cut/sign-in/")
    expect(page.locator("h1")).to_have_count(1)
    expect(page.locator("#live")).to_have_count(0)


def test_a_scanned_shell_opens_after_signing_in(live_server: LiveServer, page: Page, rows: SmallShop) -> None:
    (shell,) = rows.released()
    enrol(page.context, live_server.url)
    page.goto(f"{live_server.url}/floor/cut/")  # the tablet knows its station from then on
    page.goto(f"{live_server.url}/s/{shell.serial}/?r=1")
    press(page.get_by_role("link", name="Wanda Worker"))
    page.get_by_label("Your PIN").fill(PIN)
    press(page.get_by_role("button", name="Sign in", exact=True))
    page.wait_for_url(f"{live_server.url}/floor/cut/shell/{shell.serial}/?r=1")
    expect(page.get_by_role("button", name="Sign as Wanda Worker")).to_be_visible()


def test_a_step_with_an_open_check_is_not_sent(live_server: LiveServer, page: Page, rows: SmallShop) -> None:
    CheckPoint.objects.create(
        code="depth",
        station=rows.stations["cut"],
        text="Depth over the edges",
        kind="measured",
        unit="mm",
        spec_key="shell.depth_mm",
        minus=0.5,
        plus=0.5,
    )
    (shell,) = rows.released()
    sign_in(page, live_server)
    press(page.get_by_role("link", name=shell.serial))
    page.get_by_role("button", name="Sign as Wanda Worker").click()
    expect(page.get_by_label("Depth over the edges")).to_be_focused()
    assert not SignOff.objects.exists()
