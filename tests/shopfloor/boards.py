"""What boards show, for tests of them."""

from __future__ import annotations

import re
from datetime import date, timedelta
from typing import TYPE_CHECKING
from urllib.parse import unquote

from django.test import Client
from django.urls import reverse
from django.utils import timezone

from quality.actions import sign_off
from routing.models import Operation, Plan, PlannedStep, PlanState
from shopfloor.board import work
from shopfloor.board.kits import BoardKit, kits
from shopfloor.board.urgent import BoardRow, most_urgent
from shopfloor.work_in_process import ShellInWork
from tests.small_shop import SmallShop

if TYPE_CHECKING:
    from django.test.client import _MonkeyPatchedWSGIResponse as Answer

VIEWS = ["board:board", "board:kits", "board:age", "board:wall"]
TODAY = date(2026, 11, 2)


def column(shop: SmallShop, code: str, today: date = TODAY) -> work.StationColumn:
    return next(column for column in work.counts(shop.clock, today).columns if column.code == code)


def rows(shop: SmallShop, code: str) -> list[BoardRow]:
    station = shop.stations[code].pk
    return most_urgent([station], shop.clock).get(station, [])


def listed(shop: SmallShop, code: str) -> list[ShellInWork]:
    return work.station_shells(shop.stations[code], shop.clock, TODAY, 0, 50)


def sign(shop: SmallShop, serial: str, position: int) -> None:
    sign_off(serial=serial, position=position, person=shop.worker, answers={}, stamp=shop.stamp(shop.worker))


def marked(page: str) -> str:
    """The mark with which a page asks whether it is still so."""
    (mark,) = re.findall(r"\?version=([^&\"]+)", page)
    return unquote(mark)


def refresh(client: Client, view: str, version: str) -> Answer:
    return client.get(reverse(view), {"version": version}, headers={"HX-Request": "true"})


def planned(shop: SmallShop, *ends: tuple[str, float], current: bool = True) -> Plan:
    """A plan in which each shell's open steps take an hour each; the last ends so many hours from now."""
    plan = Plan.objects.create(made_at=shop.clock, heard_at=shop.clock, is_current=current, state=PlanState.READY)
    for serial, hours in ends:
        steps = list(Operation.objects.filter(shell__serial=serial).exclude(state="done").order_by("-position"))
        for n, step in enumerate(steps):
            end = shop.clock + timedelta(hours=hours - n)
            PlannedStep.objects.create(
                plan=plan, operation=step, station=step.station, starts_at=end - timedelta(hours=1), ends_at=end
            )
    return plan


def only_kit(shop: SmallShop) -> BoardKit:
    (kit,) = kits(shop.clock, timezone.localdate(shop.clock)).kits
    return kit
