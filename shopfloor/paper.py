"""HTML to PDF: one way for travelers, cards and stories. Fetches nothing from outside."""

from __future__ import annotations

import gc
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from functools import lru_cache
from typing import Any

from django.conf import settings
from django.template.loader import render_to_string

WHAT_TO_INSTALL = "apt-get install libpango-1.0-0 libpangoft2-1.0-0 fonts-dejavu-core"
_collector = threading.Lock()


class PaperError(Exception):
    """Printing can't work on this machine; the message says what to install."""


def pdf_from_template(template: str, context: dict[str, Any], *, css: str) -> bytes:
    """Render ``templates/<template>`` with ``static/css/<css>`` to PDF. Raises PaperError when a library is missing."""
    return pdf_from_html(render_to_string(template, context), css=css)


def pdf_from_html(html: str, *, css: str) -> bytes:
    try:
        import weasyprint  # loads Pango, which a machine may lack and only printing needs
    except OSError as error:
        raise PaperError(f"A library that printing needs is missing. Install it with: {WHAT_TO_INSTALL}") from error
    sheets = [weasyprint.CSS(string=_stylesheet(name), url_fetcher=_fetch_nothing) for name in ("paper.css", css)]
    with _no_collection():
        document = weasyprint.HTML(string=html, base_url=None, url_fetcher=_fetch_nothing).render(stylesheets=sheets)
        return bytes(document.write_pdf())


def _fetch_nothing(url: str, *args: Any, **kwargs: Any) -> dict[str, Any]:
    """Only pictures that stand in the page itself are read."""
    if url.startswith("data:"):
        from weasyprint import default_url_fetcher

        fetched: dict[str, Any] = default_url_fetcher(url, *args, **kwargs)
        return fetched
    raise ValueError("Paper is made from what is in the page; nothing is fetched from outside.")


@lru_cache
def _stylesheet(name: str) -> str:
    return (settings.BASE_DIR / "static" / "css" / name).read_text(encoding="utf-8")


@contextmanager
def _no_collection() -> Iterator[None]:
    """The garbage collector finds nothing during a render and costs a tenth of its time."""
    with _collector:
        was_on = gc.isenabled()
        gc.disable()
        try:
            yield
        finally:
            if was_on:
                gc.enable()
