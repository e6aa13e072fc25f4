"""Several shells signed at once: one record each, and what is refused for one stops no other."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from quality.errors import QualityError
from quality.models import CheckKind, CheckPoint, SignOff
from quality.racks import RackResult, checks_of, rack_of, sign_rack
from routing.history import broken_records
from routing.models import OperationState, Shell
from tests.small_shop import SmallShop, person


def point(shop: SmallShop, code: str, **fields: Any) -> CheckPoint:
    made: dict[str, Any] = {"station": shop.stations["cut"], "text": code, "kind": CheckKind.YES_NO}
    return CheckPoint.objects.create(code=code, **(made | fields))


def sign(
    shop: SmallShop, shells: list[Shell], shared: dict[str, str] | None = None, key: str = "rack", **more: Any
) -> list[RackResult]:
    return sign_rack(
        station=shop.stations["cut"],
        positions={shell.serial: 1 for shell in shells},
        person=more.pop("person", shop.worker),
        shared=shared or {},
        each=more.pop("each", {}),
        stamp=replace(shop.stamp(shop.worker), tap_key=key),
    )


def test_a_rack_of_24_is_signed_in_one_go(shop: SmallShop) -> None:
    shells = shop.released(quantity=24)
    sound = point(shop, "sound")
    results = sign(shop, shells, {str(sound.pk): "yes"})
    assert [result.refusal for result in results] == [""] * 24
    assert SignOff.objects.filter(person=shop.worker).count() == 24
    assert {shop.step(shell, 1).state for shell in shells} == {OperationState.DONE}
    for shell in Shell.objects.all():
        assert list(broken_records(shell)) == []


def test_the_same_tap_again_signs_nothing_twice(shop: SmallShop) -> None:
    shells = shop.released(quantity=3)
    first = sign(shop, shells)
    again = sign(shop, shells)
    assert [result.signed for result in again] == [result.signed for result in first]
    assert SignOff.objects.count() == 3


def test_what_is_refused_for_one_stops_no_other(shop: SmallShop) -> None:
    shells = shop.released(quantity=3)
    moisture = point(shop, "moisture", kind=CheckKind.MEASURED, unit="%", nominal=8.0, minus=2.0, plus=2.0)
    results = sign(shop, shells, {str(moisture.pk): "8"}, each={shells[1].serial: {str(moisture.pk): "12"}})
    assert [bool(result.signed) for result in results] == [True, False, True]
    assert "allowed 6 … 10 %" in results[1].refusal
    assert shop.step(shells[1], 1).state == OperationState.READY


def test_an_empty_answer_of_its_own_leaves_the_shared_one(shop: SmallShop) -> None:
    (shell,) = shop.released()
    sound = point(shop, "sound")
    (result,) = sign(shop, [shell], {str(sound.pk): "yes"}, each={shell.serial: {str(sound.pk): " "}})
    assert result.signed is not None


def test_nobody_signs_a_rack_without_qualification(shop: SmallShop) -> None:
    shells = shop.released(quantity=2)
    results = sign(shop, shells, person=person("newcomer"))
    assert all(result.signed is None and "qualified" in result.refusal for result in results)
    assert not SignOff.objects.exists()


def test_an_answer_is_shared_where_the_limits_are_the_same(shop: SmallShop) -> None:
    shells = shop.released(quantity=2)
    point(shop, "sound")
    point(shop, "moisture", kind=CheckKind.MEASURED, nominal=8.0, minus=2.0, plus=2.0)
    point(shop, "round", kind=CheckKind.MEASURED, nominal=0.0, plus=1.5, places=4, judged="spread")
    rack = rack_of(shop.stations["cut"], [shell.serial for shell in shells], shop.stamp())
    by_code = {each.check.point.code: each for each in checks_of(rack)}
    assert {code: each.is_shared for code, each in by_code.items()} == {
        "sound": True,
        "moisture": True,
        "round": False,
    }
    assert [serial for serial, _ in by_code["sound"].of] == [shell.serial for shell in shells]


def test_a_rack_holds_only_what_can_be_worked_here(shop: SmallShop) -> None:
    first, second = shop.released(quantity=2)
    sign(shop, [first])
    serials = [first.serial, second.serial, "SS2699999X"]
    assert [step.shell for step in rack_of(shop.stations["cut"], serials, shop.stamp())] == [second]


def test_the_final_check_is_signed_drum_by_drum(shop: SmallShop) -> None:
    with pytest.raises(QualityError, match="drum by drum"):
        rack_of(shop.stations["final-check"], [], shop.stamp())
    with pytest.raises(QualityError, match="at most"):
        rack_of(shop.stations["cut"], [str(n) for n in range(61)], shop.stamp())
