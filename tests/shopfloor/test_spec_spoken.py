"""What the computation of a spec says: at a tablet and on paper in their language, in the record in English."""

from __future__ import annotations

import pytest

from quality.models import CheckPoint, Person, Problem
from routing.frozen import current_spec
from routing.languages import numeral, spoken_in
from routing.models import Shell, ShellSpec, Shop
from routing.spec_words import spoken
from shopfloor.travelers.facts import read
from shopfloor.travelers.sheet import travelers_from
from tests.routing.test_spec_words import in_german
from tests.shopfloor.tablets import Clock, Tablet, page, sign_through
from tests.shopfloor.traveler_prints import BASE
from tests.small_shop import SmallShop

pytestmark = pytest.mark.django_db


@pytest.fixture
def shell(shop: SmallShop) -> Shell:
    """Of a German shop with plates of 9.5 %, and a worker who speaks German."""
    Shop.objects.update(language="de", plate_moisture_pct=9.5)
    Person.objects.update(language="de")
    (shell,) = shop.released()
    return shell


def at(station: str, shop: SmallShop) -> Tablet:
    tablet = Tablet(station)
    tablet.sign_in(shop.worker)
    return tablet


def test_a_verdict_and_a_warning_at_a_tablet(shell: Shell, cut: Tablet) -> None:
    shown = page(cut.get("step", shell.serial))
    assert in_german("Fit to glue: {now} % moisture.", now="9,5") in shown
    off = in_german("The plates have {now} % moisture; {low} to {high} % is best.", now="9,5", low="6", high="9")
    assert off in shown


def test_advice_at_a_tablet(shop: SmallShop, shell: Shell, clock: Clock) -> None:
    advice = current_spec(shell).results["edges"]["batter"]["advice"]
    with spoken_in("de"):
        german = spoken(advice)
    assert "0,50 mm" in german
    shown = page(at("edge", shop).get("step", shell.serial))
    assert german in shown and advice not in shown


def test_a_refusal_at_a_tablet(shell: Shell, cut: Tablet) -> None:
    form = "{label} is {value} {unit}; give a value from {low} to {high} {unit}."
    label = in_german("measured thickness mm")
    nominal = current_spec(shell).inputs["plates"][0]["thickness_mm"]
    with spoken_in("de"):
        low, high = numeral(nominal / 2), numeral(nominal * 1.5)
    refused = page(cut.tap("thickness", shell, **{"plate-1": "50,5"}))
    assert in_german(form, label=label, value="50,5", unit="mm", low=low, high=high) in refused


def test_why_a_coat_must_wait(shop: SmallShop, shell: Shell, clock: Clock) -> None:
    sign_through(shop, shell, 3)
    clock.wait(hours=60)
    finish = at("finish", shop)
    finish.client.post(finish.url("room"), {"temperature_c": "4,5", "humidity_pct": "50"})
    least = f"{current_spec(shell).inputs['finish']['coats'][0]['film_forming_min_c']:g}"
    form = "no film forms at {now} °C; warm the room to at least {least} °C before coating."
    reason = in_german(form, now="4,5", least=least)
    assert reason in page(finish.get("step", shell.serial))
    assert in_german("Do not coat: {reason}", reason=reason) in page(finish.tap("sign", shell, position=4))


def test_the_warnings_of_a_traveler(shell: Shell) -> None:
    english = [warning["message"] for warning in current_spec(shell).results["warnings"]]
    with spoken_in("de"):
        (traveler,) = travelers_from(read([shell.serial], base_url=BASE))
        german = tuple(map(spoken, english))
    assert traveler.body.warnings == german
    off = "The plates have {now} % moisture; {low} to {high} % is best."
    assert in_german(off, now="9,5", low="6", high="9") in german


def test_the_record_of_a_german_worker_is_in_english(shop: SmallShop, shell: Shell, cut: Tablet) -> None:
    pitch = CheckPoint.objects.create(
        code="pitch",
        station=shop.stations["cut"],
        text="Pitch at each lug",
        kind="measured",
        unit="Hz",
        nominal=200.0,
        minus=3.0,
        plus=3.0,
        places=4,
    )
    uneven = {f"check-{pitch.pk}": "200 204,5 200 195,5"}
    with spoken_in("de"):
        advice = spoken("Turn: loosen lug 2 (+4.5 Hz); tighten lug 4 (-4.5 Hz).")
    assert advice in page(cut.tap("sign", shell, **uneven))
    cut.tap("problem", shell, text="verstimmt", **uneven)
    problem = Problem.objects.get()
    assert problem.text.endswith("Turn: loosen lug 2 (+4.5 Hz); tighten lug 4 (-4.5 Hz).")


def test_a_spec_that_a_german_worker_has_issued_again_keeps_english(shell: Shell, cut: Tablet) -> None:
    assert cut.tap("thickness", shell, **{"plate-1": "1,9"}).status_code == 302
    spec = ShellSpec.objects.get(shell=shell, revision=2)
    assert spec.results["moisture"]["verdict"] == "Fit to glue: 9.5 % moisture."
    assert "The plates have 9.5 % moisture; 6 to 9 % is best." in [each["message"] for each in spec.results["warnings"]]
