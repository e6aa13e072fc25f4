"""What a drum's story and its proof say of its bags."""

from __future__ import annotations

import pytest

from quality.cross_checks import bags as proved
from quality.models import Bag
from quality.trace import story_of
from tests.quality.test_kitting import count, fill, reopen, weigh, with_bags
from tests.small_shop import SmallShop

pytestmark = pytest.mark.django_db


def test_the_story_tells_who_filled_checked_and_opened_what(shop: SmallShop) -> None:
    shell = with_bags(shop)
    fill(shop, shell)
    weigh(shop, shell, "rods", 340.0)
    reopen(shop, shell, back={0: 19})
    fill(shop, shell)
    count(shop, shell, "rods", 20)
    fill(shop, shell, "")
    shell.refresh_from_db()
    events = [event for event in story_of(shell).events if event.kind in ("bagged", "bag_check", "unbagged")]
    assert [event.detail for event in sorted(events, key=lambda event: event.sequence)] == [
        "Bag “rods”, by the parts list of revision 1: 20 tension rod",
        "Bag “rods”: 340.0 g, within 338.4 to 341.6 g",
        "Bag “rods”: one rod is bent. Back to the shelf: 19 tension rod",
        "Bag “rods”, attempt 2, by the parts list of revision 1: 20 tension rod",
        "Bag “rods”, attempt 2: every line counted",
        "Loose parts, by the parts list of revision 1: 1 batter head",
    ]
    assert {event.person for event in events} == {"Wanda Worker"}
    assert list(proved(shell)) == []


@pytest.mark.parametrize(
    "change",
    [
        {"contents": []},
        {"spec_revision": 7},
        {"weight_g": 339.0},
        {"state": "filled"},
        {"state": "opened"},
        {"name": "claws"},
        {"checked_by": None},
        {"checked_how": "count"},
    ],
)
def test_a_bag_that_says_something_else_than_its_records_is_found(shop: SmallShop, change: dict[str, object]) -> None:
    shell = with_bags(shop)
    fill(shop, shell)
    weigh(shop, shell, "rods", 340.0)
    assert list(proved(shell)) == []
    Bag.objects.update(**change)
    assert list(proved(shell))


def test_another_name_under_a_bag_and_a_bag_that_is_gone_are_found(shop: SmallShop) -> None:
    shell = with_bags(shop)
    fill(shop, shell)
    Bag.objects.update(filled_by=shop.checker)
    assert [broken.what for broken in proved(shell)] == ["its bag says something else than the record"]
    Bag.objects.all().delete()
    assert [broken.what for broken in proved(shell)] == ["the bag it tells of is missing"]
