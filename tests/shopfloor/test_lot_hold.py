"""Holding a lot or a glue batch in the office: the list, its files, and the release of its drums."""

from __future__ import annotations

import csv
import io

import pytest
from django.test import Client
from django.urls import reverse
from openpyxl import load_workbook

from quality.models import LotHold, LotState, MaterialLot
from routing.models import Shell, ShellState
from tests.quality.test_glue_batches import at_press, mix
from tests.quality.test_materials import lot, sign
from tests.small_shop import SmallShop

pytestmark = pytest.mark.django_db
WHY = "delaminates at the seam"


def state_of(shell: Shell) -> str:
    shell.refresh_from_db()
    return shell.state


def hold_from_its_page(client: Client, bad: MaterialLot, key: str = "a") -> str:
    answer = client.post(reverse("materials:state", args=[bad.pk]), {"state": "held", "reason": WHY, "tap_key": key})
    assert answer.status_code == 302
    return str(answer["Location"])


def test_a_held_lot_leads_to_the_list_of_its_drums(shop: SmallShop, office: Client) -> None:
    bad = lot(shop)
    here, gone = shop.released(quantity=2)
    for shell in (here, gone):
        sign(shop, shell, plate_birch_3_0="P-1")
    Shell.objects.filter(pk=gone.pk).update(state=ShellState.PACKED)
    where = hold_from_its_page(office, bad)
    assert hold_from_its_page(office, bad) == where
    page = office.get(where).content.decode()
    assert "1 drum has left the shop already" in page
    assert page.index(gone.serial) < page.index(here.serial)
    assert "A supervisor can release them" in page
    assert state_of(here) == ShellState.ON_HOLD
    assert where in office.get(reverse("materials:lot", args=[bad.pk])).content.decode()
    held = LotHold.objects.get()
    table = list(
        csv.reader(io.StringIO(office.get(reverse("materials:hold_csv", args=[held.pk])).content.decode("utf-8-sig")))
    )
    assert [(row[0], row[4], row[5], row[6]) for row in table[1:]] == [
        (gone.serial, "packed", "left the shop: recall", "packed"),
        (here.serial, "in production", "put on hold", "on hold"),
    ]
    assert table[1][3:4] + table[1][7:10] == ["Harrow Lane School", "lot P-1 Birch 3.0", WHY, held.person_name]
    content = office.get(reverse("materials:hold_xlsx", args=[held.pk])).content
    sheet = load_workbook(io.BytesIO(content)).active
    assert sheet is not None
    assert [[cell.value for cell in row] for row in sheet.iter_rows()] == table


def test_a_supervisor_releases_those_held_for_it_alone(shop: SmallShop, office: Client, supervisor: Client) -> None:
    bad, shell = lot(shop), shop.released()[0]
    sign(shop, shell, plate_birch_3_0="P-1")
    where = hold_from_its_page(office, bad)
    office.post(reverse("materials:state", args=[bad.pk]), {"state": "open", "reason": "good", "tap_key": "b"})
    assert MaterialLot.objects.get().state == LotState.OPEN
    assert state_of(shell) == ShellState.ON_HOLD
    release = reverse("materials:release", args=[LotHold.objects.get().pk])
    assert office.post(release, {"settlement": "good"}).status_code == 403
    assert "Release the shells held for this alone" in supervisor.get(where).content.decode()
    assert supervisor.post(release, {"settlement": " "}).status_code == 422
    said = {"settlement": "pulled apart, good", "tap_key": "c"}
    assert [supervisor.post(release, said).status_code for _ in range(2)] == [302, 302]
    assert state_of(shell) == ShellState.IN_PRODUCTION
    assert "pulled apart, good" in supervisor.get(where).content.decode()
    assert supervisor.post(release, said | {"tap_key": "d"}).status_code == 409


def test_drums_entered_since_are_held_from_the_lots_page(shop: SmallShop, office: Client) -> None:
    bad = lot(shop)
    hold_from_its_page(office, bad)
    again = reverse("materials:hold_lot", args=[bad.pk])
    assert again in office.get(reverse("materials:lot", args=[bad.pk])).content.decode()
    refused = office.post(again, {"reason": WHY, "tap_key": "b"})
    assert refused.status_code == 409
    assert "listed already" in refused.content.decode()
    late = shop.released()[0]
    MaterialLot.objects.update(state=LotState.OPEN)  # from paper: it was good then
    sign(shop, late, plate_birch_3_0="P-1")
    MaterialLot.objects.update(state=LotState.HELD)
    assert office.post(again, {"reason": WHY, "tap_key": "c"}).status_code == 302
    assert state_of(late) == ShellState.ON_HOLD


def test_a_glue_batch_is_held_from_its_page(shop: SmallShop, office: Client) -> None:
    glued, plain = at_press(shop, 2)
    batch = mix(shop)
    sign(shop, glued, 2, glue=batch.code)
    address = reverse("materials:hold_batch", args=[batch.pk])
    assert address in office.get(reverse("materials:batch", args=[batch.pk])).content.decode()
    silent = office.post(address, {"reason": ""})
    assert silent.status_code == 422
    assert "Say why" in silent.content.decode()
    assert office.post(address, {"reason": "hardener forgotten", "tap_key": "a"}).status_code == 302
    assert [state_of(glued), state_of(plain)] == [ShellState.ON_HOLD, ShellState.IN_PRODUCTION]
    batch.refresh_from_db()
    assert batch.is_empty


def test_a_hold_that_is_not_there(shop: SmallShop, office: Client) -> None:
    for name in ("hold", "hold_csv", "hold_xlsx"):
        assert office.get(reverse(f"materials:{name}", args=[404])).status_code == 404
    assert office.post(reverse("materials:hold_batch", args=[404])).status_code == 404
