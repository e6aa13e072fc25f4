"""People, their PINs, passwords and qualifications; and the shop's settings."""

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
from quality.errors import PinRefused
from quality.models import Person, Qualification, Role
from quality.pins import LOCKED_FOR_GOOD_AFTER, confirm_pin, is_easily_guessed, set_pin
from quality.rights import RIGHTS, Right
from routing.models import Shop, Station
from shopfloor.people import views
from tests.small_shop import PIN, SmallShop, person

GOOD_PIN, OTHER_PIN = "730164", "951827"
PHRASE = "four words in a row"
LAST_YEAR = date(2025, 6, 1)


@pytest.fixture
def administrator(signed_in: Callable[[Role], Client]) -> Client:
    return signed_in(Role.ADMINISTRATOR)


def address(who: Person, what: str = "") -> str:
    return f"/people/{who.pk}/{what}"


def form_of(who: Person, **changes: Any) -> dict[str, Any]:
    """What the page of a person sends when ``changes`` are made; a field set to None is not sent."""
    data: dict[str, Any] = {"name": who.name, "username": who.username, "role": who.role, "version": who.version}
    if who.is_active:
        data["is_active"] = "on"
    for row in Qualification.objects.filter(person=who):
        data[f"station-{row.station_id}-holds"] = "on"
        data[f"station-{row.station_id}-valid_from"] = row.valid_from.isoformat()
        data[f"station-{row.station_id}-valid_to"] = row.valid_to.isoformat() if row.valid_to else ""
        data[f"station-{row.station_id}-trained_by"] = row.trained_by_id or ""
    return {name: value for name, value in (data | changes).items() if value is not None}


def said(answer: Any) -> str:
    text: str = answer.content.decode()
    return text


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


# PINs


def test_a_pin_is_set_hashed_and_signs_out_of_the_tablets(supervisor: Client, shop: SmallShop) -> None:
    Person.objects.filter(pk=shop.worker.pk).update(failed_pins=7, locked_until=timezone.now() + timedelta(hours=1))
    answer = supervisor.post(address(shop.worker, "pin/"), {"pin": GOOD_PIN, "pin_again": GOOD_PIN})
    assert answer["Location"] == address(shop.worker)
    shop.worker.refresh_from_db()
    assert GOOD_PIN not in shop.worker.pin and shop.worker.pin.startswith("argon2")
    assert check_password(GOOD_PIN, shop.worker.pin) and not check_password(PIN, shop.worker.pin)
    assert (shop.worker.pin_version, shop.worker.failed_pins, shop.worker.locked_until) == (2, 0, None)
    confirm_pin(person=shop.worker, pin=GOOD_PIN, at=timezone.now())


def test_the_same_pin_again_ends_tablets_again(supervisor: Client, shop: SmallShop) -> None:
    for version in (2, 3):
        supervisor.post(address(shop.worker, "pin/"), {"pin": GOOD_PIN, "pin_again": GOOD_PIN})
        shop.worker.refresh_from_db()
        assert shop.worker.pin_version == version


@pytest.mark.parametrize(
    ("pin", "again", "sentence"),
    [
        ("", "", "This field is required."),
        ("12a456", "12a456", "6 to 12 digits and nothing else"),
        ("73016", "73016", "6 to 12 digits and nothing else"),
        ("7301649517384", "7301649517384", "6 to 12 digits and nothing else"),
        ("٧٣٠١٦٤", "٧٣٠١٦٤", "6 to 12 digits and nothing else"),  # digits, but not the tablet's
        (" 730164", " 730164", "6 to 12 digits and nothing else"),
        ("000000", "000000", "easily guessed"),
        (GOOD_PIN, OTHER_PIN, "The two are not the same"),
    ],
)
def test_a_bad_pin_is_refused_beside_its_field(
    supervisor: Client, shop: SmallShop, pin: str, again: str, sentence: str
) -> None:
    page = supervisor.post(address(shop.worker, "pin/"), {"pin": pin, "pin_again": again})
    assert page.status_code == 422
    assert sentence in said(page)
    if len(pin) > 4:
        assert pin not in said(page), "a secret is not sent back"
    shop.worker.refresh_from_db()
    assert check_password(PIN, shop.worker.pin) and shop.worker.pin_version == 1


@pytest.mark.parametrize(
    "pin",
    ["000000", "123456", "654321", "890123", "210987", "112233", "332211", "111222", "121212", "123123", "70707070"],
)
def test_rows_and_repeats_are_easily_guessed(pin: str, shop: SmallShop) -> None:
    assert is_easily_guessed(pin)
    with pytest.raises(PinRefused, match="easily guessed"):
        set_pin(person=shop.worker, pin=pin, by=shop.supervisor, at=shop.clock)


@pytest.mark.parametrize("pin", [GOOD_PIN, OTHER_PIN, PIN, "204681", "124578", "31415926"])
def test_other_pins_are_not(pin: str) -> None:
    assert not is_easily_guessed(pin)


def test_few_pins_are_refused() -> None:
    """The rule must leave nearly all of the million, or it helps whoever guesses."""
    sample = range(0, 1_000_000, 29)  # a step that shares no factor with 111 111
    share = sum(is_easily_guessed(f"{number:06}") for number in sample) / len(sample)
    assert 0.001 < share < 0.01


def test_unlocking_forgets_the_wrong_pins_and_can_be_repeated(supervisor: Client, shop: SmallShop) -> None:
    Person.objects.filter(pk=shop.worker.pk).update(
        failed_pins=LOCKED_FOR_GOOD_AFTER, locked_until=timezone.now() + timedelta(days=36500)
    )
    assert f"{LOCKED_FOR_GOOD_AFTER} wrong PINs in a row: locked" in said(supervisor.get(address(shop.worker)))
    assert "PIN locked" in said(supervisor.get("/people/"))
    for _ in range(2):
        assert supervisor.post(address(shop.worker, "unlock/"))["Location"] == address(shop.worker)
    shop.worker.refresh_from_db()
    confirm_pin(person=shop.worker, pin=PIN, at=timezone.now())
    assert "wrong PIN" not in said(supervisor.get(address(shop.worker)))


# Passwords


def test_a_new_password_signs_its_owner_out_elsewhere(
    supervisor: Client, signed_in: Callable[[Role], Client], shop: SmallShop
) -> None:
    office = signed_in(Role.OFFICE)
    oona = Person.objects.get(role=Role.OFFICE)
    assert office.get("/orders/").status_code == 200
    supervisor.post(address(oona, "password/"), {"password": PHRASE, "password_again": PHRASE})
    assert office.get("/orders/").status_code == 302
    assert Client().login(username=oona.username, password=PHRASE)


def test_ones_own_password_is_not_set_without_the_present_one(supervisor: Client, shop: SmallShop) -> None:
    before = Person.objects.get(pk=shop.supervisor.pk).password
    page = said(supervisor.get(address(shop.supervisor)))
    assert "Change your password" in page and 'name="password"' not in page
    answer = supervisor.post(address(shop.supervisor, "password/"), {"password": PHRASE, "password_again": PHRASE})
    assert (answer.status_code, answer["Location"]) == (302, "/sign-in/password/")
    assert Person.objects.get(pk=shop.supervisor.pk).password == before


@pytest.mark.parametrize(
    ("password", "again", "sentence"),
    [
        ("", "", "This field is required."),
        ("short", "short", "at least 10 characters"),
        ("basketball", "basketball", "too common"),
        ("wanda-worker", "wanda-worker", "too similar to the username"),
        (PHRASE, PHRASE + "s", "The two are not the same"),
    ],
)
def test_a_bad_password_is_refused(
    supervisor: Client, shop: SmallShop, password: str, again: str, sentence: str
) -> None:
    page = supervisor.post(address(shop.worker, "password/"), {"password": password, "password_again": again})
    assert page.status_code == 422
    assert sentence in said(page)
    shop.worker.refresh_from_db()
    assert shop.worker.check_password("a long pass phrase")


def test_nobodys_password_is_their_name(supervisor: Client, shop: SmallShop) -> None:
    Person.objects.filter(pk=shop.worker.pk).update(username="seven")
    typed = {"password": shop.worker.name, "password_again": shop.worker.name}
    page = supervisor.post(address(shop.worker, "password/"), typed)
    assert page.status_code == 422 and "too similar to the name" in said(page)


# The shop


def shop_form(**changes: Any) -> dict[str, Any]:
    row = Shop.current()
    fields = [field.name for field in Shop._meta.fields if field.name not in ("id", "is_demo")]
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
