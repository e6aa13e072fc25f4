"""Releasing an order: shells, serials, specs, steps; all or nothing."""

from __future__ import annotations

import pytest

from routing.errors import LostRace, NotReleasable
from routing.models import (
    KitLine,
    KitOrder,
    Operation,
    OperationState,
    OrderState,
    RouteTemplate,
    Shell,
    ShellRecord,
    ShellSpec,
)
from routing.release import release_order
from routing.specs.check_character import is_valid
from routing.specs.inputs import DrumInputs
from routing.specs.jsonable import from_json, to_json
from routing.specs.sheet import FORMULA_VERSION, compute_sheet
from tests.small_shop import SmallShop

pytestmark = pytest.mark.django_db


def test_each_drum_of_a_line_becomes_a_shell_with_its_own_serial(shop: SmallShop) -> None:
    shells = shop.released(quantity=3)
    serials = [shell.serial for shell in shells]
    assert len(set(serials)) == 3
    assert all(is_valid(serial) and serial.startswith("SS26") for serial in serials)
    order = KitOrder.objects.get()
    assert order.state == OrderState.RELEASED
    assert order.released_at == shop.clock


def test_serials_go_on_where_they_stopped_and_never_end_in_a_star(shop: SmallShop) -> None:
    first = [shell.serial for shell in shop.released("K-1", quantity=150)]
    second = [shell.serial for shell in shop.released("K-2", quantity=150)]
    numbers = [int(serial[4:9]) for serial in first + second]
    assert numbers == sorted(set(numbers))
    assert not any(serial.endswith("*") for serial in first + second)
    # About one number in 37 is left out for its star, so 300 serials span more than 300 numbers.
    assert numbers[-1] > 300


def test_the_steps_stand_in_route_order_with_a_coat_each_and_their_dwells(shop: SmallShop) -> None:
    shell = shop.released()[0]
    steps = list(Operation.objects.filter(shell=shell).order_by("position"))
    assert [step.station.code for step in steps] == [
        "cut",
        "press",
        "edge",
        "finish",
        "finish",
        "assemble",
        "final-check",
        "pack",
    ]
    assert [step.coat_index for step in steps] == [None, None, None, 0, 1, None, None, None]
    assert steps[1].dwell_minutes == 48 * 60
    assert steps[1].dwell_kind == "cure"
    assert 0 < steps[3].dwell_minutes < 24 * 60
    assert steps[4].dwell_minutes == 48 * 60  # the whole film cures before anything is drilled
    assert [step.state for step in steps] == [OperationState.READY] + [OperationState.WAITING] * 7


def test_the_spec_is_frozen_with_inputs_results_and_formula_version(shop: SmallShop) -> None:
    shell = shop.released()[0]
    spec = ShellSpec.objects.get(shell=shell)
    assert (spec.revision, spec.formula_version) == (1, FORMULA_VERSION)
    assert spec.results == to_json(compute_sheet(from_json(DrumInputs, spec.inputs)))
    # 14 in less 3.2 mm: 352.4 mm outside; three plates of 3 mm: 334.4 mm inside.
    assert spec.results["shell"]["outside_diameter_mm"] == pytest.approx(352.4)
    assert spec.results["shell"]["inside_diameter_mm"] == pytest.approx(334.4)
    assert spec.results["layup"]["veneers"] == 9


def test_a_changed_recipe_does_not_touch_a_released_shell(shop: SmallShop) -> None:
    shell = shop.released()[0]
    before = ShellSpec.objects.get(shell=shell).results
    plate = shop.model.lay_up.plates.first().plate  # type: ignore[union-attr]
    plate.thickness_mm = 2.0
    plate.save()
    assert ShellSpec.objects.get(shell=shell).results == before


def test_a_second_release_finds_it_released_and_changes_nothing(shop: SmallShop) -> None:
    shop.released(quantity=2)
    with pytest.raises(LostRace, match="released already"):
        release_order(number="K-1", stamp=shop.stamp(shop.supervisor))
    assert Shell.objects.count() == 2


def test_every_line_at_fault_is_named_and_nothing_is_written(shop: SmallShop) -> None:
    order = shop.order()
    RouteTemplate.objects.all().delete()
    KitLine.objects.create(order=order, position=2, model=shop.model, finish=shop.finish, quantity=1)
    with pytest.raises(NotReleasable) as refused:
        release_order(number="K-1", stamp=shop.stamp())
    assert "Line 1" in refused.value.message
    assert "Line 2" in refused.value.message
    assert not Shell.objects.exists()
    assert KitOrder.objects.get().state == OrderState.DRAFT


def test_an_order_without_drums_is_refused(shop: SmallShop) -> None:
    KitOrder.objects.create(number="K-9", customer="Nobody", due="2026-12-01", created_at=shop.clock)
    with pytest.raises(NotReleasable, match="no drums"):
        release_order(number="K-9", stamp=shop.stamp())


def test_a_finish_of_another_kind_is_refused(shop: SmallShop) -> None:
    shop.order()
    shop.model.line.finish_kind = "oil"
    shop.model.line.save()
    with pytest.raises(NotReleasable, match="oil"):
        release_order(number="K-1", stamp=shop.stamp())


def test_the_first_record_of_the_chain_says_what_was_released(shop: SmallShop) -> None:
    shell = shop.released()[0]
    record = ShellRecord.objects.get(shell=shell)
    shell.refresh_from_db()
    assert (record.sequence, record.kind, record.person_name) == (1, "released", shop.supervisor.name)
    assert record.body["order"] == "K-1"
    assert record.hash == shell.chain_head == record.computed_hash(shell.serial)
