"""A tablet on the wall in a test: one browser at one station, and the shop's clock moved with that of the machine."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from itertools import count
from typing import TYPE_CHECKING, Any

import time_machine
from django.test import Client
from django.urls import reverse

from quality.actions import sign_off
from quality.models import Person
from routing.models import Shell
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


@dataclass
class Tablet:
    station: str
    client: Client = field(default_factory=Client)

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


def sign_through(shop: SmallShop, shell: Shell, last: int) -> None:
    """Sign every step up to ``last`` at the shop's clock, waiting out each dwell; the checker signs the final check."""
    for position in range(1, last + 1):
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
