"""Fewest nests, held against orders whose largest antichain is known."""

from __future__ import annotations

from routing.specs.packing import PackedDrum, envelope, fewest_chains, fits_inside, largest_antichain, plan_packing
from tests.published.checks import Check, Mark

_DILWORTH = "theorem of Dilworth: fewest chains = largest antichain"
_SPERNER = "theorem of Sperner: subsets of n things, C(n, ⌊n/2⌋)"
_SHOPS = "common practice, no source"
_ENVELOPES = "common practice, no source: hoops add about 40 mm, lugs about 44 mm"


def _divides(a: int, b: int) -> bool:
    return a != b and (b + 1) % (a + 1) == 0


def _subset(a: int, b: int) -> bool:
    return a != b and a & b == a


def _drum(diameter_in: float, depth_in: float, projection: float = 22.0) -> PackedDrum:
    outside = diameter_in * 25.4 - 3.2
    return PackedDrum(f"{diameter_in:g}", outside, outside - 12.0, depth_in * 25.4, projection, 6.0)


CHECKS = [
    Check(
        "chains that cover 1 … 12 under divisibility",
        _DILWORTH,
        6.0,
        lambda: float(len(fewest_chains(12, _divides))),
        mark=Mark.COMPUTED,
    ),
    Check(
        "numbers of 1 … 12 of which none divides another",
        _DILWORTH,
        6.0,
        lambda: float(len(largest_antichain(12, _divides))),
        mark=Mark.COMPUTED,
    ),
    Check(
        "chains that cover the subsets of 2 to 6 things",
        _SPERNER,
        (2.0, 3.0, 6.0, 10.0, 20.0),
        lambda: tuple(float(len(fewest_chains(2**n, _subset))) for n in range(2, 7)),
    ),
    Check(
        "subsets of 4 things of which none holds another",
        _SPERNER,
        6.0,
        lambda: float(len(largest_antichain(16, _subset))),
    ),
    Check(
        "drums that nest with their lugs: 10 in 14, 12 in 16, 16 in 22; not 10 in 12, 12 in 14",
        _SHOPS,
        (1.0, 1.0, 1.0, 0.0, 0.0),
        lambda: tuple(
            float(fits_inside(_drum(inner, 8), _drum(outer, 18)))
            for inner, outer in ((10, 14), (12, 16), (16, 22), (10, 12), (12, 14))
        ),
        mark=Mark.COMMON_PRACTICE,
    ),
    Check(
        "cartons for 22, 16, 12, 10 and a 14 × 5.5 snare",
        _SHOPS,
        3.0,
        lambda: float(plan_packing([_drum(22, 18), _drum(16, 16), _drum(12, 9), _drum(10, 8), _drum(14, 5.5)]).cartons),
        mark=Mark.COMMON_PRACTICE,
    ),
    Check(
        "room of a 14 × 5.5 snare and a 22 × 18 bass drum",
        _ENVELOPES,
        (400.0, 180.0, 600.0, 500.0),
        lambda: (
            envelope(_drum(14, 5.5)).diameter_mm,
            envelope(_drum(14, 5.5)).length_mm,
            envelope(_drum(22, 18)).diameter_mm,
            envelope(_drum(22, 18)).length_mm,
        ),
        5.0,
        Mark.COMMON_PRACTICE,
    ),
]
