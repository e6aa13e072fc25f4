from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from routing.specs.errors import SpecError
from routing.specs.gluing import batch, clocks, gluing, mix_by_weight, shells_per_batch
from routing.specs.inputs import MixPartInputs, SeamInputs, SeamKind
from routing.specs.layup import lay_up
from tests.routing.specs.example_drums import GLUE, plate

LAYUP = lay_up(352.4, [plate()] * 3, SeamInputs(SeamKind.BUTT))


def glue_shell(**changes):
    return gluing(layup=LAYUP, height_mm=154.7, glue=replace(GLUE, **changes), temperature_c=20)


def test_glue_for_one_snare() -> None:
    result = glue_shell()
    assert [line.diameter_mm for line in result.lines] == pytest.approx([348.8, 345.2])
    assert result.area_m2 == pytest.approx(math.pi * (348.8 + 345.2) * 154.7 / 1e6)
    assert result.on_the_wood_g == pytest.approx(result.area_m2 * 160)
    assert result.to_mix_g == pytest.approx(result.on_the_wood_g * 1.2)
    assert [part.name for part in result.mix] == ["powder", "water"]
    assert result.mix[0].mass_g == pytest.approx(result.to_mix_g / 1.6)


@given(st.lists(st.floats(0.01, 500), min_size=1, max_size=5), st.floats(0, 50_000))
def test_a_mix_adds_up(parts: list[float], total: float) -> None:
    mix = mix_by_weight([MixPartInputs(str(i), one) for i, one in enumerate(parts)], total)
    assert math.fsum(part.mass_g for part in mix) == pytest.approx(total)
    assert math.fsum(part.share_pct for part in mix) == pytest.approx(100)
    assert all(part.mass_g >= 0 for part in mix)


@pytest.mark.parametrize("parts", [0.0, -1.0, math.nan, math.inf])
def test_a_part_without_weight_is_named_with_its_field(parts: float) -> None:
    with pytest.raises(SpecError, match="Give water more than 0 parts by weight.") as refused:
        mix_by_weight([MixPartInputs("powder", 100), MixPartInputs("water", parts)], 160)
    assert refused.value.field == "glue.mix.1.parts_by_weight"


@given(st.floats(10, 34), st.floats(0.1, 5))
def test_warmer_glue_is_shorter_lived(temperature: float, warmer: float) -> None:
    cool, warm = clocks(GLUE, temperature), clocks(GLUE, temperature + warmer)
    assert warm.pot_life_min < cool.pot_life_min
    assert warm.closed_time_min < cool.closed_time_min


@given(st.floats(-5, 45))
def test_one_step_warmer_halves_both_clocks(temperature: float) -> None:
    cool, warm = clocks(GLUE, temperature), clocks(GLUE, temperature + GLUE.halving_step_c)
    assert warm.pot_life_min == pytest.approx(cool.pot_life_min / 2)
    assert warm.closed_time_min == pytest.approx(cool.closed_time_min / 2)


@pytest.mark.parametrize(("temperature", "may"), [(9.9, False), (10.0, True), (35.0, True), (35.1, False)])
def test_no_gluing_outside_the_limits(temperature: float, may: bool) -> None:
    result = gluing(layup=LAYUP, height_mm=154.7, glue=GLUE, temperature_c=temperature)
    assert result.clocks.may_glue is may
    assert [w.code for w in result.warnings] == ([] if may else ["room_outside_glue"])
    assert bool(result.clocks.reason) is not may


@pytest.mark.parametrize(
    ("pot", "each", "first", "closed", "expected"),
    [(60, 10, 5, None, 5), (60, 10, 10, None, 5), (65, 10, 5, None, 6), (4, 10, 5, None, 0), (60, 20, 0, 18, 0)],
)
def test_shells_that_one_mix_may_serve(pot, each, first, closed, expected) -> None:
    assert (
        shells_per_batch(pot_life_min=pot, minutes_per_shell=each, first_ready_min=first, closed_time_min=closed)
        == expected
    )


def test_a_batch_is_the_sum_of_its_shells() -> None:
    one = glue_shell()
    three = batch(GLUE, [one] * 3, 29)
    assert three.to_mix_g == pytest.approx(3 * one.to_mix_g)
    assert math.fsum(part.mass_g for part in three.mix) == pytest.approx(three.to_mix_g)
    assert three.use_within_min == pytest.approx(100)


def test_a_single_plate_has_no_glue_line() -> None:
    result = gluing(
        layup=lay_up(352.4, [plate()], SeamInputs(SeamKind.SCARF)), height_mm=154.7, glue=GLUE, temperature_c=20
    )
    assert result.area_m2 == 0
    assert [w.code for w in result.warnings] == ["no_glue_line"]


@pytest.mark.parametrize(
    "call",
    [
        lambda: glue_shell(spread_g_per_m2=0),
        lambda: glue_shell(spread_g_per_m2=float("nan")),
        lambda: glue_shell(waste_pct=-5),
        lambda: glue_shell(mix=()),
        lambda: glue_shell(mix=(MixPartInputs("powder", 0.0),)),
        lambda: glue_shell(halving_step_c=0),
        lambda: glue_shell(min_room_c=40.0),
        lambda: batch(GLUE, [], 20),
        lambda: batch(GLUE, [glue_shell()], 5),
        lambda: shells_per_batch(pot_life_min=60, minutes_per_shell=0),
        lambda: clocks(GLUE, 100),
    ],
)
def test_nonsense_is_refused(call) -> None:
    with pytest.raises(SpecError):
        call()
