"""Sub-assemblies on screen: routes and lots in the office, steps at the tablet."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from quality.models import LotRoute, LotRouteStep, LotSignOff, MadeLot, MaterialLot, Person
from tests.quality.test_made_here import begin, route
from tests.shopfloor.tablets import Clock, Tablet, page
from tests.small_shop import SmallShop

pytestmark = pytest.mark.django_db


@pytest.fixture
def office(client: Client, shop: SmallShop) -> Client:
    client.force_login(shop.supervisor)
    return client


def steps(*rows: tuple[str, Any], first: int = 0) -> dict[str, Any]:
    """A formset as the browser sends it: (title, station id) of each step."""
    form: dict[str, Any] = {"steps-TOTAL_FORMS": len(rows), "steps-INITIAL_FORMS": first}
    for n, (title, station) in enumerate(rows):
        form |= {
            f"steps-{n}-position": n + 1,
            f"steps-{n}-title": title,
            f"steps-{n}-station": station,
            f"steps-{n}-check_text": "Square",
            f"steps-{n}-dwell_h": "0",
        }
    return form


def test_a_route_is_made_and_changed_as_a_new_revision(shop: SmallShop, office: Client) -> None:
    station = shop.stations["cut"].pk
    fields = {"name": "lug, prepared", "code": "lugs", "kind": "hardware", "unit": "pieces", "revision": "0"}
    url = reverse("made_here:new_route")
    assert office.post(url, fields | steps(("Clean", station))).status_code == 302
    first = LotRoute.objects.get()
    made = begin(shop, first)
    edit = reverse("made_here:route", args=["lugs"])
    assert office.get(edit).status_code == 200
    kept = LotRouteStep.objects.get()
    changed = fields | steps(("Clean twice", station), ("Count", station)) | {"revision": "1", "steps-0-id": ""}
    assert office.post(edit, changed).status_code == 302
    old, new = LotRoute.objects.order_by("revision")
    assert (old.is_current, new.is_current, new.revision) == (False, True, 2)
    assert [step.title for step in new.steps.all()] == ["Clean twice", "Count"]
    kept.refresh_from_db()
    assert (kept.title, kept.route, made.route) == ("Clean", old, old)
    assert "Somebody changed this route" in office.post(edit, changed).content.decode()


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"steps-TOTAL_FORMS": 0}, "at least one step"),
        ({"code": "plates"}, "already"),
        ({"steps-0-dwell_h": "-1"}, "greater than or equal to 0"),
        ({"name": ""}, "required"),
    ],
)
def test_a_route_that_makes_no_sense(shop: SmallShop, office: Client, wrong: dict[str, Any], said: str) -> None:
    route(shop)
    fields = {"name": "x", "code": "x", "kind": "hardware", "unit": "pieces", "revision": "0"}
    answer = office.post(reverse("made_here:new_route"), fields | steps(("Clean", shop.stations["cut"].pk)) | wrong)
    assert answer.status_code == 422
    assert said in answer.content.decode()
    assert LotRoute.objects.count() == 1


def test_a_lot_is_begun_once_and_shown(shop: SmallShop, office: Client) -> None:
    by = route(shop)
    form = {"route": by.pk, "quantity": "12", "tap_key": "k"}
    for _ in range(2):
        assert office.post(reverse("made_here:begin"), form).status_code == 302
    made = MadeLot.objects.get()
    overview = office.get(reverse("made_here:list")).content.decode()
    assert made.lot.code in overview and "Saw" in overview
    lot_page = office.get(reverse("materials:lot", args=[made.lot_id])).content.decode()
    assert "12 pieces begun" in lot_page and "No step is signed yet." in lot_page
    assert office.post(reverse("made_here:begin"), form | {"quantity": "0"}).status_code == 422


def test_an_empty_shop_says_what_to_do(shop: SmallShop, office: Client) -> None:
    assert "No sub-assembly has a route yet." in office.get(reverse("made_here:list")).content.decode()


def test_a_step_is_signed_at_the_tablet(shop: SmallShop, cut: Tablet, office: Client) -> None:
    made = begin(shop, route(shop))
    part = MaterialLot.objects.create(code="R-1", kind="other", name="rubber", received_on=shop.clock.date())
    assert "Sub-assemblies: 1 waiting" in page(cut.get("queue"))
    shown = page(cut.get("made_here"))
    assert "Saw" in shown and "Square" in shown
    sign = cut.url("sign_made_here", made.pk)
    form = {"position": "1", "tap_key": "t", "good": "10", "components": "r-1", "note": "new blade"}
    unchecked = cut.client.post(sign, form)
    assert unchecked.status_code == 422
    assert "Still to be checked: Square" in page(unchecked)
    assert 'value="r-1"' in page(unchecked) and "new blade" in page(unchecked)
    for _ in range(2):
        assert cut.client.post(sign, form | {"check": "yes"}).status_code == 302
    signed = LotSignOff.objects.get()
    assert (signed.person, signed.good, signed.note) == (shop.worker, 10, "new blade")
    assert [component.lot for component in signed.components.all()] == [part]
    assert "Waits until" in page(cut.get("made_here"))
    again = cut.client.post(sign, form | {"check": "yes", "tap_key": "u"})
    assert again.status_code == 409
    assert f"{shop.worker.name} signed" in page(again)
    assert "R-1" in office.get(reverse("materials:lot", args=[made.lot_id])).content.decode()
    assert made.lot.code in office.get(reverse("materials:lot", args=[part.pk])).content.decode()


def test_a_signed_step_is_named_in_the_quotation_marks_of_the_worker(shop: SmallShop, cut: Tablet) -> None:
    Person.objects.filter(pk=shop.worker.pk).update(language="de")
    made = begin(shop, route(shop))
    form = {"position": "1", "tap_key": "t", "good": "10", "check": "yes"}
    assert cut.client.post(cut.url("sign_made_here", made.pk), form).status_code == 302
    assert f"„Saw“ von {made.lot.code} ist abgezeichnet von {shop.worker.name}." in page(cut.get("made_here"))


def test_nothing_waits_elsewhere_and_strangers_sign_in(shop: SmallShop, clock: Clock) -> None:
    made = begin(shop, route(shop))
    press = Tablet("press")
    assert press.get("made_here").status_code == 302
    assert press.client.post(press.url("sign_made_here", made.pk), {}).status_code == 302
    press.sign_in(shop.worker)
    assert "No sub-assembly waits here." in page(press.get("made_here"))
    assert "Sub-assemblies" not in page(press.get("queue"))
    assert press.client.get(press.url("sign_made_here", made.pk)).status_code == 405
    assert press.client.post(press.url("sign_made_here", 999), {}).status_code == 404
    wrong = press.client.post(press.url("sign_made_here", made.pk), {"position": "1", "good": "ten"})
    assert wrong.status_code == 422
    assert "sign it there" in page(wrong)
