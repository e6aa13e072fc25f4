"""The command that simulates: its table, what it refuses, and that it writes nothing."""

from __future__ import annotations

import io
from datetime import timedelta

import pytest
from django.core.management import CommandError, call_command
from django.utils import timezone

from routing.models import KitOrder, Shell
from tests.small_shop import SmallShop

pytestmark = pytest.mark.django_db


def said(**options: object) -> str:
    out = io.StringIO()
    call_command("simulate_week", stdout=out, **options)
    return out.getvalue()


def test_released_and_drafts_are_run_and_nothing_is_saved(shop: SmallShop) -> None:
    shop.clock = timezone.now()
    due = timezone.localdate() + timedelta(days=60)
    shop.released("K-1", quantity=2, due=due)
    shop.order("K-2", quantity=2, due=due)
    shop.order("K-3", due=due)
    table = said(weeks=6, runs=2, drafts=2)
    assert table.startswith("5 shells of 3 kits, 6 weeks, 2 runs")
    assert "due date" in table
    assert "least slack" in table
    assert "The better rule" in table or "equally well" in table
    assert said(weeks=6, runs=2, drafts=0).startswith("2 shells of 1 kit")
    assert (Shell.objects.count(), KitOrder.objects.filter(state="draft").count()) == (2, 2)


@pytest.mark.parametrize(
    ("options", "sentence"),
    [
        ({"weeks": 0}, "Give --weeks 1 to 26"),
        ({"runs": 0}, "--runs 1 to 200"),
        ({"drafts": -1}, "--drafts 0 or more"),
        ({}, "nothing to simulate"),
    ],
)
def test_what_it_refuses(shop: SmallShop, options: dict[str, int], sentence: str) -> None:
    with pytest.raises(CommandError, match=sentence):
        said(**options)
