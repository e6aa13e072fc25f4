"""Clients that are signed in to the office screens."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.test import Client

from quality.models import Person, Role
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
