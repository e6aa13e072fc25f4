"""Seals of days: they join every chain, are made once, and show a chain that was written anew."""

from __future__ import annotations

import hashlib
import threading
from collections import Counter
from datetime import UTC, date, datetime, timedelta

import pytest
from django.core.management import CommandError, call_command
from django.db import DatabaseError, connection, transaction
from django.utils import timezone

from quality.actions import sign_off
from quality.glue_batches import use_up
from quality.lot_hold import hold_lot
from quality.models import DaySeal, GlueBatch
from quality.seal import BESIDE, broken_seals, printed_line, seal_days
from routing.append_only import protect, unprotect
from routing.errors import LostRace
from routing.models import Shell, ShellRecord
from tests.quality.test_glue_batches import mix
from tests.quality.test_lot_hold import cut_from
from tests.quality.test_made_here import begin, route
from tests.quality.test_made_here import sign as sign_made
from tests.quality.test_materials import lot
from tests.quality.test_races import at_once
from tests.small_shop import SmallShop, small_shop

pytestmark = pytest.mark.django_db

TABLES = ["routing_shellrecord", "quality_dayseal", "quality_signoff"]


@pytest.fixture
def three_days(shop: SmallShop) -> list[Shell]:
    """Two shells released on the first day, one signed on that day and one on the next; the third day is quiet."""
    shells = shop.released(quantity=2)
    sign_off(serial=shells[0].serial, position=1, person=shop.worker, answers={}, stamp=shop.stamp(shop.worker))
    shop.wait(hours=24)
    sign_off(serial=shells[1].serial, position=1, person=shop.worker, answers={}, stamp=shop.stamp(shop.worker))
    shop.wait(hours=48)
    return shells


def test_each_day_that_is_over_is_sealed_once(shop: SmallShop, three_days: list[Shell]) -> None:
    now = shop.stamp().received_at
    made = seal_days(now=now)
    first = timezone.localdate(ShellRecord.objects.order_by("received_at")[0].received_at)
    assert [seal.day for seal in made] == [first + timedelta(days=each) for each in range(3)]
    assert [(seal.shells, seal.records) for seal in made] == [(2, 3), (1, 1), (0, 0)]
    assert [seal.previous_hash for seal in made] == ["", made[0].hash, made[1].hash]
    assert seal_days(now=now) == []
    assert list(broken_seals()) == []


def test_the_hash_is_what_anybody_can_compute_from_the_chains(shop: SmallShop, three_days: list[Shell]) -> None:
    seal = seal_days(now=shop.stamp().received_at)[0]
    tips = ShellRecord.objects.filter(shell=three_days[0], sequence=2) | ShellRecord.objects.filter(
        shell=three_days[1], sequence=1
    )
    lines = [f"{record.shell.serial} {record.sequence} {record.hash}" for record in tips.order_by("shell__serial")]
    span = f"{seal.begins_at.astimezone(UTC).isoformat()} {seal.ends_at.astimezone(UTC).isoformat()}"
    text = "\n".join([f"{seal.day} {span}", "", *lines, ""])
    assert seal.hash == hashlib.sha256(text.encode()).hexdigest()
    assert seal.hash[:8] in printed_line(seal)
    assert printed_line(seal).replace(" ", "").endswith(seal.hash)


def test_today_is_not_sealed(shop: SmallShop) -> None:
    assert seal_days(now=shop.stamp().received_at) == []
    shop.released()
    assert seal_days(now=shop.stamp().received_at) == []


def test_the_database_refuses_to_change_a_seal(shop: SmallShop, three_days: list[Shell]) -> None:
    seal_days(now=shop.stamp().received_at)
    for statement in ("UPDATE quality_dayseal SET hash = ''", "DELETE FROM quality_dayseal"):
        with pytest.raises(DatabaseError, match="kept as written"), transaction.atomic(), connection.cursor() as cursor:
            cursor.execute(statement)


def _written_anew(shell: Shell) -> None:
    """Somebody gives a record another name and makes the whole chain fit again: each chain alone looks whole."""
    previous = ""
    for record in ShellRecord.objects.filter(shell=shell).order_by("sequence"):
        record.person_name = "Somebody Else"
        record.previous_hash = previous
        record.hash = previous = record.computed_hash(shell.serial)
        record.save()
    Shell.objects.filter(pk=shell.pk).update(chain_head=previous)


def test_a_chain_written_anew_is_found_by_its_seal(shop: SmallShop, three_days: list[Shell]) -> None:
    seal_days(now=shop.stamp().received_at)
    unprotect(connection, TABLES)
    _written_anew(three_days[0])
    protect(connection, TABLES)
    found = list(broken_seals())
    assert [(broken.day, broken.what) for broken in found] == [
        (DaySeal.objects.order_by("day")[0].day, "what was written that day is not what was sealed")
    ]
    with pytest.raises(CommandError, match="not what was sealed"):
        call_command("verify_records")


@pytest.mark.parametrize(
    ("tampering", "what"),
    [
        ("DELETE FROM quality_dayseal WHERE shells = 1", "its seal is missing"),
        ("DELETE FROM quality_dayseal WHERE shells = 2", "seals before it are missing"),
        ("UPDATE quality_dayseal SET records = 9 WHERE shells = 2", "counts other"),
        ("UPDATE quality_dayseal SET hash = 'x' WHERE shells = 2", "not what was sealed"),
        ("UPDATE quality_dayseal SET previous_hash = 'x' WHERE shells = 0", "does not follow"),
    ],
)
def test_a_seal_that_was_touched_is_found(shop: SmallShop, three_days: list[Shell], tampering: str, what: str) -> None:
    seal_days(now=shop.stamp().received_at)
    unprotect(connection, TABLES)
    with connection.cursor() as cursor:
        cursor.execute(tampering)
    protect(connection, TABLES)
    assert any(what in broken.what for broken in broken_seals())


def test_another_time_zone_breaks_no_seal(shop: SmallShop, three_days: list[Shell]) -> None:
    """The borders of a sealed day stay; the next day begins where the last one ended."""
    now = shop.stamp().received_at
    seal_days(now=now)
    with timezone.override("Pacific/Auckland"):
        assert list(broken_seals()) == []
        added = seal_days(now=now + timedelta(days=2))
        assert added[0].begins_at == DaySeal.objects.get(day=added[0].day - timedelta(days=1)).ends_at
        assert list(broken_seals()) == []


def test_a_day_of_23_hours(shop: SmallShop) -> None:
    """The clocks go forward on 2027-03-28 where the shop is."""
    shop.released()
    begun = DaySeal(day=date(2027, 3, 28))
    made = {seal.day: seal for seal in seal_days(now=datetime(2027, 3, 30, 9, tzinfo=UTC))}
    assert made[begun.day].ends_at - made[begun.day].begins_at == timedelta(hours=23)
    assert list(broken_seals()) == []


def test_the_command_prints_each_line(
    shop: SmallShop, three_days: list[Shell], capsys: pytest.CaptureFixture[str]
) -> None:
    """The made-up shop lives in the past, so all its days are over."""
    call_command("seal_days")
    lines = capsys.readouterr().out.splitlines()
    assert len(lines) == DaySeal.objects.count() >= 3
    assert lines[0] == printed_line(DaySeal.objects.order_by("day")[0])
    call_command("seal_days")
    assert "already" in capsys.readouterr().out
    call_command("verify_records")
    assert f"{len(lines)} day seals hold." in capsys.readouterr().out


class TestListsBesideTheChains:
    @pytest.fixture
    def sealed(self, shop: SmallShop) -> DaySeal:
        """A lot that was held with the drum it is in, glue mixed here, and a lot made here with one signature."""
        bad, _ = cut_from(shop)
        hold_lot(lot=bad, reason="splits", person=shop.supervisor, stamp=shop.stamp(shop.supervisor))
        mix(shop)
        sign_made(shop, begin(shop, route(shop)), 1)
        shop.wait(hours=30)
        seal = seal_days(now=shop.stamp().received_at)[0]
        assert list(broken_seals()) == []
        return seal

    @pytest.mark.parametrize(
        "tampering",
        [
            "UPDATE quality_lotchange SET reason = 'all is well' WHERE state = 'held'",
            "UPDATE quality_lotchange SET person_name = 'Nobody'",
            "UPDATE quality_materiallot SET name = 'Maple 3.0'",
            "UPDATE quality_gluebatch SET temperature_c = 21.5",
            "UPDATE quality_gluebatchpart SET mass_g = mass_g + 1",
            "UPDATE quality_lothold SET reason = 'none'",
            "UPDATE quality_heldshell SET state_then = 'packed'",
            "UPDATE quality_lotsignoff SET hash = 'x'",
        ],
    )
    def test_a_change_in_any_of_them_is_found(self, sealed: DaySeal, tampering: str) -> None:
        names = [model._meta.db_table for model in BESIDE]
        unprotect(connection, names)
        with connection.cursor() as cursor:
            cursor.execute(tampering)
            assert cursor.rowcount > 0
        protect(connection, names)
        assert [broken.what for broken in broken_seals()] == ["what was written that day is not what was sealed"]

    def test_what_comes_later_is_for_the_next_seal(self, shop: SmallShop, sealed: DaySeal) -> None:
        mix(shop)
        assert list(broken_seals()) == []
        shop.wait(hours=24)
        later = seal_days(now=shop.stamp().received_at)[0]
        assert later.through["quality_gluebatch"] > sealed.through["quality_gluebatch"]
        assert list(broken_seals()) == []

    def test_using_up_glue_and_opening_a_lot_break_no_seal(self, shop: SmallShop, sealed: DaySeal) -> None:
        use_up(
            batch=GlueBatch.objects.get(),
            person=shop.worker,
            station=shop.stations["press"],
            stamp=shop.stamp(shop.worker),
        )
        batch = GlueBatch.objects.get()
        assert (batch.is_empty, batch.emptied_by_name) == (True, shop.worker.name)
        assert list(broken_seals()) == []


@pytest.mark.django_db(transaction=True)
class TestAtOnce:
    def test_two_who_seal_at_once_make_each_seal_once(self, transactional_db: None) -> None:
        shop = small_shop()
        shop.released()
        now = shop.clock + timedelta(days=3)
        done = at_once(*[lambda: seal_days(now=now)] * 3)
        assert done == Counter(done=3)
        assert DaySeal.objects.count() == 3
        assert list(broken_seals()) == []

    def test_a_seal_never_makes_a_tap_its_victim(self, transactional_db: None, monkeypatch: pytest.MonkeyPatch) -> None:
        """While somebody writes to a list: on PostgreSQL it gives up in words, on SQLite it waits for its turn."""
        shop = small_shop()
        shop.released()
        monkeypatch.setattr("quality.seal.TRIES", 2)
        writes, goes_on = threading.Event(), threading.Event()

        def somebody_receives_a_lot() -> None:
            with transaction.atomic():
                lot(shop, "P-7")
                writes.set()
                goes_on.wait(20)
            connection.close()

        other = threading.Thread(target=somebody_receives_a_lot)
        other.start()
        assert writes.wait(20)
        if connection.vendor == "postgresql":
            with pytest.raises(LostRace, match="Try again"):
                seal_days(now=shop.clock + timedelta(days=2))
            goes_on.set()
            other.join()
        else:
            threading.Timer(0.3, goes_on.set).start()
        assert len(seal_days(now=shop.clock + timedelta(days=2))) == 2
        other.join()
        assert DaySeal.objects.order_by("day")[0].through["quality_lotchange"] > 0
