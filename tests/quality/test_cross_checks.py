"""Cartons and customers' requests are held against the chains: what somebody changes past the program is named."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.db import transaction

from quality.cartons import close_carton, open_carton
from quality.companions import draft_companion
from quality.models import Carton, CustomerRequest
from quality.requests import answer_request, change_request, pick_request, reopen_request, send_request
from quality.verification import verify_shell
from routing.models import KitOrder, Shell
from tests.quality.customer_requests import by, shipped, take, told
from tests.quality.test_verification import _tamper
from tests.shopfloor.tablets import sign_through
from tests.small_shop import SmallShop

pytestmark = pytest.mark.django_db
OTHER_TIME = "'2020-01-01 00:00:00+00:00'"


def not_found(shells: Iterable[Shell], changes: dict[str, str]) -> list[tuple[str, list[str]]]:
    """Of these changes by SQL, each made by itself and taken back, those that the proof does not name."""
    missed = []
    for statement, named in changes.items():
        with transaction.atomic():
            _tamper(statement)
            said = [broken.what for shell in shells for broken in verify_shell(Shell.objects.get(pk=shell.pk))]
            if not any(named in each for each in said):
                missed.append((statement, said))
            transaction.set_rollback(True)
    return missed


def holds(shells: Iterable[Shell]) -> bool:
    return all(list(verify_shell(Shell.objects.get(pk=shell.pk))) == [] for shell in shells)


@pytest.fixture
def in_cartons(shop: SmallShop) -> list[Shell]:
    """Two drums in a carton each; carton 1 was opened once and weighed when it was closed again."""
    shells = shop.released(quantity=2)
    for shell in shells:
        sign_through(shop, shell, 8)
    shop.close_cartons()
    order = KitOrder.objects.get(number="K-1")
    by_worker: dict[str, Any] = {"order": order, "number": 1, "person": shop.worker, "stamp": shop.stamp(shop.worker)}
    open_carton(**by_worker, reason="one rod too many")
    shop.wait(hours=1)
    close_carton(**by_worker | {"stamp": shop.stamp(shop.worker)}, weighed_g=5200.0)
    shop.order("K-2")
    assert holds(shells)
    return shells


def test_every_field_of_a_carton_is_held_against_its_records(shop: SmallShop, in_cartons: list[Shell]) -> None:
    second = in_cartons[1]
    opened, standing = Carton.objects.filter(number=1).order_by("attempt")
    row = f"WHERE id = {standing.pk}"
    other_order = KitOrder.objects.get(number="K-2").pk
    drum = f"WHERE carton_id = {standing.pk}"
    changes = {
        f"UPDATE quality_carton SET order_id = {other_order} {row}": "the record: order",
        f"UPDATE quality_carton SET number = 9 {row}": "the record: number",
        f'UPDATE quality_carton SET "of" = 3 {row}': "how many cartons",
        f"UPDATE quality_carton SET attempt = 7 {row}": "attempt",
        f"UPDATE quality_carton SET gross_g = 1 {row}": "computed weight",
        f"UPDATE quality_carton SET weighed_g = 9000 {row}": "weight on the scale",
        f"UPDATE quality_carton SET weighed_g = NULL {row}": "weight on the scale",
        f"UPDATE quality_carton SET closed_by_id = {shop.checker.pk} {row}": "who closed it",
        f"UPDATE quality_carton SET closed_at = {OTHER_TIME} {row}": "when it was closed",
        f"UPDATE quality_carton SET opened_at = {OTHER_TIME} {row}": "opened is not as the records say: when",
        f"UPDATE quality_carton SET opened_by_id = {shop.checker.pk} WHERE id = {opened.pk}": "records say: who",
        f"UPDATE quality_carton SET opened_because = 'dust' WHERE id = {opened.pk}": "records say: why",
        f"UPDATE quality_carton SET opened_at = {OTHER_TIME} WHERE id = {opened.pk}": "records say: when",
        f"UPDATE quality_cartondrum SET place = 5 {drum}": "place in it",
        f"UPDATE quality_cartondrum SET shell_id = {second.pk} {drum}": "the carton it tells of is missing",
        f"UPDATE quality_cartondrum SET carton_id = {Carton.objects.get(number=2).pk} {drum}": "number",
        f"DELETE FROM quality_cartondrum {drum}": "the carton it tells of is missing",
        f"INSERT INTO quality_cartondrum (carton_id, shell_id, place, record_id) "
        f"SELECT carton_id, {second.pk}, 2, record_id FROM quality_cartondrum {drum}": "drums in it",
    }  # fmt: skip
    assert not_found(in_cartons, changes) == []
    assert holds(in_cartons)


def test_a_drum_that_lies_in_a_carton_without_a_record_is_named(in_cartons: list[Shell]) -> None:
    first, second = in_cartons
    into = Carton.objects.get(number=2).pk
    put_in = (
        f"INSERT INTO quality_cartondrum (carton_id, shell_id, place, record_id) SELECT {into}, {first.pk}, 2, "
        f"MIN(id) FROM routing_shellrecord WHERE shell_id = {first.pk}"
    )
    assert not_found([first], {put_in: "it lies in carton 2 without a record"}) == []
    assert not_found([second], {put_in: "drums in it"}) == []


def test_a_carton_without_a_drum_is_named(shop: SmallShop, in_cartons: list[Shell]) -> None:
    Carton.objects.create(
        order=KitOrder.objects.get(number="K-2"), number=4, of=4, gross_g=1, closed_by=shop.worker, closed_at=shop.clock
    )
    with pytest.raises(CommandError, match="Carton 4 of order K-2, attempt 1, has no drum in it"):
        call_command("verify_records")


@pytest.fixture
def asked(shop: SmallShop) -> Shell:
    """A drum about which three things were asked: one sent, opened again and changed; one answered; one with a draft."""
    shell = shipped(shop)
    first = take(shop, shell).number
    shop.wait(hours=1)
    pick_request(number=first, **by(shop))
    send_request(number=first, answer="in the post", **told(shop), **by(shop))
    shop.wait(hours=30)
    reopen_request(number=first, reason="the parcel came back", **by(shop))
    parts = {("rods", "tension rod"): 3}
    change_request(number=first, contact="Ines", ship_to="Mill Road 4", parts=parts, **by(shop))
    pick_request(number=first, **by(shop))
    second = take(shop, shell, parts={}).number
    answer_request(number=second, answer="it was in the other bag", **told(shop), **by(shop))
    third = take(shop, shell, kind="companion", parts={}).number
    draft_companion(
        number=third, model=shop.model, quantity=1, due=shop.clock.date(), customer="Ines", **by(shop)
    )  # fmt: skip
    assert holds([shell])
    return shell


def test_every_field_of_a_request_is_held_against_its_records(shop: SmallShop, asked: Shell) -> None:
    first, second, third = CustomerRequest.objects.order_by("number")
    (other,) = shop.released("K-5")

    def put(field: str, value: Any, request: CustomerRequest = first) -> str:
        return f"UPDATE quality_customerrequest SET {field} = {value} WHERE id = {request.pk}"

    line = f"WHERE request_id = {first.pk}"
    mine, checker = f"request {first.number} says something else than its records: ", shop.checker.pk
    changes = {
        put("number", "'R-2026-0099'"): "request R-2026-0001 it tells of is missing",
        put("shell_id", other.pk): "request R-2026-0001 it tells of is missing",
        put("kind", "'spare'"): mine + "kind",
        put("said", "'nothing'"): mine + "what the customer says",
        put("contact", "'Somebody'"): mine + "who asks or where it goes",
        put("contact", "''"): mine + "who asks or where it goes",
        put("ship_to", "'Elsewhere'"): mine + "who asks or where it goes",
        put("address_salt", "''"): mine + "who asks or where it goes",
        put("state", "'open'"): mine + "state",
        put("state", "'sent'"): mine + "state",
        put("asked_at", OTHER_TIME): mine + "when it was taken",
        put("due_at", OTHER_TIME): mine + "when it is due",
        put("taken_by_id", checker): mine + "who took it",
        put("picked_by_id", checker): mine + "who picked it",
        put("picked_at", OTHER_TIME): mine + "when it was picked",
        put("closed_by_id", checker): mine + "who closed it",
        put("closed_at", OTHER_TIME): mine + "when it was closed",
        put("closed_by_id", checker, second): "who closed it",
        put("closed_at", OTHER_TIME, second): "when it was closed",
        put("answer", "'no'", second): "answer",
        put("cause_id", "NULL", second): "cause",
        put("caused_at_id", shop.stations["cut"].pk, second): "where it came from",
        put("caused_at_id", "NULL", second): "where it came from",
        put("from_outside", "TRUE", second): "where it came from",
        put("companion_order_id", other.order_id, third): "companion",
        put("companion_order_id", "NULL", third): "companion",
        put("companion_order_id", other.order_id): mine + "companion",
        f"UPDATE quality_requestline SET quantity = 40 {line}": mine + "parts",
        f"UPDATE quality_requestline SET part_name = 'lug' {line}": mine + "parts",
        f"UPDATE quality_requestline SET bag_name = '' {line}": mine + "parts",
        f"DELETE FROM quality_requestline {line}": mine + "parts",
        f"UPDATE quality_requestline SET request_id = {second.pk} {line}": f"{second.number} says something else",
        f"UPDATE quality_requestevent SET state = 'sent' {line}": mine + "what was done",
        f"UPDATE quality_requestevent SET at = {OTHER_TIME} {line}": mine + "what was done",
        f"UPDATE quality_requestevent SET person_name = 'Somebody' {line}": mine + "what was done",
        f"UPDATE quality_requestevent SET request_id = {second.pk} {line}": mine + "what was done",
        f"DELETE FROM quality_requestevent {line}": mine + "what was done",
    }
    assert not_found([asked], changes) == []
    assert holds([asked])


def test_a_request_that_no_record_tells_of_is_named(shop: SmallShop, asked: Shell) -> None:
    CustomerRequest.objects.create(
        number="R-2026-0077", shell=asked, kind="spare", said="x", asked_at=shop.clock, due_at=shop.clock,
        taken_by=shop.supervisor,
    )  # fmt: skip
    assert [broken.what for broken in verify_shell(Shell.objects.get(pk=asked.pk))] == [
        "request R-2026-0077 has no record"
    ]


def test_a_draft_that_was_deleted_breaks_nothing(asked: Shell) -> None:
    third = CustomerRequest.objects.get(number="R-2026-0003")
    assert third.companion_order is not None
    third.companion_order.delete()
    assert holds([asked])
