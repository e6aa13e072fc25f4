"""The guided round of the demo shop as a first visitor takes it: from the start page to the last stop, told nothing else."""

from __future__ import annotations

import re

import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect
from pytest_django.live_server_helper import LiveServer

from quality.actions import final_check_of
from quality.models import CustomerRequest
from routing.models import KitOrder, Shell
from shopfloor.demo.loading import load_demo
from tests.browser.pages import press
from tests.browser.test_first_screens import assert_readable
from tests.browser.test_whole_way import answer_checks, press_to_print

pytestmark = pytest.mark.django_db(transaction=True)


def back_to_the_round(page: Page, stop: str) -> None:
    """By the line at the top, which names the stop that is next."""
    press(page.get_by_role("link", name=re.compile(f"Guided round, stop . of 6: {stop}")))
    expect(page.locator(".next-step h2")).to_contain_text(stop)


def test_a_visitor_takes_the_round(
    live_server: LiveServer, page: Page, tablet: dict[str, int], papers_made: None
) -> None:
    load_demo(now=timezone.now(), today=timezone.localdate())
    url, width = live_server.url, tablet["width"]
    page.goto(url)
    expect(page.locator(".message")).to_contain_text("sign in to the office as greta")
    password = page.locator(".message strong").nth(1).inner_text()
    assert_readable(page, width)
    press(page.get_by_role("link", name="Office"))
    page.fill("[name=username]", "greta")
    page.fill("[name=password]", password)
    press(page.get_by_role("button", name="Sign in"))
    press(page.get_by_role("link", name="Take the guided round").last)
    assert_readable(page, width)
    press(page.get_by_role("button", name="Begin the round"))
    assert_readable(page, width)
    fresh, checked, packed = Shell.objects.order_by("pk")

    # A first traveler, on the way.
    press(page.get_by_role("link", name=KitOrder.objects.get().number))
    order = KitOrder.objects.get()
    page.wait_for_load_state("networkidle")  # papers are made ahead meanwhile
    assert press_to_print(page, f"{url}/travelers/order/{order.number}/").startswith(b"%PDF")
    back_to_the_round(page, "Sign a step")

    press(page.get_by_role("button", name="Use this browser as a tablet"))
    pin = page.locator(".next-step strong").nth(1).inner_text()
    press(page.get_by_role("link", name="Open the step"))
    press(page.get_by_role("link", name="Bram Coppicewood"))
    page.fill("#pin", pin)
    press(page.locator("main button[type=submit]"))
    expect(page.locator("h1, .step-head").first).to_contain_text(fresh.serial)
    answer_checks(page)
    press(page.locator("#sign button.primary"))
    back_to_the_round(page, "Hold a shell")

    press(page.get_by_role("link", name="Open the step"))
    page.get_by_text("Something is wrong").click()
    page.get_by_label("In your words").fill("a plate is split at the seam")
    press(page.get_by_role("button", name=f"Put {fresh.serial} on hold"))
    back_to_the_round(page, "Settle it")

    press(page.get_by_role("link", name="Open the drum"))
    page.fill("#settlement", "glued and clamped, sound again")
    press(page.get_by_role("button", name="Release from hold"))
    back_to_the_round(page, "Print a card")

    press(page.get_by_role("link", name="Open the drum"))
    assert press_to_print(page, f"{url}/card/{checked.serial}/print/").startswith(b"%PDF")
    page.reload()
    back_to_the_round(page, "Trace a drum")

    page.get_by_label(f"Who checked {packed.serial}?").fill("Bram Coppicewood")
    press(page.get_by_role("button", name="That is the name"))
    expect(page.get_by_role("alert")).to_contain_text("did not check")
    assert_readable(page, width)
    press(page.get_by_role("link", name="Look it up"))
    checker = page.locator(".story-check strong").inner_text()
    final = final_check_of(packed)
    assert final is not None and checker == final.person.name
    back_to_the_round(page, "Trace a drum")
    page.get_by_label(f"Who checked {packed.serial}?").fill(checker)
    press(page.get_by_role("button", name="That is the name"))
    expect(page.locator(".next-step h2")).to_contain_text("Answer a request")

    press(page.get_by_role("link", name="Open the request"))
    page.get_by_label("What the customer is told").fill("14 inches, and the wall is some 7 mm.")
    press(page.get_by_role("button", name="Close with the answer"))
    press(page.get_by_role("link", name="The guided round is done"))
    expect(page.locator(".next-step h2")).to_contain_text("The round is done")
    assert_readable(page, width)
    assert CustomerRequest.objects.get().state == "answered"
