"""Customers' requests: numbered at once, one step after the other, each on the drum's record, also long after it left."""

from __future__ import annotations

from datetime import UTC, date, datetime
from typing import Any

import pytest
from django.db import DatabaseError, connection, transaction

from quality.errors import NotQualified, QualityError
from quality.figures.findings import findings_between
from quality.figures.span import Span
from quality.models import CustomerRequest, RequestEvent, RequestState, Role, StockMove, StockPart
from quality.request_rows import note_event
from quality.requests import (
    answer_request,
    change_request,
    due_after,
    forget_customer,
    pick_request,
    reopen_request,
    send_request,
    take_request,
)
from quality.trace import story_of
from quality.verification import verify_shell
from routing.errors import LostRace
from routing.history import lock_shell
from routing.models import RecordKind, Shell, ShellRecord
from tests.quality.customer_requests import RODS, by, lost_part, shipped, take, told
from tests.quality.test_races import at_once
from tests.small_shop import SmallShop, person, small_shop

pytestmark = pytest.mark.django_db


def kinds(shell: Shell) -> list[str]:
    return [record.kind for record in ShellRecord.objects.filter(shell=shell).order_by("sequence")][-4:]


def test_a_missing_part_goes_from_the_phone_to_the_post(shop: SmallShop) -> None:
    shell = shipped(shop)
    request = take(shop, shell)
    assert (request.number, request.state) == ("R-2026-0001", RequestState.OPEN)
    assert [(line.bag_name, line.part_name, line.quantity) for line in request.lines.all()] == [
        ("rods", "tension rod", 2)
    ]
    shop.wait(hours=1)
    pick_request(number=request.number, **by(shop))
    shop.wait(hours=1)
    sent = send_request(number=request.number, answer="in the post", **told(shop), **by(shop))
    assert (sent.state, sent.closed_by, sent.picked_by) == ("sent", shop.supervisor, shop.supervisor)
    assert kinds(shell) == ["shipped", "request", "picked", "answered"]
    assert [event.state for event in sent.events.all()] == ["open", "picked", "sent"]
    assert list(verify_shell(Shell.objects.get(pk=shell.pk))) == []
    story = [event.detail for event in story_of(shell).events][-3:]
    assert story[0] == "R-2026-0001, a part is missing: two rods are not in the bag. To send: 2 × tension rod"
    assert story[1] == "R-2026-0001: 2 × tension rod"
    assert story[2] == ("R-2026-0001, sent: 2 × tension rod. in the post. Why: D908 part missing, from pack")


def test_the_customers_name_and_address_stay_out_of_the_chain(shop: SmallShop) -> None:
    shell = shipped(shop)
    request = take(shop, shell)
    pick_request(number=request.number, **by(shop))
    send_request(number=request.number, **told(shop), **by(shop))
    for record in ShellRecord.objects.filter(shell=shell):
        assert "Ines" not in str(record.body) and "Mill Road" not in str(record.body)


def test_it_is_found_where_findings_are_counted(shop: SmallShop) -> None:
    request = take(shop, shipped(shop))
    span = Span(date(2026, 1, 1), date(2027, 12, 31))
    assert findings_between(span) == []
    answer_request(number=request.number, answer="they were in the other bag", **told(shop), **by(shop))
    (finding,) = findings_between(span)
    assert (finding.defect, finding.found_at, finding.caused_at) == ("part missing", "the customer", "pack")


@pytest.mark.parametrize("step", [send_request, answer_request])
def test_a_missing_part_is_not_closed_without_its_cause(shop: SmallShop, step: Any) -> None:
    request = take(shop, shipped(shop))
    pick_request(number=request.number, **by(shop))
    for given, code in (
        ({}, "cause_missing"),
        ({"caused_at": shop.stations["pack"]}, "cause_missing"),
        ({"cause": lost_part()}, "station_missing"),
        ({**told(shop), "from_outside": True}, "station_or_outside"),
    ):
        with pytest.raises(QualityError) as refused:
            step(number=request.number, answer="sorry", **given, **by(shop))
        assert refused.value.code == code
    step(number=request.number, answer="sorry", cause=lost_part(), from_outside=True, **by(shop))
    assert ShellRecord.objects.latest("pk").body["caused_at"] == "outside the shop"


def test_a_question_is_answered_with_words_alone(shop: SmallShop) -> None:
    request = take(shop, shipped(shop), kind="question", parts={}, ship_to="")
    with pytest.raises(QualityError, match="what the customer was told"):
        answer_request(number=request.number, answer="  ", **by(shop))
    answered = answer_request(number=request.number, answer="14 in heads", **by(shop))
    assert (answered.state, answered.cause, answered.answer) == ("answered", None, "14 in heads")


def test_the_same_tap_counts_once(shop: SmallShop) -> None:
    shell = shipped(shop)
    number = take(shop, shell, key="a").number
    assert take(shop, shell, key="a").number == number
    for step, key, more in (
        (pick_request, "b", {}),
        (send_request, "c", told(shop)),
        (reopen_request, "d", {"reason": "came back"}),
        (answer_request, "e", {"answer": "done", **told(shop)}),
    ):
        once = step(number=number, **more, **by(shop, key))
        again = step(number=number, **more, **by(shop, key))
        assert once.state == again.state
    assert CustomerRequest.objects.count() == 1
    assert RequestEvent.objects.count() == 5
    with pytest.raises(LostRace, match="used for something else"):
        pick_request(number=number, **by(shop, "a"))
    other = take(shop, shell, key="f").number
    with pytest.raises(LostRace, match="another request"):
        pick_request(number=other, **by(shop, "b"))


def test_each_step_has_its_turn(shop: SmallShop) -> None:
    number = take(shop, shipped(shop)).number
    with pytest.raises(LostRace, match=r"R-2026-0001 is open since \d\d:00 on 2026-11-22, by Sam Supervisor"):
        send_request(number=number, **told(shop), **by(shop))
    with pytest.raises(LostRace):
        reopen_request(number=number, reason="no", **by(shop))
    pick_request(number=number, **by(shop))
    for late in (
        lambda: pick_request(number=number, **by(shop)),
        lambda: change_request(number=number, contact="", ship_to="", parts={}, **by(shop)),
    ):
        with pytest.raises(LostRace):
            late()
    send_request(number=number, **told(shop), **by(shop))
    with pytest.raises(LostRace, match="is sent"):
        answer_request(number=number, answer="x", **told(shop), **by(shop))


def test_opened_again_it_has_a_new_time_and_nobody_picked_it(shop: SmallShop) -> None:
    request = take(shop, shipped(shop))
    pick_request(number=request.number, **by(shop))
    send_request(number=request.number, **told(shop), **by(shop))
    shop.wait(days=7)
    with pytest.raises(QualityError, match="Say why"):
        reopen_request(number=request.number, reason=" ", **by(shop))
    again = reopen_request(number=request.number, reason="the parcel came back", **by(shop))
    assert (again.state, again.picked_by, again.closed_at) == ("open", None, None)
    assert again.due_at == due_after(shop.clock) > request.due_at
    assert again.lines.count() == 1
    pick_request(number=request.number, **by(shop))
    shop.wait(hours=3)
    assert reopen_request(number=request.number, reason="wrong bag", **by(shop)).due_at == again.due_at


def test_only_what_is_on_the_parts_list_is_sent(shop: SmallShop) -> None:
    shell = shipped(shop)
    for parts, code in (
        ({("rods", "claw"): 1}, "unknown_part"),
        ({("", "tension rod"): 1}, "unknown_part"),
        ({("rods", "tension rod"): 401}, "quantity"),
        ({("rods", "tension rod"): -1}, "quantity"),
    ):
        with pytest.raises(QualityError) as refused:
            take(shop, shell, parts=parts)
        assert refused.value.code == code
    assert not CustomerRequest.objects.exists()
    nothing = take(shop, shell, parts={("rods", "tension rod"): 0})
    with pytest.raises(QualityError, match="Choose the parts"):
        pick_request(number=nothing.number, **by(shop))
    nowhere = change_request(number=nothing.number, contact="", ship_to=" ", parts=RODS, **by(shop))
    with pytest.raises(QualityError, match="where the parts go"):
        pick_request(number=nowhere.number, **by(shop))


def test_a_change_is_on_the_record_and_no_change_is_none(shop: SmallShop) -> None:
    shell = shipped(shop)
    request = take(shop, shell)

    def records() -> list[dict[str, Any]]:
        return [record.body for record in ShellRecord.objects.filter(shell=shell, body__changed=True).order_by("pk")]

    change_request(number=request.number, contact=request.contact, ship_to=request.ship_to, parts=RODS, **by(shop))
    assert records() == []
    change_request(number=request.number, contact="Ines", ship_to="Elsewhere", parts=RODS, **by(shop))
    change_request(number=request.number, contact="Ines", ship_to="Elsewhere", parts={}, **by(shop))
    change_request(number=request.number, contact="Ines", ship_to="Here", parts=RODS, **by(shop))
    assert [body["what"] for body in records()] == ["the address", "the parts", "the address and the parts"]
    assert "Elsewhere" not in str(records())
    assert [event.detail for event in story_of(shell).events][-3:] == [
        "R-2026-0001: who asks, or where it goes, was changed",
        "R-2026-0001, to send: nothing",
        "R-2026-0001, to send: 2 × tension rod",
    ]
    assert list(verify_shell(Shell.objects.get(pk=shell.pk))) == []


def shelf(name: str = "tension rod") -> int:
    return StockPart.objects.get(name=name).on_hand


def test_picked_parts_leave_the_shelf_and_come_back_when_it_is_undone(shop: SmallShop) -> None:
    shell = shipped(shop)
    StockPart.objects.create(name="tension rod", on_hand=3)
    number = take(shop, shell).number
    for _ in range(2):
        pick_request(number=number, **by(shop, "p"))
    assert shelf() == 1  # the same tap takes them once
    for _ in range(2):
        reopen_request(number=number, reason="wrong drawer", **by(shop, "r"))
    assert shelf() == 3
    pick_request(number=number, **by(shop))
    answer_request(number=number, answer="found after all", **told(shop), **by(shop))
    assert shelf() == 3
    reopen_request(number=number, reason="not found", came_back=True, **by(shop))
    assert shelf() == 3  # nothing was out
    pick_request(number=number, **by(shop))
    send_request(number=number, **told(shop), **by(shop))
    reopen_request(number=number, reason="lost by the carrier", **by(shop))
    assert shelf() == 1  # gone is gone
    pick_request(number=number, **by(shop))
    assert shelf() == -1
    send_request(number=number, **told(shop), **by(shop))
    reopen_request(number=number, reason="came back", came_back=True, **by(shop))
    assert shelf() == 1
    moves = StockMove.objects.filter(request__number=number).order_by("pk")
    assert [move.change for move in moves] == [-2, 2, -2, 2, -2, -2, 2]
    assert moves[0].reason == f"{number} for {shell.serial}" and moves[1].reason.endswith(", back")
    picked = ShellRecord.objects.filter(shell=shell, kind="picked").latest("pk")
    assert picked.body["taken"] == {"tension rod": 2}
    assert [event.detail for event in story_of(shell).events][-1] == (
        f"{number} was sent and is opened again: came back. Back to the shelf: 2 tension rod"
    )
    assert list(verify_shell(Shell.objects.get(pk=shell.pk))) == []


def test_a_part_that_nobody_counted_has_no_number_to_go_down(shop: SmallShop) -> None:
    shell = shipped(shop)
    number = take(shop, shell).number
    pick_request(number=number, **by(shop))
    assert ShellRecord.objects.get(shell=shell, kind="picked").body["taken"] == {}
    assert not StockMove.objects.exists()


def test_what_was_picked_before_the_shelf_was_told_is_not_put_back(shop: SmallShop) -> None:
    shell = shipped(shop)
    number = take(shop, shell).number
    StockPart.objects.create(name="tension rod", on_hand=3)
    request = CustomerRequest.objects.get()
    request.state, request.picked_by, request.picked_at = RequestState.PICKED, shop.supervisor, shop.clock
    request.save()
    parts = [{"bag": "rods", "part": "tension rod", "quantity": 2}]
    note_event(request, lock_shell(shell.serial), RecordKind.PICKED, by(shop)["stamp"], {"parts": parts})
    reopen_request(number=number, reason="wrong drawer", **by(shop))
    assert shelf() == 3


def test_who_asked_can_be_forgotten_and_the_record_holds(shop: SmallShop) -> None:
    shell = shipped(shop)
    number = take(shop, shell).number
    with pytest.raises(LostRace, match="is open"):
        forget_customer(number=number, **by(shop))
    answer_request(number=number, answer="found", **told(shop), **by(shop))
    for key in ("f", "f", "g"):
        forgotten = forget_customer(number=number, **by(shop, key))
    assert (forgotten.contact, forgotten.ship_to, forgotten.address_salt) == ("", "", "")
    assert [event.detail for event in story_of(shell).events][-2:] == [
        f"{number}, answered: found. Why: D908 part missing, from pack",
        f"{number}: who asked, and where it went, is forgotten",
    ]
    assert list(verify_shell(Shell.objects.get(pk=shell.pk))) == []
    # Without the action it would not hold: nobody blanks an address unseen.
    other = take(shop, shell).number
    CustomerRequest.objects.filter(number=other).update(contact="", ship_to="", address_salt="")
    assert [other in broken.what for broken in verify_shell(Shell.objects.get(pk=shell.pk))] == [True]


def test_one_address_twice_leaves_two_digests(shop: SmallShop) -> None:
    """Who reads the chain can't tell that two requests come from one customer."""
    shell = shipped(shop)
    first, second = take(shop, shell), take(shop, shell)
    assert (first.contact, first.ship_to) == (second.contact, second.ship_to)
    assert first.address_digest != second.address_digest


def test_numbers_begin_anew_each_year(shop: SmallShop) -> None:
    shell = shipped(shop)
    assert [take(shop, shell).number for _ in range(2)] == ["R-2026-0001", "R-2026-0002"]
    shop.clock = datetime(2027, 3, 1, 9, tzinfo=UTC)
    assert take(shop, shell).number == "R-2027-0001"


def test_a_worker_takes_no_requests(shop: SmallShop) -> None:
    shell = shipped(shop)
    number = take(shop, shell).number
    worker: dict[str, Any] = {"person": shop.worker, "stamp": shop.stamp(shop.worker)}
    for step in (
        lambda: take_request(serial=shell.serial, kind="spare", said="x", **worker),
        lambda: change_request(number=number, contact="", ship_to="", parts={}, **worker),
        lambda: pick_request(number=number, **worker),
        lambda: send_request(number=number, **worker),
        lambda: answer_request(number=number, answer="x", **worker),
        lambda: reopen_request(number=number, reason="x", **worker),
        lambda: forget_customer(number=number, **worker),
    ):
        with pytest.raises(NotQualified, match="may not take and answer"):
            step()
    clerk = person("olive-office", Role.OFFICE)
    assert take(shop, shell, person=clerk).taken_by == clerk


@pytest.mark.parametrize(("fields", "code"), [({"kind": "refund"}, "kind"), ({"said": "  "}, "nothing_said")])
def test_what_can_be_put_right_is_said(shop: SmallShop, fields: dict[str, Any], code: str) -> None:
    shell = shipped(shop)
    with pytest.raises(QualityError) as refused:
        take(shop, shell, **fields)
    assert refused.value.code == code


def test_what_happened_to_a_request_is_never_changed(shop: SmallShop) -> None:
    take(shop, shipped(shop))
    with pytest.raises(DatabaseError), transaction.atomic():
        RequestEvent.objects.update(person_name="Somebody")
    with pytest.raises(DatabaseError), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("DELETE FROM quality_requestevent")


@pytest.mark.django_db(transaction=True)
def test_two_clerks_at_once_get_two_numbers() -> None:
    shop = small_shop()
    shell = shipped(shop)
    assert at_once(*[lambda: take(shop, shell)] * 6) == {"done": 6}
    numbers = list(CustomerRequest.objects.order_by("number").values_list("number", flat=True))
    assert numbers == [f"R-2026-000{n}" for n in range(1, 7)]
    assert list(verify_shell(Shell.objects.get(pk=shell.pk))) == []


@pytest.mark.django_db(transaction=True)
def test_one_tap_on_its_way_twice_makes_one_request() -> None:
    shop = small_shop()
    shell = shipped(shop)
    assert at_once(*[lambda: take(shop, shell, key="twin")] * 4) == {"done": 4}
    assert CustomerRequest.objects.count() == RequestEvent.objects.count() == 1


@pytest.mark.django_db(transaction=True)
def test_several_people_close_a_request_once() -> None:
    shop = small_shop()
    number = take(shop, shipped(shop), kind="question").number
    ended = at_once(*[lambda: answer_request(number=number, answer="yes", **by(shop))] * 4)
    assert ended == {"done": 1, "other_state": 3}
