"""The link to the server drops, and the station's tablet goes on working: real browser, real server, a cable in between.

The cable is a small relay. Pulled out, it refuses connections, as a machine does whose network is gone.
"""

from __future__ import annotations

import contextlib
import re
import socket
import threading
import time
from collections.abc import Callable, Iterator
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, Route, expect
from pytest_django.live_server_helper import LiveServer

from quality.actions import sign_off
from quality.models import CheckPoint, Problem, Reading, SignOff
from routing.models import Shell
from tests.small_shop import PIN, SmallShop, small_shop

pytestmark = pytest.mark.django_db(transaction=True)


class Cable:
    """Relays each connection to the server; pulled out, it cuts all of them and takes no new one."""

    def __init__(self, server: str) -> None:
        parts = urlsplit(server)
        assert parts.hostname is not None and parts.port is not None
        self.server = (parts.hostname, parts.port)
        self.listener: socket.socket | None = None
        self.lines: set[socket.socket] = set()
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
                sink.sendall(received)
        with contextlib.suppress(OSError):
            sink.shutdown(socket.SHUT_RDWR)
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
    page.goto(f"{cable.url}/floor/cut/")
    sign_in(page, name)


def sign_in(page: Page, name: str = "Wanda Worker") -> None:
    page.get_by_role("link", name=name).click()
    page.get_by_label("Your PIN").fill(PIN)
    page.get_by_role("button", name="Sign in").click()
    expect(page.locator("#live")).to_be_visible()


def wait_until_kept(page: Page, *shells: Shell) -> None:
    """The pages were fetched ahead; nobody has opened them."""
    paths = [f"/floor/cut/shell/{shell.serial}/" for shell in shells]
    look = "async paths => { for (const path of paths) if (!await caches.match(path)) return false; return true; }"
    patience = time.monotonic() + 20
    while not page.evaluate(look, paths):
        assert time.monotonic() < patience, "the tablet fetched no pages ahead"
        page.wait_for_timeout(200)


def sign_on_the_tablet(page: Page, shell: Shell, length: str = "1101") -> None:
    page.get_by_role("link", name=shell.serial).click()
    page.get_by_label("Longest plate").fill(length)
    page.get_by_role("button", name="Sign as Wanda Worker").click()


def again(page: Page, cable: Cable) -> Page:
    """The browser was closed and is opened again: another page, the same tablet."""
    opened = page.context.new_page()
    page.close()
    opened.goto(f"{cable.url}/floor/cut/")
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
    page.get_by_role("link", name=first.serial).click()
    expect(page.locator(".step-do")).to_contain_text("Signed on this tablet, not sent yet")
    expect(page.get_by_role("button", name="Sign as Wanda Worker")).to_be_hidden()
    assert not SignOff.objects.exists()

    page = again(page, cable)
    expect(page.locator("#outbox")).to_contain_text("1 not sent yet")
    page.get_by_text("1 not sent yet").click()
    expect(page.locator("#outbox li")).to_contain_text(f"Sign cut of {first.serial} · Wanda Worker")

    cable.plug_in()
    expect(page.locator("#outbox")).to_be_hidden(timeout=20000)
    expect(page.locator(f"#shell-{first.serial}")).to_have_count(0)
    signed = SignOff.objects.get()
    assert (signed.person, signed.operation.shell) == (shop_rows.worker, first)
    assert signed.at < signed.record.received_at
    assert Reading.objects.get().value == 1101
