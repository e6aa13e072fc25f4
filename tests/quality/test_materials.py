"""Lots at a step: what is asked for, what is refused and why, and that the record holds it."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest
from django.db import DatabaseError, transaction

from quality.actions import sign_off
from quality.errors import NotQualified, QualityError, ReadingRefused
from quality.lots import receive_lot, set_lot_state
from quality.materials import fitting_lots, materials_wanted
from quality.models import LotChange, LotKind, LotState, MaterialLot, MaterialUse
from quality.verification import verify_shell
from routing.errors import LostRace
from routing.models import Plate, Shell, ShellRecord, ShellSpec
from tests.shopfloor.tablets import sign_through
from tests.small_shop import SmallShop

pytestmark = pytest.mark.django_db
PLATE = "Birch 3.0"


def lot(
    shop: SmallShop, code: str = "P-1", kind: LotKind = LotKind.PLATE, name: str = PLATE, **more: Any
) -> MaterialLot:
    return receive_lot(
        code=code,
        kind=kind,
        name=name,
        received_on=more.pop("received_on", date(2026, 10, 1)),
        person=shop.supervisor,
        stamp=shop.stamp(shop.supervisor),
        **more,
    )


def sign(shop: SmallShop, shell: Shell, position: int = 1, **materials: str) -> Any:
    return sign_off(
        serial=shell.serial,
        position=position,
        person=shop.worker,
        answers={},
        materials={key.replace("_", "-"): code for key, code in materials.items()},
        stamp=shop.stamp(shop.worker, key=f"{shell.serial} {position}"),
    )


def wanted_at(shop: SmallShop, shell: Shell, position: int) -> list[tuple[str, str, bool]]:
    spec = ShellSpec.objects.get(shell=shell)
    wanted = materials_wanted(shop.step(shell, position), spec.results, spec.inputs, at=shop.clock)
    return [(each.key, each.kind, each.required) for each in wanted]


def test_each_station_asks_for_its_own_materials(shop: SmallShop) -> None:
    shell = shop.released()[0]
    assert {position: wanted_at(shop, shell, position) for position in range(1, 9)} == {
        1: [("plate-birch-3-0", "plate", False)],  # three plates, all alike
        2: [("glue", "glue_batch", False)],
        3: [],
        4: [("coating", "coating", False)],
        5: [("coating", "coating", False)],
        6: [("hardware", "hardware", False), ("heads", "head", False), ("snare-wires", "snare_wire", False)],
        7: [],
        8: [],
    }


def test_different_plates_have_a_lot_each(shop: SmallShop) -> None:
    lay_up = shop.model.lay_up
    middle = Plate.objects.create(
        name="Birch 1.0",
        species=Plate.objects.get().species,
        thickness_mm=1,
        veneers=1,
        stock_length_mm=1250,
        stock_width_mm=2500,
    )
    lay_up.plates.filter(position=2).update(plate=middle)
    assert [key for key, _, _ in wanted_at(shop, shop.released()[0], 1)] == ["plate-birch-3-0", "plate-birch-1-0"]


def test_a_shop_that_keeps_no_lots_is_never_stopped(shop: SmallShop) -> None:
    shell = shop.released()[0]
    sign_through(shop, shell, 8)
    assert not MaterialUse.objects.exists()
    assert not any("materials" in record.body for record in ShellRecord.objects.all())


def test_what_was_used_stands_in_the_record_and_in_the_table(shop: SmallShop) -> None:
    shell, used = shop.released()[0], lot(shop)
    signed = sign(shop, shell, plate_birch_3_0=" p-1 ").sign_off
    assert signed.record.body["materials"] == [
        {"for": "Lot of Birch 3.0", "kind": "plate", "code": "P-1", "name": "Birch 3.0"}
    ]
    assert [use.lot for use in signed.materials.all()] == [used]
    shell.refresh_from_db()
    assert list(verify_shell(shell)) == []


def test_two_lots_of_one_material_stand_with_a_comma(shop: SmallShop) -> None:
    shell = shop.released()[0]
    lot(shop), lot(shop, "P-2")
    signed = sign(shop, shell, plate_birch_3_0="P-2, P-1; p-2").sign_off
    assert [each["code"] for each in signed.record.body["materials"]] == ["P-2", "P-1"]
    assert signed.materials.count() == 2


def test_the_first_use_opens_a_lot(shop: SmallShop) -> None:
    first, second = shop.released(quantity=2)
    used = lot(shop)
    assert used.state == LotState.RECEIVED
    sign(shop, first, plate_birch_3_0="P-1")
    used.refresh_from_db()
    assert used.state == LotState.OPEN
    sign(shop, second, plate_birch_3_0="P-1")
    assert [(change.state, change.person_name) for change in used.changes.all()] == [
        ("received", shop.supervisor.name),
        ("open", shop.worker.name),
    ]


@pytest.mark.parametrize(
    ("given", "code"),
    [
        ("P-404", "unknown_code"),
        ("WIRE-1", "wrong_kind"),
        ("EMPTY-1", "lot_empty"),
        ("HELD-1", "lot_held"),
        ("OLD-1", "lot_expired"),
        ("OTHER-1", "wrong_material"),
    ],
)
def test_what_may_not_be_used_is_refused_with_a_sentence(shop: SmallShop, given: str, code: str) -> None:
    shell = shop.released()[0]
    Plate.objects.create(
        name="Maple 3.0",
        species=Plate.objects.get().species,
        thickness_mm=3,
        veneers=3,
        stock_length_mm=1250,
        stock_width_mm=2500,
    )
    lot(shop, "WIRE-1", LotKind.SNARE_WIRE, "20 strands")
    lot(shop, "OLD-1", expires_on=shop.clock.date() - timedelta(days=1))
    lot(shop, "OTHER-1", name="maple 3.0")
    for name, state in (("EMPTY-1", LotState.EMPTY), ("HELD-1", LotState.HELD)):
        set_lot_state(lot=lot(shop, name), state=state, reason="split", person=shop.supervisor, stamp=shop.stamp())
    with pytest.raises(ReadingRefused) as refused:
        sign(shop, shell, plate_birch_3_0=given)
    assert refused.value.code == code
    assert given in refused.value.message
    assert not MaterialUse.objects.exists()
    assert not ShellRecord.objects.filter(kind="signed").exists()
    if code != "wrong_kind":
        shell_wants = materials_wanted(shop.step(shell, 1), *_spec(shell), at=shop.clock)[0]
        assert fitting_lots(shell_wants, shop.clock) == []  # nor is it offered


def _spec(shell: Shell) -> tuple[Any, Any]:
    spec = ShellSpec.objects.get(shell=shell)
    return spec.results, spec.inputs


def test_a_lot_may_be_used_on_its_last_day(shop: SmallShop) -> None:
    shell = shop.released()[0]
    lot(shop, expires_on=shop.clock.date())
    assert sign(shop, shell, plate_birch_3_0="P-1").sign_off.materials.count() == 1


def test_lots_named_like_the_recipe_come_first_then_opened_ones_then_the_oldest(shop: SmallShop) -> None:
    shell = shop.released()[0]
    lot(shop, "A", name="left over sheets", received_on=date(2026, 1, 1))
    lot(shop, "B", received_on=date(2026, 5, 1))
    lot(shop, "C", received_on=date(2026, 3, 1))
    set_lot_state(lot=lot(shop, "D"), state=LotState.OPEN, person=shop.supervisor, stamp=shop.stamp())
    wanted = materials_wanted(shop.step(shell, 1), *_spec(shell), at=shop.clock)[0]
    assert [each.code for each in fitting_lots(wanted, shop.clock)] == ["D", "C", "B", "A"]


def test_a_lot_that_was_exchanged_in_the_table_is_found(shop: SmallShop) -> None:
    """The chain covers the codes: the table beside it can't say something else unnoticed."""
    shell = shop.released()[0]
    used = lot(shop)
    sign(shop, shell, plate_birch_3_0="P-1")
    MaterialLot.objects.filter(pk=used.pk).update(code="P-9")
    shell.refresh_from_db()
    assert [broken.what for broken in verify_shell(shell)] == ["its materials say something else than the record"]


def test_use_and_changes_of_a_lot_are_kept_as_written(shop: SmallShop) -> None:
    shell = shop.released()[0]
    lot(shop)
    sign(shop, shell, plate_birch_3_0="P-1")
    for rows in (MaterialUse.objects.all(), LotChange.objects.all()):
        with pytest.raises(DatabaseError), transaction.atomic():
            rows.update(lot=None)
        with pytest.raises(DatabaseError), transaction.atomic():
            rows._raw_delete(rows.db)


def test_only_some_may_receive_lots_and_change_them(shop: SmallShop) -> None:
    with pytest.raises(NotQualified):
        receive_lot(
            code="X", kind=LotKind.HEAD, name="x", received_on=shop.clock.date(), person=shop.worker, stamp=shop.stamp()
        )
    held = lot(shop)
    with pytest.raises(NotQualified):
        set_lot_state(lot=held, state=LotState.OPEN, person=shop.checker, stamp=shop.stamp())
    assert MaterialLot.objects.get().state == LotState.RECEIVED


def test_a_code_is_taken_once_whatever_its_case(shop: SmallShop) -> None:
    lot(shop, "p-1")
    with pytest.raises(LostRace) as refused:
        lot(shop, "P-1 ")
    assert refused.value.code == "code_taken"
    assert MaterialLot.objects.count() == 1


@pytest.mark.parametrize(
    "wrong", [{"code": " "}, {"name": ""}, {"code": "A,B"}, {"expires_on": date(2026, 9, 30)}], ids=str
)
def test_a_lot_that_makes_no_sense_is_refused(shop: SmallShop, wrong: dict[str, Any]) -> None:
    with pytest.raises(QualityError):
        lot(shop, **wrong)
    assert not MaterialLot.objects.exists()


def test_holding_and_freeing_take_a_reason_and_a_form_sent_twice_counts_once(shop: SmallShop) -> None:
    held = lot(shop)
    hold: dict[str, Any] = {"lot": held, "state": LotState.HELD, "person": shop.supervisor}
    with pytest.raises(QualityError) as refused:
        set_lot_state(**hold, stamp=shop.stamp(key="k1"))
    assert refused.value.code == "reason_missing"
    for _ in range(2):
        set_lot_state(**hold, reason="smells wrong", stamp=shop.stamp(key="k2"))
    assert [(change.state, change.reason) for change in held.changes.all()] == [
        ("received", "received"),
        ("held", "smells wrong"),
    ]
    with pytest.raises(QualityError):
        set_lot_state(lot=held, state=LotState.OPEN, person=shop.supervisor, stamp=shop.stamp())
    with pytest.raises(LostRace):
        set_lot_state(lot=held, state=LotState.HELD, reason="again", person=shop.supervisor, stamp=shop.stamp())
