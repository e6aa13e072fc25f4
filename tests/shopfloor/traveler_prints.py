"""Travelers as they are printed, for tests of what stands on them and of who prints."""

from __future__ import annotations

from typing import Any

from django.test import Client

from quality.actions import sign_off
from routing.models import RecordKind, Shell, ShellRecord
from shopfloor.travelers.making import make_print
from shopfloor.travelers.printing import print_travelers
from tests.small_shop import SmallShop

BASE = "https://floor.example"


def printed(shop: SmallShop, *shells: Shell, size: str = "A4") -> bytes:
    stamp = shop.stamp(shop.supervisor)
    asked, _ = print_travelers(
        [shell.serial for shell in shells], name="some.pdf", paper=size, base_url=BASE, stamp=stamp
    )
    return make_print(asked)


def opened(answer: Any, browser: Client) -> bytes:
    """The file that a print leads to."""
    assert answer.status_code == 302
    page = browser.get(answer["Location"])
    assert page.status_code == 302
    file = browser.get(page["Location"])
    assert (file.status_code, file["Content-Type"], file["Cache-Control"]) == (200, "application/pdf", "no-store")
    return file.content


def sign(shop: SmallShop, shell: Shell, position: int) -> None:
    sign_off(serial=shell.serial, position=position, person=shop.worker, answers={}, stamp=shop.stamp(shop.worker))


def prints(shell: Shell) -> list[ShellRecord]:
    return list(ShellRecord.objects.filter(shell=shell, kind=RecordKind.PRINTED).order_by("sequence"))
