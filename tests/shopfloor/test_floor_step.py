"""The page of one shell at one station: its numbers, its caution, its checks, or where it is instead."""

from __future__ import annotations

import re
from typing import Any

import pytest

from quality.models import CheckPoint, Defect
from routing.models import Operation, Shell, ShellSpec
from routing.reissue import enter_plate_thickness
from routing.station_numbers import station_numbers
from tests.shopfloor.tablets import Clock, Tablet, page, sign_through
from tests.small_shop import SmallShop

pytestmark = pytest.mark.django_db


def at(station: str, shop: SmallShop, *, checker: bool = False) -> Tablet:
    tablet = Tablet(station)
    tablet.sign_in(shop.checker if checker else shop.worker)
    return tablet


def has_form(shown: str, tablet: Tablet, name: str, shell: Shell) -> bool:
    return f'action="{tablet.url(name, shell.serial)}"' in shown


@pytest.mark.parametrize("station", ["cut", "press", "edge", "finish", "assemble"])
def test_every_number_of_the_station_stands_on_its_page(shop: SmallShop, clock: Clock, station: str) -> None:
    (shell,) = shop.released()
    spec = ShellSpec.objects.get(shell=shell)
    kind = shop.stations[station].kind
    coat = Operation.objects.filter(shell=shell, station__code=station).values_list("coat_index", flat=True)[0]
    numbers = station_numbers(kind, spec.results, spec.inputs, coat)
    assert numbers
    shown = page(at(station, shop).get("step", shell.serial))
    words = " ".join(re.sub(r"<[^>]+>", " ", shown).split())
    for number in numbers:
        assert number.value in words, f"{number.label} is not on the page of {station}"
    assert f"Mind your hands at {station}." in shown


def test_the_page_says_which_drum_it_is_and_for_whom(shop: SmallShop, cut: Tablet) -> None:
    (shell,) = shop.released()
    shown = page(cut.get("step", shell.serial))
    for said in (shell.serial, "14 × 5.5 in", "snare", "Heron satin", "K-1", "Harrow Lane School", "18 Dec 2026"):
        assert said in shown


def test_checks_stand_with_the_limits_of_this_very_drum(shop: SmallShop, cut: Tablet, depth: CheckPoint) -> None:
    CheckPoint.objects.create(code="seam", station=shop.stations["cut"], text="Seams closed")
    CheckPoint.objects.create(code="bass", station=shop.stations["cut"], text="Bass only", role="bass")
    (shell,) = shop.released()
    shown = page(cut.get("step", shell.serial))
    assert "139.2 … 140.2 mm" in shown  # 5.5 in = 139.7 mm by definition of the inch
    assert f'name="check-{depth.pk}"' in shown
    assert "Seams closed" in shown and 'value="yes"' in shown
    assert "Bass only" not in shown


def test_the_usual_defects_of_the_station_are_offered(shop: SmallShop, cut: Tablet) -> None:
    Defect.objects.create(code="C1", name="Plate too short", found_at="cut, press")
    Defect.objects.create(code="F1", name="Run in the lacquer", found_at="finish")
    (shell,) = shop.released()
    shown = page(cut.get("step", shell.serial))
    assert "Plate too short" in shown
    assert "Run in the lacquer" not in shown
    Defect.objects.update(found_at="finish")
    assert "Plate too short" in page(cut.get("step", shell.serial)), "all of them when none is usual here"


def test_what_can_be_done_is_offered_and_nothing_else(shop: SmallShop, cut: Tablet) -> None:
    (shell,) = shop.released()
    shown = page(cut.get("step", shell.serial))
    offered = {
        name: has_form(shown, cut, name, shell)
        for name in ("sign", "start", "problem", "thickness", "withdraw", "settle")
    }
    assert offered == {
        "sign": True,
        "start": True,
        "problem": True,
        "thickness": True,
        "withdraw": False,
        "settle": False,
    }
    assert "Sign as Wanda Worker" in shown
    assert "Your PIN again" not in shown


def test_a_shell_that_is_elsewhere_says_where(shop: SmallShop, clock: Clock) -> None:
    (shell,) = shop.released()
    edge = at("edge", shop)
    shown = page(edge.get("step", shell.serial))
    assert f"{shell.serial} belongs to cut now" in shown
    assert Tablet("cut").url("step", shell.serial) in shown
    assert not has_form(shown, edge, "sign", shell)
    assert not has_form(shown, edge, "problem", shell)


def test_a_shell_that_cures_says_until_when_and_cannot_be_signed(shop: SmallShop, clock: Clock) -> None:
    (shell,) = shop.released()
    sign_through(shop, shell, 2)
    clock.wait(hours=47)
    edge = at("edge", shop)
    shown = page(edge.get("step", shell.serial))
    assert "Still curing until" in shown
    assert not has_form(shown, edge, "sign", shell)
    assert has_form(shown, edge, "problem", shell), "something may be seen to be wrong while it cures"
    pressed = page(at("press", shop).get("step", shell.serial))
    assert f"{shell.serial} waits until" in pressed


def test_a_signed_step_shows_who_signed_it_and_may_be_taken_back(shop: SmallShop, cut: Tablet) -> None:
    (shell,) = shop.released()
    cut.tap("sign", shell)
    shown = page(cut.get("step", shell.serial))
    assert "Signed by Wanda Worker, 2026-11-02 09:00" in shown  # 08:00 UTC in Berlin
    assert has_form(shown, cut, "withdraw", shell)
    other = at("cut", shop, checker=True)
    assert not has_form(page(other.get("step", shell.serial)), other, "withdraw", shell)


def test_the_final_check_asks_for_the_pin(shop: SmallShop, clock: Clock) -> None:
    (shell,) = shop.released()
    sign_through(shop, shell, 6)
    clock.wait(minutes=1)
    assert "Your PIN again" in page(at("final-check", shop, checker=True).get("step", shell.serial))


def test_old_paper_is_recognised(shop: SmallShop, cut: Tablet) -> None:
    (shell,) = shop.released()
    assert "older revision" not in page(cut.get("step", shell.serial, r="1"))
    enter_plate_thickness(serial=shell.serial, measured_mm={1: 3.1}, stamp=shop.stamp(shop.worker))
    assert "older revision" in page(cut.get("step", shell.serial, r="1"))
    assert "older revision" not in page(cut.get("step", shell.serial, r="2"))


@pytest.mark.parametrize("revision", ["", "x", "-1", "²", "1.5", "9" * 5000])
def test_a_revision_that_is_no_number_is_ignored(shop: SmallShop, cut: Tablet, revision: str) -> None:
    (shell,) = shop.released()
    answer = cut.get("step", shell.serial, r=revision)
    assert answer.status_code == 200
    assert "older revision" not in page(answer)


def test_a_serial_is_read_as_people_type_it_and_an_unknown_one_is_not_found(shop: SmallShop, cut: Tablet) -> None:
    (shell,) = shop.released()
    assert cut.get("step", shell.serial.lower()).status_code == 200
    wrong = shell.serial[:-1] + ("X" if shell.serial[-1] != "X" else "Y")
    assert cut.get("step", wrong).status_code == 404
    Shell.objects.filter(pk=shell.pk).update(serial="SS-26-9999-X")
    assert cut.get("step", shell.serial).status_code == 404


@pytest.mark.parametrize(
    ("name", "method"),
    [
        ("step", "post"),
        ("sign", "get"),
        ("start", "get"),
        ("problem", "get"),
        ("withdraw", "get"),
        ("settle", "get"),
        ("thickness", "get"),
    ],
)
def test_a_wrong_method_is_refused(shop: SmallShop, cut: Tablet, name: str, method: str) -> None:
    (shell,) = shop.released()
    ask: Any = getattr(cut.client, method)
    assert ask(cut.url(name, shell.serial)).status_code == 405


def test_a_page_is_never_kept_by_the_browser(shop: SmallShop, cut: Tablet) -> None:
    (shell,) = shop.released()
    assert "no-store" in cut.get("step", shell.serial)["Cache-Control"]


def test_a_spec_of_an_earlier_version_is_said_to_be_old(
    shop: SmallShop, cut: Tablet, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It lacks what was added since: the tablet says what to do about it. In a spec of today that is a fault of the program."""
    (shell,) = shop.released()

    def of_version(version: str) -> None:
        def asked(shell: Shell) -> ShellSpec:
            spec = ShellSpec.objects.get(shell=shell)
            spec.formula_version = version or spec.formula_version
            del spec.results["cutting"]
            return spec

        for room in ("step", "step_page"):
            monkeypatch.setattr(f"shopfloor.floor.{room}.current_spec", asked)

    of_version("1")
    answer = cut.get("step", shell.serial)
    assert answer.status_code == 302
    assert "Issue the spec again" in page(cut.get("queue"))
    of_version("")
    with pytest.raises(KeyError, match="cutting"):
        cut.get("step", shell.serial)
