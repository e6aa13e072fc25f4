"""The first steps of a shop of one's own: from an empty database to a printed traveler, on the screens themselves."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from quality.models import Person, Role, Tablet
from routing.models import DrumModel, Finish, KitOrder, Shop, Species, Station, TravelerPrint
from shopfloor.demo.loading import load_demo
from shopfloor.demo.woods import SPECIES
from shopfloor.first_steps import CODES, steps_for
from tests.shopfloor.papers_made import work_through
from tests.shopfloor.tablets import page
from tests.small_shop import SmallShop, person

STEPS = "/start/"


def next_step(client: Client) -> str:
    """The code of the step that the page shows as the next one; empty when none is."""
    step = client.get(STEPS).context["next"]
    return step.kind.code if step else ""


def test_a_shop_without_people_says_how_the_first_one_comes_in(client: Client, db: None) -> None:
    assert "manage.py createsuperuser" in page(client.get("/"))
    Person.objects.create_superuser("owner", "a long enough one")
    assert "createsuperuser" not in page(client.get("/"))


def test_the_seven_steps_lead_to_a_printed_traveler(owner: Client, papers_made: None) -> None:
    assert owner.get("/")["Location"] == STEPS
    assert next_step(owner) == "name"
    settings = owner.get(reverse("people:shop")).context["form"].initial
    owner.post(reverse("people:shop"), settings | {"name": "Fernhollow Drums", "serial_prefix": "FD"})

    assert "First steps, 2 of 7: Set up the stations" in page(owner.get(reverse("people:shop"))), "the way back"

    assert next_step(owner) == "stations"
    assert owner.post(reverse("start:stations"))["Location"] == STEPS
    assert Station.objects.count() == 13 and all(station.caution for station in Station.objects.all())

    assert next_step(owner) == "people"
    cut = Station.objects.get(code="cut")
    sawyer = {"name": "Sal Sawyer", "username": "sal", "role": "worker", "is_active": "on"}
    assert owner.post(reverse("people:new"), sawyer | {f"station-{cut.pk}-holds": "on"}).status_code == 302
    assert next_step(owner) == "people", "without a PIN nobody signs"
    give_pin(owner, "sal")
    assert next_step(owner) == "people", "nobody checks the drum that Sal made"
    assert "final checker with a PIN" in page(owner.get(STEPS))
    check = Station.objects.get(kind="final_check")
    checker = {"name": "Cleo Checker", "username": "cleo", "role": "final_checker", "is_active": "on"}
    assert owner.post(reverse("people:new"), checker | {f"station-{check.pk}-holds": "on"}).status_code == 302
    assert next_step(owner) == "people"
    give_pin(owner, "cleo")

    assert next_step(owner) == "tablets"
    here = {"name": "Office desk", "stations": [station.pk for station in Station.objects.all()], "next": STEPS}
    assert owner.post(reverse("tablets:here"), here)["Location"] == STEPS
    assert Tablet.objects.count() == 1

    assert next_step(owner) == "recipe"
    assert owner.post(reverse("start:recipes"))["Location"] == STEPS
    assert DrumModel.objects.count() == 63

    assert next_step(owner) == "orders"
    assert owner.post(reverse("orders:new"), order_form()).status_code == 302

    assert next_step(owner) == "traveler"
    assert owner.get("/")["Location"] == STEPS
    owner.post(reverse("orders:release", args=["F-1"]))
    answer = owner.post(reverse("travelers:print_order", args=["F-1"]))
    assert answer.status_code == 302 and TravelerPrint.objects.count() == 1
    work_through()
    file = owner.get(reverse("travelers:file", args=[TravelerPrint.objects.get().pk]))
    assert file["Content-Type"] == "application/pdf" and file.content.startswith(b"%PDF")

    assert "The first steps are done" in page(owner.get(reverse("orders:list")))
    assert next_step(owner) == ""
    assert "The first steps" not in page(owner.get(reverse("orders:list")))
    assert "Nothing is left to do here" in page(owner.get(STEPS))
    assert owner.get("/")["Location"] == "/people/"
    assert not Shop.current().is_demo


def give_pin(owner: Client, username: str) -> None:
    who = Person.objects.get(username=username)
    fields = owner.get(reverse("people:person", args=[who.pk])).context["pin_form"].fields
    assert owner.post(reverse("people:pin", args=[who.pk]), dict.fromkeys(fields, "482915")).status_code == 302


def order_form() -> dict[str, Any]:
    model = DrumModel.objects.filter(line__finish_kind="oil").order_by("pk")[0]
    finish = Finish.objects.filter(kind="oil").order_by("pk")[0]
    due = timezone.localdate() + timedelta(days=30)
    return {
        "number": "F-1",
        "customer": "Harrow Lane School",
        "due": due.isoformat(),
        "lines-TOTAL_FORMS": "1",
        "lines-INITIAL_FORMS": "0",
        "lines-0-model": model.pk,
        "lines-0-finish": finish.pk,
        "lines-0-quantity": "1",
    }


def test_each_step_can_be_skipped_and_taken_up_again(owner: Client) -> None:
    for code, after in zip(CODES, [*CODES[1:], ""], strict=True):
        assert next_step(owner) == code
        assert owner.post(reverse("start:skip"), {"step": code})["Location"] == STEPS
        assert next_step(owner) == after
    assert owner.get("/").status_code == 200, "the page on which this browser becomes a tablet"
    for _ in range(2):
        owner.post(reverse("start:skip"), {"step": "people", "back": "1"})
        assert next_step(owner) == "people"
    assert owner.get("/")["Location"] == STEPS


def test_all_steps_can_be_skipped_at_once(owner: Client) -> None:
    assert owner.post(reverse("start:skip"), {"step": "all"})["Location"] == "/"
    assert owner.get("/").status_code == 200
    assert next_step(owner) == ""


def test_a_step_that_is_none_changes_nothing(owner: Client) -> None:
    for words in ("", "everything", "name people"):
        answer = owner.post(reverse("start:skip"), {"step": words}, follow=True)
        assert "there is no such step" in page(answer)
    assert Shop.current().skipped_steps == ""


def test_saving_the_settings_keeps_what_was_skipped(owner: Client) -> None:
    owner.post(reverse("start:skip"), {"step": "orders"})
    settings = owner.get(reverse("people:shop")).context["form"].initial
    owner.post(reverse("people:shop"), settings | {"name": "Fernhollow Drums"})
    assert Shop.current().skipped_steps == "orders"


def test_what_is_there_is_never_mixed_with_the_examples(supervisor: Client, shop: SmallShop) -> None:
    before = Station.objects.count(), DrumModel.objects.count()
    for name in ("stations", "recipes"):
        assert "already; nothing was changed" in page(supervisor.post(reverse(f"start:{name}"), follow=True))
    assert (Station.objects.count(), DrumModel.objects.count()) == before


def test_what_would_be_refused_is_not_offered(owner: Client) -> None:
    """Begun by hand and not finished: the step is open, and the examples do not fit any more."""
    for words in ("Take over the usual stations", "Take over the example book"):
        assert words in page(owner.get(STEPS))
    Station.objects.create(code="bench", name="Bench", kind="trim", position=1)
    Species.objects.create(**SPECIES[0])
    shown = page(owner.get(STEPS))
    assert "Take over" not in shown and "can be taken over" not in shown
    assert "Set them up by hand" in shown and "Enter it by hand" in shown


def test_the_line_on_top_asks_only_as_far_as_the_next_step(owner: Client) -> None:
    owner.get(STEPS)
    with CaptureQueriesContext(connection) as asked:
        assert "First steps, 1 of 7: Name the shop" in page(owner.get("/glossary/"))
    tables = " ".join(each["sql"] for each in asked.captured_queries)
    assert not any(model._meta.db_table in tables for model in (Station, DrumModel, KitOrder, TravelerPrint))


def test_a_supervisor_is_told_what_is_for_an_administrator(db: None) -> None:
    sam = person("sam", Role.SUPERVISOR)
    client = Client()
    client.force_login(sam)
    assert client.get("/")["Location"] == STEPS
    shown = page(client.get(STEPS))
    assert "This is for an administrator" in shown
    assert f'href="{reverse("people:shop")}"' not in shown.split("<main")[1]


def test_what_is_done_is_found_in_the_shop(shop: SmallShop) -> None:
    """A small shop at work: only its tablet and its order are missing, then nothing."""
    open_steps = [step.kind.code for step in steps_for(shop.supervisor) if step.is_open]
    assert open_steps == ["tablets", "orders", "traveler"]
    shop.order()
    assert KitOrder.objects.exists()
    assert [step.kind.code for step in steps_for(shop.supervisor) if step.is_open] == ["tablets", "traveler"]


def test_whoever_works_at_stations_is_not_led_to_the_steps(owner: Client) -> None:
    for role in (Role.WORKER, Role.OFFICE):
        client = Client()
        client.force_login(person(role.value, role))
        assert client.get("/")["Location"] != STEPS
        assert "First steps" not in page(client.get("/trace/"))


def test_the_demo_shop_has_no_steps(db: None) -> None:
    load_demo(now=timezone.now(), today=timezone.localdate())
    client = Client()
    client.force_login(Person.objects.get(username="greta"))
    assert client.get(STEPS)["Location"] == reverse("start:round")
    first = client.get("/")
    assert first.status_code == 200 and reverse("start:round") in page(first)


def test_the_demos_start_page_says_how_to_look_around(client: Client, db: None, settings: Any) -> None:
    load_demo(now=timezone.now(), today=timezone.localdate())
    assert "every-ring-closed" in page(client.get("/"))
    greta = Person.objects.get(username="greta")
    greta.set_password("another long one")
    greta.save()
    assert "every-ring-closed" not in page(client.get("/"))


@pytest.mark.parametrize("here", ["127.0.0.1", "127.0.0.5", "::1", "::ffff:127.0.0.1"])
def test_only_the_machine_itself_is_told_how_to_look_around(client: Client, db: None, here: str) -> None:
    load_demo(now=timezone.now(), today=timezone.localdate())
    assert "every-ring-closed" in page(client.get("/", REMOTE_ADDR=here))
    for elsewhere in ("192.168.1.20", "10.0.0.9", "fe80::1", "::ffff:192.168.1.20", ""):
        assert "every-ring-closed" not in page(client.get("/", REMOTE_ADDR=elsewhere))
    assert "every-ring-closed" not in page(client.get("/", REMOTE_ADDR=here, HTTP_X_FORWARDED_FOR="192.168.1.20"))
    Person.objects.filter(username="greta").update(role=Role.ADMINISTRATOR)
    assert "every-ring-closed" not in page(client.get("/", REMOTE_ADDR=here)), "she may do more by now"


def test_behind_a_proxy_counts_who_asked_it(client: Client, db: None, settings: Any) -> None:
    load_demo(now=timezone.now(), today=timezone.localdate())
    settings.PROXIES = 1
    assert "every-ring-closed" not in page(client.get("/", HTTP_X_FORWARDED_FOR="192.168.1.20"))
    assert "every-ring-closed" in page(client.get("/", HTTP_X_FORWARDED_FOR="127.0.0.1"))


def test_the_demos_password_is_not_worked_out_each_time(
    client: Client, db: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    load_demo(now=timezone.now(), today=timezone.localdate())
    asked: list[str] = []

    def slow(password: str, kept: str) -> bool:
        asked.append(kept)
        return True

    monkeypatch.setattr("shopfloor.home.views.check_password", slow)
    for _ in range(3):
        client.get("/")
    assert len(asked) == 1


def test_a_shop_that_others_reach_shows_no_sign_in(client: Client, db: None, settings: Any) -> None:
    load_demo(now=timezone.now(), today=timezone.localdate())
    settings.HTTPS = True
    assert "every-ring-closed" not in page(client.get("/"))
