"""The first hour of a shop of its own: from an empty database through all seven first steps to a printed traveler.

Whoever walks here knows only what the pages say; a step that can't be done, or that the page does not find done, fails.
"""

from __future__ import annotations

import io
import re
from datetime import timedelta
from pathlib import Path

import pypdf
import pytest
from django.core.management import call_command
from django.utils import timezone
from playwright.sync_api import Page, expect
from pytest_django.live_server_helper import LiveServer

from quality.verification import verify_shell
from routing.models import Shell, Shop, TravelerPrint
from shopfloor.first_steps import KINDS
from tests.browser.pages import press
from tests.browser.test_first_screens import assert_readable
from tests.browser.test_whole_way import press_to_print

pytestmark = pytest.mark.django_db(transaction=True)

PASSWORD = "three grey herons"
PIN = "482915"


def first_administrator(monkeypatch: pytest.MonkeyPatch) -> None:
    """As the start page of an empty shop says; a shell would ask for the password."""
    monkeypatch.setenv("DJANGO_SUPERUSER_PASSWORD", PASSWORD)
    call_command("createsuperuser", username="olive", name="Olive Owner", interactive=False, verbosity=0)


def next_is(page: Page, title: str, done: int) -> None:
    """The page of first steps found by itself what is done, and shows what comes next."""
    expect(page.locator("h1")).to_have_text("First steps")
    expect(page.locator(".next-step h2")).to_contain_text(title)
    expect(page.locator(".page-head")).to_contain_text(f"{done} of 7 are done")
    expect(page.locator(".step-state", has_text=re.compile("^done$"))).to_have_count(done)


def back_to_the_steps(page: Page, title: str, done: int) -> None:
    """By the line at the top, which names the step that is next."""
    press(page.get_by_role("link", name=f"First steps, {done + 1} of 7: {title}"))
    next_is(page, title, done)


def add_person(page: Page, name: str, username: str, role: str, stations: list[str]) -> None:
    """With a PIN, from the list of people back to it."""
    press(page.get_by_role("link", name="Add a person"))
    page.get_by_label("Name", exact=True).fill(name)
    page.get_by_label("User name", exact=True).fill(username)
    page.get_by_label("Role", exact=True).select_option(role)
    for station in stations:
        page.get_by_role("checkbox", name=f"May sign, {station}", exact=True).check()
    press(page.get_by_role("button", name="Save", exact=True))
    expect(page.locator("h1")).to_have_text(name)
    pin = page.locator("form", has=page.get_by_role("heading", name="PIN for the floor"))
    pin.get_by_label("New PIN").fill(PIN)
    pin.get_by_label("The same again").fill(PIN)
    press(pin.get_by_role("button", name="Set the PIN"))
    expect(page.get_by_text("A PIN is set.")).to_be_visible()
    press(page.locator(".crumb").get_by_role("link", name="People"))


def order_book(folder: Path) -> Path:
    """Two snare drums of the example book, as a spreadsheet writes them."""
    due = timezone.localdate() + timedelta(days=40)
    book = folder / "orders.csv"
    book.write_text(
        "order number;customer;due date;drum code;finish;quantity\n"
        f"F-1;Harrow Lane School;{due};heron-snare-14x5-5;Clear Water satin;2\n",
        encoding="utf-8-sig",
    )
    return book


def test_an_empty_shop_prints_its_first_traveler(
    live_server: LiveServer,
    page: Page,
    tablet: dict[str, int],
    papers_made: None,
    monkeypatch: pytest.MonkeyPatch,
    tmp_path: Path,
) -> None:
    url, width = live_server.url, tablet["width"]
    titles = [kind.title for kind in KINDS]
    assert len(titles) == 7
    page.goto(url)
    expect(page.get_by_text("manage.py createsuperuser")).to_be_visible()
    first_administrator(monkeypatch)
    page.reload()
    press(page.get_by_role("link", name="Office"))
    page.get_by_label("User name").fill("olive")
    page.get_by_label("Password").fill(PASSWORD)
    press(page.get_by_role("button", name="Sign in"))
    next_is(page, titles[0], 0)
    assert_readable(page, width)

    press(page.locator(".next-step").get_by_role("link", name="Open the settings"))
    page.get_by_label("Name of the shop").fill("Fernhollow Drums")
    page.get_by_label("Serial numbers begin with").fill("FD")
    press(page.get_by_role("button", name="Save", exact=True))
    back_to_the_steps(page, titles[1], 1)

    press(page.locator(".next-step").get_by_role("button", name="Take over the usual stations"))
    expect(page.locator(".message.success")).to_contain_text("The usual stations are there")
    next_is(page, titles[2], 2)

    press(page.locator(".next-step").get_by_role("link", name="Add people"))
    add_person(page, "Sal Sawyer", "sal", "worker", ["Cut", "Glue and press"])
    back_to_the_steps(page, titles[2], 2)  # nobody may check what Sal makes
    press(page.locator(".next-step").get_by_role("link", name="Add people"))
    add_person(page, "Cleo Checker", "cleo", "final checker", ["Final check"])
    back_to_the_steps(page, titles[3], 3)

    press(page.locator(".next-step").get_by_role("button", name="Use this browser as a tablet"))
    next_is(page, titles[4], 4)
    assert_readable(page, width)

    press(page.locator(".next-step").get_by_role("button", name="Take over the example book"))
    next_is(page, titles[5], 5)

    press(page.locator(".next-step").get_by_role("link", name="Import an order book"))
    page.get_by_label("Order book").set_input_files(order_book(tmp_path))
    press(page.get_by_role("button", name="Show what is in it"))
    expect(page.get_by_text("Nothing is saved yet")).to_be_visible()
    press(page.get_by_role("button", name="Import 1 order as draft"))
    back_to_the_steps(page, titles[6], 6)

    press(page.locator(".next-step").get_by_role("link", name="Open the orders"))
    press(page.get_by_role("link", name="F-1", exact=True))
    press(page.get_by_role("button", name="Release"))
    expect(page.locator(".message.success")).to_contain_text("is released")
    page.wait_for_load_state("networkidle")  # papers are made ahead meanwhile
    printed = press_to_print(page, f"{url}/travelers/order/F-1/")
    shells = Shell.objects.order_by("pk")
    words = "".join(paper.extract_text() for paper in pypdf.PdfReader(io.BytesIO(printed)).pages)
    assert len(shells) == 2
    for shell in shells:
        assert shell.serial.startswith("FD") and shell.serial in words
        assert list(verify_shell(shell)) == []
    assert "Fernhollow Drums" in words
    assert TravelerPrint.objects.count() == 1

    page.reload()
    press(page.get_by_role("link", name="The first steps are done"))
    expect(page.locator(".next-step h2")).to_have_text("Nothing is left to do here")
    expect(page.locator(".page-head")).to_contain_text("7 of 7 are done")
    assert_readable(page, width)
    assert not Shop.current().is_demo

    # What was set up is at work: the first station waits for Sal, at this very browser.
    page.goto(f"{url}/floor/cut/")
    press(page.get_by_role("link", name="Sal Sawyer"))
    page.fill("#pin", PIN)
    press(page.locator("main button[type=submit]"))
    expect(page.locator("main")).to_contain_text(shells[0].serial)
