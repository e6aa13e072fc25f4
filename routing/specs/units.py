"""Conversions at the edges of the program, and how lengths are written for people."""

from __future__ import annotations

import math
from fractions import Fraction

from routing.specs.errors import SpecError

MM_PER_INCH = 25.4  # exact since 1959 (international yard and pound agreement)


def mm_from_inches(inches: float) -> float:
    """Length in mm of a length in inches (exact factor 25.4)."""
    return inches * MM_PER_INCH


def inch_fraction(mm: float, *, denominator: int = 64) -> str:
    """A length in mm written as inches with the nearest fraction, e.g. 352.425 → ``13 7/8 in``.

    ``denominator`` is the finest division of the rule in the shop (a power of two, 2 to 128). Half divisions round
    to even. Raises SpecError for a length that is not finite or a denominator that no rule carries.
    """
    if denominator not in (2, 4, 8, 16, 32, 64, 128):
        raise SpecError("bad_denominator", "denominator", "Use a rule division of 2, 4, 8, 16, 32, 64 or 128.")
    if not math.isfinite(mm):
        raise SpecError("not_a_length", "mm", "The length must be a finite number of millimetres.")
    parts = round(mm / MM_PER_INCH * denominator)
    sign = "-" if parts < 0 else ""
    whole, rest = divmod(abs(parts), denominator)
    if rest == 0:
        return f"{sign}{whole} in"
    fraction = Fraction(rest, denominator)
    lead = f"{whole} " if whole else ""
    return f"{sign}{lead}{fraction.numerator}/{fraction.denominator} in"
