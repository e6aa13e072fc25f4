"""The page of hours and places: hours of the week, how any row is changed and removed, and who may."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from quality.models import Role
from routing.errors import LostRace
from routing.hours_actions import as_seen, save_capacity
from routing.models import (
    Absence,
    Closure,
    DryingRoom,
    Mould,
    Operation,
    Outage,
    RouteStep,
    Shift,
    Station,
)
from shopfloor.demo import capacity, drums, stations
from tests.shopfloor.hours_page import PAGE, new, one, section, seen_on
from tests.shopfloor.tablets import Clock, page
from tests.small_shop import SmallShop, person

pytestmark = pytest.mark.django_db
MORNING = {"shifts-weekdays": ["0", "1"], "shifts-starts": "07:00", "shifts-ends": "11:30"}


# The hours of the week


def test_hours_of_several_days_are_added_at_once_and_a_break_is_a_gap(shop: SmallShop, supervisor: Client) -> None:
    assert "the plan takes Monday to Friday, 08:00–12:00 and 12:30–16:30" in section(supervisor.get(PAGE), "shifts")
    answer = supervisor.post(new("shifts"), MORNING)
    first = Shift.objects.order_by("pk").first()
    assert first is not None
    assert (answer.status_code, answer["Location"]) == (302, f"{PAGE}#shifts-{first.pk}")
    supervisor.post(new("shifts"), MORNING | {"shifts-starts": "12:00", "shifts-ends": "16:00"})
    shown = section(supervisor.get(PAGE), "shifts")
    assert "the plan takes" not in shown
    for day in ("Monday", "Tuesday"):
        assert (
            f"{day} 07:00–11:30 on {day}: change or remove 12:00–16:00 on {day}: change or remove 8 h 30 min" in shown
        )
    assert "Wednesday free" in shown and "In a week 17 h" in shown


@pytest.mark.parametrize(
    ("starts", "ends", "is_free"),
    [
        ("07:00", "11:00", False),
        ("06:00", "07:01", False),
        ("11:29", "12:00", False),
        ("06:00", "12:00", False),
        ("08:00", "09:00", False),
        ("11:30", "12:00", True),
        ("06:00", "07:00", True),
    ],
)
def test_hours_that_overlap_are_refused_on_all_days_or_taken_on_all(
    shop: SmallShop, supervisor: Client, starts: str, ends: str, is_free: bool
) -> None:
    Shift.objects.create(weekday=1, starts=time(7), ends=time(11, 30))
    answer = supervisor.post(new("shifts"), MORNING | {"shifts-starts": starts, "shifts-ends": ends})
    assert answer.status_code == (302 if is_free else 422)
    assert Shift.objects.count() == (3 if is_free else 1)
    if not is_free:
        shown = section(answer, "shifts")
        assert "These hours overlap Tuesday 07:00–11:30. Change or remove those, or begin after them." in shown
        assert f'name="shifts-starts" value="{starts}"' in page(answer), "what was typed is kept"
        assert re.search(r'value="1"[^>]*checked', page(answer))


def test_the_same_tap_twice_adds_hours_once(shop: SmallShop, supervisor: Client) -> None:
    assert [supervisor.post(new("shifts"), MORNING).status_code for _ in range(2)] == [302, 302]
    assert Shift.objects.count() == 2


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [
        ({"shifts-ends": "06:00"}, "A shift ends after it begins, on the same day."),
        ({"shifts-ends": "07:00"}, "A shift ends after it begins, on the same day."),
        ({"shifts-weekdays": []}, "Tick at least one day."),
        ({"shifts-weekdays": ["7"]}, "7 is not one of the available choices"),
        ({"shifts-starts": "soon"}, "Enter a valid time"),
    ],
)
def test_hours_that_cannot_be_are_refused_with_a_sentence(
    shop: SmallShop, supervisor: Client, wrong: dict[str, Any], sentence: str
) -> None:
    answer = supervisor.post(new("shifts"), MORNING | wrong)
    assert answer.status_code == 422
    assert sentence in page(answer)
    assert not Shift.objects.exists()


def test_hours_are_changed_and_never_over_others(shop: SmallShop, supervisor: Client) -> None:
    morning = Shift.objects.create(weekday=0, starts=time(7), ends=time(11, 30))
    Shift.objects.create(weekday=0, starts=time(12), ends=time(16))
    where = one("shifts", morning.pk)
    typed = {"shifts-weekday": "0", "shifts-starts": "06:30", "shifts-seen": seen_on(supervisor, where, "shifts")}
    answer = supervisor.post(where, typed | {"shifts-ends": "12:30"})
    assert answer.status_code == 422 and "These hours overlap Monday 12:00–16:00." in page(answer)
    assert 'value="06:30"' in page(answer)
    assert supervisor.post(where, typed | {"shifts-ends": "05:00"}).status_code == 422
    assert supervisor.post(where, typed | {"shifts-ends": "11:45"}).status_code == 302
    morning.refresh_from_db()
    assert (morning.starts, morning.ends) == (time(6, 30), time(11, 45))


def test_who_changes_a_row_that_somebody_else_changed_is_told(shop: SmallShop, supervisor: Client) -> None:
    row = Shift.objects.create(weekday=0, starts=time(7), ends=time(11, 30))
    where = one("shifts", row.pk)
    typed = {"shifts-weekday": "0", "shifts-starts": "07:00", "shifts-ends": "11:45"}
    typed["shifts-seen"] = seen_on(supervisor, where, "shifts")
    Shift.objects.filter(pk=row.pk).update(ends=time(11))
    answer = supervisor.post(where, typed)
    assert answer.status_code == 409
    assert "now it says Monday 07:00–11:00. Save again to put yours in its place." in page(answer)
    assert 'value="11:45"' in page(answer)
    row.refresh_from_db()
    assert row.ends == time(11)
    again = re.search(r'name="shifts-seen" value="([^"]*)"', page(answer))
    assert again is not None
    assert supervisor.post(where, typed | {"shifts-seen": again[1]}).status_code == 302
    row.refresh_from_db()
    assert row.ends == time(11, 45)


def test_who_changes_a_row_that_was_removed_meanwhile_is_told(shop: SmallShop) -> None:
    row = Mould.objects.create(diameter_in=14, count=1)
    seen = as_seen(row)
    Mould.objects.all().delete()
    with pytest.raises(LostRace, match="Somebody removed this meanwhile"):
        save_capacity(row=row, seen=seen)


@pytest.mark.parametrize("others", [False, True])
def test_who_types_a_change_of_what_was_removed_keeps_what_was_typed(
    shop: SmallShop, supervisor: Client, others: bool
) -> None:
    """No page that is not found: the words stand in the form that adds it again, beside whatever else is there."""
    if others:
        Shift.objects.create(weekday=3, starts=time(7), ends=time(9))
    shift = Shift.objects.create(weekday=2, starts=time(7), ends=time(11, 30))
    away = Absence.objects.create(person=shop.worker, first=date(2026, 11, 5), last=date(2026, 11, 6))
    typed = {
        ("shifts", shift.pk): {"shifts-weekday": "2", "shifts-starts": "06:45", "shifts-ends": "11:30"},
        ("absences", away.pk): {
            "absences-person": str(shop.worker.pk),
            "absences-first": "2026-11-05",
            "absences-last": "2026-11-09",
            "absences-reason": "harvest",
        },
    }
    seen = {kind: seen_on(supervisor, one(kind, pk), kind) for kind, pk in typed}
    shift.delete()
    away.delete()
    for (kind, pk), data in typed.items():
        late = supervisor.post(one(kind, pk), data | {f"{kind}-seen": seen[kind]})
        assert late.status_code == 409
        form = late.context["forms"][kind]
        assert form.non_field_errors() == ["Somebody removed this meanwhile; add it again if it still holds."]
        kept = {form.add_prefix(name): form[name].value() for name in form.fields}
        assert supervisor.post(new(kind), kept).status_code == 302
    assert Shift.objects.get(weekday=2).starts == time(6, 45)
    assert (Absence.objects.get().last, Absence.objects.get().reason) == (date(2026, 11, 9), "harvest")


def test_a_row_without_a_reason_is_changed_like_any_other(shop: SmallShop, supervisor: Client) -> None:
    away = Absence.objects.create(person=shop.worker, first=date(2026, 11, 5), last=date(2026, 11, 6))
    data = {"absences-person": str(shop.worker.pk), "absences-first": "2026-11-05", "absences-last": "2026-11-07"}
    data["absences-seen"] = seen_on(supervisor, one("absences", away.pk), "absences")
    assert supervisor.post(one("absences", away.pk), data).status_code == 302
    assert Absence.objects.get().last == date(2026, 11, 7)


# Removing


def test_what_somebody_changed_is_not_removed_unseen(shop: SmallShop, supervisor: Client) -> None:
    row = Mould.objects.create(diameter_in=14, count=1)
    seen = as_seen(row)
    Mould.objects.update(count=3)
    for stale in ({"seen": seen}, {}):
        late = supervisor.post(one("moulds", row.pk, "remove/"), stale)
        assert late.status_code == 409
        assert "now it says 3 × 14 in. Remove it again if you still mean it." in page(late)
        assert Mould.objects.get().count == 3
    again = {"seen": late.context["seen"]}
    assert supervisor.post(one("moulds", row.pk, "remove/"), again).status_code == 302
    assert not Mould.objects.exists()


def test_what_is_removed_is_asked_about_and_can_be_added_again(shop: SmallShop, supervisor: Client) -> None:
    kept: dict[str, Any] = {
        "shifts": Shift.objects.create(weekday=4, starts=time(7), ends=time(11, 30)),
        "closures": Closure.objects.create(first=date(2026, 12, 24), last=date(2027, 1, 1), reason="winter & break"),
        "absences": Absence.objects.create(person=shop.worker, first=date(2026, 11, 5), last=date(2026, 11, 6)),
        "outages": Outage.objects.create(
            station=shop.stations["press"],
            starts_at=datetime(2026, 11, 4, 7, tzinfo=UTC),
            ends_at=datetime(2026, 11, 4, 11, tzinfo=UTC),
            reason="new bladder",
        ),
        "moulds": Mould.objects.create(diameter_in=14.5, count=2),
        "rooms": DryingRoom.objects.create(name="Attic", places=12),
    }
    kept["rooms"].stations.set([shop.stations["press"], shop.stations["finish"]])
    for kind, row in kept.items():
        said = as_seen(row).split(" ", 1)[1]
        asked = page(supervisor.get(one(kind, row.pk)))
        assert "Yes, remove" in asked
        answer = supervisor.post(one(kind, row.pk, "remove/"), {"seen": as_seen(row)}, follow=True)
        assert not type(row)._default_manager.exists()
        link = re.search(r'removed\. <a href="([^"]+)">Add it again</a>', page(answer))
        assert link is not None, kind
        form = supervisor.get(link[1].replace("&amp;", "&").partition("#")[0])
        sent = form.context["forms"][kind]
        data = {
            sent.add_prefix(name): sent[name].field.widget.format_value(sent[name].value()) or ""
            for name in sent.fields
        }
        assert supervisor.post(new(kind), data).status_code == 302, kind
        added = type(row).objects.get()
        assert as_seen(added).split(" ", 1)[1] == said, kind


def test_removing_twice_changes_nothing_more(shop: SmallShop, supervisor: Client) -> None:
    row = Mould.objects.create(diameter_in=14.0, count=1)
    Mould.objects.create(diameter_in=16, count=1)
    for _ in range(2):
        answer = supervisor.post(one("moulds", row.pk, "remove/"), {"seen": as_seen(row)}, follow=True)
    assert "That was removed already; nothing more was changed." in page(answer)
    assert Mould.objects.count() == 1


# Who may, and what is not there


def test_only_who_plans_the_work_sees_and_changes_it(
    shop: SmallShop, signed_in: Callable[[Role], Client], clock: Clock
) -> None:
    for role, status in ((Role.WORKER, 403), (Role.OFFICE, 403), (Role.ADMINISTRATOR, 200)):
        assert signed_in(role).get(PAGE).status_code == status
    assert "/sign-in/" in Client().get(PAGE)["Location"]
    refused = signed_in(Role.OFFICE).post(f"{PAGE}people/{shop.worker.pk}/away-today/")
    assert refused.status_code == 403
    assert not Absence.objects.exists()


def test_what_is_not_there_is_not_found(shop: SmallShop, supervisor: Client) -> None:
    for where in ("nothing/1/", "moulds/999/", "people/999/"):
        assert supervisor.get(PAGE + where).status_code == 404, where
    for where in ("nothing/new/", "nothing/1/remove/", "people/999/away-today/"):
        assert supervisor.post(PAGE + where).status_code == 404, where
    # Somebody removed it while its form was open: the form comes back with what was typed, to be added again.
    assert supervisor.post(PAGE + "moulds/999/").status_code == 409
    assert supervisor.get(PAGE, {"add": "nothing"}).status_code == 200
    assert supervisor.get(PAGE, {"add": "absences", "person": "x", "first": "<b>"}).status_code == 200


def test_the_wrong_method_is_refused(shop: SmallShop, supervisor: Client) -> None:
    row = Mould.objects.create(diameter_in=14, count=1)
    assert supervisor.post(PAGE).status_code == 405
    for where in (new("moulds"), one("moulds", row.pk, "remove/"), f"{PAGE}people/{shop.worker.pk}/away-today/"):
        assert supervisor.get(where).status_code == 405, where
    assert supervisor.put(one("moulds", row.pk)).status_code == 405
    assert Mould.objects.count() == 1


def test_the_number_of_queries_does_not_grow_with_the_rows(shop: SmallShop, supervisor: Client, clock: Clock) -> None:
    def fill(n: int) -> None:
        someone = person(f"person-{n}")
        Shift.objects.create(weekday=n, starts=time(7), ends=time(12))
        room = DryingRoom.objects.create(name=f"Room {n}", places=5)
        room.stations.set(Station.objects.all())
        Mould.objects.create(diameter_in=8 + n, count=1)
        for first in (date(2026, 6, n + 1), date(2026, 11, n + 1)):
            Closure.objects.create(first=first, last=first, reason="closed")
            Absence.objects.create(person=someone, first=first, last=first)
            at = datetime(2026, first.month, n + 1, 9, tzinfo=UTC)
            Outage.objects.create(
                station=shop.stations["cut"], starts_at=at, ends_at=at + timedelta(hours=1), reason="x"
            )

    def asked(where: str) -> int:
        with CaptureQueriesContext(
            connection,
        ) as queries:
            assert supervisor.get(where).status_code == 200
        return len(queries)

    fill(0)
    supervisor.get(PAGE)
    here = f"{PAGE}people/{Absence.objects.first().person_id}/"  # type: ignore[union-attr]
    few, few_of_one = asked(PAGE), asked(here)
    for n in range(1, 7):
        fill(n)
        Absence.objects.create(person_id=int(here.split("/")[-2]), first=date(2027, 1, n), last=date(2027, 1, n))
    assert asked(PAGE) == few
    assert asked(here) == few_of_one


# What stations and routes say about time


def test_a_station_says_how_much_it_can_do_and_a_step_of_a_route_may_differ(
    shop: SmallShop, supervisor: Client
) -> None:
    press = shop.stations["press"]
    form = page(supervisor.get(f"/recipes/stations/{press.pk}/"))
    for name in ("places", "work_min", "setup_min"):
        assert f'name="{name}"' in form
    step = RouteStep.objects.filter(station=press).first()
    assert step is not None
    RouteStep.objects.filter(pk=step.pk).update(work_min=33)
    assert 'value="33.0"' in page(supervisor.get(f"/recipes/routes/{step.template.role}/{step.template.finish_kind}/"))
    (shell,) = shop.released()
    assert Operation.objects.get(shell=shell, station=press).work_min == 33
    assert Operation.objects.get(shell=shell, station=shop.stations["cut"]).work_min is None


# The demo


def test_the_demo_has_a_mould_for_every_drum_and_time_for_every_station() -> None:
    assert set(capacity.MOULDS) == {row["nominal_diameter_in"] for row in drums.MODELS}
    codes = {row["code"] for row in stations.STATIONS}
    assert set(capacity.STATIONS) == codes
    assert {code for code, _ in capacity.WORK_MIN} <= codes and {role for _, role in capacity.WORK_MIN} <= set(
        stations.ROLES
    )
    dwelling = {code for steps in stations.ROUTES.values() for code, _, dwell in steps if dwell}
    served = [code for room in capacity.DRYING_ROOMS for code in room["stations"]]
    assert dwelling == set(served) and len(served) == len(set(served))
    assert {code for code, row in capacity.STATIONS.items() if row.get("setup_min")} == {"press", "finish"}
