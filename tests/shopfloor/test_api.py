"""The reading interface: every answer is held against its own description."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from datetime import datetime
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from jsonschema import Draft202012Validator, FormatChecker, ValidationError
from openapi_spec_validator import OpenAPIV31SpecValidator

from quality.actions import sign_off, withdraw_sign_off
from quality.api_keys import make_key, revoke_key
from quality.models import ApiKey, CheckPoint, KeyOpens, Person, Role
from routing.languages import spoken_in
from routing.models import Shell, ShellRecord
from shopfloor import languages
from shopfloor.api import urls
from shopfloor.api.document import document
from tests.quality.on_hold import EDGE, PACK
from tests.shopfloor.tablets import Clock, sign_through
from tests.small_shop import SmallShop

pytestmark = pytest.mark.django_db
SPAN = {"from": "2026-11-01", "to": "2026-12-31"}


@pytest.fixture
def get(secret: str) -> Callable[..., Any]:
    """``get("/orders", limit=2)``: the answer to somebody with a key."""

    def ask(where: str, **query: Any) -> Any:
        return Client().get(f"/api/v1{where}", query, headers={"Authorization": f"Bearer {secret}"})

    return ask


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

    def test_they_are_in_english_whatever_the_shop_speaks(
        self, get: Callable[..., Any], worked: list[Shell], monkeypatch: pytest.MonkeyPatch
    ) -> None:
        asked = [f"/shells/{worked[1].serial}/story", "/shells", "/orders"]
        english = [get(where).content for where in asked]
        monkeypatch.setattr(languages, "spoken_in", lambda language: spoken_in("de"))  # every request begins in German
        assert "fertig" in Client().get("/glossary/").content.decode()
        assert [get(where).content for where in asked] == english

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
