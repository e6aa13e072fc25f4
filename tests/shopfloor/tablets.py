"""A tablet on the wall in a test: one browser at one station, and the shop's clock moved with that of the machine."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from itertools import count
from typing import TYPE_CHECKING, Any

import time_machine
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from quality.actions import sign_off
from quality.models import Person, Role
from quality.models import Tablet as ShopTablet
from quality.tablets import enrol_here, next_name
from routing.models import Shell, Station
from shopfloor.tablet_station import KEY_COOKIE, keep_key
from tests.small_shop import PIN, SmallShop

if TYPE_CHECKING:
    from django.test.client import _MonkeyPatchedWSGIResponse as Answer

_taps = count(1)


@dataclass
class Clock:
    """Moves the shop's clock and the machine's together; neither ticks by itself."""

    shop: SmallShop
    traveller: time_machine.Traveller

    def wait(self, **delta: float) -> None:
        self.shop.wait(**delta)
        self.traveller.move_to(self.shop.clock)


@contextmanager
def clock_of(shop: SmallShop) -> Iterator[Clock]:
    with time_machine.travel(shop.clock, tick=False) as traveller:
        yield Clock(shop, traveller)


def make_tablet(client: Client, *, name: str = "", stations: Sequence[str] | None = None) -> ShopTablet:
    """Make a browser a tablet of the shop: for these stations, or for all."""
    by = Person.objects.filter(role=Role.SUPERVISOR).first()
    assert by is not None
    places = Station.objects.all() if stations is None else Station.objects.filter(code__in=stations)
    made, key = enrol_here(name=name or next_name(), stations=places, by=by, at=timezone.now())
    answer = HttpResponse()
    keep_key(answer, key)
    client.cookies[KEY_COOKIE] = answer.cookies[KEY_COOKIE].value
    return made


@dataclass
class Tablet:
    """Enrolled as soon as it is there, for all stations unless told otherwise."""

    station: str
    client: Client = field(default_factory=Client)
    stations: Sequence[str] | None = None
    name: str = ""

    def __post_init__(self) -> None:
        if KEY_COOKIE not in self.client.cookies:
            make_tablet(self.client, name=self.name, stations=self.stations)

    def url(self, name: str, *args: Any) -> str:
        return reverse(f"floor:{name}", args=[self.station, *args])

    def get(self, name: str, *args: Any, **query: str) -> Answer:
        return self.client.get(self.url(name, *args), query)

    def refresh(self, version: str = "") -> Answer:
        return self.client.get(self.url("queue"), {"version": version}, headers={"HX-Request": "true"})

    def sign_in(self, person: Person, pin: str = PIN, **more: str) -> Answer:
        return self.client.post(self.url("enter_pin", person.pk), {"pin": pin} | more)

    def tap(self, name: str, shell: Shell, position: int | str = 1, **typed: str) -> Answer:
        """A button of the step page; each tap has a key of its own unless one is given."""
        form = {"position": str(position), "tap_key": f"tap {next(_taps)}"} | typed
        return self.client.post(self.url(name, shell.serial), form)


def page(answer: Answer) -> str:
    return answer.content.decode()


def sign_through(shop: SmallShop, shell: Shell, last: int, *, first: int = 1) -> None:
    """Sign every step from ``first`` to ``last`` at the shop's clock, waiting out each dwell; the checker signs the final check."""
    for position in range(first, last + 1):
        shop.wait(hours=60)
        final = shop.step(shell, position).station.code == "final-check"
        who = shop.checker if final else shop.worker
        sign_off(
            serial=shell.serial,
            position=position,
            person=who,
            answers={},
            pin_confirmed=final,
            stamp=shop.stamp(who),
        )
