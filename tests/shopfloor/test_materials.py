"""Materials at the tablet and in the office: asked for, preselected, refused, mixed, listed, traced."""

from __future__ import annotations

import json
import re
from datetime import date, timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from quality.models import GlueBatch, LotKind, LotState, MaterialLot, MaterialUse, Person, Role, SignOff
from quality.verification import verify_shell
from routing.models import Glue, Shell, ShellRecord
from tests.quality.test_glue_batches import at_press, mix
from tests.quality.test_materials import lot, sign
from tests.shopfloor.paper import pages_of
from tests.shopfloor.tablets import Clock, Tablet, page, sign_through
from tests.small_shop import SmallShop

pytestmark = pytest.mark.django_db
KEY = "plate-birch-3-0"


def at(shop: SmallShop, station: str) -> Tablet:
    tablet = Tablet(station)
    tablet.sign_in(shop.worker)
    return tablet


def chosen(html: str) -> list[str]:
    """The codes that are chosen already in the form of a step."""
    return re.findall(r'<option value="([^"]+)" selected>', html)


def offered(html: str) -> list[str]:
    form = html.split('class="materials"')[1].split("</fieldset>")[0] if 'class="materials"' in html else ""
    return re.findall(r'<option value="([^"]+)"', form)


# At a step


def test_a_shop_without_lots_sees_no_field_for_them(shop: SmallShop, clock: Clock) -> None:
    shell = shop.released()[0]
    tablet = at(shop, "cut")
    assert 'class="materials"' not in page(tablet.get("step", shell.serial))
    assert tablet.tap("sign", shell).status_code == 302


def test_the_fitting_lots_are_offered_and_the_choice_is_signed(shop: SmallShop, clock: Clock) -> None:
    shell = shop.released()[0]
    lot(shop), lot(shop, "W-1", LotKind.SNARE_WIRE, "wires"), lot(shop, "P-0", expires_on=date(2026, 10, 31))
    tablet = at(shop, "cut")
    shown = page(tablet.get("step", shell.serial))
    assert offered(shown) == ["P-1"]
    assert chosen(shown) == []  # nothing was used here yet, so nothing is guessed
    assert tablet.tap("sign", shell, **{f"material-{KEY}": "P-1"}).status_code == 302
    assert SignOff.objects.get().record.body["materials"][0]["code"] == "P-1"


def test_what_was_scanned_counts_instead_of_what_was_chosen(shop: SmallShop, clock: Clock) -> None:
    shell = shop.released()[0]
    lot(shop), lot(shop, "P-2")
    at(shop, "cut").tap("sign", shell, **{f"material-{KEY}": "P-1", f"material-{KEY}-code": "p-2"})
    assert [use.lot and use.lot.code for use in MaterialUse.objects.all()] == ["P-2"]


def test_the_lot_used_last_at_this_tablet_is_chosen_already(shop: SmallShop, clock: Clock) -> None:
    first, second, third = shop.released(quantity=3)
    lot(shop), lot(shop, "P-2")
    here, other = at(shop, "cut"), at(shop, "cut")
    here.tap("sign", first, **{f"material-{KEY}": "P-1"})
    assert chosen(page(other.get("step", third.serial))) == ["P-1"]  # used at this station, at least
    other.tap("sign", second, **{f"material-{KEY}": "P-2"})
    assert chosen(page(other.get("step", third.serial))) == ["P-2"]
    MaterialLot.objects.filter(code="P-2").update(state=LotState.EMPTY)
    assert "P-2" not in chosen(page(other.get("step", third.serial)))


@pytest.mark.parametrize(
    ("code", "words"), [("P-404", "No lot has the code"), ("OLD", "expired"), ("WIRE", "is snare wires, not plate")]
)
def test_a_refused_code_is_explained_and_shown_again(shop: SmallShop, clock: Clock, code: str, words: str) -> None:
    shell = shop.released()[0]
    lot(shop), lot(shop, "OLD", expires_on=shop.clock.date() - timedelta(days=1))
    lot(shop, "WIRE", LotKind.SNARE_WIRE, "20 strands")
    answer = at(shop, "cut").tap("sign", shell, **{f"material-{KEY}": "P-1", f"material-{KEY}-code": code})
    assert answer.status_code == 422
    assert words in page(answer)
    assert f'value="{code}"' in page(answer)
    assert chosen(page(answer)) == ["P-1"]
    assert not SignOff.objects.exists()
    assert not MaterialUse.objects.exists()


def test_two_taps_with_one_key_use_a_lot_once(shop: SmallShop, clock: Clock) -> None:
    shell = shop.released()[0]
    lot(shop)
    tablet = at(shop, "cut")
    for _ in range(2):
        assert tablet.tap("sign", shell, tap_key="one", **{f"material-{KEY}": "P-1"}).status_code == 302
    assert MaterialUse.objects.count() == 1


# Glue at the press


def weigh(tablet: Tablet, *shells: Shell, **more: str) -> Any:
    asked: dict[str, Any] = {"shell": [shell.serial for shell in shells]}
    return tablet.client.get(tablet.url("glue"), asked | more)


def mixed(tablet: Tablet, *shells: Shell, **more: str) -> Any:
    """Ask what to weigh, weigh exactly that, and say so."""
    shown = page(weigh(tablet, *shells))
    masses = dict(re.findall(r'name="(mass-\d)"[^>]* value="([\d.]+)"', shown))
    form = {"glue": str(Glue.objects.get().pk), "temperature_c": "20", "tap_key": "tap"} | masses | more
    return tablet.client.post(tablet.url("mix"), form)


def test_the_press_shows_what_to_weigh_for_the_chosen_shells(shop: SmallShop, clock: Clock) -> None:
    first, second = at_press(shop, 2)
    clock.wait()
    tablet = at(shop, "press")
    assert reverse("floor:glue", args=["press"]) in page(tablet.get("queue"))
    assert "Weigh for" not in page(weigh(tablet))
    one = page(weigh(tablet, first))
    two = page(weigh(tablet, first, second))
    grams = [float(re.findall(r'name="mass-1"[^>]* value="([\d.]+)"', shown)[0]) for shown in (one, two)]
    assert grams[1] == pytest.approx(2 * grams[0], abs=1)
    for shown in (one, two):
        assert "Gloves and eye protection" in shown
        assert "safety data sheet comes first" in shown


def test_mixed_now_gives_a_code_and_its_clock_stands_in_the_queue(shop: SmallShop, clock: Clock) -> None:
    shell = at_press(shop)[0]
    clock.wait()
    tablet = at(shop, "press")
    before = re.findall(r"version=([^\"]+)", page(tablet.get("queue")))[0]
    answer = mixed(tablet, shell)
    assert answer.status_code == 302
    batch = GlueBatch.objects.get()
    queue = page(tablet.get("queue"))
    assert f"<b>{batch.code}</b>: <time" in queue
    assert ">3 h 0 min left<" in queue
    assert page(tablet.refresh(before)).count(batch.code) == 1  # other tablets see it too
    clock.wait(minutes=146)
    tablet.sign_in(shop.worker)
    assert ">34 min left<" in page(tablet.get("queue"))
    clock.wait(minutes=35)
    tablet.sign_in(shop.worker)
    assert batch.code not in page(tablet.get("queue"))


def test_two_taps_with_one_key_mix_once(shop: SmallShop, clock: Clock) -> None:
    shell = at_press(shop)[0]
    clock.wait()
    tablet = at(shop, "press")
    assert [mixed(tablet, shell).status_code for _ in range(2)] == [302, 302]
    assert GlueBatch.objects.count() == 1


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ({"mass-2": ""}, "is no number"),
        ({"mass-1": "1.250"}, "“1.250” can be read in two ways. Write grams without a sign for thousands"),
        ({"mass-1": "1,250"}, "can be read in two ways"),
        ({"mass-2": "0"}, "Weigh water"),
        ({"mass-2": "5"}, "off the recipe"),
        ({"temperature_c": "5"}, "too cold"),
        ({"glue": ""}, "Choose the shells first"),
        ({"material-part-1-code": "NOPE"}, "No lot has the code"),
    ],
)
def test_a_mix_that_can_not_be_is_refused_with_a_sentence(
    shop: SmallShop, clock: Clock, typed: dict[str, str], words: str
) -> None:
    shell = at_press(shop)[0]
    lot(shop, "RES-1", LotKind.GLUE, "powder")
    clock.wait()
    answer = mixed(at(shop, "press"), shell, shell=shell.serial, **typed)
    assert answer.status_code == 422
    assert words in page(answer)
    assert not GlueBatch.objects.exists()


def test_the_lots_of_the_parts_are_kept_and_offered_again(shop: SmallShop, clock: Clock) -> None:
    shell = at_press(shop)[0]
    lot(shop, "RES-1", LotKind.GLUE, "powder")
    clock.wait()
    tablet = at(shop, "press")
    assert chosen(page(weigh(tablet, shell))) == []
    mixed(tablet, shell, **{"material-part-1": "RES-1"})
    assert [part.lot and part.lot.code for part in GlueBatch.objects.get().parts.all()] == ["RES-1", None]
    assert chosen(page(weigh(tablet, shell))) == ["RES-1"]


@pytest.mark.parametrize("typed", [{"temperature_c": "warm"}, {"temperature_c": "40"}, {"minutes": "0"}])
def test_what_to_weigh_is_refused_for_nonsense(shop: SmallShop, clock: Clock, typed: dict[str, str]) -> None:
    shell = at_press(shop)[0]
    clock.wait()
    answer = weigh(at(shop, "press"), shell, **typed)
    assert answer.status_code == 422
    assert 'role="alert"' in page(answer)
    assert "Mixed now" not in page(answer)


def test_more_shells_than_one_batch_serves_are_warned_of(shop: SmallShop, clock: Clock) -> None:
    shells = at_press(shop, 2)
    clock.wait()
    Glue.objects.update(pot_life_min_at_20c=12)
    assert "One batch serves 1 shell before" in page(weigh(at(shop, "press"), *shells))


def test_glue_is_mixed_at_the_press_only_and_by_somebody_signed_in(shop: SmallShop, clock: Clock) -> None:
    assert at(shop, "cut").get("glue").status_code == 404
    stranger = Tablet("press")
    for answer in (stranger.get("glue"), stranger.client.post(stranger.url("mix"), {})):
        assert answer.status_code == 302
    assert not GlueBatch.objects.exists()
    assert "Mix glue" not in page(at(shop, "cut").get("queue"))


def test_who_may_not_glue_may_not_mix(shop: SmallShop, clock: Clock) -> None:
    shell = at_press(shop)[0]
    clock.wait()
    shop.worker.qualifications.filter(station=shop.stations["press"]).delete()
    answer = mixed(at(shop, "press"), shell)
    assert answer.status_code == 422
    assert "not qualified" in page(answer)
    assert not GlueBatch.objects.exists()


def test_the_press_asks_for_the_batch_and_one_batch_is_chosen_already(shop: SmallShop, clock: Clock) -> None:
    first, second = at_press(shop, 2)
    batch = mix(shop)
    clock.wait()
    tablet = at(shop, "press")
    assert chosen(page(tablet.get("step", first.serial))) == [batch.code]
    refused = tablet.tap("sign", first, 2)
    assert refused.status_code == 422
    assert "Which glue batch?" in page(refused)
    assert tablet.tap("sign", first, 2, **{"material-glue": batch.code}).status_code == 302
    clock.wait(minutes=181)
    tablet.sign_in(shop.worker)
    late = tablet.tap("sign", second, 2, **{"material-glue": batch.code})
    assert late.status_code == 422
    assert "too old now" in page(late)
    assert MaterialUse.objects.count() == 1


def test_a_press_load_signs_with_one_batch(shop: SmallShop, clock: Clock) -> None:
    shells = at_press(shop, 3)
    batch = mix(shop)
    clock.wait()
    tablet = at(shop, "press")
    serials = [shell.serial for shell in shells]
    shown = page(tablet.client.get(tablet.url("rack_sign"), {"shell": serials}))
    assert offered(shown) == [batch.code]
    form: dict[str, Any] = {"shell": serials, "tap_key": "load", "material-glue": batch.code}
    answer = tablet.client.post(tablet.url("rack_sign"), form | {f"position-{serial}": "2" for serial in serials})
    assert answer.status_code == 200
    assert [use.glue_batch for use in MaterialUse.objects.all()] == [batch] * 3


def test_a_used_up_batch_leaves_the_queue(shop: SmallShop, clock: Clock) -> None:
    batch = mix(shop)
    tablet = at(shop, "press")
    for _ in range(2):
        assert tablet.client.post(tablet.url("used_up", batch.pk)).status_code == 302
    assert f"<b>{batch.code}</b>" not in page(tablet.get("queue"))


# In the office


@pytest.fixture
def desk(shop: SmallShop) -> Client:
    client = Client()
    client.force_login(Person.objects.create(username="olga", name="Olga Office", role=Role.OFFICE))
    return client


NEW = {"kind": "head", "code": "hd-1", "name": "Clear heads", "received_on": "2026-11-02", "tap_key": "k"}


def test_a_lot_is_received_once_however_often_the_form_is_sent(desk: Client) -> None:
    for _ in range(2):
        assert desk.post("/materials/new/", NEW).status_code == 302
    received = MaterialLot.objects.get()
    assert (received.code, received.kind, received.changes.get().person_name) == ("HD-1", "head", "Olga Office")


@pytest.mark.parametrize(
    ("typed", "status"),
    [
        ({"code": ""}, 422),
        ({"kind": "cheese"}, 422),
        ({"received_on": "yesterday"}, 422),
        ({"expires_on": "2026-11-01"}, 422),
        ({"code": "A,B"}, 422),
        ({"tap_key": "another"}, 409),
    ],
)
def test_what_is_wrong_with_a_lot_is_said(desk: Client, typed: dict[str, str], status: int) -> None:
    desk.post("/materials/new/", NEW)
    answer = desk.post("/materials/new/", NEW | {"tap_key": "another", "code": "hd-2"} | {"code": "hd-1"} | typed)
    assert answer.status_code == status
    assert 'role="alert"' in page(answer)
    assert MaterialLot.objects.count() == 1


def test_the_list_narrows_by_kind_and_state(shop: SmallShop, desk: Client) -> None:
    lot(shop), lot(shop, "H-1", LotKind.HEAD, "heads"), lot(shop, "P-2")
    MaterialLot.objects.filter(code="P-2").update(state="empty", expires_on=date(2026, 11, 1))

    def codes(**asked: str) -> list[str]:
        return re.findall(r'lots/\d+/">([^<]+)', page(desk.get("/materials/", asked)))

    assert sorted(codes()) == ["H-1", "P-1", "P-2"]
    assert sorted(codes(kind="plate")) == ["P-1", "P-2"]
    assert codes(kind="plate", state="empty") == ["P-2"]
    assert codes(kind="wrap") == []
    assert "No lot fits" in page(desk.get("/materials/", {"kind": "wrap"}))
    assert len(codes(kind="cheese")) == 3  # nonsense narrows nothing
    assert "expired" in page(desk.get("/materials/"))


def test_a_lot_is_held_with_a_reason_and_freed_again(shop: SmallShop, desk: Client) -> None:
    held = lot(shop)
    where = f"/materials/lots/{held.pk}/"
    for form, status in (
        ({"state": "cheese"}, 422),
        ({"state": "received"}, 409),
        ({"state": "held"}, 422),
        ({"state": "held", "reason": "delaminates", "tap_key": "a"}, 302),
        ({"state": "held", "reason": "delaminates", "tap_key": "a"}, 302),
        ({"state": "held", "reason": "again", "tap_key": "b"}, 409),
        ({"state": "open", "reason": "pressed again", "tap_key": "c"}, 302),
    ):
        assert desk.post(f"{where}state/", form).status_code == status, form
    shown = page(desk.get(where))
    assert "It is open" in shown
    assert "delaminates" in shown
    assert held.changes.count() == 3


def test_a_lots_page_leads_to_the_drums_it_is_in_also_through_glue(shop: SmallShop, desk: Client) -> None:
    cut, glued = shop.released(quantity=2)
    plates, resin = lot(shop), lot(shop, "RES-1", LotKind.GLUE, "powder")
    sign(shop, cut, plate_birch_3_0="P-1")
    sign_through(shop, glued, 1)
    batch = mix(shop, lots={1: "RES-1"})
    sign(shop, glued, 2, glue=batch.code)

    def drums(address: str) -> list[str]:
        return re.findall(r'class="serial" href="/trace/([^/]+)/"', page(desk.get(address)))

    assert drums(f"/materials/lots/{plates.pk}/") == [cut.serial]
    assert drums(f"/materials/lots/{resin.pk}/") == [glued.serial]
    assert drums(f"/materials/glue/{batch.pk}/") == [glued.serial]
    assert batch.code in page(desk.get(f"/materials/lots/{resin.pk}/"))
    assert "RES-1" in page(desk.get(f"/materials/glue/{batch.pk}/"))


def test_batches_are_listed_for_thirty_days(shop: SmallShop, desk: Client, clock: Clock) -> None:
    batch = mix(shop)
    clock.wait(days=29)
    client = Client()
    client.force_login(Person.objects.get(username="olga"))
    assert batch.code in page(client.get("/materials/glue/"))
    clock.wait(days=2)
    client.force_login(Person.objects.get(username="olga"))
    assert batch.code not in page(client.get("/materials/glue/"))


def test_a_drums_story_names_its_materials_on_page_paper_and_in_json(shop: SmallShop, desk: Client) -> None:
    shell = at_press(shop)[0]
    batch = mix(shop)
    sign(shop, shell, 2, glue=batch.code)
    where = f"/trace/{shell.serial}/"
    assert f'href="/materials/glue/{batch.pk}/">{batch.code}, Urea</a>' in page(desk.get(where))
    events = json.loads(desk.get(f"{where}story.json").content)["events"]
    assert [event["materials"] for event in events if event["materials"]] == [
        [{"what": "Glue batch", "code": batch.code, "name": "Urea", "lot": None, "glue_batch": batch.pk}]
    ]
    assert batch.code in "".join(pages_of(desk.get(f"{where}story.pdf").content))
    worker = Client()
    worker.force_login(shop.worker)
    assert f"<strong>{batch.code}, Urea</strong>" in page(worker.get(where))  # no link to a page that is closed to them
    shell.refresh_from_db()
    assert list(verify_shell(shell)) == []
    assert ShellRecord.objects.filter(shell=shell).count() > 2
