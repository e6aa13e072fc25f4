"""Tuning: the ideal membrane behind a pitch, and how even the lugs are."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from routing.specs.errors import SpecError, SpecWarning, require_between
from routing.specs.inputs import HeadTargetInputs
from routing.specs.sentences import gettext_noop

_NO_PITCH = gettext_noop("A pitch must be more than 0 Hz.")
_READ_EVERY_LUG = gettext_noop("Read the pitch at every lug; a head has 4 to 16.")
_TURN = gettext_noop("Turn: {turns}.")
_TIGHTEN = gettext_noop("tighten lug {lug} ({off} Hz)")
_LOOSEN = gettext_noop("loosen lug {lug} ({off} Hz)")
_EVEN = gettext_noop("Even within {allowed} Hz.")
_SNARE_SIDE_LOW = gettext_noop("The snare-side head is tuned below the batter; on a snare it is usually higher.")

# First zeros of the Bessel functions J_m, by (m, n); standard tables.
BESSEL_ZEROS = {
    (0, 1): 2.404825557695773,
    (1, 1): 3.831705970207512,
    (2, 1): 5.135622301840683,
    (0, 2): 5.520078110286311,
    (3, 1): 6.380161895923984,
    (1, 2): 7.015586669815619,
}
A4_HZ = 440.0  # ISO 16, from memory
NOTES = ("C", "C♯", "D", "E♭", "E", "F", "F♯", "G", "A♭", "A", "B♭", "B")


@dataclass(frozen=True, slots=True)
class HeadResult:
    """One head at its target. The pitch at a lug is near the (1,1) mode, the drum's note near the (0,1)."""

    target_hz: float  # at each lug
    note: str
    cents_off_note: float
    low_hz: float
    high_hz: float
    evenness_cents: float
    fundamental_hz: float  # (0,1) of an ideal membrane whose (1,1) is the target
    tension_n_per_m: float


@dataclass(frozen=True, slots=True)
class TuningResult:
    batter: HeadResult
    resonant: HeadResult
    warnings: tuple[SpecWarning, ...]


@dataclass(frozen=True, slots=True)
class LugReading:
    lug: int  # numbered from 1
    reading_hz: float
    off_hz: float  # against the target, else the mean
    off_cents: float
    turn: str  # "tighten", "loosen" or "leave"


@dataclass(frozen=True, slots=True)
class Evenness:
    mean_hz: float
    largest_above_hz: float
    largest_below_hz: float
    spread_cents: float
    lowest_lug: int  # numbered from 1
    highest_lug: int
    within: bool  # every lug within the allowance of the target, else of the mean
    lugs: tuple[LugReading, ...]
    advice: str


def membrane_frequency(
    radius_m: float, tension_n_per_m: float, mass_kg_per_m2: float, mode: tuple[int, int] = (0, 1)
) -> float:
    """Frequency in Hz of a mode of an ideal membrane: j_mn/(2πa)·√(T/σ) (Rayleigh; any textbook of acoustics).

    Radius 0.05 to 0.5 m, mass 0.02 to 2 kg/m², tension 0.1 to 500 000 N/m: all that ``tension_for`` gives such a head of
    30 to 600 Hz at its lugs, mode (1, 1) (computed). Air load and stiffness are left out, so real heads sound lower.
    """
    require_between(radius_m, 0.05, 0.5, field="radius_m", unit="m")
    require_between(tension_n_per_m, 0.1, 500_000.0, field="tension_n_per_m", unit="N/m")
    require_between(mass_kg_per_m2, 0.02, 2.0, field="mass_kg_per_m2", unit="kg/m²")
    return _zero(mode) / (2 * math.pi * radius_m) * math.sqrt(tension_n_per_m / mass_kg_per_m2)


def tension_for(frequency_hz: float, radius_m: float, mass_kg_per_m2: float, mode: tuple[int, int] = (0, 1)) -> float:
    """Tension in N/m at which a mode of an ideal membrane has ``frequency_hz`` (20 to 1000 Hz): the inverse."""
    require_between(frequency_hz, 20.0, 1000.0, field="frequency_hz", unit="Hz")
    require_between(radius_m, 0.05, 0.5, field="radius_m", unit="m")
    require_between(mass_kg_per_m2, 0.02, 2.0, field="mass_kg_per_m2", unit="kg/m²")
    return mass_kg_per_m2 * (2 * math.pi * radius_m * frequency_hz / _zero(mode)) ** 2


def cents(from_hz: float, to_hz: float) -> float:
    """The interval in cents, 1200·log₂ of the ratio; both above 0 Hz."""
    if not (from_hz > 0 and to_hz > 0 and math.isfinite(from_hz) and math.isfinite(to_hz)):
        raise SpecError("no_pitch", "frequency_hz", _NO_PITCH)
    return 1200 * math.log2(to_hz / from_hz)


def nearest_note(frequency_hz: float) -> tuple[str, float]:
    """The nearest note in equal temperament (A4 = 440 Hz) and how many cents the pitch lies above it."""
    steps = 12 * math.log2(frequency_hz / A4_HZ) if frequency_hz > 0 else math.nan
    if not math.isfinite(steps):
        raise SpecError("no_pitch", "frequency_hz", _NO_PITCH)
    midi = 69 + round(steps)
    return f"{NOTES[midi % 12]}{midi // 12 - 1}", (steps - round(steps)) * 100


def evenness(readings_hz: Sequence[float], allowed_hz: float = 3.0, target_hz: float | None = None) -> Evenness:
    """How even the pitches at the lugs of one head are, and which lugs to turn.

    4 to 16 readings of 20 to 1000 Hz, in order round the head; allowed 0.1 to 20 Hz. Each lug is judged against
    ``target_hz`` (20 to 1000 Hz) when there is one, else against the mean. Tightening one lug moves its neighbours and
    the one opposite, so read all of them again.
    """
    if not 4 <= len(readings_hz) <= 16:
        raise SpecError("lug_count", "readings_hz", _READ_EVERY_LUG)
    for reading in readings_hz:
        require_between(reading, 20.0, 1000.0, field="readings_hz", unit="Hz")
    require_between(allowed_hz, 0.1, 20.0, field="allowed_hz", unit="Hz")
    mean = math.fsum(readings_hz) / len(readings_hz)
    aim = mean if target_hz is None else require_between(target_hz, 20.0, 1000.0, field="target_hz", unit="Hz")
    low, high = min(readings_hz), max(readings_hz)
    lugs = tuple(_lug(n, reading, aim, allowed_hz) for n, reading in enumerate(readings_hz, start=1))
    to_turn = [lug for lug in lugs if lug.turn != "leave"]
    return Evenness(
        mean_hz=mean,
        largest_above_hz=high - mean,
        largest_below_hz=mean - low,
        spread_cents=cents(low, high),
        lowest_lug=list(readings_hz).index(low) + 1,
        highest_lug=list(readings_hz).index(high) + 1,
        within=not to_turn,
        lugs=lugs,
        advice=(
            _EVEN.format(allowed=f"{allowed_hz:g}")
            if not to_turn
            else _TURN.format(turns="; ".join(map(_turn, to_turn)))
        ),
    )


def _turn(lug: LugReading) -> str:
    return (_LOOSEN if lug.turn == "loosen" else _TIGHTEN).format(lug=lug.lug, off=f"{lug.off_hz:+.1f}")


def _lug(number: int, reading: float, aim: float, allowed: float) -> LugReading:
    off = reading - aim
    turn = "leave" if abs(off) <= allowed + 1e-9 else "loosen" if off > 0 else "tighten"
    return LugReading(number, reading, off, cents(aim, reading), turn)


def tuning(*, targets: HeadTargetInputs, batter_diameter_mm: float, resonant_diameter_mm: float) -> TuningResult:
    """Both heads of a snare at their targets; diameters are those of the apex circles, in mm."""
    require_between(targets.evenness_hz, 0.1, 20.0, field="tuning.evenness_hz", unit="Hz")
    batter = _head(targets.batter_hz, targets.evenness_hz, batter_diameter_mm, targets.batter_head_kg_per_m2, "batter")
    resonant = _head(
        targets.resonant_hz, targets.evenness_hz, resonant_diameter_mm, targets.resonant_head_kg_per_m2, "resonant"
    )
    warnings: tuple[SpecWarning, ...] = ()
    if targets.resonant_hz < targets.batter_hz:
        warnings = (
            SpecWarning(
                "snare_side_below_batter",
                "tuning.resonant_hz",
                _SNARE_SIDE_LOW,
            ),
        )
    return TuningResult(batter, resonant, warnings)


def _head(target: float, allowed: float, diameter_mm: float, mass: float, side: str) -> HeadResult:
    require_between(target, 30.0, 600.0, field=f"tuning.{side}_hz", unit="Hz")
    require_between(mass, 0.02, 2.0, field=f"tuning.{side}_head_kg_per_m2", unit="kg/m²")
    require_between(diameter_mm, 100.0, 1000.0, field="nominal_diameter_in", unit="mm")
    radius = diameter_mm / 2000
    tension = tension_for(target, radius, mass, (1, 1))
    note, off = nearest_note(target)
    return HeadResult(
        target_hz=target,
        note=note,
        cents_off_note=off,
        low_hz=target - allowed,
        high_hz=target + allowed,
        evenness_cents=cents(target, target + allowed),
        fundamental_hz=membrane_frequency(radius, tension, mass),
        tension_n_per_m=tension,
    )


def _zero(mode: tuple[int, int]) -> float:
    if mode not in BESSEL_ZEROS:
        raise SpecError("unknown_mode", "mode", f"The mode {mode} is not in the table.")
    return BESSEL_ZEROS[mode]
