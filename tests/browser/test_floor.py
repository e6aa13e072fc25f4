"""A tablet at a station in a real browser: fingers in gloves, keyboards, two tablets at once, and no script at all."""

from __future__ import annotations

import json

import pytest
from playwright.sync_api import Browser, Page, expect
from pytest_django.live_server_helper import LiveServer

from quality.actions import sign_off
from quality.models import CheckPoint, Defect, SignOff
from routing.models import Shell
from tests.browser.conftest import LYING, enrol
from tests.browser.floor import assert_fit_for_the_floor, at
from tests.browser.pages import another_page, press
from tests.browser.scanner import scan
from tests.small_shop import PIN, SmallShop, small_shop

pytestmark = pytest.mark.django_db(transaction=True)

# While the next page is on its way, only a script of the page that stands there sees it. What it saw outlives that page.
WATCH_WHAT_IS_SAID = """() => {
    sessionStorage.removeItem("seen")
    const place = document.querySelector(".step-do > .tap-said")
    new MutationObserver(() => {
        const box = place.getBoundingClientRect()
        sessionStorage.setItem("seen", JSON.stringify({
            words: place.innerText,
            look: place.firstElementChild?.className,
            isFocused: document.activeElement === place,
            isInSight: box.height > 0 && box.top >= 0 && box.bottom <= innerHeight,
        }))
    }).observe(place, { childList: true })
    return [place.getAttribute("role"), place.innerText]
}"""


@pytest.fixture
def shop_rows() -> SmallShop:
    made = small_shop()
    CheckPoint.objects.create(code="seam", station=made.stations["edge"], text="Edges even all round")
    CheckPoint.objects.create(
        code="gap",
        station=made.stations["edge"],
        text="Largest gap on the flat plate",
        kind="measured",
        unit="mm",
        nominal=0,
        minus=0,
        plus=0.1,
    )
    Defect.objects.create(code="C1", name="Plate too short", found_at="cut")
    return made


def to_the_edge(shop: SmallShop, shell: Shell) -> None:
    """The shell has been cut and pressed, and its rest is over."""
    for position in (1, 2):
        sign_off(serial=shell.serial, position=position, person=shop.worker, answers={}, stamp=shop.stamp(shop.worker))
        shop.wait(hours=49)


def test_two_taps_sign_a_step_without_readings(
    live_server: LiveServer, page: Page, tablet: dict[str, int], shop_rows: SmallShop
) -> None:
    (shell,) = shop_rows.released()
    at(page, live_server, "cut")
    expect(page.locator(".floor-head")).to_contain_text("Wanda Worker")
    press(page.get_by_role("link", name=shell.serial))
    press(page.get_by_role("button", name="Sign as Wanda Worker"))
    expect(page.locator(".message.success")).to_contain_text(f"cut of {shell.serial} is signed by Wanda Worker.")
    assert SignOff.objects.get().person == shop_rows.worker
    press(page.get_by_role("button", name="Take it back"))
    expect(page.locator(".message.success")).to_contain_text("withdrawn")
    assert not SignOff.objects.standing().exists()
    assert shop_rows.step(shell, 1).state == "ready"


def test_what_is_pressed_is_large_enough_and_what_is_read_stands_out(
    live_server: LiveServer, page: Page, tablet: dict[str, int], shop_rows: SmallShop
) -> None:
    shells = shop_rows.released(quantity=3)
    to_the_edge(shop_rows, shells[0])
    page.goto(f"{live_server.url}/floor/")
    expect(page.get_by_role("heading", name="This device is not a tablet of the shop")).to_be_visible()
    assert_fit_for_the_floor(page, tablet["width"])
    press(page.get_by_role("link", name="Enter the code"))
    assert_fit_for_the_floor(page, tablet["width"])
    enrol(page.context, live_server.url)
    page.goto(f"{live_server.url}/floor/")
    assert_fit_for_the_floor(page, tablet["width"])
    page.goto(f"{live_server.url}/floor/edge/sign-in/")
    assert_fit_for_the_floor(page, tablet["width"])
    press(page.get_by_role("link", name="Wanda Worker"))
    assert_fit_for_the_floor(page, tablet["width"])
    at(page, live_server, "edge")
    assert_fit_for_the_floor(page, tablet["width"])
    press(page.get_by_role("link", name=shells[0].serial))
    assert_fit_for_the_floor(page, tablet["width"])
    page.get_by_text("Something is wrong").click()
    assert_fit_for_the_floor(page, tablet["width"])


def test_lying_the_checks_are_in_sight_with_the_numbers(
    live_server: LiveServer, page: Page, shop_rows: SmallShop
) -> None:
    (shell,) = shop_rows.released()
    to_the_edge(shop_rows, shell)
    at(page, live_server, "edge")
    press(page.get_by_role("link", name=shell.serial))
    bar = page.locator("#sign .floor-actions").bounding_box()
    assert bar is not None
    for seen in (page.locator(".number-block").first, *page.locator(".check-row").all()):
        box = seen.bounding_box()
        assert box is not None
        assert box["y"] + box["height"] <= bar["y"], "hidden behind the bar, or further down"
    assert bar["y"] + bar["height"] <= LYING["height"]


def test_a_reading_out_of_its_limits_is_marked_refused_and_kept(
    live_server: LiveServer, page: Page, shop_rows: SmallShop
) -> None:
    (shell,) = shop_rows.released()
    to_the_edge(shop_rows, shell)
    at(page, live_server, "edge")
    press(page.get_by_role("link", name=shell.serial))
    gap = page.get_by_label("Largest gap on the flat plate")
    expect(page.locator(".check-row", has=gap)).to_contain_text("0 … 0.1 mm")
    gap.fill("0,3")
    expect(gap).to_have_attribute("aria-invalid", "true")
    page.get_by_role("radio", name="yes").check()
    expect(page.get_by_role("button", name="Sign as Wanda Worker")).to_be_hidden()
    with another_page(page):
        gap.press("Enter")
    expect(page.locator(".message.error")).to_contain_text("0.3 mm (allowed 0 … 0.1 mm)")
    expect(page.locator(".message.error")).to_be_focused()
    expect(page.get_by_label("Largest gap on the flat plate")).to_have_value("0,3")
    expect(page.get_by_role("radio", name="yes")).to_be_checked()
    page.get_by_label("Largest gap on the flat plate").fill("0,08")
    press(page.get_by_role("button", name="Sign as Wanda Worker"))
    expect(page.locator(".message.success")).to_contain_text(f"of {shell.serial} is signed by Wanda Worker.")


def test_what_became_of_a_tap_is_said_before_the_next_page_comes(
    live_server: LiveServer, page: Page, tablet: dict[str, int], shop_rows: SmallShop
) -> None:
    """In the place that stood on the step's page before the tap, as a status that is read out, and with the focus."""
    signed, held = shop_rows.released(quantity=2)
    at(page, live_server, "cut")

    def tap(button: str, words: str, tone: str) -> None:
        assert page.evaluate(WATCH_WHAT_IS_SAID) == ["status", ""]
        press(page.get_by_role("button", name=button))
        expect(page.locator("#live")).to_be_visible()
        seen = json.loads(page.evaluate("sessionStorage.getItem('seen')") or "null")
        assert seen == {"words": words, "look": f"message {tone}", "isFocused": True, "isInSight": True}

    press(page.get_by_role("link", name=signed.serial))
    tap("Sign as Wanda Worker", f"cut of {signed.serial} is signed by Wanda Worker.", "success")
    press(page.get_by_role("link", name=held.serial))
    page.get_by_text("Something is wrong").click()
    page.get_by_role("radio", name="Plate too short").check()
    tap(f"Put {held.serial} on hold", f"{held.serial} is on hold.", "warning")


def test_a_problem_holds_the_shell(live_server: LiveServer, page: Page, shop_rows: SmallShop) -> None:
    (shell,) = shop_rows.released()
    at(page, live_server, "cut")
    press(page.get_by_role("link", name=shell.serial))
    page.get_by_text("Something is wrong").click()
    page.get_by_role("radio", name="Plate too short").check()
    press(page.get_by_role("button", name=f"Put {shell.serial} on hold"))
    expect(page.locator(".message.warning")).to_contain_text("is on hold")
    held = page.locator("section", has=page.locator("#held-title"))
    expect(held).to_contain_text(shell.serial)
    expect(held).to_contain_text("Plate too short")


def test_the_keyboard_alone_is_enough(live_server: LiveServer, page: Page, shop_rows: SmallShop) -> None:
    (shell,) = shop_rows.released()
    enrol(page.context, live_server.url)
    page.goto(f"{live_server.url}/floor/cut/sign-in/")
    page.get_by_role("link", name="Wanda Worker").focus()
    with another_page(page):
        page.keyboard.press("Enter")
    expect(page.get_by_label("Your PIN")).to_be_focused()
    page.keyboard.type(PIN)
    with another_page(page):
        page.keyboard.press("Enter")
    expect(page.locator("#live")).to_be_visible()
    row = page.get_by_role("link", name=shell.serial)
    for _ in range(12):
        page.keyboard.press("Tab")
        if row.evaluate("row => row === document.activeElement"):
            break
    expect(row).to_be_focused()
    with another_page(page):
        page.keyboard.press("Enter")
    button = page.get_by_role("button", name="Sign as Wanda Worker")
    expect(button).to_be_visible()
    for _ in range(12):
        page.keyboard.press("Tab")
        if button.evaluate("button => button === document.activeElement"):
            break
    expect(button).to_be_focused()
    with another_page(page):
        page.keyboard.press("Enter")
    expect(page.locator(".message.success")).to_contain_text("is signed by Wanda Worker.")


def test_a_scanner_opens_the_shell(live_server: LiveServer, page: Page, shop_rows: SmallShop) -> None:
    _, shell = shop_rows.released(quantity=2)
    at(page, live_server, "cut")
    scan(page, f"{live_server.url}/s/{shell.serial}/?r=1")
    expect(page).to_have_url(f"{live_server.url}/floor/cut/shell/{shell.serial}/?r=1")
    expect(page.get_by_role("button", name="Sign as Wanda Worker")).to_be_visible()


def test_two_tablets_one_signature(live_server: LiveServer, page: Page, browser: Browser, shop_rows: SmallShop) -> None:
    (shell,) = shop_rows.released()
    at(page, live_server, "cut")
    press(page.get_by_role("link", name=shell.serial))
    other = browser.new_context(viewport={"width": 1280, "height": 800}).new_page()
    at(other, live_server, "cut", "Sam Supervisor")
    press(other.get_by_role("link", name=shell.serial))
    press(other.get_by_role("button", name="Sign as Sam Supervisor"))
    expect(other.locator(".message.success")).to_contain_text("is signed by Sam Supervisor.")
    press(page.get_by_role("button", name="Sign as Wanda Worker"))
    expect(page.locator(".message.error")).to_contain_text(f"Sam Supervisor signed cut of {shell.serial}")
    expect(page.locator("#sign")).to_have_count(0)
    assert SignOff.objects.count() == 1
    other.context.close()


def test_a_refresh_moves_neither_the_page_nor_the_keyboard(
    live_server: LiveServer, page: Page, shop_rows: SmallShop
) -> None:
    shells = shop_rows.released(quantity=14)
    at(page, live_server, "cut")
    row = page.locator(f"#shell-{shells[9].serial}")
    row.focus()
    page.evaluate("window.scrollTo(0, 500)")
    before = page.evaluate("window.scrollY")
    assert before > 0
    sign_off(
        serial=shells[12].serial,
        position=1,
        person=shop_rows.supervisor,
        answers={},
        stamp=shop_rows.stamp(shop_rows.supervisor),
    )
    page.evaluate("document.dispatchEvent(new Event('floor:renew'))")
    expect(page.locator(f"#shell-{shells[12].serial}")).to_have_count(0)
    expect(row).to_be_focused()
    assert page.evaluate("window.scrollY") == before


def test_without_scripts_the_work_goes_on(live_server: LiveServer, browser: Browser, shop_rows: SmallShop) -> None:
    (shell,) = shop_rows.released()
    context = browser.new_context(java_script_enabled=False, viewport={"width": 1280, "height": 800})
    enrol(context, live_server.url)
    page = context.new_page()
    page.goto(f"{live_server.url}/floor/cut/")
    press(page.get_by_role("link", name="Wanda Worker"))
    page.get_by_label("Your PIN").fill(PIN)
    press(page.get_by_role("button", name="Sign in"))
    expect(page.get_by_role("link", name="Show what is new")).to_be_visible()
    press(page.get_by_role("link", name=shell.serial))
    press(page.get_by_role("button", name="Sign as Wanda Worker"))
    expect(page.locator(".message.success")).to_contain_text("is signed by Wanda Worker.")
    context.close()


def test_three_wrong_pins_lock_and_say_what_to_do(live_server: LiveServer, page: Page, shop_rows: SmallShop) -> None:
    enrol(page.context, live_server.url)
    page.goto(f"{live_server.url}/floor/cut/sign-in/")
    press(page.get_by_role("link", name="Wanda Worker"))
    for _ in range(3):
        page.get_by_label("Your PIN").fill("111222")
        press(page.get_by_role("button", name="Sign in"))
        expect(page.locator(".message.error")).to_contain_text("Wrong PIN.")
    expect(page.locator(".message.error")).to_contain_text("is locked for 30 seconds. Wait, or ask a supervisor")
    page.get_by_label("Your PIN").fill(PIN)
    press(page.get_by_role("button", name="Sign in"))
    expect(page.locator(".message.error")).to_contain_text("is locked for")


def test_changing_the_worker_takes_one_tap_and_a_pin(live_server: LiveServer, page: Page, shop_rows: SmallShop) -> None:
    shop_rows.released()
    at(page, live_server, "cut")
    press(page.get_by_role("button", name="Change worker"))
    expect(page.get_by_role("heading", name="Who works here?")).to_be_visible()
    expect(page.locator(".floor-waiting")).to_have_text("1 shell to work now.")
    press(page.get_by_role("link", name="Sam Supervisor"))
    page.get_by_label("Your PIN").fill(PIN)
    press(page.get_by_role("button", name="Sign in"))
    expect(page.locator(".floor-head")).to_contain_text("Sam Supervisor")
