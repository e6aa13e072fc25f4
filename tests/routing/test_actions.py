"""Re-issuing specs, starting work, shipping."""

from __future__ import annotations

from dataclasses import replace

import pytest

from quality.actions import sign_off
from routing.actions import note_prints, ship_order, start_operation
from routing.errors import LostRace, NotAllowedNow
from routing.history import content_hash
from routing.models import KitOrder, OperationState, OrderState, RecordKind, Shell, ShellRecord, ShellSpec, ShellState
from routing.reissue import current_inputs, enter_plate_thickness, reissue_spec
from routing.specs.errors import SpecError
from tests.small_shop import SmallShop

pytestmark = pytest.mark.django_db


def test_a_reissue_adds_a_revision_with_its_reason(shop: SmallShop) -> None:
    shell = shop.released()[0]
    inputs = replace(current_inputs(shell), trim_each_end_mm=10)
    reissue_spec(serial=shell.serial, inputs=inputs, reason="longer trim", stamp=shop.stamp(shop.supervisor))
    shell.refresh_from_db()
    assert shell.spec_revision == 2
    first, second = ShellSpec.objects.filter(shell=shell).order_by("revision")
    assert second.results["cutting"]["pressed_height_mm"] - first.results["cutting"][
        "pressed_height_mm"
    ] == pytest.approx(4)
    body = ShellRecord.objects.get(shell=shell, kind=RecordKind.REISSUED).body
    assert (body["revision"], body["reason"]) == (2, "longer trim")
    assert body["spec_sha256"] == content_hash([second.inputs, second.results])


def test_a_reissue_needs_a_reason(shop: SmallShop) -> None:
    shell = shop.released()[0]
    with pytest.raises(NotAllowedNow, match="why"):
        reissue_spec(serial=shell.serial, inputs=current_inputs(shell), reason=" ", stamp=shop.stamp())


def test_a_measured_plate_moves_the_lengths_inside_it(shop: SmallShop) -> None:
    shell = shop.released()[0]
    before = ShellSpec.objects.get(shell=shell).results["layup"]["plates"]
    spec = enter_plate_thickness(serial=shell.serial, measured_mm={1: 3.1}, stamp=shop.stamp(shop.worker))
    after = spec.results["layup"]["plates"]
    # 0.1 mm more on the outer plate: its own middle moves in by half of it, the ones inside by all of it.
    assert before[0]["mid_plane_length_mm"] - after[0]["mid_plane_length_mm"] == pytest.approx(0.31416, abs=1e-4)
    assert before[1]["mid_plane_length_mm"] - after[1]["mid_plane_length_mm"] == pytest.approx(0.62832, abs=1e-4)
    shell.refresh_from_db()
    assert shell.spec_revision == 2
    again = enter_plate_thickness(serial=shell.serial, measured_mm={2: 2.9}, stamp=shop.stamp(shop.worker))
    assert [plate["measured_thickness_mm"] for plate in again.inputs["plates"]] == [3.1, 2.9, None]


def test_a_measured_plate_is_refused_when_it_cannot_be_or_comes_late(shop: SmallShop) -> None:
    shell = shop.released()[0]
    with pytest.raises(NotAllowedNow, match="no plate 4"):
        enter_plate_thickness(serial=shell.serial, measured_mm={4: 3.0}, stamp=shop.stamp())
    with pytest.raises(SpecError):
        enter_plate_thickness(serial=shell.serial, measured_mm={1: 0.01}, stamp=shop.stamp())
    with pytest.raises(NotAllowedNow, match="at least one"):
        enter_plate_thickness(serial=shell.serial, measured_mm={}, stamp=shop.stamp())
    sign_off(serial=shell.serial, position=1, person=shop.worker, answers={}, stamp=shop.stamp(shop.worker))
    with pytest.raises(NotAllowedNow, match="not at the cut station"):
        enter_plate_thickness(serial=shell.serial, measured_mm={1: 3.1}, stamp=shop.stamp())
    assert ShellSpec.objects.filter(shell=shell).count() == 1


def test_starting_a_step_says_who_works_on_it(shop: SmallShop) -> None:
    shell = shop.released()[0]
    started = start_operation(serial=shell.serial, position=1, stamp=shop.stamp(shop.worker, key="s"))
    assert (started.state, started.started_by_name) == (OperationState.IN_WORK, shop.worker.name)
    assert start_operation(serial=shell.serial, position=1, stamp=shop.stamp(shop.worker, key="s")).pk == started.pk
    with pytest.raises(LostRace, match="Wanda Worker works on"):
        start_operation(serial=shell.serial, position=1, stamp=shop.stamp(shop.supervisor))
    sign_off(serial=shell.serial, position=1, person=shop.worker, answers={}, stamp=shop.stamp(shop.worker))
    assert shop.step(shell, 1).state == OperationState.DONE


def test_prints_are_counted(shop: SmallShop) -> None:
    one, two = (shell.serial for shell in shop.released(quantity=2))
    assert note_prints(serials=[one], what=RecordKind.PRINTED, body={}, stamp=shop.stamp()) == {one: 1}
    assert note_prints(serials=[one, two], what=RecordKind.PRINTED, body={}, stamp=shop.stamp()) == {one: 2, two: 1}


def test_only_a_complete_order_ships(shop: SmallShop) -> None:
    shell = shop.released()[0]
    with pytest.raises(NotAllowedNow, match="only a complete one"):
        ship_order(number="K-1", stamp=shop.stamp())
    Shell.objects.update(state=ShellState.PACKED)
    KitOrder.objects.update(state=OrderState.COMPLETE)
    assert ship_order(number="K-1", stamp=shop.stamp()).state == OrderState.SHIPPED
    assert ShellRecord.objects.filter(shell=shell, kind=RecordKind.SHIPPED).exists()
