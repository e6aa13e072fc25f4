"""Keys of the reading interface, their pages, and the calendar of due dates against RFC 5545."""

from __future__ import annotations

import json
import re
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from icalendar import Calendar

from quality.api_keys import key_of, make_key, rename_key, revoke_key, used
from quality.errors import NotQualified, QualityError
from quality.models import ApiKey, KeyOpens, Person, Role
from routing.models import KitOrder, OrderState, Shell, Shop
from shopfloor.api.calendar import DueDay, calendar, uid_of
from tests.small_shop import NOW, SmallShop, person

pytestmark = pytest.mark.django_db


class TestKeys:
    def test_only_the_hash_is_kept(self, ruler: Person) -> None:
        key, secret = make_key(name="  label   printer ", opens=KeyOpens.LISTS, by=ruler, at=NOW)
        assert key.name == "label printer" and secret.startswith(key.begins)
        assert len(secret) == 43  # 256 bits in base64url: RFC 4648
        kept = json.dumps(list(ApiKey.objects.values()), default=str)
        assert secret not in kept and secret[len(key.begins) :] not in kept
        assert key_of(secret, KeyOpens.LISTS) == key
        assert key_of(secret, KeyOpens.CALENDAR) is None and key_of("", KeyOpens.LISTS) is None

    def test_the_same_form_twice_makes_one_key(self, ruler: Person) -> None:
        first, old = make_key(name="printer", opens=KeyOpens.LISTS, by=ruler, at=NOW)
        second, new = make_key(name="Printer", opens=KeyOpens.LISTS, by=ruler, at=NOW + timedelta(seconds=3))
        assert first == second and ApiKey.objects.count() == 1
        assert key_of(old, KeyOpens.LISTS) is None and key_of(new, KeyOpens.LISTS) == second
        used(key=second, at=NOW)
        with pytest.raises(QualityError, match="called “printer” already"):
            make_key(name="printer", opens=KeyOpens.LISTS, by=ruler, at=NOW + timedelta(seconds=5))
        with pytest.raises(QualityError, match="already"):
            make_key(name="printer", opens=KeyOpens.CALENDAR, by=ruler, at=NOW + timedelta(seconds=5))

    def test_names(self, ruler: Person) -> None:
        key, secret = make_key(name="a", opens=KeyOpens.LISTS, by=ruler, at=NOW)
        make_key(name="b", opens=KeyOpens.LISTS, by=ruler, at=NOW)
        rename_key(key=key, name="A", by=ruler)
        assert key.name == "A" and key_of(secret, KeyOpens.LISTS) == key
        for wrong in ("B", " ", "x" * 61):
            with pytest.raises(QualityError):
                rename_key(key=key, name=wrong, by=ruler)

    def test_who_revoked_it_first_is_kept(self, ruler: Person) -> None:
        key, _ = make_key(name="a", opens=KeyOpens.LISTS, by=ruler, at=NOW)
        revoke_key(key=key, by=ruler, at=NOW)
        revoke_key(key=key, by=person("bea", Role.ADMINISTRATOR), at=NOW + timedelta(days=1))
        assert (key.revoked_by, key.revoked_at) == (ruler, NOW)

    def test_the_day_of_use_is_written_once_a_day(self, ruler: Person) -> None:
        key, _ = make_key(name="a", opens=KeyOpens.LISTS, by=ruler, at=NOW)
        for hours, expected in ((0, 0), (5, 0), (25, 25)):
            used(key=key, at=NOW + timedelta(hours=hours))
            key.refresh_from_db()
            assert key.last_used_at == NOW + timedelta(hours=expected)

    @pytest.mark.parametrize("role", [Role.WORKER, Role.SUPERVISOR, Role.OFFICE])
    def test_only_an_administrator(self, ruler: Person, role: Role) -> None:
        other = person("somebody", role)
        key, _ = make_key(name="a", opens=KeyOpens.LISTS, by=ruler, at=NOW)
        for act in (
            lambda: make_key(name="b", opens=KeyOpens.LISTS, by=other, at=NOW),
            lambda: rename_key(key=key, name="b", by=other),
            lambda: revoke_key(key=key, by=other, at=NOW),
        ):
            with pytest.raises(NotQualified, match="administrator"):
                act()


class TestKeyPages:
    @pytest.fixture
    def desk(self, ruler: Person) -> Client:
        desk = Client()
        desk.force_login(ruler)
        return desk

    def test_a_key_is_made_shown_once_and_works(self, desk: Client, worked: list[Shell]) -> None:
        made = desk.post(reverse("api:new_key"), {"name": "printer", "opens": "lists"})
        assert made.status_code == 200 and "no-store" in made["Cache-Control"]
        secret = re.search(r"readonly[^>]*>([A-Za-z0-9_-]{43})<", made.content.decode())
        assert secret
        answer = Client().get("/api/v1/orders", headers={"Authorization": f"Bearer {secret[1]}"})
        assert answer.status_code == 200
        listed = desk.get(reverse("api:keys")).content.decode()
        assert secret[1] not in listed and "printer" in listed and secret[1][:6] in listed

    def test_a_calendars_address_is_made_and_works(self, desk: Client, worked: list[Shell]) -> None:
        made = desk.post(reverse("api:new_key"), {"name": "office", "opens": "calendar"}).content.decode()
        address = re.search(r"readonly[^>]*>http://testserver(/[^<]+)<", made)
        assert address
        assert Client().get(address[1]).status_code == 200

    @pytest.mark.parametrize(
        "form",
        [{}, {"name": " ", "opens": "lists"}, {"name": "x", "opens": "all"}, {"name": "x" * 61, "opens": "lists"}],
    )
    def test_a_form_with_mistakes(self, desk: Client, form: dict[str, str]) -> None:
        answer = desk.post(reverse("api:new_key"), form)
        assert answer.status_code == 422 and "field-error" in answer.content.decode()
        assert not ApiKey.objects.exists()

    def test_renamed_and_revoked(self, desk: Client, secret: str, ruler: Person) -> None:
        key = ApiKey.objects.get()
        make_key(name="other", opens=KeyOpens.LISTS, by=ruler, at=timezone.now())
        assert "already" in desk.post(reverse("api:key", args=[key.pk]), {"name": "Other"}).content.decode()
        assert desk.post(reverse("api:key", args=[key.pk]), {"name": "<i>accounts"}).status_code == 302
        assert "&lt;i&gt;accounts" in desk.get(reverse("api:keys")).content.decode()
        for _ in range(2):
            assert desk.post(reverse("api:revoke", args=[key.pk])).status_code == 302
        assert "Revoked: 1" in desk.get(reverse("api:keys")).content.decode()
        assert "opens nothing any more" in desk.get(reverse("api:key", args=[key.pk])).content.decode()
        assert key_of(secret, KeyOpens.LISTS) is None

    def test_a_key_that_is_not_there(self, desk: Client) -> None:
        assert desk.get(reverse("api:key", args=[99])).status_code == 404
        assert desk.post(reverse("api:revoke", args=[99])).status_code == 404


def feed(ruler: Person) -> str:
    return reverse(
        "api:calendar", args=[make_key(name="office", opens=KeyOpens.CALENDAR, by=ruler, at=timezone.now())[1]]
    )


def read(text: bytes) -> list[Any]:
    """The events as a reader of its own, the package icalendar, finds them."""
    return list(Calendar.from_ical(text.decode()).walk("VEVENT"))


class TestCalendar:
    def test_one_whole_day_for_each_open_order(self, ruler: Person, worked: list[Shell], shop: SmallShop) -> None:
        shop.order("K-3")
        KitOrder.objects.filter(number="K-3").update(state=OrderState.SHIPPED)
        answer = Client().get(feed(ruler))
        assert answer["Content-Type"] == "text/calendar; charset=utf-8"
        first, second = read(answer.content)
        assert (first["DTSTART"].dt, first["DTEND"].dt) == (date(2026, 12, 18), date(2026, 12, 19))
        assert first["SUMMARY"] == "Due: K-1, Harrow Lane School (3 drums)"
        assert first["DESCRIPTION"] == "In production, 1 of 3 done, 1 on hold"
        assert (first["STATUS"], second["STATUS"]) == ("CONFIRMED", "TENTATIVE")
        assert second["SUMMARY"] == "Due: K-2, Zoë, Sons; Co (1 drum)"
        assert second["DESCRIPTION"] == "Draft\nCustomer's reference: PO 7"
        assert first["URL"] == "http://testserver/orders/order/K-1/"

    def test_an_order_keeps_its_uid_when_it_changes(self, ruler: Person, worked: list[Shell]) -> None:
        where = feed(ruler)
        before = [event["UID"] for event in read(Client().get(where).content)]
        KitOrder.objects.filter(number="K-1").update(due=date(2026, 12, 20), customer="Another")
        after = [event["UID"] for event in read(Client().get(where).content)]
        assert before == after and len(set(before)) == 2

    def test_not_sent_again_when_nothing_changed(self, ruler: Person, worked: list[Shell]) -> None:
        where = feed(ruler)
        etag = Client().get(where)["ETag"]
        assert Client().get(where, headers={"If-None-Match": etag}).status_code == 304
        KitOrder.objects.filter(number="K-1").update(due=date(2026, 12, 20))
        etag = Client().get(where, headers={"If-None-Match": etag})["ETag"]
        Shop.objects.update(name="Another Shop")
        renamed = Client().get(where, headers={"If-None-Match": etag})
        assert renamed.status_code == 200 and b"Another Shop: due" in renamed.content

    def test_a_wrong_or_revoked_address_shows_nothing(self, ruler: Person, secret: str, worked: list[Shell]) -> None:
        where = feed(ruler)
        assert Client().get(reverse("api:calendar", args=["x"])).status_code == 404
        assert Client().get(reverse("api:calendar", args=[secret])).status_code == 404  # a key for scripts
        revoke_key(key=ApiKey.objects.get(name="office"), by=ruler, at=timezone.now())
        answer = Client().get(where)
        assert answer.status_code == 404 and "K-1" not in answer.content.decode()

    def test_queries_do_not_grow(self, ruler: Person, worked: list[Shell], shop: SmallShop) -> None:
        where = feed(ruler)
        Client().get(where)
        with CaptureQueriesContext(connection) as before:
            Client().get(where)
        for n in range(5):
            shop.released(f"L-{n}", quantity=2)
        with CaptureQueriesContext(connection) as after:
            assert len(read(Client().get(where).content)) == 7
        assert len(before) == len(after) <= 5

    def test_the_lines_are_as_rfc_5545_wants_them(self) -> None:
        """3.1: lines end with CR LF and have at most 75 octets without it; a character is not torn apart.
        3.3.11: backslash, semicolon, comma and line breaks are escaped; no other control character but the tab.
        """
        words = "Ünïcode, ;\\ and\nnew\r\nlines \x07\t" + "ö" * 200 + "🥁" * 50
        day = DueDay(uid_of("1"), date(2026, 12, 31), words, words, "http://x/1", True)
        text = calendar(words, [day], at=datetime(2026, 11, 25, 12, 0, tzinfo=UTC)).encode()
        lines = text.split(b"\r\n")
        assert lines.pop() == b""
        for line in lines:
            assert len(line) <= 75
            line.decode()  # raises when a character is torn apart
            assert not re.search(rb"[\x00-\x08\x0a-\x1f\x7f]", line)
        assert max(map(len, lines)) >= 72  # folded no sooner than needed: a character has up to 4 octets
        unfolded = text.replace(b"\r\n ", b"").decode().split("\r\n")
        assert "SUMMARY:Ünïcode\\, \\;\\\\ and\\nnew\\nlines \t" + "ö" * 200 + "🥁" * 50 in unfolded
        (event,) = read(text)
        assert event["SUMMARY"] == "Ünïcode, ;\\ and\nnew\nlines \t" + "ö" * 200 + "🥁" * 50

    def test_every_property_that_rfc_5545_requires(self) -> None:
        """3.6: PRODID and VERSION, once each. 3.6.1: UID and DTSTAMP, and DTSTART without METHOD, once each.
        3.8.2.2: DTEND is later than DTSTART and has its type.
        """
        day = DueDay(uid_of("1"), date(2026, 12, 31), "a", "b", "", False)
        text = calendar("Due", [day], at=datetime(2026, 11, 25, 12, 0, tzinfo=UTC))
        for line in ("BEGIN:VCALENDAR", "VERSION:2.0", "DTSTAMP:20261125T120000Z", "DTSTART;VALUE=DATE:20261231",
                     "DTEND;VALUE=DATE:20270101", f"UID:{uid_of('1')}"):  # fmt: skip
            assert text.count(f"{line}\r\n") == 1
        assert len(re.findall(r"^PRODID:.+\r$", text, re.MULTILINE)) == 1
        assert text.startswith("BEGIN:VCALENDAR\r\n") and text.endswith("END:VEVENT\r\nEND:VCALENDAR\r\n")
        empty = calendar("Due", [], at=datetime(2026, 11, 25, tzinfo=UTC))
        assert "VEVENT" not in empty

    def test_two_orders_or_two_shops_share_no_uid(self) -> None:
        assert uid_of("1", "2026") == uid_of("1", "2026")
        assert len({uid_of("1", "2026"), uid_of("2", "2026"), uid_of("1", "2027")}) == 3
        assert re.fullmatch(r"[0-9a-f]{8}-([0-9a-f]{4}-){3}[0-9a-f]{12}", uid_of("1"))
