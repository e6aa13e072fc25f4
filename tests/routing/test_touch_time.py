"""Begin, pause, go on, finish: how long a step was really worked on."""

from __future__ import annotations

import pytest

from quality.actions import begin_step, pause_step, sign_off, withdraw_sign_off
from quality.errors import NotQualified
from routing.errors import LostRace, NotAllowedNow
from routing.models import Operation, OperationState, Shell, ShellRecord
from tests.small_shop import SmallShop, person


def begin(shop: SmallShop, shell: Shell, key: str | None = None) -> Operation:
    return begin_step(
        serial=shell.serial,
        position=1,
        person=shop.worker,
        station=shop.stations["cut"],
        stamp=shop.stamp(shop.worker, key=key),
    )


def pause(shop: SmallShop, shell: Shell, key: str | None = None, station: str = "cut") -> Operation:
    return pause_step(
        serial=shell.serial,
        position=1,
        person=shop.worker,
        station=shop.stations[station],
        stamp=shop.stamp(shop.worker, key=key),
    )


def finish(shop: SmallShop, shell: Shell) -> None:
    sign_off(serial=shell.serial, position=1, person=shop.worker, answers={}, stamp=shop.stamp(shop.worker))


def signed_body(shell: Shell) -> dict[str, object]:
    body: dict[str, object] = ShellRecord.objects.filter(shell=shell, kind="signed").latest("sequence").body
    return body


def test_pauses_are_left_out(shop: SmallShop) -> None:
    (shell,) = shop.released()
    begin(shop, shell)
    shop.wait(minutes=10)
    pause(shop, shell)
    assert shop.step(shell, 1).state == OperationState.IN_WORK
    shop.wait(minutes=45)
    begin(shop, shell)
    shop.wait(minutes=5)
    finish(shop, shell)
    assert shop.step(shell, 1).touch_seconds == 15 * 60
    assert signed_body(shell)["touch_seconds"] == 15 * 60
    kinds = list(ShellRecord.objects.filter(shell=shell).order_by("sequence").values_list("kind", flat=True))
    assert kinds == ["released", "started", "paused", "started", "signed"]


def test_a_step_signed_while_paused_counts_until_the_pause(shop: SmallShop) -> None:
    (shell,) = shop.released()
    begin(shop, shell)
    shop.wait(minutes=10)
    pause(shop, shell)
    shop.wait(minutes=45)
    finish(shop, shell)
    assert shop.step(shell, 1).touch_seconds == 600


def test_one_tap_without_a_beginning_claims_no_time(shop: SmallShop) -> None:
    (shell,) = shop.released()
    finish(shop, shell)
    assert "touch_seconds" not in signed_body(shell) and shop.step(shell, 1).touch_seconds == 0


def test_a_withdrawn_step_begins_from_nothing(shop: SmallShop) -> None:
    (shell,) = shop.released()
    begin(shop, shell)
    shop.wait(minutes=10)
    finish(shop, shell)
    withdraw_sign_off(serial=shell.serial, position=1, person=shop.worker, stamp=shop.stamp(shop.worker))
    step = shop.step(shell, 1)
    assert (step.touch_seconds, step.started_at, step.paused_at) == (0, None, None)


def test_the_same_tap_twice_pauses_once(shop: SmallShop) -> None:
    (shell,) = shop.released()
    begin(shop, shell)
    pause(shop, shell, key="pause")
    pause(shop, shell, key="pause")
    assert ShellRecord.objects.filter(shell=shell, kind="paused").count() == 1


def test_what_nobody_works_on_is_not_paused(shop: SmallShop) -> None:
    (shell,) = shop.released()
    with pytest.raises(LostRace, match="Nobody works"):
        pause(shop, shell)
    begin(shop, shell)
    with pytest.raises(LostRace, match="works on"):
        begin(shop, shell)
    pause(shop, shell)
    with pytest.raises(LostRace, match="Nobody works"):
        pause(shop, shell)
    with pytest.raises(NotAllowedNow, match="belongs to"):
        pause(shop, shell, station="press")
    with pytest.raises(NotQualified):
        pause_step(
            serial=shell.serial,
            position=1,
            person=person("newcomer"),
            station=shop.stations["cut"],
            stamp=shop.stamp(),
        )
