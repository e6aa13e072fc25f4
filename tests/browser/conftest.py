"""A real browser: Debian's Chromium, driven by Playwright, against a live server.

A test takes ``page`` and ``live_server``; one that also takes ``tablet`` runs once upright and once lying.
"""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from typing import Any

import pytest
from django.http import HttpResponse
from django.utils import timezone
from playwright.sync_api import BrowserContext, ConsoleMessage, Error, Page, ViewportSize, expect

from quality.models import Person, Role
from quality.tablets import enrol_here, next_name
from routing.models import Station
from shopfloor.floor import tablet_worker
from shopfloor.tablet_station import KEY_COOKIE, keep_key
from tests.browser.pages import PATIENCE_MS

BROWSERS = ("chromium", "chromium-headless-shell", "google-chrome")
INSTALL = "sudo apt-get install chromium libatomic1"
ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
LYING: ViewportSize = {"width": 1280, "height": 800}
UPRIGHT: ViewportSize = {"width": 800, "height": 1280}
expect.set_options(timeout=PATIENCE_MS)


@pytest.fixture(scope="session")
def browser_type_launch_args(browser_type_launch_args: dict[str, Any]) -> dict[str, Any]:
    found = next(filter(None, map(shutil.which, BROWSERS)), None)
    if found is None:
        pytest.fail(f"The browser tests need Chromium. Install it with: {INSTALL}", pytrace=False)
    return {**browser_type_launch_args, "executable_path": found, "args": ARGUMENTS}


@pytest.fixture(params=[LYING, UPRIGHT], ids=["1280x800", "800x1280"])
def tablet(request: pytest.FixtureRequest) -> dict[str, int]:
    """Both ways a tablet hangs on the wall; tests that ask for it run once in each."""
    return request.param  # type: ignore[no-any-return]


@pytest.fixture
def browser_context_args(browser_context_args: dict[str, Any], request: pytest.FixtureRequest) -> dict[str, Any]:
    size = request.getfixturevalue("tablet") if "tablet" in request.fixturenames else LYING
    return {**browser_context_args, "viewport": size, "timezone_id": "Europe/Berlin", "locale": "en-GB"}


@pytest.fixture
def page(page: Page) -> Iterator[Page]:
    """Fails a test whose pages broke a script or the Content-Security-Policy, whatever else the test looks at."""
    page.set_default_timeout(PATIENCE_MS)
    broken: list[str] = []

    def script_error(error: Error) -> None:
        broken.append(str(error))

    def message(said: ConsoleMessage) -> None:
        if said.type == "error" and "Content Security Policy" in said.text:
            broken.append(said.text)

    page.on("pageerror", script_error)
    page.on("console", message)
    yield page
    assert not broken, "\n".join(broken)


@pytest.fixture(autouse=True)
def a_busy_machine_is_no_missing_link(monkeypatch: pytest.MonkeyPatch) -> None:
    """A tablet shows the page that it kept when the server takes long; tests want the server's, however long it takes."""
    monkeypatch.setattr(tablet_worker, "PATIENCE_MS", PATIENCE_MS)


def enrol(context: BrowserContext, url: str, *stations: str) -> None:
    """Make this browser a tablet of the shop, for all stations unless some are named. Once is enough."""
    if any(cookie.get("name") == KEY_COOKIE for cookie in context.cookies(url)):
        return
    by = Person.objects.filter(role=Role.SUPERVISOR).first()
    assert by is not None
    places = Station.objects.filter(code__in=stations) if stations else Station.objects.all()
    _, key = enrol_here(name=next_name(), stations=places, by=by, at=timezone.now())
    answer = HttpResponse()
    keep_key(answer, key)
    context.add_cookies(
        [
            {
                "name": KEY_COOKIE,
                "value": answer.cookies[KEY_COOKIE].value,
                "url": url,
                "httpOnly": True,
                "sameSite": "Lax",
            }
        ]
    )


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        if "browser" in item.path.parent.parts:
            item.add_marker(pytest.mark.browser)
