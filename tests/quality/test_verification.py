"""The record holds: the database refuses to change it, and a change made past the database is found."""

from __future__ import annotations

import json

import pytest
from django.core.management import CommandError, call_command
from django.db import DatabaseError, connection, transaction

from quality.actions import sign_off
from quality.models import CheckPoint
from quality.verification import verify_shell
from routing.append_only import protect, unprotect
from routing.models import Shell
from tests.small_shop import SmallShop

pytestmark = pytest.mark.django_db

TABLES = ["routing_shellrecord", "routing_shellspec", "quality_signoff", "quality_reading", "quality_withdrawal"]


@pytest.fixture
def signed(shop: SmallShop) -> Shell:
    check = CheckPoint.objects.create(
        code="t", station=shop.stations["cut"], text="Thickness", kind="measured", nominal=3.0, minus=0.2, plus=0.2
    )
    shell = shop.released()[0]
    sign_off(
        serial=shell.serial,
        position=1,
        person=shop.worker,
        answers={str(check.pk): "3.1"},
        stamp=shop.stamp(shop.worker),
    )
    shell.refresh_from_db()
    return shell


@pytest.mark.parametrize("table", ["routing_shellrecord", "routing_shellspec", "quality_signoff", "quality_reading"])
def test_the_database_refuses_to_change_or_delete(signed: Shell, table: str) -> None:
    for statement in (f"UPDATE {table} SET id = id + 1000", f"DELETE FROM {table}"):
        with pytest.raises(DatabaseError, match="kept as written"), transaction.atomic(), connection.cursor() as cursor:
            cursor.execute(statement)


@pytest.mark.parametrize(
    "tampering",
    [
        "UPDATE routing_shellrecord SET person_name = 'Somebody Else' WHERE sequence = 2",
        "UPDATE routing_shellrecord SET hash = previous_hash WHERE sequence = 2",
        "UPDATE routing_shellrecord SET received_at = '2020-01-01 00:00:00+00:00' WHERE sequence = 1",
        "UPDATE quality_signoff SET attempt = 7",
        "UPDATE quality_reading SET value = 3.0",
        "DELETE FROM quality_reading",
    ],
)
def test_a_change_past_the_triggers_is_found(signed: Shell, tampering: str) -> None:
    assert list(verify_shell(signed)) == []
    unprotect(connection, TABLES)
    with connection.cursor() as cursor:
        cursor.execute(tampering)
    protect(connection, TABLES)
    found = list(verify_shell(signed))
    assert found
    assert found[0].serial == signed.serial
    with pytest.raises(CommandError, match=signed.serial):
        call_command("verify_records")


def test_a_record_cut_off_at_the_end_is_found(signed: Shell) -> None:
    unprotect(connection, TABLES)
    with connection.cursor() as cursor:
        cursor.execute("DELETE FROM quality_reading")
        cursor.execute("DELETE FROM quality_signoff")
        cursor.execute("DELETE FROM routing_shellrecord WHERE sequence = 2")
    protect(connection, TABLES)
    assert "missing" in next(verify_shell(signed)).what


def test_the_command_counts_what_holds(signed: Shell, capsys: pytest.CaptureFixture[str]) -> None:
    call_command("verify_records")
    assert capsys.readouterr().out == "1 chains with 2 records hold.\n"
    with pytest.raises(CommandError, match="No drum"):
        call_command("verify_records", "SS2600000X")


def test_trace_as_json_tells_the_story(signed: Shell, capsys: pytest.CaptureFixture[str]) -> None:
    call_command("trace", signed.serial, "--json")
    story = json.loads(capsys.readouterr().out)
    assert story["serial"] == signed.serial
    assert story["events"][1]["readings"][0]["value"] == 3.1
    with pytest.raises(CommandError, match="last character"):
        call_command("trace", signed.serial[:-1] + ("0" if signed.serial[-1] != "0" else "1"))
