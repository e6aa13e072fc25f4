"""A shop made for tapping: many shells on a long route without dwells, three readings at each step, tablets signed in."""

from __future__ import annotations

import secrets
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any
from urllib.parse import urlencode

from django.http import HttpResponse
from django.urls import reverse
from django.utils import timezone

from quality.actions import sign_off
from quality.models import CheckPoint, Person, Tablet
from quality.tablets import enrol_here
from routing.history import Stamp
from routing.models import (
    Finish,
    KitLine,
    KitOrder,
    Operation,
    RouteStep,
    RouteTemplate,
    Shell,
    ShellRecord,
    ShellSpec,
    Station,
)
from routing.release import release_order
from shopfloor.floor.link import mark_for
from shopfloor.tablet_station import STATION_COOKIE, binding_of, keep_key
from shopfloor.worker_token import WorkerAtTablet, keep_worker
from tests.small_shop import SmallShop, person, small_shop

KINDS = ("trim", "edge", "sand", "drill", "assemble", "tune") * 2
STEPS = len(KINDS)
PER_ORDER = 8  # shells
_CSRF = "c" * 32


@dataclass(frozen=True, slots=True)
class Signed:
    """What one signature wrote, for whoever writes the same without the program."""

    body: dict[str, Any]
    readings: list[tuple[int, float]]  # check point and value


@dataclass(frozen=True, slots=True)
class TapShop:
    tablets: list[Tablet]
    keys: dict[int, str]  # by tablet
    people: list[Person]
    stations: list[Station]
    shells: list[Shell]  # not one step of them is signed
    example: Signed

    def taps(self, shells: Sequence[Shell], tablets: int) -> list[list[str]]:
        """For each tablet its requests: every step of some of the shells, in order."""
        answers = good_answers(self.stations, shells[0])
        requests: list[list[str]] = []
        for number in range(tablets):
            tablet, who = self.tablets[number], self.people[number % len(self.people)]
            worker = WorkerAtTablet(who, timezone.now())
            cookies = {station.pk: _cookies(tablet, self.keys[tablet.pk], worker, station) for station in self.stations}
            requests.append(
                [
                    _request(
                        cookies[station.pk], binding_of(tablet), worker, station, shell, position, answers[station.pk]
                    )
                    for shell in shells[number::tablets]
                    for position, station in enumerate(self.stations, start=1)
                ]
            )
        return requests


def make_tap_shop(shells: int, tablets: int) -> TapShop:
    """Into an empty database."""
    shop = small_shop()
    stations = _stations()
    _route(stations)
    keys: dict[int, str] = {}
    people = [person(f"worker-{n}", stations=stations) for n in range(min(tablets, 20))]
    enrolled = []
    for number in range(1, tablets + 1):
        tablet, key = enrol_here(name=f"Tablet {number}", stations=stations, by=shop.supervisor, at=timezone.now())
        enrolled.append(tablet)
        keys[tablet.pk] = key
    made = list(_released(shop, shells + 1))
    return TapShop(enrolled, keys, people, stations, made[1:], _example(made[0], people[0], stations[0]))


def _stations() -> list[Station]:
    """Each with its three check points: one follows the drum's spec, two have a nominal value of their own."""
    stations = []
    for number, kind in enumerate(KINDS, start=1):
        station = Station.objects.create(
            code=f"{kind}-{number}", name=f"{kind.title()} {number}", kind=kind, position=20 + number
        )
        limits: list[dict[str, Any]] = [
            {"text": "Depth over the edges", "spec_key": "shell.depth_mm", "minus": 0.5, "plus": 0.5},
            {"text": "Out of round", "nominal": 0.0, "plus": 0.8},
            {"text": "Edge out of flat", "nominal": 0.0, "plus": 0.1},
        ]
        for place, limit in enumerate(limits, start=1):
            CheckPoint.objects.create(
                code=f"check-{number}-{place}", station=station, position=place, kind="measured", unit="mm", **limit
            )
        stations.append(station)
    return stations


def _route(stations: Sequence[Station]) -> None:
    RouteTemplate.objects.update(is_current=False)
    route = RouteTemplate.objects.create(role="snare", finish_kind="lacquer", revision=2, created_at=timezone.now())
    RouteStep.objects.bulk_create(
        RouteStep(template=route, position=position, station=station)
        for position, station in enumerate(stations, start=1)
    )


def _released(shop: SmallShop, count: int) -> Iterator[Shell]:
    now = timezone.now()
    stamp = Stamp(shop.supervisor.pk, shop.supervisor.name, now, now, "office")
    finish = Finish.objects.get(pk=shop.finish.pk)
    for number in range(-(-count // PER_ORDER)):
        order = KitOrder.objects.create(
            number=f"T-{number:05d}", customer="Harrow Lane School", due=date(2027, 1, 29), created_at=now
        )
        KitLine.objects.create(order=order, position=1, model=shop.model, finish=finish, quantity=PER_ORDER)
        yield from release_order(number=order.number, stamp=stamp)


def good_answers(stations: Sequence[Station], shell: Shell) -> dict[int, dict[str, str]]:
    depth = ShellSpec.objects.get(shell=shell).results["shell"]["depth_mm"]
    good = {1: f"{depth:.1f}", 2: "0.4", 3: "0.05"}
    answers: dict[int, dict[str, str]] = {station.pk: {} for station in stations}
    for point in CheckPoint.objects.filter(station__in=stations):
        answers[point.station_id][str(point.pk)] = good[point.position]
    return answers


def _example(shell: Shell, who: Person, station: Station) -> Signed:
    now = timezone.now()
    signed = sign_off(
        serial=shell.serial,
        position=1,
        person=who,
        answers=good_answers([station], shell)[station.pk],
        station=station,
        stamp=Stamp(who.pk, who.name, now, now, "Tablet 1", secrets.token_urlsafe(16)),
    ).sign_off
    body = ShellRecord.objects.get(pk=signed.record_id).body
    readings = [(point, float(value or 0)) for point, value in signed.readings.values_list("check_point", "value")]
    assert len(readings) == 3
    return Signed(body, readings)


def _request(
    cookies: str,
    binding: str,
    worker: WorkerAtTablet,
    station: Station,
    shell: Shell,
    position: int,
    answers: dict[str, str],
) -> str:
    """As the tablet's own script sends it: a form without files, and an answer that a script can read."""
    fields = {
        "as": mark_for(worker, binding),
        "tap_key": secrets.token_urlsafe(16),
        "position": str(position),
        **{f"check-{point}": answer for point, answer in answers.items()},
        "note": "",
        "csrfmiddlewaretoken": _CSRF,
    }
    body = urlencode(fields)
    head = [
        f"POST {reverse('floor:sign', args=[station.code, shell.serial])} HTTP/1.1",
        "Host: 127.0.0.1",
        "Accept: application/json",
        "Accept-Encoding: gzip, deflate",
        "Accept-Language: en-GB,en;q=0.9",
        "User-Agent: Mozilla/5.0 (tablet of the shop)",
        "Content-Type: application/x-www-form-urlencoded;charset=UTF-8",
        f"Content-Length: {len(body)}",
        f"Cookie: {cookies}",
    ]
    return "\r\n".join(head) + "\r\n\r\n" + body


def _cookies(tablet: Tablet, key: str, worker: WorkerAtTablet, station: Station) -> str:
    answer = HttpResponse()
    keep_key(answer, key)
    keep_worker(answer, worker, device=binding_of(tablet), secure=False)
    answer.set_cookie(STATION_COOKIE, station.code)
    answer.set_cookie("csrftoken", _CSRF)
    return "; ".join(f"{name}={morsel.coded_value}" for name, morsel in answer.cookies.items())


def steps_of(shells: Sequence[Shell]) -> dict[int, list[int]]:
    """Shell → the ids of its steps, in order."""
    steps: dict[int, list[int]] = {shell.pk: [] for shell in shells}
    for shell, step in Operation.objects.filter(shell__in=steps).order_by("position").values_list("shell", "pk"):
        steps[shell].append(step)
    return steps
