"""Adding tablets in the office and at the device, what they show, and how they are taken away."""

from __future__ import annotations

import re
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from quality.models import EnrolmentCode, Person
from quality.models import Tablet as ShopTablet
from quality.pins import TABLET_LOCKED_AFTER
from quality.tablets import CODE_LIVES, revoke
from routing.models import ShellRecord
from shopfloor.qr import qr_svg
from shopfloor.tablet_station import KEY_COOKIE, STATION_COOKIE
from tests.shopfloor.tablets import Clock, Tablet, make_tablet, page
from tests.small_shop import PIN, SmallShop, person

pytestmark = pytest.mark.django_db
FLOOR, ENROL, LIST, NEW, HERE = "/floor/", "/floor/enrol/", "/tablets/", "/tablets/new/", "/tablets/here/"
WRONG = "730164"


def chosen(shop: SmallShop, *codes: str, name: str = "Saw bench") -> dict[str, Any]:
    return {"name": name, "stations": [shop.stations[code].pk for code in codes]}


def code_on(answer: Any) -> str:
    found = re.search(r'class="code-large">([^<]+)<', page(answer))
    assert found is not None
    return found[1]


def made_code(supervisor: Client, shop: SmallShop, *codes: str, name: str = "Saw bench") -> str:
    answer = supervisor.post(NEW, chosen(shop, *codes or ("cut",), name=name))
    assert answer.status_code == 200
    return code_on(answer)


def address(tablet: ShopTablet, what: str = "") -> str:
    return f"/tablets/{tablet.pk}/{what}"


# A code, carried to the device


def test_a_code_makes_a_browser_a_tablet_that_goes_straight_to_its_queue(
    shop: SmallShop, supervisor: Client, clock: Clock
) -> None:
    device = Client()
    answer = device.post(ENROL, {"code": made_code(supervisor, shop)}, follow=True)
    assert [where for where, _ in answer.redirect_chain] == [FLOOR, "/floor/cut/", "/floor/cut/sign-in/"]
    assert "Wanda Worker" in page(answer)
    kept = device.cookies[KEY_COOKIE]
    assert kept["httponly"] and kept["samesite"] == "Lax" and kept["max-age"] == 365 * 24 * 3600
    assert not kept["secure"]


def test_behind_https_the_key_travels_on_https_only(shop: SmallShop, supervisor: Client, settings: Any) -> None:
    settings.SESSION_COOKIE_SECURE = True
    device = Client()
    device.post(ENROL, {"code": made_code(supervisor, shop)})
    assert device.cookies[KEY_COOKIE]["secure"]


def test_the_code_page_says_where_to_enter_it_and_is_kept_nowhere(shop: SmallShop, supervisor: Client) -> None:
    answer = supervisor.post(NEW, chosen(shop, "cut"), headers={"Host": "localhost"})
    code = code_on(answer)
    assert re.fullmatch(r"[3-9A-Z]{4} [3-9A-Z]{4}", code)
    assert "http://localhost/floor/enrol/" in page(answer)
    assert "known on this machine only" in page(answer)
    assert "no-store" in answer["Cache-Control"]
    assert code.replace(" ", "") not in page(supervisor.get(LIST)) + str(list(EnrolmentCode.objects.values()))


def test_with_an_address_of_its_own_the_shop_needs_no_warning(
    shop: SmallShop, supervisor: Client, settings: Any
) -> None:
    settings.SHOP_URL = "https://floor.example"
    answer = supervisor.post(NEW, chosen(shop, "cut"))
    assert "https://floor.example/floor/enrol/" in page(answer)
    assert "known on this machine only" not in page(answer)


def test_opening_the_scanned_address_alone_makes_nothing_a_tablet(
    shop: SmallShop, supervisor: Client, clock: Clock
) -> None:
    code = made_code(supervisor, shop)
    device = Client()
    shown = device.get(ENROL, {"code": code})
    assert f'value="{code}"' in page(shown) and "Make it a tablet" in page(shown)
    assert not ShopTablet.objects.exists() and KEY_COOKIE not in device.cookies
    assert device.get(FLOOR).status_code == 403
    assert device.post(ENROL, {"code": code}).status_code == 302


def test_the_qr_code_says_the_address_with_the_code(shop: SmallShop, supervisor: Client) -> None:
    answer = supervisor.post(NEW, chosen(shop, "cut"))
    said = f"http://testserver/floor/enrol/?code={code_on(answer).replace(' ', '')}"
    assert qr_svg(said) in page(answer)


def test_a_code_sent_twice_by_one_device_is_one_tablet(shop: SmallShop, supervisor: Client, clock: Clock) -> None:
    code, device = made_code(supervisor, shop), Client()
    for _ in range(2):
        assert device.post(ENROL, {"code": code})["Location"] == FLOOR
    assert ShopTablet.objects.count() == 1
    assert "This device is Saw bench" in page(device.get(ENROL))


def test_a_used_code_works_for_nobody_else(shop: SmallShop, supervisor: Client, clock: Clock) -> None:
    code = made_code(supervisor, shop)
    Client().post(ENROL, {"code": code})
    second = Client()
    answer = second.post(ENROL, {"code": code})
    assert answer.status_code == 422
    assert "This code has been used already. Ask a supervisor for a new one" in page(answer)
    assert second.get(FLOOR).status_code == 403


def test_an_expired_code_says_so(shop: SmallShop, supervisor: Client, clock: Clock) -> None:
    code = made_code(supervisor, shop)
    clock.wait(seconds=CODE_LIVES.total_seconds())
    answer = Client().post(ENROL, {"code": code})
    assert answer.status_code == 422 and "This code has expired." in page(answer)


def test_wrong_codes_are_slowed_and_never_run_as_markup(shop: SmallShop, supervisor: Client, clock: Clock) -> None:
    code = made_code(supervisor, shop)
    for n in range(10):
        answer = Client().post(ENROL, {"code": f"<b>{n}</b>"})
        assert answer.status_code == 422 and f"<b>{n}" not in page(answer)
    answer = Client().post(ENROL, {"code": code})
    assert answer.status_code == 429 and "Wait a minute" in page(answer)
    clock.wait(minutes=1)
    assert Client().post(ENROL, {"code": code}).status_code == 302


# The very browser


def test_this_browser_becomes_a_tablet_once_however_often_it_is_pressed(
    shop: SmallShop, supervisor: Client, clock: Clock
) -> None:
    twice = [supervisor.post(HERE, chosen(shop, "cut", "edge")) for _ in range(2)]
    assert [answer["Location"] for answer in twice] == [FLOOR, FLOOR]
    made = ShopTablet.objects.get()
    assert (made.name, made.enrolled_by) == ("Saw bench", shop.supervisor)
    shown = page(supervisor.get(FLOOR))
    assert "/floor/cut/" in shown and "/floor/edge/" in shown and "/floor/press/" not in shown
    assert "this browser" in page(supervisor.get(LIST))


def test_what_is_missing_is_said_beside_its_field(shop: SmallShop, supervisor: Client) -> None:
    for where in (NEW, HERE):
        answer = supervisor.post(where, {"name": "", "stations": []})
        assert answer.status_code == 422
        assert "Tick at least one station" in page(answer) and "This field is required" in page(answer)
        answer = supervisor.post(where, {"name": "x" * 41, "stations": [99999]})
        assert answer.status_code == 422
    make_tablet(Client(), name="saw BENCH")
    clash = ShopTablet.objects.get()
    ShopTablet.objects.filter(pk=clash.pk).update(last_seen_at=timezone.now())
    for where in (NEW, HERE):
        answer = supervisor.post(where, chosen(shop, "cut"))
        assert answer.status_code == 422 and "is called “Saw bench” already" in page(answer)
    assert ShopTablet.objects.count() == 1


# What a tablet shows


def test_a_browser_that_is_none_is_told_what_to_do(shop: SmallShop, supervisor: Client) -> None:
    for where in (FLOOR, "/floor/cut/", "/floor/nowhere/"):
        shown = Client().get(where)
        assert shown.status_code == 403
        assert "This device is not a tablet of the shop" in page(shown) and f'href="{ENROL}"' in page(shown)
        assert "no-store" in shown["Cache-Control"] and "Clear-Site-Data" not in shown
    assert f'action="{HERE}"' in page(supervisor.get(FLOOR)), "a supervisor makes it one on the spot"


def test_a_station_that_is_not_its_own_names_those_that_are(shop: SmallShop, clock: Clock) -> None:
    (shell,) = shop.released()
    press = Tablet("press", stations=["cut", "edge"], name="Bench")
    for answer in (press.get("queue"), press.get("step", shell.serial), press.sign_in(shop.worker)):
        assert answer.status_code == 403
        assert "Bench does not belong to press" in page(answer)
        assert "This tablet shows cut and edge." in page(answer)
    assert Tablet("lathe", press.client).get("queue").status_code == 404
    assert Tablet("cut", press.client).get("sign_in").status_code == 200


def test_a_revoked_tablet_shows_nothing_from_its_next_request_on(
    shop: SmallShop, supervisor: Client, cut: Tablet
) -> None:
    (shell,) = shop.released()
    version = re.search(r"version=([^&\"]+)", page(cut.get("queue")))
    assert version is not None
    made = ShopTablet.objects.get()
    assert "Revoke" in page(supervisor.get(LIST))
    for _ in range(2):
        assert supervisor.post(address(made, "revoke/"))["Location"] == LIST
    assert cut.get("queue").status_code == 403
    assert cut.client.get(FLOOR).status_code == 403
    # The part of a queue that refreshes would stay on the screen: the whole page is loaded anew instead.
    refreshed = cut.refresh(version[1])
    assert refreshed.headers.get("HX-Refresh") == "true" and shell.serial not in page(refreshed)
    assert cut.get("queue")["Clear-Site-Data"] == '"cache", "storage"'
    assert cut.tap("sign", shell).status_code == 403
    assert cut.sign_in(shop.worker).status_code == 403
    late = cut.client.post(cut.url("sign", shell.serial), {"position": "1"}, headers={"Accept": "application/json"})
    assert late.status_code == 403 and "not a tablet of the shop" in late.json()["refused"]
    assert shop.step(shell, 1).state == "ready"
    made.refresh_from_db()
    assert made.revoked_by == shop.supervisor
    assert "Revoked: 1" in page(supervisor.get(LIST))


def test_a_station_taken_away_is_gone_at_once_and_a_rename_signs_nobody_out(
    shop: SmallShop, supervisor: Client, cut: Tablet
) -> None:
    (shell,) = shop.released()
    made = ShopTablet.objects.get()
    assert "checked" in page(supervisor.get(address(made)))
    answer = supervisor.post(address(made), chosen(shop, "cut", name="Other name"))
    assert answer["Location"] == LIST
    assert cut.tap("sign", shell).status_code == 302
    assert ShellRecord.objects.filter(shell=shell).latest("sequence").device == "Other name"
    supervisor.post(address(made), chosen(shop, "edge", name="Other name"))
    assert cut.get("queue").status_code == 403
    revoke(tablet=made, by=shop.supervisor, at=shop.clock)
    answer = supervisor.post(address(made), chosen(shop, "cut", name="Back again"))
    assert answer.status_code == 422 and "is revoked" in page(answer)


def test_the_only_station_needs_no_choice(shop: SmallShop, clock: Clock) -> None:
    one, two = Tablet("cut", stations=["cut"]), Tablet("cut", stations=["cut", "edge"])
    assert one.client.get(FLOOR)["Location"] == "/floor/cut/"
    assert "Another station" not in page(one.get("sign_in"))
    assert two.client.get(FLOOR).status_code == 200
    assert "Another station" in page(two.get("sign_in"))
    shop.stations["edge"].is_active = False
    shop.stations["edge"].save()
    assert two.client.get(FLOOR)["Location"] == "/floor/cut/"
    shop.stations["cut"].is_active = False
    shop.stations["cut"].save()
    assert "gives it others in the office, under Tablets" in page(two.client.get(FLOOR))


@pytest.mark.parametrize("cookie", ["", "x", "a:b:c", "\x00"])
def test_a_made_up_cookie_is_no_key(shop: SmallShop, cut: Tablet, cookie: str) -> None:
    device = Client()
    device.cookies[KEY_COOKIE], device.cookies[STATION_COOKIE] = cookie, "cut"
    assert device.get("/floor/cut/").status_code == 403
    kept = cut.client.cookies[KEY_COOKIE].value
    device.cookies[KEY_COOKIE] = kept[:-1] + ("A" if kept[-1] != "A" else "B")
    assert device.get("/floor/cut/").status_code == 403


def test_last_seen_is_written_once_a_minute(shop: SmallShop, cut: Tablet, clock: Clock) -> None:
    first = ShopTablet.objects.get().last_seen_at
    assert first == shop.clock
    clock.wait(seconds=59)
    cut.get("queue")
    assert ShopTablet.objects.get().last_seen_at == first
    clock.wait(seconds=1)
    cut.refresh()
    assert ShopTablet.objects.get().last_seen_at == first + timedelta(minutes=1)


# Wrong PINs


def test_a_tablet_locks_after_twenty_wrong_pins_and_a_supervisor_unlocks_it(
    shop: SmallShop, supervisor: Client, clock: Clock
) -> None:
    wall = Tablet("cut", name="Saw bench")
    hands = [person(f"hand-{n}", stations=[shop.stations["cut"]]) for n in range(TABLET_LOCKED_AFTER // 2)]
    for who in [*hands, *hands]:
        refused = wall.sign_in(who, WRONG)
        assert refused.status_code == 422
    assert "Nobody can sign in at Saw bench for 5 minutes" in page(refused)
    assert "unlock it under Tablets" in page(wall.sign_in(shop.worker))
    assert Tablet("cut").sign_in(shop.worker).status_code == 302, "the tablet beside it is open"
    made = ShopTablet.objects.get(name="Saw bench")
    assert "20 in a row: locked until" in page(supervisor.get(LIST))
    assert "locked until" in page(supervisor.get(address(made)))
    assert supervisor.post(address(made, "unlock/"))["Location"] == LIST
    assert wall.sign_in(shop.worker).status_code == 302
    assert "in a row" not in page(supervisor.get(LIST))


def test_a_pin_entered_to_sign_the_final_check_counts_too(shop: SmallShop, clock: Clock) -> None:
    (shell,) = shop.released()
    desk = Tablet("final-check")
    desk.sign_in(shop.checker)
    desk.tap("sign", shell, 7, pin=WRONG)
    assert ShopTablet.objects.get().failed_pins == 1
    assert Person.objects.get(pk=shop.checker.pk).failed_pins == 1
    desk.tap("sign", shell, 7, pin=PIN)
    assert ShopTablet.objects.get().failed_pins == 0


def test_a_tablet_that_is_none_is_not_found(shop: SmallShop, supervisor: Client) -> None:
    for what, method in (("", "get"), ("", "post"), ("revoke/", "post"), ("unlock/", "post")):
        assert getattr(supervisor, method)(f"/tablets/999/{what}").status_code == 404


def test_the_number_of_queries_does_not_grow_with_the_tablets(
    shop: SmallShop, supervisor: Client, django_assert_max_num_queries: Any
) -> None:
    def count() -> int:
        with django_assert_max_num_queries(20) as asked:
            supervisor.get(LIST)
        return len(asked)

    make_tablet(Client())
    before = count()
    for _ in range(5):
        make_tablet(Client())
    assert count() == before
