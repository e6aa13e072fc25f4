"""Requests in the office: the call, the list with the time left, what is done, the picking note, causes."""

from __future__ import annotations

import io
import re
from collections.abc import Callable
from datetime import date
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from openpyxl import load_workbook

from quality.figures import Span, findings_between
from quality.models import Bag, Carton, CartonDrum, CustomerRequest, Defect, Role, StockPart
from quality.requests import answer_request, change_request, pick_request
from routing.models import HardwareSet, Part, Shell, ShellRecord
from tests.quality.customer_requests import by, lost_part, take
from tests.shopfloor.paper import codes_of, pages_of
from tests.shopfloor.tablets import Clock, page, sign_through
from tests.small_shop import SmallShop

pytestmark = pytest.mark.django_db


def call(office: Client, drum: Shell, **fields: str) -> Any:
    said = {
        "tap_key": "t1",
        "revision": "1",
        "kind": "missing",
        "said": "two rods are not there",
        "contact": "Ines Vogel",
        "ship_to": "Mill Road 3\nHarrow",
        "part-0": "2",
        **fields,
    }
    return office.post(f"/requests/drum/{drum.serial}/", said)


def seen_on(office: Client, number: str) -> str:
    found = re.search(r'name="seen" value="([^"]*)"', page(office.get(f"/requests/{number}/")))
    assert found is not None
    return found[1]


def test_from_the_call_to_the_post(sold: Shell, office: Client, shop: SmallShop) -> None:
    found = office.get("/requests/find/", {"q": f" {sold.serial.lower()} "})
    assert found["Location"] == f"/requests/drum/{sold.serial}/"
    seen = page(office.get(found["Location"]))
    assert "Shipped <strong>2026-11-22</strong>" in seen and "12-24 UNC, 52 mm long" in seen
    assert "Final check by Chris Checker" in seen
    taken = call(office, sold)
    assert taken["Location"] == "/requests/R-2026-0001/"
    seen = page(office.get(taken["Location"]))
    assert "two rods are not there" in seen and "no record of who filled it" in seen
    assert office.post("/requests/R-2026-0001/pick/", {"tap_key": "t2"}).status_code == 302
    told = {"tap_key": "t3", "answer": "in the post", "cause": lost_part().pk, "caused_at": "pack"}
    assert office.post("/requests/R-2026-0001/send/", told)["Location"] == "/requests/"
    request = CustomerRequest.objects.get()
    assert (request.state, request.caused_at, request.answer) == ("sent", shop.stations["pack"], "in the post")
    assert "Nothing waits for an answer" in page(office.get("/requests/"))
    assert "R-2026-0001" in page(office.get("/requests/", {"state": "sent"}))
    assert "R-2026-0001, sent: 2 × tension rod" in page(office.get(f"/trace/{sold.serial}/"))


def test_an_address_from_a_scanner_opens_the_drum(sold: Shell, office: Client) -> None:
    found = office.get("/requests/find/", {"q": f"http://shop.example/s/{sold.serial}/?r=1"})
    assert found["Location"] == f"/requests/drum/{sold.serial}/"


@pytest.mark.parametrize("typed", ["", "SS260", "SS2600099X"])
def test_a_mistyped_serial_is_said_to_be_one(sold: Shell, office: Client, typed: str) -> None:
    answer = office.get("/requests/find/", {"q": typed})
    assert answer.status_code == 422
    assert 'role="alert"' in page(answer)


def test_the_same_tap_takes_one_request(sold: Shell, office: Client) -> None:
    assert call(office, sold)["Location"] == call(office, sold)["Location"]
    assert CustomerRequest.objects.count() == 1


@pytest.mark.parametrize(
    ("fields", "sentence"),
    [
        ({"said": " "}, "This field is required"),
        ({"kind": "refund"}, "Select a valid choice"),
        ({"part-0": "-1"}, "greater than or equal to 0"),
        ({"part-0": "two"}, "Enter a whole number"),
        ({"revision": "7"}, "The drum has spec revision 1 now"),
    ],
)
def test_what_was_typed_wrong_is_said(sold: Shell, office: Client, fields: dict[str, str], sentence: str) -> None:
    answer = call(office, sold, **fields)
    assert answer.status_code == 422
    assert sentence in page(answer)
    assert not CustomerRequest.objects.exists()


def test_a_missing_part_is_not_sent_without_its_cause(sold: Shell, office: Client, shop: SmallShop) -> None:
    number = take(shop, sold).number
    pick_request(number=number, **by(shop))
    answer = office.post(f"/requests/{number}/send/", {"tap_key": "x", "answer": "kept"})
    assert answer.status_code == 422
    assert "which defect was it?" in page(answer) and ">kept</textarea>" in page(answer).replace("\n", "")
    answer = office.post(f"/requests/{number}/send/", {"tap_key": "x", "cause": lost_part().pk})
    assert "Say where it came from" in page(answer)
    outside = {"tap_key": "x", "cause": lost_part().pk, "caused_at": "outside"}
    assert office.post(f"/requests/{number}/answer/", outside).status_code == 422, "no words"
    assert office.post(f"/requests/{number}/send/", outside).status_code == 302
    assert "outside the shop" in page(office.get(f"/requests/{number}/"))


def test_out_of_turn_nothing_changes(sold: Shell, office: Client, shop: SmallShop) -> None:
    number = take(shop, sold, kind="question", parts={}).number
    assert office.post(f"/requests/{number}/pick/", {"tap_key": "a"}).status_code == 422
    assert office.post(f"/requests/{number}/send/", {"tap_key": "b"}).status_code == 409
    assert office.post(f"/requests/{number}/reopen/", {"tap_key": "c", "reason": "x"}).status_code == 409
    assert office.post(f"/requests/{number}/answer/", {"tap_key": "d", "answer": "yes"}).status_code == 302
    assert office.post(f"/requests/{number}/answer/", {"tap_key": "d", "answer": "yes"}).status_code == 302
    late = office.post(f"/requests/{number}/answer/", {"tap_key": "e", "answer": "no"})
    assert late.status_code == 409 and "nothing was changed" in page(late)
    assert office.post(f"/requests/{number}/reopen/", {"tap_key": "f", "reason": ""}).status_code == 422
    assert office.post(f"/requests/{number}/reopen/", {"tap_key": "f", "reason": "asked again"}).status_code == 302
    assert CustomerRequest.objects.get().state == "open"
    assert "opened again, asked again" in page(office.get(f"/requests/{number}/"))


def test_the_address_and_the_parts_can_be_changed_until_they_are_picked(
    sold: Shell, office: Client, shop: SmallShop
) -> None:
    number = take(shop, sold, ship_to="", parts={}).number
    changed = {"tap_key": "a", "revision": "1", "contact": "Ines", "ship_to": "Elsewhere 4", "part-0": "3"}
    changed["seen"] = seen_on(office, number)
    assert office.post(f"/requests/{number}/change/", changed).status_code == 302
    assert office.post(f"/requests/{number}/change/", {**changed, "part-0": "x"}).status_code == 422
    request = CustomerRequest.objects.get()
    assert (request.ship_to, [str(line) for line in request.lines.all()]) == ("Elsewhere 4", ["3 × tension rod"])
    changed |= {"tap_key": "b", "ship_to": "Long Row 5", "seen": seen_on(office, number)}
    pick_request(number=number, **by(shop))
    late = office.post(f"/requests/{number}/change/", changed)
    assert late.status_code == 409 and "is picked since" in page(late)
    # What was typed is not lost, though there is nothing to type it into any more.
    assert "What you typed, not saved" in page(late) and "Long Row 5" in page(late)
    assert CustomerRequest.objects.get().ship_to == "Elsewhere 4"


def test_who_changes_what_somebody_else_changed_is_told_and_loses_nothing(
    sold: Shell, office: Client, shop: SmallShop
) -> None:
    number = take(shop, sold).number
    where = f"/requests/{number}/change/"
    typed = {"tap_key": "a", "revision": "1", "contact": "Ines", "ship_to": "Long Row 5", "part-0": "4"}
    typed["seen"] = seen_on(office, number)
    change_request(number=number, contact="Ines Vogel", ship_to="Mill Road 7", parts={}, **by(shop))
    late = office.post(where, typed)
    assert late.status_code == 409
    seen = page(late)
    assert f"Sam Supervisor changed {number} at" in seen and "save again to put yours in its place" in seen
    assert "Mill Road 7" in seen  # as it stands now
    assert "Long Row 5</textarea>" in seen and 'value="4"' in seen  # as it was typed
    request = CustomerRequest.objects.get()
    assert (request.ship_to, request.lines.count()) == ("Mill Road 7", 0)
    again = re.search(r'name="seen" value="([^"]*)"', seen)
    assert again is not None and again[1] != typed["seen"]
    assert office.post(where, typed | {"seen": again[1], "tap_key": "b"}).status_code == 302
    # The same tap once more changes nothing and is no lost race.
    assert office.post(where, typed | {"seen": again[1], "tap_key": "b"}).status_code == 302
    request.refresh_from_db()
    assert (request.ship_to, request.lines.get().quantity) == ("Long Row 5", 4)


def test_who_asked_is_forgotten_by_a_button_when_it_is_closed(sold: Shell, office: Client, shop: SmallShop) -> None:
    number = take(shop, sold, kind="question", parts={}).number
    where = f"/requests/{number}/"
    assert "Yes, forget it" not in page(office.get(where))
    assert office.post(f"{where}forget/", {"tap_key": "f"}).status_code == 409
    answer_request(number=number, answer="14 in heads", **by(shop))
    assert "Yes, forget it" in page(office.get(where))
    for _ in range(2):
        assert office.post(f"{where}forget/", {"tap_key": "g"}).status_code == 302
    seen = page(office.get(where))
    assert "Ines" not in seen and "Mill Road" not in seen and "who asked is forgotten" in seen
    assert "Yes, forget it" not in seen
    assert office.get(f"{where}forget/").status_code == 405


def test_a_shelf_below_zero_is_said_and_keeps_nothing_back(sold: Shell, office: Client, shop: SmallShop) -> None:
    rods = StockPart.objects.create(name="tension rod", on_hand=1)
    number = take(shop, sold).number
    picked = office.post(f"/requests/{number}/pick/", {"tap_key": "p"}, follow=True)
    assert "tension rod: the shelf says -1 now. Count it again" in page(picked)
    rods.refresh_from_db()
    assert rods.on_hand == -1
    told = {"tap_key": "s", "answer": "in the post", "cause": lost_part().pk, "caused_at": "pack"}
    office.post(f"/requests/{number}/send/", told)
    seen = page(office.get(f"/requests/{number}/"))
    assert "The parts came back and lie on the shelf again" in seen
    back = {"tap_key": "r", "reason": "the parcel came back", "came_back": "on"}
    assert office.post(f"/requests/{number}/reopen/", back).status_code == 302
    rods.refresh_from_db()
    assert rods.on_hand == 1


def test_late_ones_stand_first_and_say_how_late(
    sold: Shell, signed_in: Callable[[Role], Client], shop: SmallShop, clock: Clock
) -> None:
    first = take(shop, sold, kind="spare").number  # on a Sunday: counts from Monday morning
    clock.wait(days=1)  # 10:00 by the shop's clock
    second = take(shop, sold, kind="question", said="which heads fit?").number
    seen = page(signed_in(Role.OFFICE).get("/requests/"))
    assert seen.index(first) < seen.index(second)
    assert "6 h of work left" in seen and "8 h of work left" in seen and "late by" not in seen
    clock.wait(hours=23)
    office = signed_in(Role.OFFICE)
    seen = page(office.get("/requests/"))
    assert "late by 1 h" in seen and "1 h of work left" in seen
    assert seen.index(first) < seen.index(second)
    assert second not in page(office.get("/requests/", {"kind": "spare"}))
    assert first not in page(office.get("/requests/", {"words": second}))
    assert first in page(office.get("/requests/", {"words": "harrow lane"}))


def test_the_list_asks_as_often_for_one_as_for_many(sold: Shell, office: Client, shop: SmallShop) -> None:
    take(shop, sold)
    with CaptureQueriesContext(
        connection,
    ) as one:
        office.get("/requests/")
    for _ in range(5):
        take(shop, sold)
    with CaptureQueriesContext(connection) as many:
        office.get("/requests/")
    assert len(many) == len(one)
    number = CustomerRequest.objects.earliest("pk").number
    for name in ("rim", "claw"):
        Part.objects.create(hardware=HardwareSet.objects.get(), name=name, bag=name, quantity=1, unit_mass_g=1)
    with CaptureQueriesContext(connection) as page_of_one:
        office.get(f"/requests/{number}/")
    assert len(page_of_one) < 40


def test_the_bag_and_its_carton_stand_beside_the_missing_part(sold: Shell, office: Client, shop: SmallShop) -> None:
    Bag.objects.create(
        shell=sold, name="rods", state="checked", contents=[], spec_revision=1, filled_by=shop.worker,
        filled_at=shop.clock, checked_how="count", checked_by=shop.checker, checked_at=shop.clock, counts=[20],
    )  # fmt: skip
    carton = Carton.objects.create(
        order=sold.order, number=1, of=2, gross_g=9000, closed_by=shop.worker, closed_at=shop.clock
    )
    record = ShellRecord.objects.filter(shell=sold).latest("sequence")
    CartonDrum.objects.create(carton=carton, shell=sold, place=1, record=record)
    for where in (f"/requests/drum/{sold.serial}/", call(office, sold)["Location"]):
        seen = page(office.get(where))
        assert "filled by Wanda Worker" in seen and "checked by Chris Checker" in seen
        assert "(counted: 20)" in seen and "carton 1 of 2, closed by Wanda Worker" in seen


def test_the_picking_note_says_what_to_take_and_where_it_goes(sold: Shell, office: Client, shop: SmallShop) -> None:
    number = take(shop, sold).number
    answer = office.get(f"/requests/{number}/note.pdf")
    assert answer["Content-Type"] == "application/pdf"
    (only,) = pages_of(answer.content)
    for words in (number, sold.serial, "Heron satin", "tension rod", "12-24 UNC, 52 mm long", "rods", "Mill Road 3",
                  "Sam Supervisor", "34.0 g"):  # fmt: skip
        assert words in only, words
    assert codes_of(answer.content) == [f"http://testserver/requests/{number}/"]
    empty = take(shop, sold, kind="question", parts={}).number
    assert office.get(f"/requests/{empty}/note.pdf").status_code == 422


def test_the_list_as_a_file(sold: Shell, office: Client, shop: SmallShop) -> None:
    take(shop, sold, said="=1+1")
    lines = office.get("/requests/requests.csv").content.decode("utf-8-sig").splitlines()
    assert lines[0].startswith("Number,State,Kind,Serial")
    assert "R-2026-0001,open,a part is missing" in lines[1] and "'=1+1" in lines[1] and "2 × tension rod" in lines[1]
    sheet = load_workbook(io.BytesIO(office.get("/requests/requests.xlsx").content)).active
    assert sheet is not None and sheet["A2"].value == "R-2026-0001"
    assert office.get("/requests/requests.pdf").status_code == 404


def test_causes_are_counted_by_defect_and_station(sold: Shell, office: Client, shop: SmallShop) -> None:
    dent = Defect.objects.create(code="D913", name="finish marked by its packing")
    for cause, place in ((lost_part(), "pack"), (lost_part(), "assemble"), (dent, "")):
        station = shop.stations.get(place)
        answer_request(
            number=take(shop, sold).number, answer="x", cause=cause, caused_at=station, from_outside=station is None,
            **by(shop),
        )  # fmt: skip
    take(shop, sold, kind="question")
    seen = " ".join(page(office.get("/requests/causes/")).split())
    assert '<th scope="row">D908 part missing</th><td class="number">2</td>' in seen
    assert '<th scope="row">outside the shop</th><td class="number">1</td>' in seen
    assert "1 of 4 without a cause" in seen
    assert "Nobody asked anything" in page(
        office.get("/requests/causes/", {"first": "2025-01-01", "last": "2025-02-01"})
    )
    wrong = office.get("/requests/causes/", {"first": "2026-02-01", "last": "2026-01-01"})
    assert wrong.status_code == 422 and "lies before the first" in page(wrong)


@pytest.mark.parametrize("day", ["0001-01-01", "1899-12-31", "2200-01-01", "9999-12-31"])
@pytest.mark.parametrize("name", ["first", "last"])
def test_a_day_in_another_age_is_a_mistyped_one(office: Client, shop: SmallShop, name: str, day: str) -> None:
    answer = office.get("/requests/causes/", {name: day})
    assert answer.status_code == 422 and "look at the year" in page(answer)


def test_the_trace_page_offers_it_to_whoever_may(shop: SmallShop, signed_in: Callable[[Role], Client]) -> None:
    (shell,) = shop.released()
    for role, offered in ((Role.OFFICE, True), (Role.SUPERVISOR, True), (Role.WORKER, False)):
        seen = page(signed_in(role).get(f"/trace/{shell.serial}/"))
        assert (f"/requests/drum/{shell.serial}/" in seen) == offered, role


def test_what_is_not_there_is_not_found(shop: SmallShop, office: Client) -> None:
    assert office.get("/requests/R-2026-0009/").status_code == 404
    assert office.get("/requests/drum/SS2600001X/").status_code == 404
    for step in ("pick", "send", "answer", "reopen", "change"):
        assert office.post(f"/requests/R-2026-0009/{step}/", {}).status_code == 404


def test_a_drum_that_never_left_says_so(shop: SmallShop, office: Client) -> None:
    (shell,) = shop.released()
    sign_through(shop, shell, 2)
    seen = page(office.get(f"/requests/drum/{shell.serial}/"))
    assert "Not shipped: in production" in seen and "there is no final check" in seen


def test_a_cause_without_a_place_is_not_from_outside(sold: Shell, office: Client, shop: SmallShop) -> None:
    closed = take(shop, sold, kind="question", parts={})
    answer_request(number=closed.number, answer="x", cause=lost_part(), caused_at=None, from_outside=False, **by(shop))
    assert "came from: not known yet" in page(office.get(f"/requests/{closed.number}/"))
    assert "outside the shop" not in page(office.get("/requests/causes/"))
    (found,) = findings_between(Span(date(2026, 1, 1), date(2027, 12, 31)))
    assert found.caused_at == "pack"  # where such a defect usually comes from


def test_what_came_from_outside_is_counted_there(sold: Shell, office: Client, shop: SmallShop) -> None:
    closed = take(shop, sold, kind="question", parts={})
    answer_request(number=closed.number, answer="x", cause=lost_part(), caused_at=None, from_outside=True, **by(shop))
    (found,) = findings_between(Span(date(2026, 1, 1), date(2027, 12, 31)))
    assert found.caused_at == "outside the shop"
