"""From one page to the next on a machine that is busy: whoever presses waits until the new page has come and listens.

A page can be seen before its scripts listen. Nobody's finger is quick enough to notice; a test's is.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from time import monotonic
from typing import Any

from playwright.sync_api import Error, Locator, Page

PATIENCE_MS = 60_000  # how long a state is waited for; what is so already costs nothing


@contextmanager
def another_page(page: Page) -> Iterator[None]:
    """What is done inside leads to another page, or to the same one anew; afterwards that has loaded."""
    with page.expect_navigation():
        yield


def press(target: Locator) -> None:
    """Press what leads to another page, and wait until that has loaded."""
    with another_page(target.page):
        target.click()


def until(page: Page, is_so: Callable[[], bool], otherwise: str) -> None:
    """Wait for what no page shows, such as a row of the database; the page goes on meanwhile."""
    given_up = monotonic() + PATIENCE_MS / 1000
    while not is_so():
        assert monotonic() < given_up, otherwise
        page.wait_for_timeout(100)


def until_page_says(page: Page, script: str, otherwise: str, arg: Any = None) -> None:
    """Wait until a script answers true; it may take its time, and the page may be replaced meanwhile."""

    def is_so() -> bool:
        try:
            return page.evaluate(script, arg) is True
        except Error as error:
            if "navigation" in error.message:
                return False
            raise

    until(page, is_so, otherwise)
