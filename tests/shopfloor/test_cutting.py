"""The cutting plan on screen."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from tests.small_shop import SmallShop

pytestmark = pytest.mark.django_db


def test_the_plan_of_an_order_is_drawn(shop: SmallShop, office: Client) -> None:
    assert "Nothing is left to cut" in office.get(reverse("cutting:plan")).content.decode()
    shells = shop.released(quantity=2)
    page = office.get(reverse("cutting:plan"), {"order": "K-1"}).content.decode()
    assert "Birch 3.0" in page
    assert page.count("cutting-sheet") >= 1
    assert all(shell.serial in page for shell in shells)
    assert "nothing left to cut" in office.get(reverse("cutting:plan"), {"order": "K-9"}).content.decode()


def test_strangers_and_wrong_methods(shop: SmallShop, client: Client, office: Client) -> None:
    assert client.get(reverse("cutting:plan")).status_code == 302
    assert office.post(reverse("cutting:plan")).status_code == 405
