"""Clients that are signed in to the office screens."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import pytest
from django.test import Client

from quality.models import Person, Role
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
