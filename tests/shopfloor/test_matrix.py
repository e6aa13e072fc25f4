"""The page of who may sign where: gaps and dates on a day, and a known number of queries."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from quality.models import Person, Qualification, Role
from routing.models import Station
from shopfloor.people.matrix import Standing, matrix
from tests.small_shop import SmallShop

pytestmark = pytest.mark.django_db
DAY = date(2026, 11, 25)


@pytest.fixture
def two(shop: SmallShop) -> tuple[Person, Person]:
    Qualification.objects.all().delete()
    ann = Person.objects.create_user("ann", name="Ann Arbor", role=Role.WORKER)
    ben = Person.objects.create_user("ben", name="Ben Bridge", role=Role.WORKER)
    return ann, ben


def qualify(person: Person, station: Station, first: int, last: int | None, **fields: Any) -> None:
    """From and to in days from DAY."""
    Qualification.objects.create(
        person=person,
        station=station,
        valid_from=DAY + timedelta(days=first),
        valid_to=None if last is None else DAY + timedelta(days=last),
        **fields,
    )


@pytest.mark.parametrize(
    ("first", "last", "standing", "words"),
    [
        (-9, None, Standing.HOLDS, "no end"),
        (0, 31, Standing.HOLDS, "until 2026-12-26"),
        (0, 30, Standing.SOON, "until 2026-12-25"),
        (-9, 0, Standing.SOON, "until 2026-11-25"),
        (-9, -1, Standing.ENDED, "ended 2026-11-24"),
        (1, None, Standing.NOT_YET, "from 2026-11-26"),
    ],
)
def test_each_standing(
    shop: SmallShop, two: tuple[Person, Person], first: int, last: int | None, standing: Standing, words: str
) -> None:
    qualify(two[0], shop.stations["cut"], first, last, trained_by=two[1])
    found = matrix(today=DAY)
    line = next(line for line in found.lines if line.person == two[0])
    place = [column.station.code for column in found.columns].index("cut")
    assert (line.cells[place].standing, line.cells[place].words) == (standing, words)
    assert line.cells[place].trained_by == "Ben Bridge"
    assert found.columns[place].people == int(standing in (Standing.HOLDS, Standing.SOON))
    listed = [(due.person, due.station.code) for due in found.dates]
    assert listed == ([] if standing == Standing.HOLDS else [(two[0], "cut")])


def test_a_role_that_may_not_sign_the_final_check_counts_for_nothing(
    shop: SmallShop, two: tuple[Person, Person]
) -> None:
    qualify(two[0], shop.stations["final-check"], -9, None)
    found = matrix(today=DAY)
    column = next(column for column in found.columns if column.station.code == "final-check")
    assert (column.people, column.gap) == (0, "nobody may sign here")


def test_gaps(shop: SmallShop, two: tuple[Person, Person]) -> None:
    qualify(two[0], shop.stations["cut"], -9, None)
    qualify(two[1], shop.stations["cut"], -9, None)
    qualify(two[0], shop.stations["press"], -9, None)
    qualify(two[0], shop.stations["edge"], -9, 3)
    qualify(two[1], shop.stations["edge"], -9, 5)
    gaps = {column.station.code: column.gap for column in matrix(today=DAY).columns}
    assert gaps["cut"] == ""
    assert gaps["press"] == "only one person may sign here"
    assert gaps["edge"] == "from 2026-12-01 on nobody may sign here"
    assert gaps["pack"] == "nobody may sign here"


def test_who_left_is_not_counted(shop: SmallShop, two: tuple[Person, Person]) -> None:
    qualify(two[0], shop.stations["cut"], -9, None)
    Person.objects.filter(pk=two[0].pk).update(is_active=False)
    found = matrix(today=DAY)
    assert two[0] not in [line.person for line in found.lines]
    assert found.columns[0].people == 0


def test_queries_do_not_grow(shop: SmallShop, django_assert_num_queries: Any) -> None:
    for number in range(8):
        person = Person.objects.create_user(f"p{number}", name=f"Person {number}", role=Role.WORKER)
        for station in shop.stations.values():
            qualify(person, station, -1, None, trained_by=shop.supervisor)
    with django_assert_num_queries(4):
        matrix(today=DAY)


def test_the_page_and_its_files(client: Client, shop: SmallShop, two: tuple[Person, Person]) -> None:
    client.force_login(shop.supervisor)
    today = timezone.localdate()
    Qualification.objects.create(
        person=two[0], station=shop.stations["cut"], valid_from=today - timedelta(days=9), valid_to=today
    )
    page = client.get(reverse("people:matrix")).content.decode()
    assert "Ann Arbor" in page
    assert f"until {today}" in page
    assert "nobody may sign here" in page
    csv = client.get(reverse("people:matrix_csv")).content.decode("utf-8-sig").splitlines()
    assert csv[0].startswith("Person,cut")
    assert f"Ann Arbor,until {today}" in "\n".join(csv)
    assert client.get(reverse("people:matrix_xlsx")).content[:2] == b"PK"
