"""Threads by their names, and the holes that their screws go through."""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction

from routing.specs.errors import SpecError
from routing.specs.units import mm_from_inches

# ISO 273:1979, clearance holes for metric bolts: fine, medium, coarse, mm.
CLEARANCE_HOLES_MM = {
    "M2.5": (2.7, 2.9, 3.1),
    "M3": (3.2, 3.4, 3.6),
    "M3.5": (3.7, 3.9, 4.2),
    "M4": (4.3, 4.5, 4.8),
    "M5": (5.3, 5.5, 5.8),
    "M6": (6.4, 6.6, 7.0),
    "M8": (8.4, 9.0, 10.0),
    "M10": (10.5, 11.0, 12.0),
}
FITS = ("fine", "medium", "coarse")
# ISO 261, coarse pitches in mm.
COARSE_PITCH_MM = {"M2.5": 0.45, "M3": 0.5, "M3.5": 0.6, "M4": 0.7, "M5": 0.8, "M6": 1.0, "M8": 1.25, "M10": 1.5}
_METRIC = re.compile(r"^M(\d+(?:\.\d+)?)(?:\s*[x×]\s*(\d+(?:\.\d+)?))?$", re.IGNORECASE)
_INCH = re.compile(r"^(?:#|No\.?\s*)?(\d+(?:/\d+)?)\s*-\s*(\d+)(?:\s+UN[A-Z]*)?$", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Thread:
    """Basic sizes of a 60° thread, in mm."""

    name: str
    major_mm: float
    pitch_mm: float


def thread(name: str) -> Thread:
    """Basic sizes of a thread by its name: ``M4``, ``M5 × 0.8``, ``12-24 UNC``, ``8-32``, ``1/4-20``.

    A metric name without a pitch has the coarse one of ISO 261 (M2.5 to M10). Numbered inch sizes 0 to 14 have a major
    diameter of 0.060 in + 0.013 in a number (ASME B1.1), fractions up to 1 in their own. Pitch of inch threads:
    25.4 mm / threads an inch. SpecError ``unknown_thread`` for anything else.
    """
    cleaned = " ".join(name.split())
    metric = _METRIC.match(cleaned)
    if metric:
        size = f"M{float(metric[1]):g}"
        pitch = float(metric[2]) if metric[2] else COARSE_PITCH_MM.get(size, 0.0)
        if 0 < pitch < float(metric[1]) / 2:
            return Thread(cleaned, float(metric[1]), pitch)
    inch = _INCH.match(cleaned)
    if inch and int(inch[2]) in range(4, 81):
        major: float | None = None
        if "/" in inch[1]:
            top, bottom = (int(part) for part in inch[1].split("/"))
            major = float(Fraction(top, bottom)) if 0 < top <= bottom else None
        elif int(inch[1]) <= 14:
            major = 0.060 + 0.013 * int(inch[1])
        if major is not None:
            return Thread(cleaned, mm_from_inches(major), mm_from_inches(1 / int(inch[2])))
    raise SpecError(
        "unknown_thread",
        "thread",
        f"“{name}” is no thread known here; write for example M5, M5 × 0.8, 12-24 UNC or 1/4-20.",
    )


def clearance_hole(screw: str, fit: str = "medium") -> float:
    """Clearance hole in mm of a metric screw by ISO 273: M2.5 to M10; fine, medium or coarse fit."""
    if screw not in CLEARANCE_HOLES_MM:
        raise SpecError(
            "unknown_thread",
            "thread",
            f"No clearance hole is listed for {screw}; use {', '.join(CLEARANCE_HOLES_MM)}.",
        )
    if fit not in FITS:
        raise SpecError("unknown_fit", "fit", "Choose a fine, medium or coarse fit.")
    return CLEARANCE_HOLES_MM[screw][FITS.index(fit)]
