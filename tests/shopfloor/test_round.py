"""The guided round of the demo shop: six stops on the real screens, each found done from the record."""

from __future__ import annotations

import threading
from datetime import timedelta
from itertools import pairwise
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from quality.actions import final_check_of
from quality.checks import checks_for
from quality.errors import QualityError
from quality.models import CustomerRequest, DaySeal, GlueBatch, Person, Problem, Qualification, SignOff
from quality.requests import take_request
from quality.seal import broken_seals, seal_days
from quality.verification import verify_shell
from routing.errors import LostRace
from routing.frozen import current_spec
from routing.models import Glue, KitOrder, Operation, Shell, ShellRecord, ShellState, Shop
from shopfloor.demo.loading import load_demo
from shopfloor.demo.walking import passing
from shopfloor.start.begin import RoundRefused, begin_round, leave_round
from shopfloor.start.round import PLACE, STOPS, present_round
from tests.shopfloor.tablets import Tablet, page
from tests.small_shop import SmallShop

ROUND = "/start/round/"


@pytest.fixture
def greta(db: None) -> Client:
    """The supervisor of the demo shop, at her desk."""
    load_demo(now=timezone.now(), today=timezone.localdate())
    client = Client()
    client.force_login(Person.objects.get(username="greta"))
    return client


def present(client: Client) -> str:
    """The code of the stop that the page shows as the next."""
    stop = client.get(ROUND).context["stop"]
    return stop.code if stop else ""


def drums() -> list[Shell]:
    return list(Shell.objects.order_by("pk"))


def test_six_stops_of_real_work(greta: Client, papers_made: None) -> None:
    assert "Begin the round" in page(greta.get(ROUND))
    assert greta.post(reverse("start:begin"))["Location"] == ROUND
    fresh, checked, packed = drums()
    assert [shell.state for shell in drums()] == [ShellState.PLANNED, ShellState.FINISHED, ShellState.PACKED]

    assert present(greta) == "sign"
    shown = page(greta.get(ROUND))
    assert "Use this browser as a tablet" in shown and "Bram Coppicewood" in shown and "204681" in shown
    tablet = Tablet("cut", greta)
    assert reverse("floor:step", args=["cut", fresh.serial]) in page(greta.get(ROUND))
    assert tablet.sign_in(Person.objects.get(username="bram"), "204681").status_code == 302
    assert "Guided round, stop 1 of 6: Sign a step" in page(tablet.get("step", fresh.serial))
    assert tablet.tap("sign", fresh, **answers(fresh)).status_code == 302

    assert present(greta) == "hold"
    press = Tablet("press", greta)
    assert reverse("floor:step", args=["press", fresh.serial]) in page(greta.get(ROUND))
    assert "Something is wrong" in page(press.get("step", fresh.serial))
    assert press.tap("problem", fresh, 2, text="a plate is split").status_code == 302

    assert present(greta) == "settle"
    assert "Guided round, stop 3 of 6" in page(greta.get("/board/"))
    greta.post(reverse("trace:settle", args=[fresh.serial]), {"settlement": "glued and clamped, looks sound"})

    assert present(greta) == "card"
    card = greta.post(reverse("card:print", args=[checked.serial]))
    assert card["Content-Type"] == "application/pdf"

    assert present(greta) == "trace"
    for name in ("", "Bram Coppicewood"):
        wrong = greta.post(reverse("start:traced"), {"name": name})
        assert wrong.status_code == 422 and packed.serial in wrong.context["wrong_name"]
    assert present(greta) == "trace"
    final = final_check_of(packed)
    assert final is not None
    assert final.person.name in page(greta.get(reverse("trace:shell", args=[packed.serial])))
    greta.post(reverse("start:traced"), {"name": f"  {final.person.name.upper()} "})

    assert present(greta) == "answer"
    asked = CustomerRequest.objects.get()
    answer = {"answer": "14 inches; the wall is 7 mm."}
    assert greta.post(reverse("requests:answer", args=[asked.number]), answer).status_code == 302

    assert present(greta) == ""
    assert "The round is done" in page(greta.get(ROUND))
    assert "The guided round is done" in page(greta.get("/board/"))
    assert [list(verify_shell(shell)) for shell in drums()] == [[], [], []]
    greta.post(reverse("start:leave"))
    assert "Begin the round" in page(greta.get(ROUND))
    assert "Take the guided round" in page(greta.get("/board/"))


def answers(shell: Shell) -> dict[str, str]:
    """What the step page of the first step sends, every check passed."""
    step = Operation.objects.select_related("station", "shell__model", "shell__finish").get(shell=shell, position=1)
    results = current_spec(shell).results
    return {f"check-{check.key}": passing(check, results) for check in checks_for(step, step.shell, results)}


def test_what_is_dated_back_holds_and_lies_in_the_past(greta: Client) -> None:
    greta.post(reverse("start:begin"))
    now = timezone.now()
    walked = ShellRecord.objects.filter(device=PLACE)
    assert walked.count() > 20
    assert all(now - timedelta(days=11) < record.received_at <= now for record in walked)
    signed = SignOff.objects.order_by("operation__shell", "operation__position")
    assert all(7 <= timezone.localtime(each.at).hour <= 16 for each in signed)
    for one, other in pairwise(signed):
        if one.operation.shell_id == other.operation.shell_id:
            dwell = timedelta(minutes=one.record.body["dwell_minutes"])
            assert one.at + dwell <= other.at
    assert all(not list(verify_shell(shell)) for shell in drums())
    assert "351 / 351 / 351 / 351 mm" in page(greta.get(f"/trace/{drums()[1].serial}/"))  # the shell's own diameter
    assert seal_days(now=now)
    assert list(broken_seals()) == []


def test_a_round_is_begun_whole_or_not_at_all(greta: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    def busy(**_: Any) -> None:
        raise QualityError("busy", "The telephone is out of order.")

    monkeypatch.setattr("shopfloor.start.begin.take_request", busy)
    answer = greta.post(reverse("start:begin"))
    assert answer.status_code == 409 and "The telephone is out of order." in page(answer)
    assert not KitOrder.objects.exists() and not SignOff.objects.exists()
    assert Shop.current().round_order == ""


def test_a_round_that_is_on_is_not_begun_twice(greta: Client) -> None:
    assert greta.post(reverse("start:begin")).status_code == 302
    twice = greta.post(reverse("start:begin"))
    assert twice.status_code == 409
    assert "A round is on already; go on with it, or leave it first." in page(twice)
    assert present(greta) == "sign" and KitOrder.objects.count() == 1
    greta.post(reverse("start:leave"))
    assert greta.post(reverse("start:begin")).status_code == 302
    found = present_round(Shop.current())
    assert found is not None and found.order.number == "ROUND-2" and found.done == 0
    assert len(found.stops) == STOPS
    assert Shell.objects.count() == 6


@pytest.mark.django_db(transaction=True)
def test_of_two_who_begin_at_once_one_is_told_that_a_round_is_on(greta: Client) -> None:
    said: list[str] = []

    def begins() -> None:
        try:
            begin_round(by=Person.objects.get(username="greta"), now=timezone.now())
        except RoundRefused as refused:
            said.append(str(refused))
        finally:
            connection.close()

    both = [threading.Thread(target=begins) for _ in range(2)]
    for each in both:
        each.start()
    for each in both:
        each.join(60)
    assert said == ["A round is on already; go on with it, or leave it first."]
    assert KitOrder.objects.count() == 1


def test_the_line_on_top_asks_only_as_far_as_the_present_stop(greta: Client) -> None:
    def asked(address: str) -> str:
        with CaptureQueriesContext(connection) as counted:
            greta.get(address)
        return " ".join(each["sql"] for each in counted.captured_queries)

    greta.post(reverse("start:begin"))
    tables = [model._meta.db_table for model in (Problem, CustomerRequest, Qualification)]
    above = asked("/glossary/")
    assert SignOff._meta.db_table in above and not any(table in above for table in tables)
    assert all(table in asked(ROUND) for table in tables), "the page asks about all of it"


def test_nothing_is_added_to_days_that_are_sealed(greta: Client) -> None:
    greta.post(reverse("start:begin"))
    greta.post(reverse("start:leave"))
    seal_days(now=timezone.now())
    answer = greta.post(reverse("start:begin"))
    assert answer.status_code == 409
    assert "sealed already" in page(answer) and "load the demo shop anew" in page(answer)
    assert KitOrder.objects.count() == 1
    assert list(broken_seals()) == [] and DaySeal.objects.exists()


@pytest.mark.django_db(transaction=True)
def test_a_seal_waits_until_the_round_is_written(greta: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    """Else days would be sealed without the records that a round is about to date back into them."""
    who = Person.objects.get(username="greta")
    begin_round(by=who, now=timezone.now())
    leave_round()
    assert not DaySeal.objects.exists(), "it has to wait although there is no seal that could be locked"
    writes, goes_on = threading.Event(), threading.Event()

    def slow(**fields: Any) -> CustomerRequest:
        writes.set()
        goes_on.wait(20)
        return take_request(**fields)

    monkeypatch.setattr("shopfloor.start.begin.take_request", slow)
    monkeypatch.setattr("quality.seal.TRIES", 2)

    def another() -> None:
        begin_round(by=who, now=timezone.now())
        connection.close()

    other = threading.Thread(target=another)
    other.start()
    assert writes.wait(30)
    if connection.vendor == "postgresql":
        with pytest.raises(LostRace, match="nothing was sealed"):
            seal_days(now=timezone.now())
        goes_on.set()
    else:
        threading.Timer(0.3, goes_on.set).start()
        seal_days(now=timezone.now())
    other.join(30)
    seal_days(now=timezone.now())
    assert KitOrder.objects.count() == 2 and DaySeal.objects.exists()
    assert list(broken_seals()) == []


def test_a_glue_that_is_mixed_in_batches_is_named(greta: Client) -> None:
    begun = timezone.now() - timedelta(days=10)
    bram = Person.objects.get(username="bram")
    for number, glue in enumerate(Glue.objects.order_by("pk")):
        GlueBatch.objects.create(
            code=f"G-{number}",
            glue=glue,
            mixed_by=bram,
            mixed_at=begun - timedelta(hours=1),
            temperature_c=20,
            pot_life_min=60 * 24 * 5,
            use_until=begun + timedelta(days=5),
        )
    greta.post(reverse("start:begin"))
    used = [record.body["materials"] for record in ShellRecord.objects.all() if record.body.get("materials")]
    wanted = GlueBatch.objects.get(glue=drums()[0].model.lay_up.glue)
    assert [[each["code"] for each in every] for every in used] == [[wanted.code], [wanted.code]]


def test_only_the_demo_shop_has_a_round(shop: SmallShop, supervisor: Client) -> None:
    assert supervisor.get(ROUND).status_code == 404
    for name in ("begin", "traced", "leave"):
        assert supervisor.post(reverse(f"start:{name}")).status_code == 404
    with pytest.raises(RoundRefused, match="made for the demo shop"):
        begin_round(by=shop.supervisor, now=timezone.now())
    assert not KitOrder.objects.exists()
    assert "guided round" not in page(supervisor.get("/board/")).lower()


@pytest.mark.parametrize("change", [{"name": "Fernhollow Drums"}, {"serial_prefix": "FD"}])
def test_a_demo_that_became_somebodys_own_is_the_demo_no_more(greta: Client, change: dict[str, str]) -> None:
    greta.post(reverse("start:begin"))
    Shop.objects.update(**change)
    assert greta.get(ROUND).status_code == 404
    assert greta.post(reverse("start:begin")).status_code == 404
    with pytest.raises(RoundRefused, match="made for the demo shop"):
        begin_round(by=Person.objects.get(username="greta"), now=timezone.now())
    assert KitOrder.objects.count() == 1 and present_round(Shop.current()) is None
    for shown in (page(greta.get("/board/")), page(greta.get("/", follow=True)), page(Client().get("/"))):
        assert "demo shop" not in shown and "guided round" not in shown.lower() and "every-ring-closed" not in shown
    assert "Seven steps" in page(greta.get("/start/")), "it has first steps as any other"
    assert greta.get("/")["Location"] == "/start/"


def test_a_worker_sees_nothing_of_it(greta: Client) -> None:
    greta.post(reverse("start:begin"))
    worker = Client()
    worker.force_login(Person.objects.get(username="bram"))
    assert "guided round" not in page(worker.get("/trace/")).lower()
    assert worker.get(ROUND).status_code == 403


def test_an_order_that_is_gone_ends_the_round(greta: Client) -> None:
    Shop.objects.update(round_order="ROUND-9")
    assert "Begin the round" in page(greta.get(ROUND))
    assert greta.post(reverse("start:traced"), {"name": "x"})["Location"] == ROUND
