"""Which drums by lot, glue batch, person, tablet, station and days; each by one query that reads no whole table."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from quality.actions import sign_off, withdraw_sign_off
from quality.dispositions import rework
from quality.models import GlueBatch, LotKind, MaterialLot, Person
from quality.problems import report_problem
from quality.recall import Days, FoundShell, by_glue_batch, by_lot, by_person, by_station, by_tablet
from routing.models import RecordKind, Shell, ShellRecord
from tests.quality.test_glue_batches import at_press, mix
from tests.quality.test_materials import lot, sign
from tests.small_shop import SmallShop

pytestmark = pytest.mark.django_db


def serials(shells: list[FoundShell]) -> list[str]:
    return [found.serial for found in shells]


def cut(shop: SmallShop, shell: Shell, who: Person, device: str) -> None:
    stamp = shop.stamp(who, device=device)
    sign_off(serial=shell.serial, position=1, person=who, answers={}, stamp=stamp)


def test_by_lot_also_through_the_glue_mixed_from_it(shop: SmallShop) -> None:
    resin = lot(shop, "RES-7", LotKind.GLUE, "powder")
    plates = lot(shop)
    glued, plain = at_press(shop, 2)
    third = shop.released("K-2")[0]
    sign(shop, third, plate_birch_3_0="P-1")
    batch = mix(shop, lots={1: "RES-7"})
    sign(shop, glued, 2, glue=batch.code)
    sign(shop, plain, 2, glue=mix(shop).code)
    assert serials(by_lot(resin)) == serials(by_glue_batch(batch)) == [glued.serial]
    assert serials(by_lot(plates)) == [third.serial]
    found = by_glue_batch(batch)[0]
    assert (found.order, found.customer, found.state) == ("K-1", "Harrow Lane School", "in production")
    assert (found.people, found.titles, found.last_at) == (shop.worker.name, shop.step(glued, 2).title, shop.clock)
    assert found.drum == glued.drum


def test_by_person_and_by_tablet(shop: SmallShop) -> None:
    first, second = shop.released(quantity=2)
    cut(shop, first, shop.worker, "Saw")
    cut(shop, second, shop.checker, "Bench")
    assert serials(by_person(shop.worker)) == serials(by_tablet("Saw")) == [first.serial]
    assert serials(by_person(shop.checker)) == serials(by_tablet("Bench")) == [second.serial]
    assert serials(by_person(shop.supervisor)) == serials(by_tablet("saw")) == []  # she released, she signed nothing


def test_by_station_and_days_of_the_shops_clock(shop: SmallShop, settings: Any) -> None:
    settings.TIME_ZONE = "America/New_York"
    first, second, third = shop.released(quantity=3)
    shop.clock = shop.clock.replace(hour=3)  # still the day before, in the shop
    cut(shop, first, shop.worker, "Saw")
    shop.wait(hours=12)
    cut(shop, second, shop.worker, "Saw")
    shop.wait(days=1)
    cut(shop, third, shop.worker, "Saw")
    station = shop.stations["cut"]
    nov = [date(2026, 11, day) for day in range(5)[1:]]
    assert serials(by_station(station, Days(nov[0], nov[0]))) == [first.serial]
    assert serials(by_station(station, Days(nov[1], nov[1]))) == [second.serial]
    assert serials(by_station(station, Days(nov[1], nov[2]))) == [second.serial, third.serial]
    assert serials(by_station(station, Days(last=nov[1]))) == [first.serial, second.serial]
    assert serials(by_station(shop.stations["press"], Days())) == []
    assert serials(by_person(shop.worker, Days(nov[2]))) == [third.serial]


def test_a_withdrawn_signature_counts_and_is_said_to_be_one(shop: SmallShop) -> None:
    shell = shop.released()[0]
    lot(shop)
    sign(shop, shell, plate_birch_3_0="P-1")
    withdraw_sign_off(serial=shell.serial, position=1, person=shop.worker, stamp=shop.stamp(shop.worker))
    (found,) = by_lot(MaterialLot.objects.get())
    assert found.titles.endswith("(withdrawn)")
    assert [step.void for step in found.steps] == ["withdrawn"]


def test_a_signature_that_rework_made_void_counts_too(shop: SmallShop) -> None:
    shell = shop.released()[0]
    lot(shop)
    sign(shop, shell, plate_birch_3_0="P-1")
    stamp = shop.stamp(shop.supervisor)
    report_problem(serial=shell.serial, position=2, person=shop.worker, text="wrong length", stamp=stamp)
    rework(serial=shell.serial, position=1, person=shop.supervisor, reason="cut again", stamp=stamp)
    (found,) = by_lot(MaterialLot.objects.get())
    assert [step.void for step in found.steps] == ["void after rework"]


def test_each_answer_is_one_query_and_that_of_a_lot_four(shop: SmallShop, django_assert_num_queries: Any) -> None:
    lot(shop)
    for number in ("K-1", "K-2"):
        for shell in shop.released(number, 2):
            sign(shop, shell, plate_birch_3_0="P-1")
    for ask, queries in zip(every_question(shop), [4] + [1] * 7, strict=True):
        with django_assert_num_queries(queries):
            ask()


def every_question(shop: SmallShop) -> list[Callable[[], list[FoundShell]]]:
    day = shop.clock.date()
    plates = MaterialLot.objects.get(code="P-1")
    batch = GlueBatch.objects.first() or mix(shop)
    return [
        lambda: by_lot(plates),
        lambda: by_glue_batch(batch),
        lambda: by_glue_batch(batch, Days(day, day)),
        lambda: by_person(shop.worker),
        lambda: by_person(shop.worker, Days(day, day)),
        lambda: by_tablet("tablet 1"),
        lambda: by_tablet("tablet 1", Days(day, day)),
        lambda: by_station(shop.stations["cut"], Days(day, day)),
    ]


# How the records themselves may be found: by their own number, or by an index that leads to few of them. By shell would
# be a walk through all the shells.
LEADS_TO_FEW = re.compile(
    r"INTEGER PRIMARY KEY|routing_shellrecord_pkey|shellrecord_person_(?:at|id)|shellrecord_device_at|shellrecord_kind_at"
)


def plan(ask: Callable[[], object]) -> list[str]:
    """The lines of the plan of the last query of ``ask`` that read the records themselves."""
    with CaptureQueriesContext(connection) as caught:
        ask()
    query = caught.captured_queries[-1]
    with connection.cursor() as cursor:
        word = "EXPLAIN QUERY PLAN" if connection.vendor == "sqlite" else "EXPLAIN"
        cursor.execute(f"{word} {query['sql']}")
        lines = [str(row[-1]).strip() for row in cursor.fetchall()]
    return [line for line in lines if "shellrecord" in line and not line.startswith(HEAP)]


HEAP = ("-> Bitmap Heap Scan", "->  Bitmap Heap Scan")  # it fetches what the index below it found
NOT_A_STEP = re.compile(r"^(Sort|Index|Recheck|Hash|Merge|Join|Filter|Sort) ?(Key|Cond|Filter)?:")


def scans(lines: list[str]) -> list[str]:
    """Those that read the records in any other way."""
    return [line for line in lines if not NOT_A_STEP.match(line) and not LEADS_TO_FEW.search(line)]


def many_records(shop: SmallShop, count: int = 12_000) -> None:
    """Years of another person's work at other tablets, so that a whole table is worth avoiding."""
    shell = shop.released("K-9")[0]
    step = shop.step(shell, 1)
    ShellRecord.objects.bulk_create(
        [
            ShellRecord(
                shell=shell,
                sequence=n + 1000,
                kind=RecordKind.SIGNED if n % 2 else RecordKind.STARTED,
                operation=step,
                at=shop.clock - timedelta(minutes=30 * n),
                received_at=shop.clock,
                person=shop.checker,
                person_name=shop.checker.name,
                device=f"old {n % 40}",
                hash="-",
            )
            for n in range(count)
        ],
        batch_size=2000,
    )
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")


def test_no_answer_goes_through_all_records(shop: SmallShop) -> None:
    lot(shop)
    shell = shop.released()[0]
    sign(shop, shell, plate_birch_3_0="P-1")
    many_records(shop)
    for ask in every_question(shop):
        lines = plan(ask)
        assert lines, "the plan does not name the records"
        assert not scans(lines), lines


def test_the_check_of_plans_can_fail(shop: SmallShop) -> None:
    many_records(shop)
    assert scans(plan(lambda: list(ShellRecord.objects.filter(person_name="Wanda Worker"))))
