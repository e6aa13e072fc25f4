"""A real browser: Debian's Chromium, driven by Playwright, against a live server."""

from __future__ import annotations

import shutil
from typing import Any

import pytest

ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
LANDSCAPE = {"width": 1280, "height": 800}
PORTRAIT = {"width": 800, "height": 1280}


@pytest.fixture(scope="session")
def browser_type_launch_args(browser_type_launch_args: dict[str, Any]) -> dict[str, Any]:
    found = shutil.which("chromium") or shutil.which("chromium-headless-shell") or shutil.which("google-chrome")
    if found is None:
        pytest.fail(
            "The browser tests need Chromium. Install it with: apt-get install chromium libatomic1", pytrace=False
        )
    return {**browser_type_launch_args, "executable_path": found, "args": ARGUMENTS}


@pytest.fixture(params=[LANDSCAPE, PORTRAIT], ids=["1280x800", "800x1280"])
def tablet(request: pytest.FixtureRequest) -> dict[str, int]:
    """Both ways a tablet hangs on the wall; tests that ask for it run once in each."""
    return request.param  # type: ignore[no-any-return]


@pytest.fixture
def browser_context_args(browser_context_args: dict[str, Any], request: pytest.FixtureRequest) -> dict[str, Any]:
    size = request.getfixturevalue("tablet") if "tablet" in request.fixturenames else LANDSCAPE
    return {**browser_context_args, "viewport": size, "timezone_id": "Europe/Berlin", "locale": "en-GB"}


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        if "/browser/" in str(item.path):
            item.add_marker(pytest.mark.browser)
