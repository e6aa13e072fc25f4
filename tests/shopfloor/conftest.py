"""What tests of the screens begin from: clients that are signed in, clocks, tablets, a shop with some work in it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import date
from pathlib import Path

import pytest
from django.test import Client
from django.utils import timezone
from pytest_django import Settings

from quality.api_keys import make_key
from quality.models import CheckKind, CheckPoint, KeyOpens, Person, Role
from routing.models import Shell
from tests.quality.customer_requests import shipped
from tests.quality.on_hold import EDGE, PACK, hold, send_back, sign_up_to
from tests.shopfloor.tablets import Clock, Tablet, clock_of
from tests.small_shop import SmallShop, person


@pytest.fixture
def signed_in(shop: SmallShop) -> Callable[[Role], Client]:
    """``signed_in(Role.OFFICE)``: a browser in which somebody of this role is signed in."""

    def client_of(role: Role) -> Client:
        who = Person.objects.filter(role=role).first() or person(f"some-{role.value}", role)
        client = Client()
        client.force_login(who)
        return client

    return client_of


@pytest.fixture
def supervisor(signed_in: Callable[[Role], Client]) -> Client:
    return signed_in(Role.SUPERVISOR)


@pytest.fixture
def office(signed_in: Callable[[Role], Client]) -> Client:
    return signed_in(Role.OFFICE)


@pytest.fixture
def owner(db: None) -> Client:
    """The first administrator of an empty shop, signed in."""
    client = Client()
    client.force_login(Person.objects.create_superuser("owner", "a long enough one", "Olive Owner"))
    return client


@pytest.fixture
def clock(shop: SmallShop) -> Iterator[Clock]:
    """The machine's clock stands at the shop's, and both move only when told."""
    with clock_of(shop) as clock:
        yield clock


@pytest.fixture
def cut(clock: Clock) -> Tablet:
    """A tablet at the cut station at which the worker is signed in."""
    tablet = Tablet("cut")
    tablet.sign_in(clock.shop.worker)
    return tablet


@pytest.fixture
def sold(shop: SmallShop, clock: Clock) -> Shell:
    """A drum that was shipped an hour ago; the machine's clock stands there too."""
    drum = shipped(shop)
    clock.wait(hours=1)
    return drum


@pytest.fixture
def ruler(shop: SmallShop) -> Person:
    return person("ada", Role.ADMINISTRATOR)


@pytest.fixture
def secret(ruler: Person) -> str:
    return make_key(name="scripts", opens=KeyOpens.LISTS, by=ruler, at=timezone.now())[1]


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


@pytest.fixture
def moisture(shop: SmallShop) -> CheckPoint:
    return CheckPoint.objects.create(
        code="moisture",
        station=shop.stations["cut"],
        text="Moisture of one plate",
        kind=CheckKind.MEASURED,
        unit="%",
        nominal=8.0,
        minus=2.0,
        plus=2.0,
    )


@pytest.fixture
def depth(shop: SmallShop) -> CheckPoint:
    return CheckPoint.objects.create(
        code="depth",
        station=shop.stations["cut"],
        text="Depth over the edges",
        kind="measured",
        unit="mm",
        spec_key="shell.depth_mm",
        minus=0.5,
        plus=0.5,
    )


@pytest.fixture
def photos_folder(settings: Settings, tmp_path: Path) -> None:
    """Photos that are taken are kept for this test only."""
    settings.MEDIA_ROOT = tmp_path
