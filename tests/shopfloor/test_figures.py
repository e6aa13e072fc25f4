"""The figures on screen and as files."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from quality.actions import sign_off
from quality.models import CheckPoint
from routing.models import Shell
from tests.quality.on_hold import EDGE, PACK, hold, send_back, sign_up_to
from tests.small_shop import SmallShop

pytestmark = pytest.mark.django_db
SPAN = {"first": "2026-11-01", "last": "2026-12-31"}


@pytest.fixture
def office(client: Client, shop: SmallShop) -> Client:
    client.force_login(shop.supervisor)
    return client


@pytest.fixture
def worked(shop: SmallShop) -> list[Shell]:
    CheckPoint.objects.create(
        code="edge", station=shop.stations["edge"], text="Edge flat", kind="yes_no", is_current=False
    )
    shells = shop.released(quantity=2)
    sign_up_to(shop, shells[0], PACK)
    sign_up_to(shop, shells[1], 5)
    hold(shop, shells[1], "<b>edge</b> not flat")
    send_back(shop, shells[1], EDGE)
    return shells


def text(client: Client, name: str, *args: Any, **query: str) -> str:
    answer = client.get(reverse(f"figures:{name}", args=args), {**SPAN, **query})
    assert answer.status_code == 200
    return answer.content.decode()


def test_yields_say_what_they_are(office: Client, worked: list[Shell]) -> None:
    page = text(office, "overview")
    assert "First pass yield by station" in page
    assert "50.0 %" in page  # of the edge
    assert "1 of 2 shells worked on were sent back" in page
    assert "a yield says little" in page
    rows = text(office, "yields_file", "csv").lstrip("\ufeff").splitlines()
    assert rows[0] == "Figure,Value,Of,Unit"
    assert '"First pass yield, edge",50.0 %,2,shells' in rows


def test_findings_are_counted_three_ways(office: Client, worked: list[Shell]) -> None:
    assert "no defect named" in text(office, "findings")
    caused = text(office, "findings", by="caused")
    assert '<th scope="row">edge</th><td class="number">1</td>' in caused
    assert '<svg class="drawing pareto"' in caused
    assert "Nothing was found" in text(office, "findings", at="pack")
    assert worked[1].serial in text(office, "findings", by="nonsense")
    assert worked[1].serial in text(office, "findings_file", "csv")


def test_a_check_without_readings_says_so(office: Client, worked: list[Shell]) -> None:
    page = text(office, "check", "edge")
    assert "Nothing was read here in these days." in page


def test_a_chart_with_its_table(office: Client, shop: SmallShop) -> None:
    point = CheckPoint.objects.create(
        code="t", station=shop.stations["cut"], text="Thickness", kind="measured", nominal=3, minus=0.2, plus=0.2
    )
    shells = shop.released(quantity=3)
    for shell, answer in zip(shells, ("3.0", "3.1", "2.95"), strict=True):
        shop.wait(hours=1)
        sign_off(
            serial=shell.serial,
            position=1,
            person=shop.worker,
            answers={str(point.pk): answer},
            stamp=shop.stamp(shop.worker),
        )
    page = text(office, "check", "t")
    assert '<svg class="drawing control-chart"' in page
    assert "Cpk" in page and "Only 3 readings" in page
    assert all(shell.serial in page for shell in shells)
    assert "Thickness" in text(office, "overview")
    lines = text(office, "check_file", "t", "csv").lstrip("\ufeff").splitlines()
    assert len(lines) == 4 and lines[1].startswith(shells[0].serial)
    xlsx = office.get(reverse("figures:check_file", args=["t", "xlsx"]), SPAN)
    assert xlsx.content[:2] == b"PK"


def test_an_empty_shop_says_what_to_do(office: Client) -> None:
    assert "Nothing was signed in these days." in office.get(reverse("figures:overview")).content.decode()


@pytest.mark.parametrize(
    ("query", "said"),
    [
        ({"first": "2026-11-05", "last": "2026-11-01"}, "lies before the first"),
        ({"first": "2001-01-01", "last": "2026-11-01"}, "ten years"),
        ({"first": "yesterday"}, "year-month-day"),
        ({"line": "999"}, "valid choice"),
    ],
)
def test_what_can_not_be_asked(office: Client, shop: SmallShop, query: dict[str, str], said: str) -> None:
    answer = office.get(reverse("figures:overview"), query)
    assert answer.status_code == 422
    assert said in answer.content.decode()


def test_what_is_not_there(office: Client, shop: SmallShop) -> None:
    assert office.get(reverse("figures:check", args=["nothing"])).status_code == 404
    assert office.get("/figures/yields.pdf").status_code == 404
    assert office.post(reverse("figures:overview")).status_code == 405
