"""Membranes and notes, held against tables of Bessel zeros, of a drum's modes and of equal temperament."""

from __future__ import annotations

import math

from scipy.special import jn_zeros

from routing.specs.tuning import BESSEL_ZEROS, cents, evenness, membrane_frequency, nearest_note, tension_for
from tests.published.checks import Check, Mark

_TABLE = "standard tables of the zeros of Bessel functions"
_SCIPY = "SciPy, zeros of Bessel functions"
_NOTES = "table of piano key frequencies, equal temperament, A4 = 440 Hz"
_LECTURE = "lecture notes on partial differential equations, vibrating membrane of radius 1"
_SNARE = "encyclopaedia on the snare drum: batter 220 to 349 Hz, snare side 330 to 391 Hz"
_MODES = [(0, 1), (1, 1), (2, 1), (0, 2), (3, 1), (1, 2)]


def _ratio(mode: tuple[int, int]) -> float:
    return membrane_frequency(0.17, 2000, 0.25, mode) / membrane_frequency(0.17, 2000, 0.25)


def _unit_membrane(mode: tuple[int, int]) -> float:
    """Frequency of a membrane of radius 1 and wave speed 1, scaled from one within the range of heads."""
    return membrane_frequency(0.5, 20.0, 2.0, mode) * 0.5 / math.sqrt(20.0 / 2.0)


def _off(hz: float) -> float:
    return nearest_note(hz)[1]


CHECKS = [
    Check(
        "zeros of J0, J1, J2, J0, J3, J1",
        _TABLE,
        (2.4048, 3.8317, 5.1356, 5.5201, 6.3802, 7.0156),
        lambda: tuple(BESSEL_ZEROS[mode] for mode in _MODES),
        0.00005,
    ),
    Check(
        "the same zeros to twelve digits",
        _SCIPY,
        tuple(float(jn_zeros(m, n)[-1]) for m, n in _MODES),
        lambda: tuple(BESSEL_ZEROS[mode] for mode in _MODES),
        1e-12,
        Mark.COMPUTED,
    ),
    Check("mode (1,1) over (0,1)", _SCIPY, 1.5933, lambda: _ratio((1, 1)), 0.0003, Mark.COMPUTED, trap=1.594),
    Check("mode (2,1) over (0,1)", _SCIPY, 2.1355, lambda: _ratio((2, 1)), 0.0003, Mark.COMPUTED),
    Check("mode (0,2) over (0,1)", _SCIPY, 2.2954, lambda: _ratio((0, 2)), 0.0003, Mark.COMPUTED, trap=2.296),
    Check("mode (3,1) over (0,1)", _SCIPY, 2.6531, lambda: _ratio((3, 1)), 0.0003, Mark.COMPUTED),
    Check("mode (1,2) over (0,1)", _SCIPY, 2.9173, lambda: _ratio((1, 2)), 0.0003, Mark.COMPUTED, trap=2.918),
    Check(
        "frequencies of (0,1), (1,1), (0,2)",
        _LECTURE,
        (0.38274, 0.60984, 0.87855),
        lambda: tuple(_unit_membrane(mode) for mode in ((0, 1), (1, 1), (0, 2))),
        0.00001,
    ),
    Check(
        "14 in head of 0.262 kg/m² at 2000 N/m",
        "formula of the ideal membrane, with an independent tool",
        188.077,
        lambda: membrane_frequency(0.1778, 2000, 0.262),
        0.001,
        Mark.COMPUTED,
        trap=299.7,  # the (1,1) mode, which is what one hears at a lug
    ),
    Check(
        "and the tension back",
        "formula of the ideal membrane, with an independent tool",
        2000.0,
        lambda: tension_for(188.077, 0.1778, 0.262),
        0.05,
        Mark.COMPUTED,
    ),
    Check("261.6256 Hz", _NOTES, "C4", lambda: nearest_note(261.6256)[0]),
    Check(
        "C4, E4, F♯4, G4, A4 lie on their notes, cents",
        _NOTES,
        (0.0,) * 5,
        lambda: tuple(_off(hz) for hz in (261.6256, 329.6276, 369.9944, 391.9954, 440.0)),
        0.001,
    ),
    Check("349 and 330 Hz", _SNARE, "F4 E4", lambda: f"{nearest_note(349)[0]} {nearest_note(330)[0]}"),
    Check("220 and 391 Hz", _SNARE, "A3 G4", lambda: f"{nearest_note(220)[0]} {nearest_note(391)[0]}"),
    Check(
        "a fifth of 3:2 in cents",
        "1200·log2(3/2) by hand",
        701.955,
        lambda: cents(200, 300),
        0.001,
        Mark.COMPUTED,
        trap=700.0,  # the fifth of equal temperament
    ),
    Check("an octave in cents", _NOTES, 1200.0, lambda: cents(220, 440), 1e-9),
    Check(
        "3 Hz at 300 and at 150 Hz in cents",
        "1200·log2(f2/f1) by hand",
        (17.2, 34.3),
        lambda: (cents(300, 303), cents(150, 153)),
        0.05,
        Mark.COMPUTED,
    ),
    Check(
        "lugs 3 Hz about their mean are even, 3.1 Hz are not",
        "from memory: ±3 Hz accepted",
        (1.0, 0.0),
        lambda: (
            float(evenness([297.0, 303.0, 297.0, 303.0]).within),
            float(evenness([296.9, 303.1, 296.9, 303.1]).within),
        ),
        mark=Mark.FROM_MEMORY,
    ),
]
