"""The reading interface, the calendar of due dates and the keys: every answer is held against its own description."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from icalendar import Calendar
from jsonschema import Draft202012Validator, FormatChecker, ValidationError
from openapi_spec_validator import OpenAPIV31SpecValidator

from quality.actions import sign_off, withdraw_sign_off
from quality.api_keys import key_of, make_key, rename_key, revoke_key, used
from quality.errors import NotQualified, QualityError
from quality.models import ApiKey, CheckPoint, KeyOpens, Person, Role
from routing.models import KitOrder, OrderState, Shell, ShellRecord, Shop
from shopfloor.api import urls
from shopfloor.api.calendar import DueDay, calendar, uid_of
from shopfloor.api.document import document
from tests.quality.test_dispositions import EDGE, PACK, hold, send_back, sign_up_to
from tests.shopfloor.tablets import Clock, sign_through
from tests.small_shop import NOW, SmallShop, person

pytestmark = pytest.mark.django_db
SPAN = {"from": "2026-11-01", "to": "2026-12-31"}


@pytest.fixture
def ruler(shop: SmallShop) -> Person:
    return person("ada", Role.ADMINISTRATOR)


@pytest.fixture
def secret(ruler: Person) -> str:
    return make_key(name="scripts", opens=KeyOpens.LISTS, by=ruler, at=timezone.now())[1]


@pytest.fixture
def get(secret: str) -> Callable[..., Any]:
    """``get("/orders", limit=2)``: the answer to somebody with a key."""

    def ask(where: str, **query: Any) -> Any:
        return Client().get(f"/api/v1{where}", query, headers={"Authorization": f"Bearer {secret}"})

    return ask


@pytest.fixture
def worked(shop: SmallShop) -> list[Shell]:
    """Two orders: one drum packed, one sent back for rework with readings and a withdrawal, one on hold, a draft."""
    edge = {"station": shop.stations["edge"], "text": "Edge flat"}
    CheckPoint.objects.create(code="flat", kind="measured", unit="mm", nominal=0, plus=0.1, **edge, is_current=False)
    shells = shop.released(quantity=3)
    sign_up_to(shop, shells[0], PACK)
    sign_up_to(shop, shells[1], 5)
    hold(shop, shells[1], "<b>edge</b> not flat")
    send_back(shop, shells[1], EDGE)
    hold(shop, shells[2], "dent; deep, long")
    shop.order("K-2", due=date(2026, 12, 24), customer="Zoë, Sons; Co", customer_reference="PO 7")
    return shells


class TestTheDescription:
    def test_it_is_a_sound_openapi_document(self) -> None:
        """Held against the OpenAPI Initiative's own schema for 3.1, which openapi-spec-validator carries."""
        OpenAPIV31SpecValidator(json.loads(json.dumps(document()))).validate()

    def test_it_names_every_address_and_no_other(self) -> None:
        served = {
            re.sub(r"<str:(\w+)>", r"{\1}", str(pattern.pattern).removeprefix("v1"))
            for pattern in urls.urlpatterns
            if str(pattern.pattern).startswith("v1/") and pattern.name != "nothing"
        }
        assert set(document()["paths"]) == served

    def test_it_needs_no_key_and_says_nothing_of_the_shop(self, worked: list[Shell]) -> None:
        answer = Client().get(reverse("api:openapi"))
        assert answer.status_code == 200
        assert json.loads(answer.content) == json.loads(json.dumps(document()))
        for word in (worked[0].serial, "Harrow", "Ottermill"):
            assert word not in answer.content.decode()
        assert Client().post(reverse("api:openapi")).status_code == 405

    def test_every_parameter_it_names_is_taken(self, get: Callable[..., Any], worked: list[Shell]) -> None:
        examples = {
            "state": "in_production",
            "due_from": "2026-01-01",
            "due_to": "2026-12-31",
            "limit": 5,
            "order": "K-1",
            "from": "2026-11-01",
            "to": "2026-11-30",
        }
        for where, path in document()["paths"].items():
            named = [each["name"] for each in path["get"].get("parameters", ()) if each["in"] == "query"]
            for name in set(named) - {"cursor"}:
                query = {"from": "2026-11-01", "to": "2026-11-30"} if "from" in named else {}
                assert get(where, **{**query, name: examples[name]}).status_code == 200, (where, name)


def holds(name: str, value: Any) -> None:
    """``value`` is as the description says: nothing missing, nothing more, days and moments well written."""
    schema = {"$ref": f"#/components/schemas/{name}", "components": document()["components"]}
    Draft202012Validator(schema, format_checker=FormatChecker(["date", "date-time"])).validate(value)


def test_the_check_of_the_description_can_fail(get: Callable[..., Any], worked: list[Shell]) -> None:
    shell = get(f"/shells/{worked[0].serial}").json()
    for wrong in (shell | {"pin": "1"}, shell | {"released_at": "yesterday"}, shell | {"state": "lost"}):
        with pytest.raises(ValidationError):
            holds("Shell", wrong)
    del shell["due"]
    with pytest.raises(ValidationError):
        holds("Shell", shell)


class TestAnswers:
    def test_orders(self, get: Callable[..., Any], worked: list[Shell]) -> None:
        answer = get("/orders").json()
        holds("OrderPage", answer)
        assert [order["number"] for order in answer["orders"]] == ["K-1", "K-2"]
        assert answer["next_cursor"] is None
        assert answer["orders"][1]["customer"] == "Zoë, Sons; Co"
        assert answer["orders"][0]["drums"] == 3
        assert [order["number"] for order in get("/orders", state="draft").json()["orders"]] == ["K-2"]
        assert [order["number"] for order in get("/orders", due_from="2026-12-19").json()["orders"]] == ["K-2"]
        assert [order["number"] for order in get("/orders", due_to="2026-12-18").json()["orders"]] == ["K-1"]

    def test_one_order_with_its_shells(self, get: Callable[..., Any], worked: list[Shell]) -> None:
        answer = get("/orders/K-1").json()
        holds("OrderWithShells", answer)
        assert [shell["serial"] for shell in answer["shells"]] == [shell.serial for shell in worked]
        holds("OrderWithShells", get("/orders/K-2").json())

    def test_shells_say_where_they_stand(self, get: Callable[..., Any], clock: Clock, worked: list[Shell]) -> None:
        clock.wait(days=60)  # nothing cures any more
        answer = get("/shells").json()
        holds("ShellPage", answer)
        packed, reworked, held = answer["shells"]
        assert (packed["stands"]["state"], packed["stands"]["step"]) == ("done", None)
        assert (reworked["stands"]["state"], reworked["stands"]["position"]) == ("ready", EDGE)
        assert (held["stands"]["state"], held["stands"]["held_for"]) == ("on_hold", "dent; deep, long")
        one = get(f"/shells/{worked[1].serial}").json()
        holds("Shell", one)
        assert one == reworked
        assert len(get("/shells", state="on_hold").json()["shells"]) == 1
        assert get("/shells", order="K-2").json()["shells"] == []

    def test_a_curing_shell_says_until_when(self, get: Callable[..., Any], shop: SmallShop, clock: Clock) -> None:
        (shell,) = shop.released()
        sign_through(shop, shell, 2)
        until = shop.step(shell, 3).not_before
        assert until is not None and until > timezone.now()
        stands = get(f"/shells/{shell.serial}").json()["stands"]
        assert (stands["state"], stands["word"], stands["position"]) == ("resting", "curing", 3)
        assert datetime.fromisoformat(stands["until"]) == until
        clock.wait(minutes=1)  # both clocks stand at the shop's again
        clock.wait(days=3)
        stands = get(f"/shells/{shell.serial}").json()["stands"]
        assert (stands["state"], stands["until"]) == ("ready", None)

    def test_the_story(self, get: Callable[..., Any], worked: list[Shell]) -> None:
        for shell in worked:
            answer = get(f"/shells/{shell.serial}/story").json()
            holds("Story", answer)
            assert len(answer["events"]) == ShellRecord.objects.filter(shell=shell).count()
        assert any(event["void"] for event in get(f"/shells/{worked[1].serial}/story").json()["events"])

    def test_signatures(self, get: Callable[..., Any], worked: list[Shell], shop: SmallShop) -> None:
        answer = get("/sign-offs", **SPAN).json()
        holds("SignOffPage", answer)
        times = [datetime.fromisoformat(each["signed_at"]) for each in answer["sign_offs"]]
        assert times == sorted(times) and len(times) == PACK + 5
        void = [each for each in answer["sign_offs"] if not each["standing"]]
        assert {each["void"] for each in void} == {"sent back for rework"}
        assert get("/sign-offs", **{"from": "2026-01-01", "to": "2026-01-31"}).json()["sign_offs"] == []

    def test_readings_and_withdrawn_signatures(self, get: Callable[..., Any], shop: SmallShop) -> None:
        point = CheckPoint.objects.create(
            code="length", kind="measured", unit="mm", nominal=100, minus=1, plus=1, station=shop.stations["cut"],
            text="Length",
        )  # fmt: skip
        (shell,) = shop.released()
        sign_off(serial=shell.serial, position=1, person=shop.worker, answers={str(point.pk): "99.5"},
                 note="second saw", stamp=shop.stamp(shop.worker))  # fmt: skip
        withdraw_sign_off(serial=shell.serial, position=1, person=shop.worker, stamp=shop.stamp(shop.worker))
        answer = get("/sign-offs", **SPAN).json()
        holds("SignOffPage", answer)
        (signed,) = answer["sign_offs"]
        assert (signed["standing"], signed["void"], signed["note"]) == (False, "withdrawn", "second saw")
        (reading,) = signed["readings"]
        assert reading == {
            "check": "length", "text": "Length", "value": 99.5, "values": None, "unit": "mm", "low": 99, "high": 101,
            "passed": True,
        }  # fmt: skip
        holds("Story", get(f"/shells/{shell.serial}/story").json())

    def test_figures(self, get: Callable[..., Any], worked: list[Shell]) -> None:
        answer = get("/figures", **SPAN).json()
        holds("Figures", answer)
        edge = next(each for each in answer["stations"] if each["station_code"] == "edge")
        assert (edge["shells"], edge["passed_first"], edge["first_pass_yield"]) == (2, 1, 0.5)
        assert answer["packed"] == 1 and answer["lead_days"]["count"] == 1
        holds("Figures", get("/figures", **{"from": "2026-01-01", "to": "2026-01-31"}).json())

    def test_nothing_of_people_but_their_names(
        self, get: Callable[..., Any], worked: list[Shell], shop: SmallShop
    ) -> None:
        Person.objects.filter(pk=shop.worker.pk).update(username="wk-4711", pin="argon2-secret")
        for where in (f"/shells/{worked[0].serial}/story", "/orders", "/shells"):
            text = get(where).content.decode()
            assert "wk-4711" not in text and "argon2" not in text and "password" not in text
        assert shop.worker.name in get(f"/shells/{worked[0].serial}/story").content.decode()


class TestPages:
    @pytest.mark.parametrize(
        ("where", "name", "query"),
        [("/orders", "orders", {}), ("/shells", "shells", {}), ("/sign-offs", "sign_offs", SPAN)],
    )
    @pytest.mark.parametrize("size", [1, 2, 3])
    def test_page_by_page_every_row_comes_once(
        self, get: Callable[..., Any], worked: list[Shell], where: str, name: str, query: dict[str, str], size: int
    ) -> None:
        whole = get(where, **query).json()[name]
        pages, cursor = [], None
        while True:
            page = get(where, **query, limit=size, **({"cursor": cursor} if cursor else {})).json()
            assert len(page[name]) <= size
            pages += page[name]
            cursor = page["next_cursor"]
            if cursor is None:
                break
        assert pages == whole and len(whole) > 1

    def test_rows_added_meanwhile_move_nothing(
        self, get: Callable[..., Any], worked: list[Shell], shop: SmallShop
    ) -> None:
        first = get("/shells", limit=2).json()
        shop.released("K-9", quantity=2)
        rest = get("/shells", cursor=first["next_cursor"]).json()["shells"]
        serials = [shell["serial"] for shell in first["shells"] + rest]
        assert serials == sorted(set(serials)) and len(serials) == 5

    @pytest.mark.parametrize("where", ["/orders", "/shells", "/sign-offs"])
    @pytest.mark.parametrize("cursor", ["x", "____", "b3JkZXJzIDE", "é", "b3JkZXJzIDk5OTk5OTk5OTk5OTk5OTk5OTk5OTk5"])
    def test_a_cursor_of_another_list_or_none_at_all_is_refused(
        self, get: Callable[..., Any], where: str, cursor: str
    ) -> None:
        answer = get(where, cursor=cursor, **(SPAN if where == "/sign-offs" else {}))
        if (where, cursor) == ("/orders", "b3JkZXJzIDE"):  # “orders 1”
            assert answer.status_code == 200
            return
        assert answer.status_code == 422
        assert answer.json()["error"]["code"] == "bad_cursor"

    def test_queries_do_not_grow_with_rows(
        self, get: Callable[..., Any], shop: SmallShop, clock: Clock, worked: list[Shell]
    ) -> None:
        def queries(where: str, **query: Any) -> int:
            with CaptureQueriesContext(connection) as made:
                assert get(where, **query).status_code == 200
            return len(made)

        get("/orders")  # the first use of the day is noted
        asked: list[tuple[str, dict[str, str]]] = [
            ("/orders", {}), ("/shells", {}), ("/orders/K-1", {}), ("/sign-offs", SPAN), ("/figures", SPAN),
        ]  # fmt: skip
        for shell in shop.released("K-6"):
            sign_through(shop, shell, 2)  # it cures, as those below do
        before = [queries(where, **query) for where, query in asked]
        for number in ("K-7", "K-8"):
            for shell in shop.released(number, quantity=4):
                sign_through(shop, shell, 2)
        assert [queries(where, **query) for where, query in asked] == before
        assert max(before) <= 20


class TestRefusals:
    def test_strangers(self, shop: SmallShop, secret: str, worked: list[Shell]) -> None:
        for header in ({}, {"Authorization": ""}, {"Authorization": "Bearer "}, {"Authorization": f"Basic {secret}"}):
            answer = Client().get("/api/v1/orders", headers=header)
            assert answer.status_code == 401
            assert answer["WWW-Authenticate"] == 'Bearer realm="shop"'  # RFC 6750, 3: no error code without a key
            holds("Error", answer.json())
        for wrong in (secret[:-1], secret + "a", "x" * 5000, "Ω"):
            answer = Client().get("/api/v1/orders", headers={"Authorization": f"Bearer {wrong}"})
            assert answer.status_code == 401
            assert 'error="invalid_token"' in answer["WWW-Authenticate"]

    def test_somebody_signed_in_needs_a_key_too(self, signed_in: Callable[[Role], Client]) -> None:
        assert signed_in(Role.ADMINISTRATOR).get("/api/v1/orders").status_code == 401

    def test_a_revoked_key_and_a_calendars(self, get: Callable[..., Any], ruler: Person) -> None:
        assert get("/orders").status_code == 200
        revoke_key(key=ApiKey.objects.get(), by=ruler, at=timezone.now())
        assert get("/orders").status_code == 401
        calendars = make_key(name="office", opens=KeyOpens.CALENDAR, by=ruler, at=timezone.now())[1]
        assert Client().get("/api/v1/orders", headers={"Authorization": f"Bearer {calendars}"}).status_code == 401

    @pytest.mark.parametrize("method", ["post", "put", "patch", "delete"])
    def test_nothing_can_be_written(self, secret: str, worked: list[Shell], method: str) -> None:
        careful = Client(enforce_csrf_checks=True, headers={"Authorization": f"Bearer {secret}"})
        serial = worked[0].serial
        for where in ("/orders", "/orders/K-1", "/shells", f"/shells/{serial}", f"/shells/{serial}/story",
                      "/sign-offs", "/figures", "/elsewhere"):  # fmt: skip
            answer = getattr(careful, method)(f"/api/v1{where}")
            assert answer.status_code == 405 and answer["Allow"] == "GET, HEAD"
            holds("Error", answer.json())

    def test_reading_changes_no_row_but_the_day_of_use(self, get: Callable[..., Any], worked: list[Shell]) -> None:
        get("/orders")
        serial = worked[0].serial
        with CaptureQueriesContext(connection) as made:
            for where, query in [("/orders", {}), ("/orders/K-1", {}), ("/shells", {}), (f"/shells/{serial}", {}),
                                 (f"/shells/{serial}/story", {}), ("/sign-offs", SPAN), ("/figures", SPAN)]:  # fmt: skip
                assert get(where, **query).status_code == 200
        assert all(query["sql"].startswith("SELECT") for query in made)
        assert not any("django_session" in query["sql"] for query in made)

    def test_no_session_and_no_cookie(self, get: Callable[..., Any]) -> None:
        assert not get("/orders").cookies

    @pytest.mark.parametrize(
        "where",
        [
            "/orders/none",
            "/shells/OW26-00001",
            "/shells/x/story",
            "/elsewhere",
            "/orders/",
        ],
    )
    def test_what_is_not_there(self, get: Callable[..., Any], shop: SmallShop, where: str) -> None:
        answer = get(where)
        assert answer.status_code == 404
        holds("Error", answer.json())
        assert answer.json()["error"]["sentence"].endswith(".")

    @pytest.mark.parametrize(
        ("where", "query"),
        [
            ("/orders", {"state": "lost"}),
            ("/orders", {"sate": "draft"}),
            ("/orders", {"limit": 0}),
            ("/orders", {"limit": 501}),
            ("/orders", {"limit": "²"}),
            ("/orders", {"limit": ["1", "2"]}),
            ("/orders", {"due_from": "2026-02-30"}),
            ("/orders", {"due_to": "20261201"}),
            ("/orders", {"due_to": "0001-01-01"}),
            ("/shells", {"order": "a\0b"}),
            ("/shells", {"state": "draft"}),
            ("/shells/x", {"limit": 5}),
            ("/sign-offs", {}),
            ("/sign-offs", {"from": "2026-11-01"}),
            ("/sign-offs", {"from": "2026-11-02", "to": "2026-11-01"}),
            ("/figures", {"from": "2001-01-01", "to": "2026-11-01"}),
        ],
    )
    def test_what_can_not_be_read(self, get: Callable[..., Any], shop: SmallShop, where: str, query: Any) -> None:
        answer = get(where, **query)
        assert answer.status_code == 422
        holds("Error", answer.json())


def test_an_answer_that_has_not_changed_is_not_sent_again(secret: str, shop: SmallShop, worked: list[Shell]) -> None:
    client = Client(headers={"Authorization": f"Bearer {secret}"})
    first = client.get("/api/v1/shells")
    again = client.get("/api/v1/shells", headers={"If-None-Match": first["ETag"]})
    assert (again.status_code, again.content) == (304, b"")
    shop.released("K-5")
    assert client.get("/api/v1/shells", headers={"If-None-Match": first["ETag"]}).status_code == 200
    assert first["Cache-Control"] == "private, no-cache" and "Authorization" in first["Vary"]
    assert client.head("/api/v1/shells").status_code == 200


# ── Keys


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


# ── The calendar, against RFC 5545


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
