"""What a tap costs: so many statements and no more, whatever is checked and however much was signed before."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from quality.models import CheckPoint, Reading, SignOff
from routing.models import Shell
from tests.shopfloor.tablets import Clock, Tablet
from tests.small_shop import SmallShop

pytestmark = pytest.mark.django_db

# tablet and station, person · shell, step and tap, qualification, spec, check points, the next step ·
# step done, next step open, record, head of the chain, signature, readings · begin and end
MOST = 16
FIRST_OF_A_SHELL = 2  # shell and order are in production from then on
AIR = 1  # where the work follows it


def checks(shop: SmallShop, station: str, count: int) -> dict[str, str]:
    """That many more checks at a station, and the answers to them."""
    points = [
        CheckPoint.objects.create(
            code=f"{station}-{count}-{n}",
            station=shop.stations[station],
            text=f"Depth {n}",
            kind="measured",
            unit="mm",
            spec_key="shell.depth_mm",
            minus=0.5,
            plus=0.5,
        )
        for n in range(count)
    ]
    return {f"check-{point.pk}": "139.7" for point in points}


def statements(tablet: Tablet, shell: Shell, position: int, answers: dict[str, str]) -> list[str]:
    with CaptureQueriesContext(connection) as caught:
        answer = tablet.tap("sign", shell, position, **answers)
    assert answer.status_code == 302, answer.content.decode()
    return [query["sql"] for query in caught.captured_queries]


def test_a_tap_costs_so_many_statements(shop: SmallShop, clock: Clock) -> None:
    first, second, third = shop.released(quantity=3)
    tablet = Tablet("edge")
    tablet.sign_in(shop.worker)
    at_cut = Tablet("cut")
    at_cut.sign_in(shop.worker)
    three = checks(shop, "cut", 3)
    begun = statements(at_cut, first, 1, three)
    assert len(begun) <= MOST + FIRST_OF_A_SHELL + AIR, "\n".join(begun)
    assert Reading.objects.count() == 3
    twelve = three | checks(shop, "cut", 9)
    for shell in (second, third):
        assert len(statements(at_cut, shell, 1, twelve)) == len(begun)
    assert SignOff.objects.count() == 3


def test_a_step_in_the_middle_of_the_route(shop: SmallShop, clock: Clock) -> None:
    shells = shop.released(quantity=6)
    for position, station in ((1, "cut"), (2, "press")):
        tablet = Tablet(station)
        tablet.sign_in(shop.worker)
        for shell in shells:
            assert tablet.tap("sign", shell, position).status_code == 302
    clock.wait(hours=60)
    answers = checks(shop, "edge", 3)
    edge = Tablet("edge")
    edge.sign_in(shop.worker)
    costs = []
    for shell in shells:
        said = statements(edge, shell, 3, answers)
        costs.append(len(said))
        assert len(said) <= MOST, "\n".join(said)
    assert len(set(costs)) == 1


def test_the_same_tap_again_writes_nothing_and_costs_less(shop: SmallShop, clock: Clock) -> None:
    (shell,) = shop.released()
    cut = Tablet("cut")
    cut.sign_in(shop.worker)
    once = statements(cut, shell, 1, {"tap_key": "the same"})
    again = statements(cut, shell, 1, {"tap_key": "the same"})
    assert len(again) < len(once) / 2 + 1
    assert not [sql for sql in again if sql.startswith(("INSERT", "UPDATE"))]
    assert SignOff.objects.count() == 1
