"""Nothing that is asked all day, or of a drum after years, reads a table whole that grows with every drum."""

from __future__ import annotations

import secrets
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

import pytest
from django.core.cache import cache
from django.core.management import call_command
from django.db import transaction
from django.db.models import Count, Subquery
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from quality.checks import check_points_at
from quality.models import GlueBatch, MaterialLot, Person, Qualification, Reading, Role
from quality.recall import Days, by_glue_batch, by_lot, by_person, by_station, by_tablet
from quality.tablets import enrol_here
from quality.trace import story_of
from routing.cutting_orders import shells_to_cut
from routing.models import KitOrder, Operation, Shell, ShellRecord, Station, StationKind
from shopfloor.access import the_shell
from shopfloor.board import urgent, work
from shopfloor.board.ahead import look_ahead
from shopfloor.floor.queue import queue_of, queue_version
from shopfloor.qr import card_token
from tests.bench.live import open_shop
from tests.bench.many import FIRST, Many, fill
from tests.bench.twins import tablet_of
from tests.query_plans import SMALL, whole_tables

pytestmark = pytest.mark.django_db

SHELLS, OPEN = 600, 60  # with ten signatures each; and those that are being made


@dataclass(frozen=True, slots=True)
class Years:
    """A shop with work behind it and work to do, and who asks."""

    many: Many
    station: Station
    step: Operation  # to be done next at the station
    drum: Shell  # made years ago
    checked: Shell  # signed by its final checker, with the spec that a real one has
    office: Client
    floor: Client


@pytest.fixture(scope="module")
def years(django_db_setup: None, django_db_blocker: Any) -> Iterator[Years]:
    """Filled once for all tests of this file, in a transaction that is taken back."""
    with django_db_blocker.unblock(), transaction.atomic():
        call_command("demo", verbosity=0)
        many = fill(SHELLS, "A")
        now = timezone.now()
        open_shop(OPEN, "L", now)
        supervisor = Person.objects.filter(role=Role.SUPERVISOR)[0]
        office = Client()
        office.force_login(supervisor)
        sand = Station.objects.get(code="sand")
        able = Qualification.objects.filter(station=sand, person__is_active=True).select_related("person")[0]
        tablet, key = enrol_here(name="Sanding", stations=[sand], by=supervisor, at=now)
        ready = Operation.objects.filter(station=sand, state="ready", not_before=None).select_related("shell")
        step = ready.exclude(shell__serial__endswith="*").order_by("pk")[0]
        drums = Shell.objects.exclude(serial__endswith="*").order_by("pk")
        checked = drums.filter(operations__station__kind=StationKind.PACK, operations__state="ready")[0]
        old = drums.filter(state="packed")[7]
        yield Years(many, sand, step, old, checked, office, tablet_of(tablet, key, able.person))
        transaction.set_rollback(True)


def tap(years: Years) -> None:
    """Sign a step; what it writes is taken back with the other changes of this file."""
    answers = {f"check-{point.pk}": "yes" for point in check_points_at(years.step)}
    with transaction.atomic():
        answer = years.floor.post(
            reverse("floor:sign", args=[years.station.code, years.step.shell.serial]),
            {"position": str(years.step.position), "tap_key": secrets.token_urlsafe(16)} | answers,
        )
        assert answer.status_code == 302, answer.content.decode()
        transaction.set_rollback(True)


def page(client: Client, address: str, **query: str) -> None:
    answer = client.get(address, query)
    assert answer.status_code in (200, 302), (address, answer.status_code)


def board_page(years: Years) -> None:
    cache.delete("ahead")
    page(years.office, reverse("board:board"))


def card(years: Years) -> None:
    serial = years.checked.serial
    page(Client(), reverse("card:public", args=[serial, card_token(serial)]))


def some_days() -> Days:
    return Days(FIRST.date(), FIRST.date())


ASKED: dict[str, Callable[[Years], object]] = {
    "a tap: one step signed": tap,
    "the page of a step": lambda y: page(y.floor, reverse("floor:step", args=[y.station.code, y.step.shell.serial])),
    "the station's page": lambda y: page(y.floor, reverse("floor:queue", args=[y.station.code])),
    "the station's queue": lambda y: queue_of(y.station, timezone.now()),
    "whether the station's page is still right": lambda y: queue_version(y.station, timezone.now()),
    "the board": board_page,
    "counts of the board": lambda y: work.counts(timezone.now(), timezone.localdate()),
    "the most urgent of each station": lambda y: urgent.most_urgent([y.station.pk, y.station.pk + 1], timezone.now()),
    "whether the board is still right": lambda y: work.board_version(timezone.now()),
    "the days ahead": lambda y: look_ahead(timezone.now()),
    "the story of a drum": lambda y: story_of(the_shell(y.drum.serial)),
    "the trace page of a drum": lambda y: page(y.office, reverse("trace:shell", args=[y.drum.serial])),
    "a serial number typed into the trace": lambda y: page(y.office, reverse("trace:search"), q=y.drum.serial),
    "drums of a glue batch": lambda y: by_glue_batch(GlueBatch.objects.get(pk=y.many.batches[3])),
    "drums of a lot": lambda y: by_lot(MaterialLot.objects.get(pk=y.many.lots[1])),
    "drums of a person on a day": lambda y: by_person(Person.objects.get(pk=y.many.people[0]), some_days()),
    "drums of a tablet on a day": lambda y: by_tablet("tablet 3", some_days()),
    "drums of a station on a day": lambda y: by_station(y.station, some_days()),
    "the recall page of a glue batch": lambda y: page(y.office, reverse("recall:find"), glue_batch="A-G3"),
    "the recall page of a lot": lambda y: page(y.office, reverse("recall:find"), lot="A-L1"),
    "what is to be cut": lambda y: shells_to_cut(),
    "the order list": lambda y: page(y.office, reverse("orders:list")),
    "words looked for on the order list": lambda y: page(y.office, reverse("orders:list"), q="Customer 7"),
    "a serial number that a customer reads out": lambda y: page(y.office, reverse("requests:find"), q=y.drum.serial),
    "what a customer's call shows of a drum": lambda y: page(
        y.office, reverse("requests:drum", args=[y.checked.serial])
    ),
    "the page behind the card's code": card,
}


# What of a growing table may be read whole all the same, and why.
READ_WHOLE = {
    # How many orders there are of each state stands above the list, and words may stand anywhere in a customer's name. An
    # order is one row for all its drums; the lines are not read.
    "the order list": {"routing_kitorder"},
    "words looked for on the order list": {"routing_kitorder"},
}


@pytest.mark.parametrize("what", ASKED)
def test_it_goes_by_an_index(years: Years, what: str) -> None:
    found = whole_tables(lambda: ASKED[what](years), small=SMALL | READ_WHOLE.get(what, set()))
    assert not found, "\n".join(map(str, found))


@pytest.mark.parametrize("what", READ_WHOLE)
def test_what_may_be_read_whole_is_read_whole(years: Years, what: str) -> None:
    assert {found.table for found in whole_tables(lambda: ASKED[what](years))} == READ_WHOLE[what]


FOUND: dict[str, tuple[str, Callable[[], object]]] = {
    "no index": ("routing_shell", lambda: Shell.objects.filter(chain_head="x").first()),
    "an index from end to end": (
        "routing_kitorder",
        lambda: list(KitOrder.objects.values("state").annotate(Count("pk"))),
    ),
    "in the order of an index until one fits": (
        "routing_shellrecord",
        lambda: ShellRecord.objects.filter(hash="x").order_by("-pk").first(),
    ),
    "the first of those that have to be sorted": ("quality_reading", lambda: Reading.objects.order_by("value").first()),
    "joined by what has no index": (
        "routing_shellrecord",
        lambda: list(
            Shell.objects.raw(
                "SELECT s.id FROM routing_shell s JOIN routing_shellrecord r ON r.hash = s.chain_head WHERE s.serial = 'x'"
            )
        ),
    ),
    "in a subquery for a column": (
        "quality_reading",
        lambda: Station.objects.annotate(last=Subquery(Reading.objects.filter(value=7).values("pk")[:1])).first(),
    ),
    "written without an index": ("routing_shell", lambda: Shell.objects.filter(chain_head="x").update(chain_length=1)),
}


@pytest.mark.parametrize("what", FOUND)
def test_a_table_that_is_read_whole_is_found(years: Years, what: str) -> None:
    table, ask = FOUND[what]
    assert table in {found.table for found in whole_tables(ask)}


@pytest.mark.parametrize(
    "ask",
    [
        lambda: Shell.objects.filter(serial="x").first(),
        lambda: ShellRecord.objects.order_by("-pk").first(),
        lambda: list(Operation.objects.current().values("station").annotate(Count("pk"))),
        lambda: list(Person.objects.filter(name="x")),
        lambda: Shell.objects.filter(pk=1).update(chain_length=1),
    ],
    ids=["by an index", "the last of all", "an index of what is open", "a small table", "one row written"],
)
def test_what_goes_by_an_index_is_not_found(years: Years, ask: Callable[[], object]) -> None:
    assert whole_tables(ask) == []


def test_a_question_that_asks_nothing_proves_nothing(years: Years) -> None:
    with pytest.raises(AssertionError, match="nothing was asked"):
        whole_tables(lambda: None)
