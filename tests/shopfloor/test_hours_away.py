"""Closed days, absences, stations out of use, moulds and drying rooms."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

import pytest
from django.test import Client

from routing.models import Absence, Closure, DrumModel, DryingRoom, Mould, Outage, Shift
from shopfloor.hours.page import clock_time, hours_page
from tests.shopfloor.hours_page import PAGE, new, one, section, seen_on
from tests.shopfloor.tablets import Clock, page
from tests.small_shop import SmallShop

pytestmark = pytest.mark.django_db


def test_closed_days_are_kept_and_the_day_says_why(shop: SmallShop, supervisor: Client, clock: Clock) -> None:
    answer = supervisor.post(new("closures"), {"closures-first": "2026-11-03", "closures-reason": "stock-taking"})
    assert answer.status_code == 302
    row = Closure.objects.get()
    assert (row.first, row.last) == (date(2026, 11, 3), date(2026, 11, 3)), "without a last day it is one day"
    assert "Tue 2026-11-03 closed: stock-taking" in section(supervisor.get(PAGE), "next-days")


@pytest.mark.parametrize(
    ("first", "last", "sentence"),
    [
        ("2026-12-24", "2026-12-23", "The last day lies before the first; change one of the two."),
        ("2026-12-24", "2027-12-25", "That is longer than a year; look at the dates."),
        ("0226-12-24", "", "Look at the year: 226 is not meant."),
        ("2026-02-30", "", "Enter a valid date."),
        ("", "2026-12-24", "This field is required."),
    ],
)
def test_days_that_cannot_be_are_refused_and_what_was_typed_stays(
    shop: SmallShop, supervisor: Client, first: str, last: str, sentence: str
) -> None:
    answer = supervisor.post(
        new("closures"), {"closures-first": first, "closures-last": last, "closures-reason": "a long break"}
    )
    assert answer.status_code == 422
    assert sentence in section(answer, "closures")
    assert 'value="a long break"' in page(answer)
    assert not Closure.objects.exists()


def test_what_is_over_is_folded_away(shop: SmallShop, supervisor: Client, clock: Clock) -> None:
    Closure.objects.create(first=date(2026, 8, 3), last=date(2026, 8, 14), reason="summer break")
    Closure.objects.create(first=date(2026, 11, 1), last=date(2026, 11, 2), reason="ends today")
    Absence.objects.create(person=shop.worker, first=date(2026, 10, 1), last=date(2026, 11, 1), reason="paternity")
    answer = supervisor.get(PAGE)
    folded = [
        " ".join(re.sub(r"<[^>]+>", " ", part).split())
        for part in re.findall(r"<details>.*?</details>", page(answer), re.DOTALL)
    ]
    assert [part[:7] for part in folded] == ["Over: 1", "Over: 1"]
    assert "paternity" in folded[0] and "summer break" in folded[1]
    assert "ends today" not in folded[1]


def test_away_today_is_one_tap_and_the_second_changes_nothing(
    shop: SmallShop, supervisor: Client, clock: Clock
) -> None:
    where = f"{PAGE}people/{shop.worker.pk}/away-today/"
    assert "Wanda Worker here" in section(supervisor.get(PAGE), "people")
    for _ in range(2):
        answer = supervisor.post(where)
        assert (answer.status_code, answer["Location"]) == (302, f"{PAGE}#people")
    row = Absence.objects.get()
    assert (row.person, row.first, row.last) == (shop.worker, date(2026, 11, 2), date(2026, 11, 2))
    shown = supervisor.get(PAGE)
    assert "Wanda Worker away Change" in section(shown, "people")
    assert "8 h Wanda Worker" in section(shown, "next-days")


def test_today_is_the_shops_day_not_that_of_greenwich(shop: SmallShop, supervisor: Client, clock: Clock) -> None:
    clock.wait(hours=15, minutes=30)  # 23:30 in Greenwich, half past midnight in the shop
    supervisor.post(f"{PAGE}people/{shop.worker.pk}/away-today/")
    assert Absence.objects.get().first == date(2026, 11, 3)


def test_who_is_away_already_is_not_entered_again(shop: SmallShop, supervisor: Client, clock: Clock) -> None:
    Absence.objects.create(person=shop.worker, first=date(2026, 11, 2), last=date(2026, 11, 6), reason="flu")
    supervisor.post(f"{PAGE}people/{shop.worker.pk}/away-today/")
    typed = {"absences-person": shop.worker.pk, "absences-first": "2026-11-06", "absences-last": "2026-11-09"}
    answer = supervisor.post(new("absences"), typed)
    assert answer.status_code == 422
    assert "Wanda Worker away 2026-11-02 to 2026-11-06 is entered already; change that line" in page(answer)
    assert Absence.objects.count() == 1
    other = supervisor.post(new("absences"), typed | {"absences-person": shop.checker.pk})
    assert other.status_code == 302


def test_a_persons_absences_stand_on_a_page_that_the_people_lead_to(
    shop: SmallShop, supervisor: Client, clock: Clock
) -> None:
    where = f"{PAGE}people/{shop.worker.pk}/"
    assert where in page(supervisor.get(f"/people/{shop.worker.pk}/"))
    assert "Wanda Worker is here, and no holiday is entered." in page(supervisor.get(where))
    Absence.objects.create(person=shop.worker, first=date(2026, 12, 1), last=date(2026, 12, 4), reason="wedding")
    Absence.objects.create(person=shop.checker, first=date(2026, 12, 1), last=date(2026, 12, 4), reason="moving house")
    shown = page(supervisor.get(where))
    assert "wedding" in shown and "moving house" not in shown and "Away today" in shown
    filled = page(supervisor.get(f"{PAGE}?add=absences&person={shop.worker.pk}"))
    assert re.search(rf'<option value="{shop.worker.pk}" selected>', filled)


def test_who_has_left_is_not_asked_about(shop: SmallShop, supervisor: Client) -> None:
    type(shop.worker).objects.filter(pk=shop.worker.pk).update(is_active=False)
    shown = page(supervisor.get(PAGE))
    assert "Wanda Worker" not in shown
    answer = supervisor.post(new("absences"), {"absences-person": shop.worker.pk, "absences-first": "2026-11-06"})
    assert answer.status_code == 422


def outage(shop: SmallShop, starts: str, ends: str) -> dict[str, Any]:
    return {
        "outages-station": shop.stations["press"].pk,
        "outages-starts_at": starts,
        "outages-ends_at": ends,
        "outages-reason": "new bladder",
    }


def test_an_outage_is_told_by_the_shops_clock(shop: SmallShop, supervisor: Client, clock: Clock) -> None:
    answer = supervisor.post(new("outages"), outage(shop, "2026-11-02T08:00", "2026-11-03T12:00"))
    assert answer.status_code == 302
    row = Outage.objects.get()
    assert row.starts_at == datetime(2026, 11, 2, 7, tzinfo=UTC), "winter: an hour ahead of Greenwich"
    shown = supervisor.get(PAGE)
    assert "press 2026-11-02 08:00 – 2026-11-03 12:00 now new bladder" in section(shown, "outages")
    days = section(shown, "next-days")
    assert days.count("press") == 2
    form = page(supervisor.get(one("outages", row.pk)))
    assert 'value="2026-11-02T08:00"' in form


def test_an_outage_until_midnight_leaves_the_next_day_alone(shop: SmallShop, supervisor: Client, clock: Clock) -> None:
    supervisor.post(new("outages"), outage(shop, "2026-11-02T08:00", "2026-11-03T00:00"))
    assert section(supervisor.get(PAGE), "next-days").count("press") == 1


def test_the_change_of_the_clocks_is_handled(shop: SmallShop, supervisor: Client) -> None:
    """In Berlin the clocks go from 02:00 to 03:00 on 2027-03-28 and from 03:00 back to 02:00 on 2026-10-25: from the
    time zone database, that is, from outside this program."""
    answer = supervisor.post(new("outages"), outage(shop, "2027-03-28T02:30", "2027-03-28T12:00"))
    assert answer.status_code == 422
    assert "02:30 is left out on 2027-03-28: the clocks go forward. Choose another time." in page(answer)
    supervisor.post(new("outages"), outage(shop, "2026-10-25T02:15", "2026-10-25T02:45"))
    row = Outage.objects.get()
    assert row.starts_at == datetime(2026, 10, 25, 0, 15, tzinfo=UTC), "the first of the two"
    assert row.ends_at == datetime(2026, 10, 25, 1, 45, tzinfo=UTC), "the second of the two"
    assert clock_time(row.starts_at) == "2026-10-25 02:15 (before the clocks go back)"
    assert clock_time(row.ends_at) == "2026-10-25 02:45 (after the clocks go back)"
    assert clock_time(row.ends_at + timedelta(hours=2)) == "2026-10-25 04:45"


def test_a_night_shift_is_an_hour_longer_when_the_clocks_go_back(shop: SmallShop) -> None:
    Shift.objects.create(weekday=6, starts=time(1), ends=time(5))
    by_day = {row.day: row.minutes for row in hours_page(now=datetime(2026, 10, 24, 12, tzinfo=UTC)).days}
    assert by_day[date(2026, 10, 25)] == 5 * 60
    by_day = {row.day: row.minutes for row in hours_page(now=datetime(2026, 10, 31, 12, tzinfo=UTC)).days}
    assert by_day[date(2026, 11, 1)] == 4 * 60
    by_day = {row.day: row.minutes for row in hours_page(now=datetime(2027, 3, 27, 12, tzinfo=UTC)).days}
    assert by_day[date(2027, 3, 28)] == 3 * 60


def test_an_outage_that_ends_before_it_begins_is_refused(shop: SmallShop, supervisor: Client) -> None:
    answer = supervisor.post(new("outages"), outage(shop, "2026-11-03T08:00", "2026-11-03T08:00"))
    assert answer.status_code == 422
    assert "It ends after it begins; change one of the two times." in page(answer)
    assert not Outage.objects.exists()


def test_moulds_are_counted_by_diameter_and_missing_ones_are_named(shop: SmallShop, supervisor: Client) -> None:
    size = f"{DrumModel.objects.get().nominal_diameter_in:g}"
    assert f"Drum models are made in {size} in, and no mould" in section(supervisor.get(PAGE), "moulds")
    typed = {"moulds-diameter_in": size, "moulds-count": "2"}
    assert [supervisor.post(new("moulds"), typed).status_code for _ in range(2)] == [302, 302]
    assert Mould.objects.get().count == 2
    shown = section(supervisor.get(PAGE), "moulds")
    assert "Drum models are made in" not in shown and f"{size} in 2" in shown
    again = supervisor.post(new("moulds"), typed | {"moulds-count": "3"})
    assert again.status_code == 422
    assert "Moulds of this diameter are in the list already; change their number there." in page(again)
    assert supervisor.post(new("moulds"), typed | {"moulds-diameter_in": "nan"}).status_code == 422
    assert supervisor.post(new("moulds"), typed | {"moulds-diameter_in": "15", "moulds-count": "0"}).status_code == 422


def test_shells_of_one_station_wait_in_one_room(shop: SmallShop, supervisor: Client) -> None:
    press, finish = shop.stations["press"].pk, shop.stations["finish"].pk
    typed = {"rooms-name": "Attic", "rooms-places": "24", "rooms-stations": [press, finish]}
    assert [supervisor.post(new("rooms"), typed).status_code for _ in range(2)] == [302, 302]
    assert "Attic 24 press, finish" in section(supervisor.get(PAGE), "rooms")
    answer = supervisor.post(new("rooms"), typed | {"rooms-name": "Cellar", "rooms-stations": [finish]})
    assert answer.status_code == 422
    assert "Shells from finish wait in Attic already." in page(answer)
    none = supervisor.post(new("rooms"), typed | {"rooms-name": "Cellar", "rooms-stations": []})
    assert none.status_code == 422 and "Tick at least one station; shells come from there." in page(none)
    room = DryingRoom.objects.get()
    where = one("rooms", room.pk)
    typed |= {"rooms-stations": [press], "rooms-seen": seen_on(supervisor, where, "rooms")}
    assert supervisor.post(where, typed).status_code == 302
    assert list(room.stations.values_list("code", flat=True)) == ["press"]
    assert supervisor.post(where, typed).status_code == 409, "the room is not as that screen showed it any more"
