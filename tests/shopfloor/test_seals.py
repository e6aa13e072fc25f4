"""The seals of days on screen and on paper."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test import Client
from django.urls import reverse

from quality.models import DaySeal
from quality.seal import in_groups, seal_days
from routing.append_only import protect, unprotect
from tests.shopfloor.paper import pages_of
from tests.small_shop import SmallShop

pytestmark = pytest.mark.django_db


@pytest.fixture
def sealed(client: Client, shop: SmallShop) -> DaySeal:
    shop.released()
    shop.wait(hours=30)
    (seal,) = seal_days(now=shop.stamp().received_at)
    client.force_login(shop.supervisor)
    return seal


def test_the_page_shows_each_line(client: Client, shop: SmallShop, sealed: DaySeal) -> None:
    page = client.get(reverse("trace:seals")).content.decode()
    assert in_groups(sealed.hash) in page
    assert "not sealed yet" in page  # the made-up shop lives in the past: days went by since
    client.post(reverse("trace:seal_now"))
    page = client.get(reverse("trace:seals")).content.decode()
    assert "not sealed yet" not in page
    count = DaySeal.objects.count()
    said = client.post(reverse("trace:seal_now"), follow=True).content.decode()
    assert "Every day is sealed already." in said
    assert DaySeal.objects.count() == count


def test_a_seal_that_does_not_hold_is_said_on_the_page(client: Client, shop: SmallShop, sealed: DaySeal) -> None:
    said = client.post(reverse("trace:check_seals"), follow=True).content.decode()
    assert "The one seal agrees" in said
    unprotect(connection, ["quality_dayseal"])
    DaySeal.objects.update(hash="0" * 64)
    protect(connection, ["quality_dayseal"])
    answer = client.post(reverse("trace:check_seals"))
    assert answer.status_code == 409
    assert "does not hold" in answer.content.decode()


def test_the_paper_has_the_whole_line(client: Client, shop: SmallShop, sealed: DaySeal) -> None:
    answer = client.get(reverse("trace:seals_pdf"))
    assert answer["Content-Type"] == "application/pdf"
    assert sealed.hash in "".join(pages_of(answer.content)).replace(" ", "").replace("\n", "")


def test_an_empty_shop_says_when_the_first_seal_comes(client: Client, shop: SmallShop) -> None:
    client.force_login(shop.supervisor)
    assert "No day is sealed yet." in client.get(reverse("trace:seals")).content.decode()
