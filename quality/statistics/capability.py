"""Whether a process can keep its limits: Cp and Cpk from the short-term sigma, Pp and Ppk from all readings.

NIST/SEMATECH e-Handbook of Statistical Methods, 6.1.6; names as in ISO 22514-2.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from quality.statistics.errors import StatisticsError

ENOUGH = 25  # readings before the figures mean much (common practice, no source; the e-Handbook asks for more still)

# What to know before the figures are believed; the places are filled in where it is shown.
FEW_READINGS = "Only {readings} readings; with fewer than {enough} these figures say little."
MOVES_ABOUT = "The chart shows signals: find their causes first, a process that moves about has no capability."
ALL_ALIKE = "All readings are the same; look whether the gauge reads finely enough."
CAUTIONS = (FEW_READINGS, MOVES_ABOUT, ALL_ALIKE)


@dataclass(frozen=True, slots=True)
class Capability:
    """None where there is no limit on that side, no limit at all, or no spread to divide by."""

    readings: int
    mean: float
    sigma_within: float
    sigma_overall: float
    cp: float | None
    cpk: float | None
    pp: float | None
    ppk: float | None
    outside: int  # readings beyond a limit
    cautions: tuple[str, ...]  # of CAUTIONS


def capability(
    values: Sequence[float],
    *,
    low: float | None,
    high: float | None,
    sigma_within: float,
    in_control: bool = True,
) -> Capability:
    """Of ``values`` against the limits ``low`` and ``high``, of which at least one is given.

    ``sigma_within`` is the short-term sigma of their control chart. With one limit Cp and Pp are None, and Cpk and Ppk
    count that side alone. At least 2 readings, ``low`` below ``high``; StatisticsError otherwise.
    """
    if len(values) < 2:
        raise StatisticsError("Capability needs at least 2 readings.")
    if low is None and high is None:
        raise StatisticsError("Capability needs at least one limit.")
    if low is not None and high is not None and low >= high:
        raise StatisticsError("The lower limit must lie below the upper one.")
    mean = math.fsum(values) / len(values)
    overall = math.sqrt(math.fsum((value - mean) ** 2 for value in values) / (len(values) - 1))
    return Capability(
        readings=len(values),
        mean=mean,
        sigma_within=sigma_within,
        sigma_overall=overall,
        cp=width_ratio(low, high, sigma_within),
        cpk=nearest_ratio(low, high, mean, sigma_within),
        pp=width_ratio(low, high, overall),
        ppk=nearest_ratio(low, high, mean, overall),
        outside=sum((low is not None and v < low) or (high is not None and v > high) for v in values),
        cautions=tuple(_cautions(len(values), in_control, overall)),
    )


def width_ratio(low: float | None, high: float | None, sigma: float) -> float | None:
    """(high − low) / 6·sigma; None without both limits or without spread."""
    return None if low is None or high is None or sigma <= 0 else (high - low) / (6 * sigma)


def nearest_ratio(low: float | None, high: float | None, mean: float, sigma: float) -> float | None:
    """The distance from the mean to the nearer limit over 3·sigma; negative when the mean lies outside."""
    if sigma <= 0:
        return None
    sides = [high - mean] if high is not None else []
    sides += [mean - low] if low is not None else []
    return min(sides) / (3 * sigma) if sides else None


def _cautions(readings: int, in_control: bool, overall: float) -> list[str]:
    said = []
    if readings < ENOUGH:
        said.append(FEW_READINGS)
    if not in_control:
        said.append(MOVES_ABOUT)
    if overall <= 0:
        said.append(ALL_ALIKE)
    return said
