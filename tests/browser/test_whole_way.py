"""The main job from end to end, as people do it: order book in, snare through every station, card out, checker found."""

from __future__ import annotations

import io
from pathlib import Path
from urllib.parse import urlsplit

import pypdf
import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect
from pytest_django.live_server_helper import LiveServer

from quality.verification import verify_shell
from routing.models import Finish, FinishCoat, KitOrder, Operation, PressCycle, Shell
from shopfloor.demo.loading import load_demo
from shopfloor.demo.people import PEOPLE
from tests.browser.conftest import enrol
from tests.browser.pages import another_page, press

BOOK = Path(__file__).parents[2] / "shopfloor" / "demo" / "order_book.csv"
PINS = {person.username: person.pin for person in PEOPLE}
NAMES = {person.username: person.name for person in PEOPLE}
WHO = {
    "cut": "bram",
    "press": "dilys",
    "trim": "bram",
    "edge": "dilys",
    "seal": "ewan",
    "sand": "fenna",
    "finish": "fenna",
    "drill": "hal",
    "assemble": "una",
    "tune": "jory",
    "final-check": "vesna",
    "pack": "hal",
}


@pytest.fixture
def floor(live_server: LiveServer, page: Page) -> str:
    """The demo shop, with dwells of no length but one: the press rest, to be refused by."""
    load_demo(now=timezone.now(), today=timezone.localdate())
    FinishCoat.objects.update(base_dwell_h=0)
    Finish.objects.update(cure_to_drill_h=0, cure_to_pack_h=0)
    return str(live_server.url)


def office(page: Page, url: str, username: str) -> None:
    person = next(person for person in PEOPLE if person.username == username)
    page.context.clear_cookies()  # another desk
    page.goto(f"{url}/sign-in/")
    page.fill("[name=username]", person.username)
    page.fill("[name=password]", person.password)
    press(page.locator("main button[type=submit]"))


def worker(page: Page, url: str, station: str, username: str) -> None:
    enrol(page.context, url)
    page.goto(f"{url}/floor/{station}/sign-in/")
    other = page.get_by_role("link", name=NAMES[username])
    if not other.is_visible():
        page.locator("main details summary").first.click()
    press(other)
    page.fill("#pin", PINS[username])
    press(page.locator("main button[type=submit]"))
    expect(page.get_by_text(NAMES[username]).first).to_be_visible()


def answer_checks(page: Page) -> None:
    """Yes to every question; every measured value in the middle of its limits."""
    for choice in page.locator("#sign input[type=radio][value=yes]").all():
        choice.check(force=True)
    for field in page.locator("#sign input[data-low], #sign input[data-high]").all():
        low, high = field.get_attribute("data-low"), field.get_attribute("data-high")
        value = (float(low) + float(high)) / 2 if low and high else float(high) * 0.6 if high else float(low or 0) + 1
        field.fill(f"{value:.3f}")
    for group in page.locator("#sign [data-spread-high]").all():
        for field in group.locator("input").all():
            field.fill("352.4")


def sign(page: Page, url: str, step: Operation, username: str) -> None:
    station = step.station.code
    worker(page, url, station, username)
    page.goto(f"{url}/floor/{station}/shell/{step.shell.serial}/")
    answer_checks(page)
    if station == "final-check":
        page.fill("#sign #pin", PINS[username])
    press(page.locator("#sign button.primary"))
    expect(page.locator(".message.success")).to_contain_text("is signed by")


def press_to_print(page: Page, address: str) -> bytes:
    """What the button that prints to ``address`` sends back; a headless browser shows no PDF."""
    path = urlsplit(address).path
    form = page.locator(f'form[action="{path}"]')
    expect(form).to_have_count(1)
    answer = page.request.post(
        address,
        form={"csrfmiddlewaretoken": form.locator("[name=csrfmiddlewaretoken]").get_attribute("value") or ""},
        headers={"Referer": page.url},
        timeout=180_000,
    )
    assert answer.status == 200
    assert answer.headers["content-type"] == "application/pdf"
    return answer.body()


def steps_of(serial: str) -> list[Operation]:
    return list(Operation.objects.filter(shell__serial=serial).select_related("station", "shell").order_by("position"))


@pytest.mark.django_db(transaction=True)
def test_from_the_order_book_to_the_card_and_back(floor: str, page: Page, papers_made: None) -> None:
    url = floor
    office(page, url, "greta")
    page.goto(f"{url}/orders/import/")
    page.set_input_files("input[type=file]", BOOK)
    press(page.get_by_role("button", name="Show what is in it"))
    expect(page.get_by_text("Nothing is saved yet")).to_be_visible()
    assert not KitOrder.objects.exists()
    press(page.get_by_role("button", name="as drafts"))
    expect(page.locator(".message.success")).to_contain_text("imported as drafts")
    assert KitOrder.objects.count() >= 60

    order = KitOrder.objects.filter(lines__model__role="snare", lines__model__line__name="Heron").order_by("pk")[0]
    page.goto(f"{url}/orders/order/{order.number}/")
    press(page.get_by_role("button", name="Release"))
    expect(page.locator(".message.success")).to_contain_text("is released")
    shell = Shell.objects.filter(order=order, model__role="snare").order_by("pk")[0]
    serial = shell.serial

    printed = press_to_print(page, f"{url}/travelers/order/{order.number}/")
    pages = pypdf.PdfReader(io.BytesIO(printed)).pages
    assert serial in "".join(paper.extract_text() for paper in pages)

    # The cut comes first; nobody signs the press before it, nor the trim while the glue cures.
    steps = steps_of(serial)
    worker(page, url, "press", "dilys")
    page.goto(f"{url}/floor/press/shell/{serial}/")
    expect(page.get_by_text("belongs to Cut now")).to_be_visible()
    expect(page.locator("#sign")).to_have_count(0)
    sign(page, url, steps[0], "bram")
    sign(page, url, steps[1], "dilys")
    worker(page, url, "trim", "bram")
    page.goto(f"{url}/floor/trim/shell/{serial}/")
    expect(page.get_by_text("Still curing until")).to_be_visible()
    expect(page.locator("#sign")).to_have_count(0)
    rest = PressCycle.objects.get(pk=shell.model.lay_up.press_cycle_id).rest_h
    assert steps[1].dwell_minutes == rest * 60
    Operation.objects.filter(pk=steps[2].pk).update(not_before=None)  # two days later

    # Somebody who is not qualified is refused by name.
    worker(page, url, "trim", "kit")
    page.goto(f"{url}/floor/trim/shell/{serial}/")
    answer_checks(page)
    press(page.locator("#sign button.primary"))
    expect(page.locator(".message.error")).to_contain_text("not qualified")

    for step in steps[2:]:
        if step.station.code == "final-check":
            # Una assembled it, so she does not check it.
            worker(page, url, "final-check", "una")
            page.goto(f"{url}/floor/final-check/shell/{serial}/")
            answer_checks(page)
            page.fill("#sign #pin", PINS["una"])
            press(page.locator("#sign button.primary"))
            expect(page.locator(".message.error")).to_contain_text("assembled")
        sign(page, url, step, WHO[step.station.code])

    # Twice: the step is signed already, and the screen says by whom.
    page.goto(f"{url}/floor/pack/shell/{serial}/")
    expect(page.get_by_text(f"Signed by {NAMES['hal']}")).to_be_visible()
    expect(page.locator("#sign")).to_have_count(0)

    office(page, url, "oona")
    page.fill("[role=search] input[name=q]", serial.lower())
    with another_page(page):
        page.keyboard.press("Enter")
    expect(page.locator(".story-check")).to_contain_text(NAMES["vesna"])
    card = press_to_print(page, f"{url}/card/{serial}/print/")
    text = pypdf.PdfReader(io.BytesIO(card)).pages[0].extract_text()
    assert NAMES["vesna"] in text
    assert serial in text

    shell.refresh_from_db()
    assert shell.state == "packed"
    assert list(verify_shell(shell)) == []
