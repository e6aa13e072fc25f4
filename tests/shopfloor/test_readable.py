"""What no database can keep, and what is too large, is refused with a sentence wherever it is sent."""

from __future__ import annotations

import html
import io
from typing import Any
from urllib.parse import quote

import pytest
from django.conf import settings
from django.test import Client
from django.urls import NoReverseMatch

from quality.models import Person, Role
from shopfloor.readable import LARGEST_REQUEST_BYTES, is_keepable
from tests.shopfloor.tablets import Clock, Tablet
from tests.shopfloor.test_access import DESK, TABLET, address, rows, things
from tests.small_shop import SmallShop

__all__ = ["things"]
pytestmark = pytest.mark.django_db
NUL = "a\x00b"
NOT_UTF8 = "%ff%fe%c3%28"
HALF = r"\ud83e"


@pytest.mark.parametrize(
    ("words", "kept"), [("", True), ("plain – ″ 🥁", True), (NUL, False), ("\ud83e", False), ("\udd41\ud83e", False)]
)
def test_which_words_can_be_kept(words: str, kept: bool) -> None:
    assert is_keepable(words) is kept


Asked = list[tuple[Client, str, str]]


@pytest.fixture
def asked(shop: SmallShop, clock: Clock) -> Asked:
    """Every address with every method: from a desk where everything may be seen, or from a tablet with its worker."""
    ruler = Client()
    ruler.force_login(Person.objects.create(username="ada", name="Ada", role=Role.ADMINISTRATOR))
    tablet = Tablet("cut")
    tablet.sign_in(shop.worker)
    return [
        (browser, method, name)
        for browser, table in ((ruler, DESK), (tablet.client, TABLET))
        for method, name, _ in rows(table)
    ]


def test_a_zero_character_in_a_query_breaks_no_page(shop: SmallShop, things: dict[str, Any], asked: Asked) -> None:
    for browser, method, name in asked:
        where = address(name, things)
        answer = browser.generic(method, f"{where}?q=a%00b&{quote(NUL)}=1")
        assert answer.status_code == (422 if where.startswith("/api/") else 400), name
        assert "can't be kept" in html.unescape(answer.content.decode()), name


def test_a_zero_character_in_a_form_breaks_no_page(shop: SmallShop, things: dict[str, Any], asked: Asked) -> None:
    for browser, method, name in asked:
        for sent in ({"name": NUL}, {NUL: "1"}) if method == "POST" else ():
            answer = browser.post(address(name, things), sent)
            assert answer.status_code == (422 if address(name, things).startswith("/api/") else 400), name
            assert "Type it again by hand" in answer.content.decode(), name


def test_a_zero_character_in_an_address_breaks_no_page(shop: SmallShop, things: dict[str, Any], asked: Asked) -> None:
    texts = {key: NUL if isinstance(value, str) else value for key, value in things.items()}
    tried = 0
    for browser, method, name in asked:
        try:
            where = address(name, texts)
        except NoReverseMatch:  # a number or a choice, in which no such address can be
            continue
        if "%00" in where:
            assert browser.generic(method, where).status_code in (400, 422), name
            tried += 1
    assert tried > 50


def test_bytes_that_are_no_text_break_no_page(shop: SmallShop, things: dict[str, Any], asked: Asked) -> None:
    """They become the sign for "unreadable", which finds nothing and can be kept."""
    query = "&".join(f"{name}={NOT_UTF8}" for name in ("q", "code", "pk", "state", "from", NOT_UTF8))
    form = "&".join(f"{name}={NOT_UTF8}" for name in ("name", "text", "reason", "serial", "tap_key", NOT_UTF8))
    for browser, method, name in asked:
        where = f"{address(name, things)}?{query}"
        if method == "GET":
            answer = browser.get(where)
        elif name in ("signin:out", "floor:sign_out"):
            continue
        else:
            answer = browser.post(where, form, content_type="application/x-www-form-urlencoded")
        assert answer.status_code < 500, name


def test_half_a_character_is_refused(office: Client) -> None:
    boundary = "xxBOUNDARYxx"
    body = f'--{boundary}\r\nContent-Disposition: form-data; name="note"\r\n\r\n{HALF}\r\n--{boundary}--\r\n'
    kind = f"multipart/form-data; boundary={boundary}; charset=unicode-escape"
    answer = office.generic("POST", "/orders/new/", body.encode(), content_type=kind)
    assert answer.status_code == 400
    assert "half of one" in answer.content.decode()


@pytest.mark.parametrize("name", ["sessionid", "csrftoken", "floor_tablet", "floor_worker", "messages"])
def test_a_cookie_with_a_zero_character_counts_as_none(shop: SmallShop, name: str) -> None:
    browser = Client()
    browser.cookies[name] = "aaaaaaaa\x00aaaaaaaa"
    assert "\\000" in browser.cookies.output()
    for where in ("/", "/board/", "/floor/cut/", "/sign-in/"):
        assert browser.get(where).status_code < 500


def test_the_scripts_of_a_tablet_are_told_in_json(cut: Tablet) -> None:
    answer = cut.client.post(cut.url("room"), {"temperature": NUL}, headers={"Accept": "application/json"})
    assert answer.status_code == 400
    assert answer.json()["refused"].startswith("What was sent contains")


def test_what_is_too_large_is_refused_before_it_is_read(office: Client) -> None:
    class Endless(io.RawIOBase):
        def read(self, size: int = -1) -> bytes:
            raise AssertionError("it was read")

    environment: Any = {"wsgi.input": Endless()}
    answer = office.generic(
        "POST",
        "/orders/import/",
        content_type="multipart/form-data; boundary=x",
        CONTENT_LENGTH=str(LARGEST_REQUEST_BYTES + 1),
        **environment,
    )
    assert answer.status_code == 413
    assert "more than 50 MB" in answer.content.decode()


class BrokenLink(io.RawIOBase):
    """What a server reads of an upload whose sender is gone."""

    def read(self, size: int = -1) -> bytes:
        raise OSError("the link broke")


@pytest.mark.parametrize("kind", ["multipart/form-data; boundary=xx", "application/x-www-form-urlencoded"])
@pytest.mark.parametrize("accepts", ["text/html", "application/json"])
def test_what_broke_off_is_no_error_of_the_program(
    office: Client, caplog: pytest.LogCaptureFixture, kind: str, accepts: str
) -> None:
    sent: dict[str, Any] = {"wsgi.input": BrokenLink(), "CONTENT_LENGTH": "1000", "HTTP_ACCEPT": accepts}
    answer = office.post("/orders/import/", b"xx", content_type=kind, **sent)
    assert answer.status_code == 400
    assert "What was sent did not arrive whole; send it again." in answer.content.decode()
    assert not [record for record in caplog.records if record.exc_info]


def test_a_form_of_too_much_text_and_one_of_too_many_fields_are_told(office: Client) -> None:
    large = office.post("/orders/new/", {"notes": "x" * (settings.DATA_UPLOAD_MAX_MEMORY_SIZE + 1)})
    assert large.status_code == 413 and "more than 5 MB" in large.content.decode()
    many = office.post("/orders/new/", {f"field-{n}": "1" for n in range(1001)})
    assert many.status_code == 400 and "more fields" in many.content.decode()


def test_a_strange_name_of_the_shop_gets_a_sentence_and_no_page(client: Client, shop: SmallShop) -> None:
    answer = client.get("/", headers={"Host": "elsewhere.example"})
    assert answer.status_code == 400
    assert "ALLOWED_HOSTS" in answer.content.decode()
    assert shop.supervisor.name not in answer.content.decode()
