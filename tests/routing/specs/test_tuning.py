from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.special import jn_zeros

from routing.specs.errors import SpecError
from routing.specs.inputs import HeadTargetInputs
from routing.specs.tuning import (
    BESSEL_ZEROS,
    TuningResult,
    cents,
    evenness,
    membrane_frequency,
    nearest_note,
    tension_for,
    tuning,
)

TARGETS = HeadTargetInputs(300.0, 360.0)


def tuned(targets: HeadTargetInputs = TARGETS) -> TuningResult:
    return tuning(targets=targets, batter_diameter_mm=349.4, resonant_diameter_mm=350.0)


@pytest.mark.parametrize("mode", BESSEL_ZEROS)
def test_the_zeros_are_zeros(mode: tuple[int, int]) -> None:
    order, number = mode
    assert BESSEL_ZEROS[mode] == pytest.approx(jn_zeros(order, number)[-1], rel=1e-12)


@given(st.floats(0.06, 0.4), st.floats(40, 900), st.floats(0.05, 1), st.sampled_from(sorted(BESSEL_ZEROS)))
def test_tension_and_pitch_lead_back(radius: float, pitch: float, mass: float, mode: tuple[int, int]) -> None:
    tension = tension_for(pitch, radius, mass, mode)
    assert tension > 0
    if 10 <= tension <= 20_000:
        assert membrane_frequency(radius, tension, mass, mode) == pytest.approx(pitch)


@given(st.floats(0.08, 0.3), st.floats(100, 5000), st.floats(0.05, 1))
def test_tighter_smaller_and_lighter_sounds_higher(radius: float, tension: float, mass: float) -> None:
    here = membrane_frequency(radius, tension, mass)
    assert membrane_frequency(radius, tension * 1.1, mass) > here
    assert membrane_frequency(radius * 1.1, tension, mass) < here
    assert membrane_frequency(radius, tension, mass * 1.1) < here


@given(st.floats(20, 4000))
def test_a_note_and_its_cents_give_the_pitch_back(pitch: float) -> None:
    name, off = nearest_note(pitch)
    assert -50 - 1e-9 <= off <= 50 + 1e-9
    letter, octave = name.rstrip("0123456789-"), int(name[len(name.rstrip("0123456789-")) :])
    names = ["C", "C♯", "D", "E♭", "E", "F", "F♯", "G", "A♭", "A", "B♭", "B"]
    semitones = names.index(letter) + 12 * octave - (9 + 12 * 4)
    assert 440 * 2 ** ((semitones + off / 100) / 12) == pytest.approx(pitch)


@given(st.floats(20, 900), st.floats(20, 900), st.floats(20, 900))
def test_cents_add_up(a: float, b: float, c: float) -> None:
    assert cents(a, b) + cents(b, c) == pytest.approx(cents(a, c), abs=1e-6)
    assert cents(a, b) == pytest.approx(-cents(b, a), abs=1e-9)


@given(st.lists(st.floats(200, 400), min_size=4, max_size=12), st.floats(0.5, 5))
def test_every_lug_is_told_what_to_do(readings: list[float], allowed: float) -> None:
    found = evenness(readings, allowed)
    assert len(found.lugs) == len(readings)
    assert found.within == all(abs(reading - found.mean_hz) <= allowed + 1e-9 for reading in readings)
    for lug, reading in zip(found.lugs, readings, strict=True):
        assert lug.off_hz == pytest.approx(reading - found.mean_hz)
        assert (lug.turn == "tighten") == (lug.off_hz < -allowed - 1e-9)
        assert (lug.turn == "loosen") == (lug.off_hz > allowed + 1e-9)
    assert readings[found.lowest_lug - 1] == min(readings) and readings[found.highest_lug - 1] == max(readings)


def test_lugs_are_judged_against_the_target_when_there_is_one() -> None:
    even_but_low = [295.0] * 8
    assert evenness(even_but_low).within
    found = evenness(even_but_low, target_hz=300.0)
    assert not found.within and found.advice.startswith("Turn: tighten lug 1 (-5.0 Hz); tighten lug 2")


def test_exactly_at_the_allowance_is_even() -> None:
    found = evenness([297.0, 303.0, 297.0, 303.0], 3.0)
    assert found.within and found.advice == "Even within 3 Hz."
    assert found.spread_cents == pytest.approx(1200 * math.log2(303 / 297))


def test_the_drums_note_lies_below_the_pitch_at_the_lugs() -> None:
    found = tuned()
    assert found.batter.target_hz / found.batter.fundamental_hz == pytest.approx(1.5933, abs=1e-4)
    assert found.batter.note == "D4" and found.batter.low_hz == 297 and found.batter.high_hz == 303
    assert membrane_frequency(0.1747, found.batter.tension_n_per_m, 0.262) == pytest.approx(found.batter.fundamental_hz)
    assert found.warnings == ()


def test_a_snare_side_below_the_batter_is_warned_of() -> None:
    assert [w.code for w in tuned(HeadTargetInputs(340.0, 330.0)).warnings] == ["snare_side_below_batter"]


@pytest.mark.parametrize(
    ("targets", "field"),
    [
        (replace(TARGETS, batter_hz=10.0), "tuning.batter_hz"),
        (replace(TARGETS, resonant_hz=math.nan), "tuning.resonant_hz"),
        (replace(TARGETS, evenness_hz=0.0), "tuning.evenness_hz"),
        (replace(TARGETS, batter_head_kg_per_m2=0.0), "tuning.batter_head_kg_per_m2"),
        (replace(TARGETS, resonant_head_kg_per_m2=9.0), "tuning.resonant_head_kg_per_m2"),
    ],
)
def test_an_impossible_target_is_refused(targets: HeadTargetInputs, field: str) -> None:
    with pytest.raises(SpecError) as refused:
        tuned(targets)
    assert refused.value.field == field


def test_readings_that_are_none_are_refused() -> None:
    for readings in ([300.0] * 3, [300.0] * 17, [300.0, 300.0, math.nan, 300.0], [300.0, 0.0, 300.0, 300.0]):
        with pytest.raises(SpecError):
            evenness(readings)
    for pitch in (0.0, -1.0, math.inf, math.nan):
        with pytest.raises(SpecError):
            nearest_note(pitch)
        with pytest.raises(SpecError):
            cents(pitch, 300.0)
    with pytest.raises(SpecError, match="not in the table"):
        membrane_frequency(0.17, 2000, 0.26, (9, 9))
