"""The link to the server drops, and the station's tablet goes on working: real browser, real server, a cable in between.

The cable is a small relay. Pulled out, it refuses connections, as a machine does whose network is gone.
"""

from __future__ import annotations

import contextlib
import re
import socket
import threading
from collections.abc import Iterator
from urllib.parse import urlsplit

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import BrowserContext, FilePayload, Page, expect
from pytest_django.live_server_helper import LiveServer

from quality.actions import sign_off
from quality.models import CheckPoint, Problem, Reading, SignOff
from routing.models import Shell
from tests.browser.conftest import enrol
from tests.browser.floor import RULES, TARGET_PX
from tests.browser.pages import press, until, until_page_says
from tests.small_shop import PIN, SmallShop, small_shop

pytestmark = pytest.mark.django_db(transaction=True)


NOTHING_WAITS = """() => new Promise((resolve, reject) => {
    const opening = indexedDB.open("floor", 1)
    opening.onerror = () => reject(opening.error)
    opening.onsuccess = () => {
        const counted = opening.result.transaction("taps").objectStore("taps").count()
        counted.onsuccess = () => { opening.result.close(); resolve(counted.result === 0) }
    }
})"""

# No tab sends until letSend() is called; one that is sending now comes to its end first.
HOLD_SENDING = """() => new Promise(held => {
    navigator.locks.request("floor-outbox", () => new Promise(letGo => { window.letSend = letGo; held() }))
})"""


class Cable:
    """Relays each connection to the server; pulled out, it cuts all of them and takes no new one."""

    def __init__(self, server: str) -> None:
        parts = urlsplit(server)
        assert parts.hostname is not None and parts.port is not None
        self.server = (parts.hostname, parts.port)
        self.listener: socket.socket | None = None
        self.lines: set[socket.socket] = set()
        self.troubles: list[str] = []  # what happens to the next signatures, one each
        self.signatures = 0  # how often one was sent
        self.mute: set[socket.socket] = set()  # servers' ends whose answers get lost
        self.port = 0
        self.plug_in()

    @property
    def url(self) -> str:
        return f"http://localhost:{self.port}"

    def plug_in(self) -> None:
        listener = socket.create_server(("127.0.0.1", self.port))
        self.port = listener.getsockname()[1]
        self.listener = listener
        threading.Thread(target=self._accept, args=[listener], daemon=True).start()

    def pull_out(self) -> None:
        listener, self.listener = self.listener, None
        if listener is not None:
            with contextlib.suppress(OSError):
                listener.shutdown(socket.SHUT_RDWR)
            listener.close()
        for line in list(self.lines):
            with contextlib.suppress(OSError):
                line.shutdown(socket.SHUT_RDWR)

    def _accept(self, listener: socket.socket) -> None:
        while True:
            try:
                tablet, _ = listener.accept()
                server = socket.create_connection(self.server)
            except OSError:
                return
            self.lines |= {tablet, server}
            for source, sink in ((tablet, server), (server, tablet)):
                threading.Thread(target=self._relay, args=[source, sink], daemon=True).start()

    def _relay(self, source: socket.socket, sink: socket.socket) -> None:
        with contextlib.suppress(OSError):
            while received := source.recv(65536):
                if source in self.mute:
                    break
                if received.startswith(b"POST ") and b"/sign/ HTTP" in received.partition(b"\r\n")[0]:
                    self.signatures += 1
                    trouble = self.troubles.pop(0) if self.troubles else ""
                    if trouble == "answer lost":
                        self.mute.add(sink)
                    elif trouble == "bad gateway":
                        source.sendall(b"HTTP/1.1 502 Bad Gateway\r\nContent-Length: 0\r\nConnection: close\r\n\r\n")
                        source.shutdown(socket.SHUT_WR)
                        while source.recv(65536):  # of no interest, but unread it would be answered by a reset
                            pass
                        break
                sink.sendall(received)
        for end in (source, sink):
            with contextlib.suppress(OSError):
                end.shutdown(socket.SHUT_RDWR)
        self.lines.discard(source)
        source.close()


@pytest.fixture
def cable(live_server: LiveServer) -> Iterator[Cable]:
    made = Cable(live_server.url)
    yield made
    made.pull_out()


@pytest.fixture
def shop_rows() -> SmallShop:
    made = small_shop()
    CheckPoint.objects.create(
        code="length",
        station=made.stations["cut"],
        text="Longest plate",
        kind="measured",
        unit="mm",
        nominal=1100,
        minus=5,
        plus=5,
    )
    return made


def at_the_cut(page: Page, cable: Cable, name: str = "Wanda Worker") -> None:
    enrol(page.context, cable.url)
    page.goto(f"{cable.url}/floor/cut/")
    sign_in(page, name)
    # From here on the tablet can do without the link.
    until_page_says(page, "() => navigator.serviceWorker.controller !== null", "the tablet keeps no pages")


def sign_in(page: Page, name: str = "Wanda Worker") -> None:
    press(page.get_by_role("link", name=name))
    page.get_by_label("Your PIN").fill(PIN)
    press(page.get_by_role("button", name="Sign in"))
    expect(page.locator("#live")).to_be_visible()


def wait_until_kept(page: Page, *shells: Shell) -> None:
    """The pages were fetched ahead; nobody has opened them."""
    paths = [f"/floor/cut/shell/{shell.serial}/" for shell in shells]
    look = "async paths => { for (const path of paths) if (!await caches.match(path)) return false; return true; }"
    until_page_says(page, look, "the tablet fetched no pages ahead", paths)


def sign_on_the_tablet(page: Page, shell: Shell, length: str = "1101") -> None:
    press(page.get_by_role("link", name=shell.serial))
    page.get_by_label("Longest plate").fill(length)
    press(page.get_by_role("button", name="Sign as Wanda Worker"))


def nothing_waits(page: Page) -> None:
    """The tablet itself says that nothing is left on it; a page that has not looked yet shows no outbox either."""
    until_page_says(page, NOTHING_WAITS, "something still waits on the tablet")
    bar = page.locator("#outbox")
    try:
        expect(bar).to_be_hidden()
    except AssertionError as error:
        raise AssertionError(f"The bar stays: {bar.evaluate('bar => bar.outerHTML')}") from error


def again(page: Page, cable: Cable) -> Page:
    """The browser was closed and is opened again: another page, the same tablet."""
    opened = page.context.new_page()
    page.close()
    opened.goto(f"{cable.url}/floor/cut/")
    expect(opened.locator("#outbox")).to_be_visible()  # it has looked at what waits
    return opened


def test_a_step_signed_without_a_link_arrives_once_when_the_link_is_back(
    cable: Cable, page: Page, shop_rows: SmallShop
) -> None:
    first, second = shop_rows.released(quantity=2)
    at_the_cut(page, cable)
    expect(page.locator("#outbox")).to_be_hidden()
    wait_until_kept(page, first, second)

    cable.pull_out()
    page.reload()
    expect(page.locator("#outbox")).to_contain_text(re.compile(r"No link\. This is the queue of \d\d:\d\d\."))
    sign_on_the_tablet(page, first)
    expect(page.locator("#outbox")).to_contain_text("Kept on this tablet; it is sent when the link is back.")
    expect(page.locator("#outbox")).to_contain_text("1 not sent yet")
    expect(page.locator(f"#shell-{first.serial}")).to_contain_text("Signed on this tablet, not sent yet")
    expect(page.locator(f"#shell-{second.serial}")).not_to_contain_text("not sent yet")
    press(page.get_by_role("link", name=first.serial))
    expect(page.locator(".step-do")).to_contain_text("Signed on this tablet, not sent yet")
    expect(page.get_by_role("button", name="Sign as Wanda Worker")).to_be_hidden()
    assert not SignOff.objects.exists()

    page = again(page, cable)
    expect(page.locator("#outbox")).to_contain_text("1 not sent yet")
    page.get_by_text("1 not sent yet").click()
    expect(page.locator("#outbox li")).to_contain_text(f"Sign cut of {first.serial} · Wanda Worker")

    cable.plug_in()
    nothing_waits(page)
    expect(page.locator(f"#shell-{first.serial}")).to_have_count(0)
    signed = SignOff.objects.get()
    assert (signed.person, signed.operation.shell) == (shop_rows.worker, first)
    assert signed.at < signed.record.received_at
    assert Reading.objects.get().value == 1101


def test_a_refusal_is_shown_with_its_reason_until_it_is_seen(cable: Cable, page: Page, shop_rows: SmallShop) -> None:
    first, second = shop_rows.released(quantity=2)
    at_the_cut(page, cable)
    wait_until_kept(page, first, second)
    cable.pull_out()
    for shell in (first, second):
        page.goto(f"{cable.url}/floor/cut/")
        sign_on_the_tablet(page, shell)
        expect(page.locator("#outbox")).to_contain_text("not sent yet")
    expect(page.locator("#outbox summary")).to_have_text("2 not sent yet")
    # Meanwhile somebody signs the first one at a tablet that has a link.
    sign_off(
        serial=first.serial,
        position=1,
        person=shop_rows.supervisor,
        answers={str(CheckPoint.objects.get().pk): "1099"},
        stamp=shop_rows.stamp(shop_rows.supervisor, device="tablet 2"),
    )
    cable.plug_in()
    expect(page.locator("#outbox summary")).to_have_text("1 refused")
    refused = page.locator("#outbox li")
    expect(refused).to_have_count(1)
    expect(refused).to_contain_text(f"Sign cut of {first.serial} · Wanda Worker")
    expect(refused).to_contain_text(f"Refused: Sam Supervisor signed cut of {first.serial}")
    found = Axe().run(page, options=RULES)
    assert found.violations_count == 0, found.generate_report()
    for pressed in page.locator("#outbox summary, #outbox button").all():
        box = pressed.bounding_box()
        assert box is not None and box["height"] >= TARGET_PX
    assert list(SignOff.objects.order_by("pk").values_list("operation__shell__serial", "person__name")) == [
        (first.serial, "Sam Supervisor"),
        (second.serial, "Wanda Worker"),
    ]
    page = again(page, cable)
    expect(page.locator("#outbox summary")).to_have_text("1 refused")
    page.get_by_role("button", name="Seen, remove").click()
    expect(page.locator("#outbox")).to_be_hidden()
    page.reload()
    expect(page.locator("#live")).to_be_visible()
    expect(page.locator("#outbox")).to_be_hidden()


def test_a_server_that_starts_again_loses_no_tap(cable: Cable, page: Page, shop_rows: SmallShop) -> None:
    """The tap arrives, its answer does not: it is sent again and counts once. After that the server is away a while."""
    (shell,) = shop_rows.released()
    at_the_cut(page, cable)
    expect(page.get_by_role("link", name=shell.serial)).to_be_visible()
    cable.troubles = ["answer lost", "bad gateway"]
    press(page.get_by_role("link", name=shell.serial))
    page.get_by_label("Longest plate").fill("1101")
    page.get_by_role("button", name="Sign as Wanda Worker").click()
    # What the page says meanwhile is gone when the tap is taken, which may be before anybody looks; other tests look at it.
    # A page that has just come shows no outbox until it has looked: hidden alone does not say that the tap was taken.
    until(page, lambda: cable.signatures >= 3, "lost, refused by the gateway, taken")
    nothing_waits(page)
    assert not cable.troubles
    assert cable.signatures == 3
    assert SignOff.objects.count() == 1


def test_a_problem_with_its_photo_waits_too(cable: Cable, page: Page, shop_rows: SmallShop) -> None:
    (shell,) = shop_rows.released()
    at_the_cut(page, cable)
    wait_until_kept(page, shell)
    cable.pull_out()
    press(page.get_by_role("link", name=shell.serial))
    page.get_by_text("Something is wrong").click()
    problem = page.locator(".step-problem")
    problem.get_by_label("In your words").fill("Split along the grain")
    picture = page.screenshot()
    split: FilePayload = {"name": "split.png", "mimeType": "image/png", "buffer": picture}
    problem.locator("input[type=file]").set_input_files(split)
    expect(problem.locator(".photo-name")).to_contain_text("Photo taken")
    press(page.get_by_role("button", name=f"Put {shell.serial} on hold"))
    expect(page.locator(f"#shell-{shell.serial}")).to_contain_text("Problem reported on this tablet, not sent yet")
    assert not Problem.objects.exists()
    page = again(page, cable)
    cable.plug_in()
    nothing_waits(page)
    held = Problem.objects.get()
    assert held.text == "Split along the grain"
    assert held.photos.count() == 1


def test_the_tap_stays_with_who_made_it(cable: Cable, page: Page, shop_rows: SmallShop) -> None:
    (shell,) = shop_rows.released()
    at_the_cut(page, cable)
    wait_until_kept(page, shell)
    cable.pull_out()
    page.reload()
    sign_on_the_tablet(page, shell)
    expect(page.locator("#outbox")).to_contain_text("1 not sent yet")
    press(page.get_by_role("button", name="Change worker"))
    expect(page.get_by_role("heading", name="There is no link")).to_be_visible()
    assert page.evaluate("caches.has('floor-pages')") is False, "the pages of who left are forgotten"
    page.goto(f"{cable.url}/floor/cut/")
    expect(page.get_by_role("heading", name="There is no link")).to_be_visible()

    cable.plug_in()
    page.goto(f"{cable.url}/floor/cut/")
    expect(page.get_by_role("heading", name="Who works here?")).to_be_visible()
    sign_in(page, "Sam Supervisor")
    nothing_waits(page)
    expect(page.locator(".floor-head")).to_contain_text("Sam Supervisor")
    assert SignOff.objects.get().person == shop_rows.worker


def signed_without_a_link(page: Page, cable: Cable, shell: Shell) -> Page:
    """One tap waits on the tablet, and a second tab shows its queue."""
    at_the_cut(page, cable)
    wait_until_kept(page, shell)
    cable.pull_out()
    page.reload()
    sign_on_the_tablet(page, shell)
    expect(page.locator("#outbox")).to_contain_text("1 not sent yet")
    other = page.context.new_page()
    other.goto(f"{cable.url}/floor/cut/")
    return other


def test_two_tabs_send_once(cable: Cable, page: Page, context: BrowserContext, shop_rows: SmallShop) -> None:
    (shell,) = shop_rows.released()
    other = signed_without_a_link(page, cable, shell)
    answered: list[str] = []
    context.on("response", lambda answer: answered.append(answer.url) if answer.request.method == "POST" else None)
    cable.plug_in()
    for tab in (page, other):
        tab.evaluate("window.dispatchEvent(new Event('online'))")
    for tab in (page, other):
        nothing_waits(tab)
    assert SignOff.objects.count() == 1
    assert [url for url in answered if url.endswith("/sign/")] == [f"{cable.url}/floor/cut/shell/{shell.serial}/sign/"]


def test_a_tab_that_hears_of_the_link_before_another_has_sent_shows_the_newer_queue(
    cable: Cable, page: Page, shop_rows: SmallShop
) -> None:
    (shell,) = shop_rows.released()
    other = signed_without_a_link(page, cable, shell)
    expect(other.locator("#outbox")).to_contain_text("1 not sent yet")
    other.evaluate(HOLD_SENDING)
    other.evaluate("document.dispatchEvent(new CustomEvent('floor:link', {detail: true}))")
    expect(other.locator("#outbox")).to_contain_text("The link is back.")
    cable.plug_in()
    other.evaluate("letSend()")
    page.evaluate("window.dispatchEvent(new Event('online'))")
    for tab in (page, other):
        nothing_waits(tab)
    expect(other.locator(f"#shell-{shell.serial}")).to_have_count(0)


def test_what_needs_a_pin_says_that_it_needs_the_link(cable: Cable, page: Page, shop_rows: SmallShop) -> None:
    (shell,) = shop_rows.released()
    at_the_cut(page, cable, "Sam Supervisor")
    press(page.get_by_role("link", name=shell.serial))
    page.get_by_text("Something is wrong").click()
    page.get_by_label("In your words").fill("Split")
    press(page.get_by_role("button", name=f"Put {shell.serial} on hold"))
    press(page.get_by_role("link", name=shell.serial))
    expect(page.locator(".hold-box")).to_be_visible()
    expect(page.locator(".needs-link")).to_have_count(0)
    cable.pull_out()
    expect(page.locator(".needs-link")).to_contain_text("the PIN can't be checked")
    page.get_by_label("How was it settled?").fill("Plate replaced")
    page.get_by_label("Your PIN again").fill(PIN)
    press(page.get_by_role("button", name="Release from hold"))
    expect(page.get_by_role("heading", name="There is no link")).to_be_visible()
    cable.plug_in()
    press(page.get_by_role("link", name="To the queue"))
    expect(page.locator(".floor-list").first).to_be_visible()
    assert Problem.objects.get().state == "open"


def test_a_scan_opens_a_kept_page(cable: Cable, page: Page, shop_rows: SmallShop) -> None:
    (shell,) = shop_rows.released()
    at_the_cut(page, cable)
    wait_until_kept(page, shell)
    cable.pull_out()
    page.reload()
    expect(page.locator("#outbox")).to_contain_text("No link.")
    page.get_by_label("Scan or type a serial number").fill(f"https://floor.example/s/{shell.serial}/?r=1")
    press(page.get_by_role("button", name="Open"))
    expect(page.get_by_role("button", name="Sign as Wanda Worker")).to_be_visible()
