"""The record holds: the database refuses to change it, and a change made past the database is found."""

from __future__ import annotations

import json

import pytest
from django.core.management import CommandError, call_command
from django.db import DatabaseError, connection, transaction

from quality.actions import sign_off, withdraw_sign_off
from quality.models import CheckPoint
from quality.problems import report_problem, settle_problem
from quality.verification import verify_shell
from routing.append_only import protect, unprotect
from routing.models import Shell
from routing.reissue import current_inputs, reissue_spec
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
        "UPDATE quality_checkpoint SET text = 'Width'",
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


def _tamper(*statements: str) -> None:
    """What somebody could do who has the database's password and takes the triggers off first."""
    with connection.cursor() as cursor:
        vendor = connection.vendor
        cursor.execute(
            "SELECT name FROM sqlite_master WHERE type = 'trigger'"
            if vendor == "sqlite"
            else "SELECT tgname FROM pg_trigger"
        )
        tables = [name.removesuffix("_no_delete") for (name,) in cursor.fetchall() if name.endswith("_no_delete")]
    unprotect(connection, tables)
    with connection.cursor() as cursor:
        for statement in statements:
            cursor.execute(statement)
    protect(connection, tables)


@pytest.fixture
def eventful(shop: SmallShop) -> Shell:
    """A shell with a withdrawn signature, a problem that was settled, one that is open, and a second revision."""
    shell = shop.released()[0]
    sign_off(serial=shell.serial, position=1, person=shop.worker, answers={}, stamp=shop.stamp(shop.worker))
    withdraw_sign_off(
        serial=shell.serial, position=1, person=shop.worker, reason="wrong shell", stamp=shop.stamp(shop.worker)
    )
    report_problem(serial=shell.serial, position=1, person=shop.worker, text="a split", stamp=shop.stamp(shop.worker))
    settle_problem(serial=shell.serial, person=shop.supervisor, settlement="glued", stamp=shop.stamp(shop.supervisor))
    reissue_spec(
        serial=shell.serial, inputs=current_inputs(shell), reason="asked again", stamp=shop.stamp(shop.supervisor)
    )
    sign_off(serial=shell.serial, position=1, person=shop.worker, answers={}, stamp=shop.stamp(shop.worker))
    report_problem(serial=shell.serial, position=2, person=shop.worker, text="a dent", stamp=shop.stamp(shop.worker))
    shell.refresh_from_db()
    assert list(verify_shell(shell)) == []
    return shell


@pytest.mark.parametrize(
    ("tampering", "found"),
    [
        ("UPDATE routing_shellspec SET results = inputs WHERE revision = 1", "spec it froze was changed"),
        ("UPDATE routing_shellspec SET inputs = results WHERE revision = 2", "spec it froze was changed"),
        ("DELETE FROM routing_shellspec WHERE revision = 1", "spec it froze is missing"),
        ("UPDATE routing_shell SET spec_revision = 1", "says its spec is revision 1"),
        ("UPDATE routing_shell SET chain_head = ''", "end of the chain"),
        ("UPDATE quality_withdrawal SET reason = 'other'", "withdrawal says something else"),
        ("DELETE FROM quality_withdrawal", "withdrawal it tells of is missing"),
        ("UPDATE quality_problem SET settlement = 'thrown away' WHERE state = 'settled'", "what was decided"),
        ("UPDATE quality_problem SET disposition = 'as_is' WHERE state = 'settled'", "what was decided"),
        ("UPDATE quality_problem SET allowed_by = 'the customer' WHERE state = 'settled'", "what was decided"),
        ("UPDATE quality_problem SET text = 'nothing' WHERE state = 'open'", "problem says something else"),
        ("UPDATE quality_problem SET state = 'settled' WHERE state = 'open'", "settled without a record"),
        ("DELETE FROM quality_problem WHERE state = 'open'", "problem it tells of is missing"),
        ("UPDATE routing_operation SET state = 'done' WHERE position = 3", "nobody's signature stands"),
        ("UPDATE routing_operation SET state = 'waiting' WHERE position = 1", "is signed, but counts as open"),
        ("UPDATE routing_operation SET attempt = 9 WHERE position = 1", "another attempt"),
    ],
)
def test_every_table_beside_the_chain_is_held_against_it(eventful: Shell, tampering: str, found: str) -> None:
    _tamper(tampering)
    eventful.refresh_from_db()
    assert any(found in broken.what for broken in verify_shell(eventful)), tampering
    with pytest.raises(CommandError, match=eventful.serial):
        call_command("verify_records")


def test_a_problem_seen_at_a_step_just_signed_holds_and_is_proved(shop: SmallShop, signed: Shell) -> None:
    report_problem(serial=signed.serial, position=1, person=shop.checker, text="split", stamp=shop.stamp(shop.checker))
    signed.refresh_from_db()
    assert signed.operations.get(state="on_hold").position == 2
    assert list(verify_shell(signed)) == []
    with connection.cursor() as cursor:
        cursor.execute(
            "UPDATE quality_problem SET operation_id = %s WHERE shell_id = %s",
            [signed.operations.get(position=3).pk, signed.pk],
        )
    assert [broken.what for broken in verify_shell(signed)] == ["its problem says something else than the record"]
