"""What the demo shop can do in a day. All figures are invented: times of work are guesses to plan with, never a norm."""

from __future__ import annotations

from datetime import date, time, timedelta
from typing import Any

_MORNING = (time(7), time(11, 30))
SHIFTS: dict[int, list[tuple[time, time]]] = {  # Monday is 0; half an hour at noon is free
    **{weekday: [_MORNING, (time(12), time(16))] for weekday in range(4)},
    4: [_MORNING, (time(12), time(14))],
}

# Per station: shells worked on at once, minutes of work on one shell, minutes to change the mould or the colour.
STATIONS: dict[str, dict[str, float]] = {
    "cut": {"places": 1, "work_min": 20},
    "press": {"places": 2, "work_min": 20, "setup_min": 15},
    "trim": {"places": 1, "work_min": 8},
    "edge": {"places": 1, "work_min": 15},
    "seal": {"places": 1, "work_min": 8},
    "sand": {"places": 2, "work_min": 25},
    "finish": {"places": 1, "work_min": 8, "setup_min": 25},
    "wrap": {"places": 1, "work_min": 35},
    "drill": {"places": 1, "work_min": 30},
    "assemble": {"places": 2, "work_min": 40},
    "tune": {"places": 1, "work_min": 15},
    "final-check": {"places": 1, "work_min": 12},
    "pack": {"places": 1, "work_min": 15},
}
# Where a role takes longer or shorter than the station's own figure.
WORK_MIN: dict[tuple[str, str], float] = {
    ("assemble", "rack_tom"): 28,
    ("assemble", "snare"): 48,
    ("assemble", "floor_tom"): 38,
    ("assemble", "bass"): 50,
    ("drill", "bass"): 40,
    ("edge", "snare"): 25,  # with the beds for the snare wires
}
MOULDS: dict[float, int] = {8: 1, 10: 1, 12: 2, 13: 1, 14: 2, 16: 1, 18: 1, 20: 1, 22: 1, 24: 1}
DRYING_ROOMS: list[dict[str, Any]] = [
    {"name": "Glue racks", "places": 24, "stations": ("press", "wrap")},
    {"name": "Lacquer room", "places": 36, "stations": ("seal", "finish")},
]


def closures(today: date) -> list[dict[str, Any]]:
    """The mill stands still over the turn of the year."""
    return [{"first": date(today.year, 12, 24), "last": date(today.year + 1, 1, 1), "reason": "winter break"}]


def absences(today: date) -> list[dict[str, Any]]:
    """Kit, who has just begun, is away for three days from the Monday after next."""
    monday = today + timedelta(days=14 - today.weekday())
    return [{"person": "kit", "first": monday, "last": monday + timedelta(days=2), "reason": "saw safety course"}]
