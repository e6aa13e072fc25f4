"""What printing needs on a machine is missed in words, with the package to install."""

from __future__ import annotations

import builtins
import threading
from http.client import HTTPConnection
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from django.core.checks import registry
from pypdf import PdfReader

from shopfloor import paper_check
from shopfloor.paper import PaperError, pdf_from_html, picture


def test_this_machine_can_print() -> None:
    assert paper_check.printing_works(None) == []


def test_the_check_runs_with_the_others() -> None:
    assert paper_check.printing_works in registry.registry.get_checks()


def test_a_missing_library_is_warned_of(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(paper_check.LIBRARIES, "Pango", ("libno-such-library.so.0",))
    (warning,) = paper_check.printing_works(None)
    assert warning.id == "shopfloor.W001"
    assert "Pango missing" in warning.msg
    assert "apt-get install" in str(warning.hint)


def test_a_missing_typeface_is_warned_of(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(paper_check, "FACES", ("DejaVu Sans Mono", "No Such Face"))
    (warning,) = paper_check.printing_works(None)
    assert (warning.id, warning.msg.endswith("no No Such Face here.")) == ("shopfloor.W002", True)
    assert "fonts-dejavu" in str(warning.hint)


def test_printing_without_its_library_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    real = builtins.__import__

    def without_pango(name: str, *rest: Any, **more: Any) -> Any:
        if name == "weasyprint":
            raise OSError("cannot load library 'libpango-1.0-0'")
        return real(name, *rest, **more)

    monkeypatch.setattr(builtins, "__import__", without_pango)
    with pytest.raises(PaperError, match="apt-get install libpango-1.0-0"):
        pdf_from_html("<p>x</p>", css="card.css")


def test_no_drawing_is_no_picture() -> None:
    assert picture("") == ""
    assert picture("<svg/>") == "data:image/svg+xml;base64,PHN2Zy8+"


def test_printing_asks_no_server_and_opens_no_file(tmp_path: Path) -> None:
    asked: list[str] = []

    class Listener(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            asked.append(self.path)
            self.send_error(404)

        def log_message(self, *args: object) -> None:
            pass

    secret = tmp_path / "secret.svg"
    secret.write_text('<svg xmlns="http://www.w3.org/2000/svg"><text>not for print</text></svg>')
    server = ThreadingHTTPServer(("127.0.0.1", 0), Listener)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    try:
        there = f"http://127.0.0.1:{server.server_address[1]}"
        html = (
            f'<link rel="stylesheet" href="{there}/a.css"><style>@import "{there}/b.css";'
            f'body {{ background: url({there}/c.png) }}</style><img src="{there}/d.png"><img src="{secret.as_uri()}">'
            f'<svg xmlns="http://www.w3.org/2000/svg"><image href="{there}/e.png"/></svg>drum'
        )
        printed = pdf_from_html(html, css="card.css")
        before = list(asked)
        listener = HTTPConnection("127.0.0.1", server.server_address[1])
        listener.request("GET", "/it-listens")
        listener.getresponse().read()
        listener.close()
    finally:
        server.shutdown()
        server.server_close()
    text = "".join(page.extract_text() for page in PdfReader(BytesIO(printed)).pages)
    assert "drum" in text and "not for print" not in text
    assert before == [] and asked == ["/it-listens"]
