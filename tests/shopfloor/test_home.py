"""The start page, and the pages that say no."""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest
from django.test import Client, RequestFactory
from django.urls import reverse
from django.views.defaults import server_error

from quality.models import Role
from shopfloor.first_steps import CODES, skip
from shopfloor.home.views import STARTS
from tests.shopfloor.tablets import make_tablet
from tests.small_shop import SmallShop


def test_a_stranger_finds_two_doors(client: Client, shop: SmallShop) -> None:
    page = client.get("/").content.decode()
    assert f'class="door" href="{reverse("signin:office")}"' in page
    assert f'class="door primary" href="{reverse("floor:stations")}"' in page
    assert "Small Shop" in page
    assert "Sign out" not in page and "Orders</a>" not in page


@pytest.fixture
def settled(shop: SmallShop) -> SmallShop:
    """A shop that is past its first steps."""
    skip(frozenset(CODES), back=False)
    return shop


@pytest.mark.usefixtures("settled")
@pytest.mark.parametrize(
    ("role", "start"),
    [
        (Role.SUPERVISOR, "/board/"),
        (Role.ADMINISTRATOR, "/people/"),
        (Role.OFFICE, "/orders/"),
        (Role.WORKER, "/floor/"),
        (Role.FINAL_CHECKER, "/floor/"),
    ],
)
def test_each_role_is_led_to_where_its_work_begins(signed_in: Callable[[Role], Client], role: Role, start: str) -> None:
    client = signed_in(role)
    make_tablet(client)
    assert client.get("/")["Location"] == start
    assert client.get(start).status_code == 200, "the start page of a role must be open to it"


@pytest.mark.parametrize("role", [Role.WORKER, Role.FINAL_CHECKER])
def test_at_a_desk_who_works_at_stations_sees_the_board(signed_in: Callable[[Role], Client], role: Role) -> None:
    assert signed_in(role).get("/")["Location"] == "/board/"


@pytest.mark.usefixtures("settled")
@pytest.mark.parametrize("role", [Role.SUPERVISOR, Role.ADMINISTRATOR])
def test_in_a_shop_without_tablets_the_floor_is_two_clicks_away(
    signed_in: Callable[[Role], Client], role: Role
) -> None:
    client = signed_in(role)
    page = client.get("/").content.decode()
    assert "Use this browser as a tablet" in page
    assert f'href="{reverse(STARTS[role])}"' in page
    form = page.split(f'action="{reverse("tablets:here")}"')[1].split("</form>")[0]
    fields: dict[str, list[str]] = {}
    for name, value in re.findall(r'<input type="hidden" name="(\w+)" value="([^"]*)">', form):
        fields.setdefault(name, []).append(value)
    stations = client.post(reverse("tablets:here"), fields, follow=True)
    assert stations.status_code == 200
    assert reverse("floor:queue", args=["cut"]) in stations.content.decode()
    assert client.get("/")["Location"] == reverse(STARTS[role])


def test_every_role_has_a_start() -> None:
    assert set(STARTS) == set(Role)


@pytest.mark.parametrize("address", ["/", "/glossary/"])
def test_pages_to_read_take_no_post(client: Client, shop: SmallShop, address: str) -> None:
    assert client.post(address).status_code == 405
    assert client.head(address).status_code == 200


@pytest.mark.parametrize(
    ("role", "menu"),
    [
        (
            Role.SUPERVISOR,
            [
                *["Board", "Plan", "Orders", "Packing", "Requests", "Trace", "Figures", "Floor"],
                *["First steps", "Recipes", "Materials", "Hours", "People", "Tablets", "Files"],
            ],
        ),
        (
            Role.ADMINISTRATOR,
            [
                *["Board", "Plan", "Orders", "Packing", "Requests", "Trace", "Figures"],
                *["First steps", "Recipes", "Materials", "Hours", "People", "Tablets", "Files", "Keys"],
            ],
        ),
        (
            Role.OFFICE,
            [*["Board", "Orders", "Packing", "Requests", "Trace", "Figures"], *["Recipes", "Materials", "Files"]],
        ),
        (Role.WORKER, ["Board", "Packing", "Trace", "Floor"]),
    ],
)
def test_the_menu_shows_what_the_role_may_open(
    signed_in: Callable[[Role], Client], role: Role, menu: list[str]
) -> None:
    client = signed_in(role)
    page = client.get("/trace/").content.decode()
    shown = page.split('aria-label="Main">')[1].split("</nav>")[0]
    assert re.findall(r"<a [^>]*>([^<]*)</a>", shown) == menu
    assert ("<summary" in shown) == (role != Role.WORKER)
    assert shown.count('aria-current="page"') == 1


def test_an_address_without_a_page_says_so(client: Client, shop: SmallShop) -> None:
    answer = client.get("/nowhere/")
    assert answer.status_code == 404
    assert "There is nothing at this address." in answer.content.decode()
    assert "Resolver404" not in answer.content.decode()


def test_a_mistyped_serial_is_told_from_an_unknown_one(supervisor: Client, shop: SmallShop) -> None:
    serial = shop.released()[0].serial
    mistyped = supervisor.get(f"/trace/{serial[:-1]}{'A' if serial[-1] != 'A' else 'B'}/")
    assert mistyped.status_code == 404
    assert "There is nothing at this address." not in mistyped.content.decode(), "it has a sentence of its own"


def test_a_missing_person_is_no_matter_for_programmers(supervisor: Client) -> None:
    page = supervisor.get("/people/999999/").content.decode()
    assert "matches the given query" not in page
    assert "There is nothing at this address." in page


def test_a_missing_right_is_named(signed_in: Callable[[Role], Client]) -> None:
    answer = signed_in(Role.WORKER).get("/people/")
    assert answer.status_code == 403
    assert "may not edit people, PINs and qualifications" in answer.content.decode()


def test_a_broken_page_needs_nothing_that_may_be_broken() -> None:
    """No database here: the test would fail if the page read the shop's name."""
    answer = server_error(RequestFactory().get("/"))
    assert answer.status_code == 500
    assert "Something broke" in answer.content.decode()
