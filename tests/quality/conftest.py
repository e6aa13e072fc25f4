"""What tests of the quality of drums begin from."""

from __future__ import annotations

import pytest

from routing.models import Shell
from tests.quality.on_hold import ASSEMBLE, EDGE, hold, sign_up_to
from tests.quality.order_in_cartons import PACK
from tests.shopfloor.tablets import sign_through
from tests.small_shop import SmallShop


@pytest.fixture
def assembled(shop: SmallShop) -> Shell:
    """A shell on hold at its final check: the steps before it are signed."""
    shell = shop.released()[0]
    sign_up_to(shop, shell, ASSEMBLE)
    hold(shop, shell)
    return shell


@pytest.fixture
def edged(shop: SmallShop) -> Shell:
    """A shell on hold at its first coat."""
    shell = shop.released()[0]
    sign_up_to(shop, shell, EDGE)
    hold(shop, shell)
    return shell


@pytest.fixture
def packed(shop: SmallShop) -> list[Shell]:
    """Two equal snares, packed: neither goes into the other, so they travel in two cartons."""
    shells = shop.released(quantity=2)
    for shell in shells:
        sign_through(shop, shell, PACK)
    return [Shell.objects.get(pk=shell.pk) for shell in shells]
