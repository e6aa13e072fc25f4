"""The room's air at the tablet."""

from __future__ import annotations

import pytest

from routing.models import RoomReading
from tests.shopfloor.tablets import Clock, Tablet, page
from tests.small_shop import SmallShop


@pytest.fixture
def finish(shop: SmallShop, clock: Clock) -> Tablet:
    tablet = Tablet("finish")
    tablet.sign_in(shop.worker)
    return tablet


def enter(tablet: Tablet, temperature: str, humidity: str):
    return tablet.client.post(tablet.url("room"), {"temperature_c": temperature, "humidity_pct": humidity}, follow=True)


def test_the_air_is_asked_for_and_shown_with_who_read_it(shop: SmallShop, finish: Tablet) -> None:
    assert "Read the room" in page(finish.get("queue"))
    assert finish.get("room").status_code == 200
    shown = page(enter(finish, "19,5", "48"))
    assert "19.5 °C, 48 %" in shown and shop.worker.name in shown
    reading = RoomReading.objects.get()
    assert (reading.temperature_c, reading.humidity_pct, reading.person) == (19.5, 48, shop.worker)


@pytest.mark.parametrize(("temperature", "humidity"), [("warm", "50"), ("", "50"), ("21", "nan"), ("99", "50")])
def test_what_is_no_air_is_refused_and_kept_to_be_corrected(
    shop: SmallShop, finish: Tablet, temperature: str, humidity: str
) -> None:
    answer = enter(finish, temperature, humidity)
    assert answer.status_code == 422
    assert f'value="{temperature}"' in page(answer) and f'value="{humidity}"' in page(answer)
    assert not RoomReading.objects.exists()


def test_a_station_whose_work_does_not_follow_the_air_does_not_ask(shop: SmallShop, clock: Clock) -> None:
    edge = Tablet("edge")
    edge.sign_in(shop.worker)
    assert "Read the room" not in page(edge.get("queue"))
