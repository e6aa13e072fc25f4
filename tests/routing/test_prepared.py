"""Queries that are put into SQL once give what Django's own give."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.db import connection, transaction
from django.db.models import F
from django.db.transaction import TransactionManagementError
from django.forms.models import model_to_dict

from quality.checks import check_points_at
from quality.models import CheckPoint
from routing.climate import newest_reading, read_room
from routing.history import lock_shell
from routing.models import Operation, OperationState, RoomReading, Shell, ShellRecord, ShellSpec, Station
from routing.prepared import Prepared, insert, update
from routing.turnstile import writing
from tests.shopfloor.tablets import sign_through
from tests.small_shop import SmallShop, small_shop

pytestmark = pytest.mark.django_db


def everything(row: Any) -> dict[str, Any]:
    return {field.attname: getattr(row, field.attname) for field in row._meta.concrete_fields}


def test_a_locked_shell_is_the_same_with_its_model_and_finish(shop: SmallShop, django_assert_num_queries: Any) -> None:
    first, second = shop.released(quantity=2)
    for serial in (first.serial, second.serial, first.serial):
        usual = Shell.objects.select_related("model", "finish").get(serial=serial)
        with transaction.atomic(), django_assert_num_queries(1):
            shell = lock_shell(serial)
            assert everything(shell) == everything(usual)
            assert everything(shell.model) == everything(usual.model)
            assert everything(shell.finish) == everything(usual.finish)
    assert not shell._state.adding and shell._state.db == "default"


def test_an_unknown_shell_is_said(shop: SmallShop) -> None:
    with transaction.atomic(), pytest.raises(Shell.DoesNotExist):
        lock_shell("SS26999999")


def test_json_comes_back_as_it_was(shop: SmallShop) -> None:
    (shell,) = shop.released()
    specs = Prepared(lambda shell, revision: ShellSpec.objects.filter(shell=shell, revision=revision))
    found = specs.first(shell=shell.pk, revision=1)
    assert found is not None and everything(found) == everything(ShellSpec.objects.get(shell=shell))
    assert specs.first(shell=shell.pk, revision=2) is None


def test_moments_are_asked_for_and_come_back(shop: SmallShop) -> None:
    station = shop.stations["finish"]
    assert newest_reading(station, shop.clock) is None
    for minutes, degrees in ((0, 19.0), (30, 21.0)):
        shop.wait(minutes=minutes)
        read_room(station=station, temperature_c=degrees, humidity_pct=50, stamp=shop.stamp(shop.worker))
    found = newest_reading(station, shop.clock)
    assert found is not None and everything(found) == everything(RoomReading.objects.get(temperature_c=21.0))
    assert newest_reading(station, shop.clock - timedelta(minutes=1)) == RoomReading.objects.get(temperature_c=19.0)
    assert newest_reading(station, shop.clock + timedelta(hours=12)) is None
    assert newest_reading(shop.stations["cut"], shop.clock) is None


def test_rows_keep_their_order_and_a_change_is_seen(shop: SmallShop) -> None:
    (shell,) = shop.released()
    step = shop.step(shell, 1)
    for place, code in ((2, "b"), (1, "a"), (2, "c")):
        CheckPoint.objects.create(code=code, station=step.station, position=place, text=code)
    assert [point.code for point in check_points_at(step)] == ["a", "b", "c"]
    CheckPoint.objects.filter(code="b").update(is_current=False)
    assert [point.code for point in check_points_at(step)] == ["a", "c"]
    assert check_points_at(shop.step(shell, 2)) == []


def test_a_name_that_the_query_does_not_use_is_a_mistake(shop: SmallShop) -> None:
    with pytest.raises(AssertionError, match="other"):
        Prepared(lambda code, other: Station.objects.filter(code=code)).first(code="cut", other="edge")


def test_only_whole_numbers_texts_and_moments_are_asked_for(shop: SmallShop) -> None:
    for value in (True, 1.5, None):
        with pytest.raises(TypeError):
            Prepared(lambda kind: Station.objects.filter(is_active=kind)).first(kind=value)


def test_written_rows_are_those_that_django_writes(shop: SmallShop) -> None:
    (shell,) = shop.released()
    body = {"note": "“5 %s” – ½", "values": [1, 2.5, None], "deep": {"yes": True}}
    rows = [
        ShellRecord(
            shell=shell,
            sequence=number,
            kind="signed",
            at=shop.clock,
            received_at=shop.clock,
            person=None,
            person_name="O'Hara",
            body=body,
            tap_key=key,
            hash="h",
        )
        for number, key in ((2, "one"), (3, None))
    ]
    insert(rows)
    for row in rows:
        assert everything(ShellRecord.objects.get(pk=row.pk)) == everything(row)
        assert model_to_dict(row)["body"] == body
        assert not row._state.adding


def test_a_change_is_made_only_if(shop: SmallShop) -> None:
    first, second = (shop.step(shell, 1) for shell in shop.released(quantity=2))
    open_states = [OperationState.READY, OperationState.IN_WORK]
    assert update(first, only_if={"state": open_states}, state=OperationState.DONE, done_at=shop.clock, not_before=None)
    assert not update(first, only_if={"state": open_states}, state=OperationState.READY)
    found = Operation.objects.get(pk=first.pk)
    assert (found.state, found.done_at, found.not_before) == ("done", shop.clock, None)
    assert everything(Operation.objects.get(pk=second.pk)) == everything(second)
    assert not update(first, only_if={"state": []}, state=OperationState.READY)
    assert Operation.objects.get(pk=first.pk).state == "done"
    assert update(first, touch_seconds=7) and Operation.objects.get(pk=first.pk).touch_seconds == 7


@pytest.mark.django_db(transaction=True)
def test_a_lock_outside_a_transaction_is_refused_every_time() -> None:
    """SQLite has no such locks, so there is nothing to refuse."""
    (shell,) = small_shop().released()
    with writing():
        assert lock_shell(shell.serial).pk == shell.pk
    if connection.features.has_select_for_update:
        with pytest.raises(TransactionManagementError, match="transaction"):
            lock_shell(shell.serial)
    else:
        assert lock_shell(shell.serial).pk == shell.pk


def test_what_is_annotated_comes_along_and_what_is_deferred_stays_away(shop: SmallShop) -> None:
    (shell,) = shop.released()
    records = Prepared(
        lambda shell: ShellRecord.objects.filter(shell=shell).defer("body").annotate(signed=F("sign_off"))
    )
    sign_through(shop, shell, 1)
    for row in records.all(shell=shell.pk):
        usual = ShellRecord.objects.annotate(signed=F("sign_off")).get(pk=row.pk)
        assert row.signed == usual.signed  # type: ignore[attr-defined]
        assert (row.signed is None) == (row.kind != "signed")  # type: ignore[attr-defined]
        assert "body" in row.get_deferred_fields() and row.body == usual.body
