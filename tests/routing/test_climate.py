"""The air at a station decides dwells and glue clocks, and stops what would not hold."""

from __future__ import annotations

from datetime import timedelta

import pytest

from quality.actions import sign_off
from routing.climate import in_this_air, newest_reading, read_room
from routing.errors import NotAllowedNow
from routing.models import Operation, RoomReading, Shell, ShellRecord
from routing.specs.coats import dwell_factor
from routing.specs.errors import SpecError
from tests.shopfloor.tablets import sign_through
from tests.small_shop import SmallShop


def read(shop: SmallShop, station: str, temperature_c: float, humidity_pct: float = 50.0) -> RoomReading:
    return read_room(
        station=shop.stations[station],
        temperature_c=temperature_c,
        humidity_pct=humidity_pct,
        stamp=shop.stamp(shop.worker),
    )


def first_coat(shop: SmallShop) -> tuple[Shell, Operation]:
    shell = shop.released()[0]
    step = Operation.objects.filter(shell=shell, coat_index=0).get()
    sign_through(shop, shell, step.position - 1)
    shop.wait(hours=60)
    return shell, step


def sign(shop: SmallShop, shell: Shell, step: Operation) -> Operation:
    sign_off(serial=shell.serial, position=step.position, person=shop.worker, answers={}, stamp=shop.stamp(shop.worker))
    return shop.step(shell, step.position + 1)


def test_a_coat_dries_as_long_as_the_air_says(shop: SmallShop) -> None:
    shell, step = first_coat(shop)
    recipe = shell.specs.get().inputs["finish"]["coats"][0]
    read(shop, "finish", 17.0, 70.0)
    following = sign(shop, shell, step)
    # 4 °C under the reference: 2^(4/8); 70 %: one and a half times.
    hours = recipe["base_dwell_h"] * 2**0.5 * 1.5
    assert dwell_factor(17.0, 70.0) == pytest.approx(2**0.5 * 1.5)
    assert following.not_before is not None
    assert (following.not_before - shop.clock).total_seconds() / 3600 == pytest.approx(hours, abs=1 / 60)
    body = ShellRecord.objects.filter(shell=shell, kind="signed").latest("sequence").body
    assert body["air"] == {"temperature_c": 17.0, "humidity_pct": 70.0}
    assert body["dwell_minutes"] == pytest.approx(hours * 60, abs=1)


def test_without_a_reading_the_spec_stands(shop: SmallShop) -> None:
    shell, step = first_coat(shop)
    following = sign(shop, shell, step)
    assert following.not_before is not None
    assert following.not_before - shop.clock == timedelta(minutes=step.dwell_minutes)


def test_a_dwell_that_the_route_fixes_does_not_follow_the_air(shop: SmallShop) -> None:
    shell, step = first_coat(shop)
    Operation.objects.filter(pk=step.pk).update(dwell_minutes=600)
    read(shop, "finish", 17.0, 70.0)
    following = sign(shop, shell, step)
    assert following.not_before is not None and following.not_before - shop.clock == timedelta(hours=10)


@pytest.mark.parametrize(
    ("temperature_c", "humidity_pct", "words"), [(12, 50, "no film forms"), (21, 90, "dries badly")]
)
def test_air_in_which_no_film_forms_stops_the_coat(
    shop: SmallShop, temperature_c: float, humidity_pct: float, words: str
) -> None:
    shell, step = first_coat(shop)
    read(shop, "finish", temperature_c, humidity_pct)
    with pytest.raises(NotAllowedNow, match=words):
        sign(shop, shell, step)
    assert shop.step(shell, step.position).state == "ready"
    shop.wait(minutes=30)
    read(shop, "finish", 21, 50)
    assert sign(shop, shell, step).state == "ready"


def test_a_room_too_cold_for_the_glue_stops_the_press(shop: SmallShop) -> None:
    shell = shop.released()[0]
    sign_through(shop, shell, 1)
    read(shop, "press", 5.0)
    with pytest.raises(NotAllowedNow, match="Do not glue"):
        sign(shop, shell, shop.step(shell, 2))


def test_a_reading_of_the_last_shift_counts_no_more(shop: SmallShop) -> None:
    read(shop, "finish", 12.0)
    station = shop.stations["finish"]
    assert newest_reading(station, shop.clock + timedelta(hours=11)) is not None
    assert newest_reading(station, shop.clock + timedelta(hours=12)) is None
    assert newest_reading(station, shop.clock - timedelta(minutes=1)) is None
    assert newest_reading(shop.stations["press"], shop.clock) is None


def test_two_taps_are_one_reading(shop: SmallShop) -> None:
    assert read(shop, "finish", 21.0) == read(shop, "finish", 21.0)
    assert RoomReading.objects.count() == 1


@pytest.mark.parametrize(
    ("temperature_c", "humidity_pct"), [(-20, 50), (60, 50), (20, 2), (20, 120), (float("nan"), 50)]
)
def test_impossible_air_is_refused(shop: SmallShop, temperature_c: float, humidity_pct: float) -> None:
    with pytest.raises(SpecError):
        read(shop, "finish", temperature_c, humidity_pct)
    assert not RoomReading.objects.exists()


def test_the_frozen_spec_stays_as_it_is(shop: SmallShop) -> None:
    spec = shop.released()[0].specs.get()
    before = str(spec.results)
    warm = in_this_air(spec.results, spec.inputs, read(shop, "finish", 29.0))
    assert str(spec.results) == before
    assert warm["coats"]["coats"][0]["dwell_h"] < spec.results["coats"]["coats"][0]["dwell_h"]
    assert warm["gluing"]["clocks"]["pot_life_min"] < spec.results["gluing"]["clocks"]["pot_life_min"]


def test_wood_settles_at_what_the_room_brings_it_to(shop: SmallShop) -> None:
    spec = shop.released()[0].specs.get()
    damp = in_this_air(spec.results, spec.inputs, read(shop, "cut", 26.0, 75.0))
    # Wood Handbook eq. (4-5) at 26 °C and 75 %: 14.2 %.
    assert damp["moisture"]["room_emc_pct"] == pytest.approx(14.19, abs=0.01)
    assert [w["code"] for w in damp["moisture"]["warnings"]][:1] == ["room_off_plate"]
