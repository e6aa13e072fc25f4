"""People and their qualifications; administrators; and the shop's settings."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

import pytest
from django.contrib.auth.hashers import check_password
from django.test import Client
from django.utils import timezone
from pytest_django import DjangoAssertNumQueries

from quality.accounts import save_person
from quality.models import Person, Qualification, Role
from quality.rights import RIGHTS, Right
from routing.models import Shop, Station
from shopfloor.people import views
from tests.shopfloor.person_page import GOOD_PIN, PHRASE, address, form_of, said
from tests.small_shop import PIN, SmallShop, person

LAST_YEAR = date(2025, 6, 1)


@pytest.fixture
def administrator(signed_in: Callable[[Role], Client]) -> Client:
    return signed_in(Role.ADMINISTRATOR)


# Doors


@pytest.mark.parametrize("what", ["", "new/", "shop/", "1/", "1/pin/", "1/password/", "1/unlock/"])
def test_a_stranger_is_sent_to_sign_in(client: Client, shop: SmallShop, what: str) -> None:
    method = client.post if what[2:] in ("pin/", "password/", "unlock/") else client.get
    assert method(f"/people/{what}")["Location"] == f"/sign-in/?next=/people/{what}"


@pytest.mark.parametrize("role", [role for role in Role if Right.EDIT_PEOPLE not in RIGHTS[role]])
@pytest.mark.parametrize("what", ["", "new/", "shop/", "{}/", "{}/pin/", "{}/password/", "{}/unlock/"])
def test_roles_without_the_right_are_refused(
    signed_in: Callable[[Role], Client], shop: SmallShop, role: Role, what: str
) -> None:
    client, path = signed_in(role), f"/people/{what.format(shop.worker.pk)}"
    assert client.post(path, {"pin": GOOD_PIN, "pin_again": GOOD_PIN}).status_code in (403, 405)
    if "pin" not in what and "password" not in what and "unlock" not in what:
        assert client.get(path).status_code == 403
    shop.worker.refresh_from_db()
    assert check_password(PIN, shop.worker.pin)


@pytest.mark.parametrize("what", ["pin/", "password/", "unlock/"])
def test_what_changes_something_takes_a_post(supervisor: Client, shop: SmallShop, what: str) -> None:
    assert supervisor.get(address(shop.worker, what)).status_code == 405


@pytest.mark.parametrize("what", ["", "new/", "shop/", "{}/"])
def test_pages_take_no_other_methods(supervisor: Client, shop: SmallShop, what: str) -> None:
    assert supervisor.delete(f"/people/{what.format(shop.worker.pk)}").status_code == 405


@pytest.mark.parametrize("what", ["", "pin/", "password/", "unlock/"])
def test_nobody_of_that_number(supervisor: Client, what: str) -> None:
    assert supervisor.post(f"/people/999999/{what}").status_code == 404


# The list


def test_the_list_says_who_may_sign_where_and_why_not(supervisor: Client, shop: SmallShop) -> None:
    today = timezone.localdate()
    mine = Qualification.objects.filter(person=shop.worker)
    mine.filter(station__code="cut").update(valid_to=today - timedelta(days=1))
    mine.filter(station__code="press").update(valid_from=today + timedelta(days=1))
    mine.filter(station__code="edge").update(valid_to=today)
    page = said(supervisor.get("/people/"))
    row = page.split("Wanda Worker</a>")[1].split("</tr>")[0]
    assert f'is-void">cut <span class="place-note">ended {today - timedelta(days=1)}' in row
    assert f'is-void">press <span class="place-note">from {today + timedelta(days=1)}' in row
    assert f'"place">edge <span class="place-note">until {today}' in row
    assert '"place">pack</span>' in row
    assert "PIN, password" in row


def test_the_list_warns_of_a_station_where_nobody_may_sign(supervisor: Client, shop: SmallShop) -> None:
    assert "Nobody may sign at" not in said(supervisor.get("/people/"))
    Qualification.objects.filter(station__code="edge").update(valid_to=LAST_YEAR, valid_from=LAST_YEAR)
    assert "Nobody may sign at edge today." in said(supervisor.get("/people/"))
    Station.objects.filter(code="edge").update(is_active=False)
    assert "Nobody may sign at" not in said(supervisor.get("/people/"))


def test_who_left_stands_apart_and_mans_no_station(supervisor: Client, shop: SmallShop) -> None:
    Person.objects.filter(pk=shop.worker.pk).update(is_active=False)
    Qualification.objects.filter(station__code="edge").exclude(person=shop.worker).delete()
    page = said(supervisor.get("/people/"))
    assert "Left the shop: 1" in page
    assert "Nobody may sign at edge today." in page


def test_the_list_takes_no_more_queries_for_more_people(
    supervisor: Client, shop: SmallShop, django_assert_max_num_queries: DjangoAssertNumQueries
) -> None:
    def count() -> int:
        with django_assert_max_num_queries(50) as asked:
            supervisor.get("/people/")
        return len(asked)

    before = count()
    for number in range(5):
        person(f"hand-{number}", stations=list(shop.stations.values()))
    assert count() == before


# One person


def test_a_new_person_comes_with_neither_pin_nor_password(supervisor: Client, shop: SmallShop) -> None:
    cut = shop.stations["cut"]
    answer = supervisor.post(
        "/people/new/",
        {
            "name": "Nan Newcomer",
            "username": "nan",
            "role": "worker",
            "is_active": "on",
            f"station-{cut.pk}-holds": "on",
            f"station-{cut.pk}-trained_by": shop.supervisor.pk,
        },
    )
    nan = Person.objects.get(username="nan")
    assert answer["Location"] == address(nan)
    assert not nan.pin and not nan.has_usable_password()
    only = nan.qualifications.get()
    assert (only.station, only.valid_from, only.valid_to) == (cut, timezone.localdate(), None)
    assert only.trained_by == shop.supervisor
    assert "Next, set a PIN" in said(supervisor.get(address(nan)))


def test_the_same_new_person_twice_is_refused(supervisor: Client, shop: SmallShop) -> None:
    data = {"name": "Nan Newcomer", "username": "nan", "role": "worker", "is_active": "on"}
    assert supervisor.post("/people/new/", data).status_code == 302
    again = supervisor.post("/people/new/", data)
    assert again.status_code == 422
    assert "This user name is taken; choose another." in said(again)
    assert Person.objects.filter(username="nan").count() == 1


def test_an_empty_form_names_what_is_missing(supervisor: Client) -> None:
    page = supervisor.post("/people/new/", {})
    assert page.status_code == 422
    assert said(page).count('class="field-error"') == 3  # name, user name, role


def test_saving_without_a_change_changes_nothing(supervisor: Client, shop: SmallShop) -> None:
    before = list(Qualification.objects.order_by("pk").values())
    for _ in range(2):
        assert supervisor.post(address(shop.worker), form_of(shop.worker)).status_code == 302
    assert list(Qualification.objects.order_by("pk").values()) == before
    shop.worker.refresh_from_db()
    assert check_password(PIN, shop.worker.pin) and shop.worker.pin_version == 1


def test_qualifications_are_given_changed_and_taken(supervisor: Client, shop: SmallShop) -> None:
    cut, press, edge = (shop.stations[code] for code in ("cut", "press", "edge"))
    Qualification.objects.filter(person=shop.worker, station=edge).delete()
    data = form_of(
        shop.worker,
        **{
            f"station-{cut.pk}-holds": None,
            f"station-{press.pk}-valid_to": "2027-03-31",
            f"station-{edge.pk}-holds": "on",
            f"station-{edge.pk}-valid_from": "2026-02-01",
        },
    )
    assert supervisor.post(address(shop.worker), data).status_code == 302
    held = {row.station.code: row for row in shop.worker.qualifications.select_related("station")}
    assert "cut" not in held
    assert held["press"].valid_to == date(2027, 3, 31)
    assert held["edge"].valid_from == date(2026, 2, 1)
    assert "pack" in held


@pytest.mark.parametrize(
    ("field", "value", "sentence"),
    [
        ("valid_to", "2025-01-01", "The last day lies before the first."),
        ("valid_from", "soon", "Enter a day as year-month-day, for example 2026-12-18."),
        ("trained_by", "999999", "Select a valid choice."),
    ],
)
def test_a_bad_row_is_refused_and_nothing_is_saved(
    supervisor: Client, shop: SmallShop, field: str, value: str, sentence: str
) -> None:
    cut = shop.stations["cut"]
    data = form_of(shop.worker, name="Another Name", **{f"station-{cut.pk}-{field}": value})
    page = supervisor.post(address(shop.worker), data)
    assert page.status_code == 422
    assert sentence in said(page)
    assert "<h1>Wanda Worker</h1>" in said(page), "the title is what is stored"
    shop.worker.refresh_from_db()
    assert shop.worker.name == "Wanda Worker"


def test_a_qualification_at_a_station_out_of_use_survives_saving(supervisor: Client, shop: SmallShop) -> None:
    Station.objects.filter(code="cut").update(is_active=False)
    assert "not in use" in said(supervisor.get(address(shop.worker)))
    supervisor.post(address(shop.worker), form_of(shop.worker))
    assert shop.worker.qualifications.filter(station__code="cut").exists()


def test_who_trained_and_left_stays_on_record(supervisor: Client, shop: SmallShop) -> None:
    Qualification.objects.filter(person=shop.worker).update(trained_by=shop.checker)
    Person.objects.filter(pk=shop.checker.pk).update(is_active=False)
    supervisor.post(address(shop.worker), form_of(shop.worker))
    assert set(shop.worker.qualifications.values_list("trained_by", flat=True)) == {shop.checker.pk}


def test_the_page_of_a_person_takes_no_more_queries_for_more_stations(
    supervisor: Client, shop: SmallShop, django_assert_max_num_queries: DjangoAssertNumQueries
) -> None:
    def count() -> int:
        with django_assert_max_num_queries(50) as asked:
            supervisor.get(address(shop.worker))
        return len(asked)

    before = count()
    for number in range(5):
        Station.objects.create(code=f"more-{number}", name=f"More {number}", kind="sand", position=50 + number)
    assert count() == before


# Administrators


@pytest.mark.parametrize("what", ["", "pin/", "password/", "unlock/"])
def test_a_supervisor_touches_no_administrator(supervisor: Client, shop: SmallShop, what: str) -> None:
    """Else a supervisor could sign in as one."""
    ada = person("ada", Role.ADMINISTRATOR)
    data = form_of(ada) | {"pin": GOOD_PIN, "pin_again": GOOD_PIN, "password": PHRASE, "password_again": PHRASE}
    answer = supervisor.post(address(ada, what), data)
    assert answer.status_code == 403
    assert "Only an administrator" in said(answer)
    before = (ada.password, ada.pin)
    ada.refresh_from_db()
    assert (ada.password, ada.pin) == before


def test_a_supervisor_makes_no_administrator(supervisor: Client, shop: SmallShop) -> None:
    for path, data in [
        (address(shop.worker), form_of(shop.worker, role="administrator")),
        (address(shop.supervisor), form_of(shop.supervisor, role="administrator")),
        ("/people/new/", {"name": "N", "username": "n", "role": "administrator", "is_active": "on"}),
    ]:
        page = supervisor.post(path, data)
        assert page.status_code == 422
        assert "Only an administrator gives this role." in said(page)
    assert not Person.objects.filter(role=Role.ADMINISTRATOR).exists()


def test_an_administrator_gives_and_takes_the_role(administrator: Client, shop: SmallShop) -> None:
    administrator.post(address(shop.worker), form_of(shop.worker, role="administrator"))
    shop.worker.refresh_from_db()
    assert shop.worker.role == Role.ADMINISTRATOR
    administrator.post(address(shop.worker), form_of(shop.worker, role="worker"))
    shop.worker.refresh_from_db()
    assert shop.worker.role == Role.WORKER


def test_the_last_administrator_stays_one(administrator: Client, shop: SmallShop) -> None:
    only = Person.objects.get(role=Role.ADMINISTRATOR)
    page = administrator.post(address(only), form_of(only, role="office"))
    assert page.status_code == 422
    assert "only administrator" in said(page)
    person("ada-second", Role.ADMINISTRATOR)
    assert administrator.post(address(only), form_of(only, role="office")).status_code == 302


def test_who_lost_the_other_administrator_meanwhile_is_told(
    administrator: Client, shop: SmallShop, monkeypatch: pytest.MonkeyPatch
) -> None:
    (me,) = Person.objects.filter(role=Role.ADMINISTRATOR)
    other = Person.objects.create_user("adele", name="Adele", role=Role.ADMINISTRATOR)

    def a_little_late(**what: Any) -> Person:
        Person.objects.filter(pk=me.pk).update(role=Role.OFFICE)
        return save_person(**what)

    monkeypatch.setattr(views, "save_person", a_little_late)
    answer = administrator.post(address(other), form_of(other, role=Role.OFFICE))
    assert answer.status_code == 409
    assert "the shop&#x27;s only administrator. Make somebody else one first." in answer.content.decode()
    assert Person.objects.get(pk=other.pk).role == Role.ADMINISTRATOR


def test_who_is_slower_with_a_user_name_is_told(
    supervisor: Client, shop: SmallShop, monkeypatch: pytest.MonkeyPatch
) -> None:
    def a_little_late(**what: Any) -> Person:
        Person.objects.create_user("nell", name="Another Nell")
        return save_person(**what)

    monkeypatch.setattr(views, "save_person", a_little_late)
    answer = supervisor.post("/people/new/", {"name": "Nell", "username": "nell", "role": "worker", "is_active": "on"})
    assert answer.status_code == 409
    assert "This user name is taken; choose another." in answer.content.decode()
    assert Person.objects.get(username="nell").name == "Another Nell"


def test_nobody_closes_their_own_account(supervisor: Client, shop: SmallShop) -> None:
    page = supervisor.post(address(shop.supervisor), form_of(shop.supervisor, is_active=None))
    assert page.status_code == 422
    assert "You can&#x27;t close your own account" in said(page) and shop.supervisor.is_active


# The shop


def shop_form(**changes: Any) -> dict[str, Any]:
    row = Shop.current()
    fields = [field.name for field in Shop._meta.fields if field.editable and field.name != "id"]
    return {name: getattr(row, name) for name in fields} | changes


def test_an_administrator_changes_the_settings(administrator: Client, shop: SmallShop) -> None:
    for _ in range(2):
        answer = administrator.post("/people/shop/", shop_form(name="Riverside Drums", head_undersize_mm="2.8"))
        assert answer["Location"] == "/people/shop/"
    changed = Shop.current()
    assert (changed.name, changed.head_undersize_mm, changed.serial_prefix) == ("Riverside Drums", 2.8, "SS")


def test_a_supervisor_reads_the_settings_and_changes_none(supervisor: Client, shop: SmallShop) -> None:
    page = said(supervisor.get("/people/shop/"))
    assert "<fieldset disabled" in page and "An administrator changes them." in page
    assert ">Save<" not in page
    answer = supervisor.post("/people/shop/", shop_form(name="Mine"))
    assert answer.status_code == 403
    assert Shop.current().name == "Small Shop"


@pytest.mark.parametrize(
    ("field", "value", "sentence"),
    [
        ("serial_prefix", "o1", "two to four capital letters"),
        ("head_undersize_mm", "20", "less than or equal to 6"),
        ("room_humidity_pct", "much", "Enter a number."),
        ("name", "", "This field is required."),
        ("paper_size", "A3", "Select a valid choice."),
    ],
)
def test_a_bad_setting_is_refused_beside_its_field(
    administrator: Client, shop: SmallShop, field: str, value: str, sentence: str
) -> None:
    page = administrator.post("/people/shop/", shop_form(**{field: value}))
    assert page.status_code == 422
    assert sentence in said(page).split(f'id="id_{field}_error"')[1][:300]
    assert Shop.current().name == "Small Shop"


def test_the_slower_of_two_editors_is_told_and_nothing_of_theirs_is_saved(supervisor: Client, shop: SmallShop) -> None:
    first, second = form_of(shop.worker, role="final_checker"), form_of(shop.worker)
    cut = shop.stations["cut"]
    second.pop(f"station-{cut.pk}-holds")
    for _ in range(2):  # the same tap twice
        assert supervisor.post(address(shop.worker), first).status_code == 302
    page = supervisor.post(address(shop.worker), second)
    assert page.status_code == 409
    assert "Somebody else changed the account of Wanda Worker meanwhile." in said(page)
    shop.worker.refresh_from_db()
    assert shop.worker.role == Role.FINAL_CHECKER
    assert Qualification.objects.filter(person=shop.worker, station=cut).exists()


def test_the_page_shows_who_changed_what(supervisor: Client, shop: SmallShop) -> None:
    cut = shop.stations["cut"]
    supervisor.post(address(shop.worker), form_of(shop.worker, **{f"station-{cut.pk}-holds": None}))
    supervisor.post(address(shop.worker, "pin/"), {"pin": GOOD_PIN, "pin_again": GOOD_PIN})
    page = said(supervisor.get(address(shop.worker)))
    assert "cut: from 2026-01-01" in page and "cut: may not sign" in page
    assert ">new PIN<" in page and GOOD_PIN not in page


def test_wrong_passwords_are_shown_and_forgotten(supervisor: Client, shop: SmallShop) -> None:
    for _ in range(5):
        Client().post("/sign-in/", {"username": "wanda-worker", "password": "not it"})
    assert "5 wrong passwords in a row" in said(supervisor.get(address(shop.worker)))
    assert supervisor.post(address(shop.worker, "unlock/")).status_code == 302
    answer = Client().post("/sign-in/", {"username": "wanda-worker", "password": "a long pass phrase"})
    assert answer.status_code == 302
