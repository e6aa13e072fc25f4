"""Checks that are measured at several places: lugs of a head, directions of a shell."""

from __future__ import annotations

from typing import Any

import pytest

from quality.actions import sign_off
from quality.checks import Check, checks_for, read_checks
from quality.errors import ReadingRefused
from quality.models import CheckKind, CheckPoint, Judged, Reading
from quality.trace import story_of
from tests.small_shop import SmallShop


def point(shop: SmallShop, **fields: Any) -> CheckPoint:
    made: dict[str, Any] = {
        "code": "even",
        "station": shop.stations["cut"],
        "text": "Pitch at each lug",
        "kind": CheckKind.MEASURED,
    }
    return CheckPoint.objects.create(**(made | {"unit": "Hz", "nominal": 200.0, "minus": 3.0, "plus": 3.0} | fields))


def check_of(made: CheckPoint, places: int) -> Check:
    return Check(made, 200.0, 197.0, 203.0, places)


def test_every_reading_has_to_lie_within_the_limits(shop: SmallShop) -> None:
    check = check_of(point(shop, places=4), 4)
    good = read_checks([check], {check.key: "199 200,5 201; 202"})[0]
    assert good.passed and list(good.values) == [199, 200.5, 201, 202]
    bad = read_checks([check], {check.key: "199 200 201 206"})[0]
    assert (bad.passed, bad.value) == (False, 206)
    assert "cents" in bad.shown
    even = bad.evenness
    assert even is not None and "loosen lug 4" in even.advice


def test_of_a_spread_only_the_difference_counts(shop: SmallShop) -> None:
    made = point(shop, unit="mm", nominal=0.0, minus=None, plus=1.5, places=4, judged=Judged.SPREAD)
    check = Check(made, 0.0, None, 1.5, 4)
    good = read_checks([check], {check.key: "352.0 352.4 352.9 353.5"})[0]
    assert good.passed and good.value == pytest.approx(1.5)
    bad = read_checks([check], {check.key: "352.0 352.4 352.9 353.6"})[0]
    assert not bad.passed and "spread 1.6" in bad.shown


@pytest.mark.parametrize("answer", ["200 201 202", "200 201 202 203 204", "200 x 201 202", "200 nan 201 202"])
def test_too_few_too_many_and_no_numbers_are_refused(shop: SmallShop, answer: str) -> None:
    check = check_of(point(shop, places=4), 4)
    with pytest.raises(ReadingRefused):
        read_checks([check], {check.key: answer})


def test_the_number_of_places_follows_the_drum(shop: SmallShop) -> None:
    shell = shop.released()[0]
    point(shop, places_key="drilling.lugs_per_head")
    step = shop.step(shell, 1)
    results = shell.specs.get().results
    (check,) = [check for check in checks_for(step, shell, results) if check.point.code == "even"]
    assert check.places == results["drilling"]["lugs_per_head"] > 1


def test_all_readings_stand_on_the_record_and_in_the_story(shop: SmallShop) -> None:
    shell = shop.released()[0]
    CheckPoint.objects.filter(station=shop.stations["cut"]).update(is_current=False)
    made = point(shop, places=4)
    sign_off(
        serial=shell.serial,
        position=1,
        person=shop.worker,
        answers={str(made.pk): "199 200 201 202"},
        stamp=shop.stamp(shop.worker),
    )
    reading = Reading.objects.get(check_point=made)
    assert (reading.values, reading.value, reading.passed) == ([199, 200, 201, 202], 202, True)
    story = story_of(shell)
    shown = [r.shown for event in story.events for r in event.readings]
    assert shown == ["199 / 200 / 201 / 202 Hz (spread 26 cents)"]


def test_limits_may_come_from_the_drums_own_tolerance(shop: SmallShop) -> None:
    shell = shop.released()[0]
    results = shell.specs.get().results
    point(
        shop,
        code="depth",
        unit="mm",
        nominal=None,
        spec_key="shell.depth_mm",
        minus=9.0,
        plus=9.0,
        tolerance_key="shell.tolerances.depth.accept_mm",
    )
    (check,) = [c for c in checks_for(shop.step(shell, 1), shell, results) if c.point.code == "depth"]
    accept = results["shell"]["tolerances"]["depth"]["accept_mm"]
    depth = results["shell"]["depth_mm"]
    assert (check.low, check.high) == (depth - accept, depth + accept) and accept < 9


def test_the_pitches_read_say_what_they_imply_of_an_ideal_head(shop: SmallShop) -> None:
    shell = shop.released()[0]
    results = shell.specs.get().results
    results["tuning"] = {"batter": {"target_hz": 200.0, "fundamental_hz": 125.5, "tension_n_per_m": 2000.0}}
    made = point(shop, nominal=None, spec_key="tuning.batter.target_hz", minus=15.0, plus=15.0, places=4)
    (check,) = [c for c in checks_for(shop.step(shell, 1), shell, results) if c.point.pk == made.pk]
    reading = read_checks([check], {check.key: "210 210 210 210"})[0]
    # The note goes with the pitch, the tension with its square: 125.5 × 1.05 and 2000 × 1.1025.
    assert "132 Hz struck in the middle, 2205 N/m" in reading.shown


@pytest.mark.parametrize(
    ("low", "high", "unit", "words"),
    [
        (None, 489.942, "min", "at most 489 min"),
        (30.2, 489.942, "min", "31 … 489 min"),
        (30.2, None, "min", "at least 31 min"),
        (None, 4.5, "min", "at most 4.5 min"),
        (138.65, 139.65, "mm", "138.65 … 139.65 mm"),
    ],
)
def test_many_minutes_are_said_whole_and_never_more_than_is_allowed(
    low: float | None, high: float | None, unit: str, words: str
) -> None:
    assert Check(CheckPoint(unit=unit), None, low, high).limits == words
