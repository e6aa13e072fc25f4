"""HTML to PDF: one way for cards, lists and stories. Fetches nothing from outside."""

from __future__ import annotations

import gc
import threading
from base64 import b64encode
from collections.abc import Iterator
from contextlib import contextmanager
from functools import lru_cache
from typing import Any

from django.conf import settings
from django.template.loader import render_to_string
from django.utils.translation import gettext as _

WHAT_TO_INSTALL = "apt-get install libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0 fonts-dejavu"
_collector = threading.Lock()


class PaperError(Exception):
    """Printing can't work on this machine; the message says what to install."""


def pdf_from_template(template: str, context: dict[str, Any], *, css: str) -> bytes:
    """Render ``templates/<template>`` with ``static/css/<css>`` to PDF. Raises PaperError when a library is missing."""
    return pdf_from_html(render_to_string(template, context), css=css)


def pdf_from_html(html: str, *, css: str) -> bytes:
    """The same HTML and style give the same bytes. Raises PaperError when a library is missing."""
    weasyprint = require_printing()
    # Pictures may stand in the page itself; every other address is refused before anything is opened.
    nothing = weasyprint.urls.URLFetcher(allowed_protocols=["data"])
    sheets = [_stylesheet(name) for name in ("paper.css", css)]
    with _no_collection():
        document = weasyprint.HTML(string=html, base_url=None, url_fetcher=nothing).render(stylesheets=sheets)
        return bytes(document.write_pdf())


def require_printing() -> Any:
    """The library that prints. Raises PaperError, saying what to install, before anything is put on record."""
    try:
        import weasyprint  # loads Pango, which a machine may lack and only printing needs
    except OSError as error:
        said = _("A library that printing needs is missing. Install it with: {command}")
        raise PaperError(said.format(command=WHAT_TO_INSTALL)) from error
    return weasyprint


def picture(svg: str) -> str:
    """A drawing as an address for ``<img>``: laid out a good deal faster than the same drawing inside the page."""
    return f"data:image/svg+xml;base64,{b64encode(svg.encode()).decode()}" if svg else ""


@lru_cache
def _stylesheet(name: str) -> Any:
    """Read and understood once: half of what a small page costs."""
    import weasyprint

    text = (settings.BASE_DIR / "static" / "css" / name).read_text(encoding="utf-8")
    return weasyprint.CSS(string=text, url_fetcher=weasyprint.urls.URLFetcher(allowed_protocols=["data"]))


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
