"""Cutting plans, held against published instances and theorems."""

from __future__ import annotations

from functools import cache

from routing.specs.cutting_plan import BlankOrder, CuttingPlan, StockSheet, plan_cutting
from routing.specs.guillotine import BestSheet, first_fit
from tests.published.checks import Check, Mark

_ROLLS = "cutting stock of 5600 mm rolls, widely published instance"
_WIDTHS = (1380, 1520, 1560, 1710, 1820, 1880, 1930, 2000, 2050, 2100, 2140, 2150, 2200)
_DEMAND = (22, 25, 12, 14, 18, 18, 20, 10, 12, 14, 16, 18, 20)
# Herz 1972: sheet 127 × 98, five kinds of piece, the value of each its area.
_HERZ = ((21, 13), (36, 17), (54, 20), (24, 27), (18, 65))


@cache
def _rolls() -> CuttingPlan:
    orders = [BlankOrder(str(width), width, 1000, count) for width, count in zip(_WIDTHS, _DEMAND, strict=True)]
    return plan_cutting(StockSheet("roll", 5600, 1000), orders, kerf_mm=0)


def _first_fit_decreasing() -> float:
    kinds = sorted(range(len(_WIDTHS)), key=lambda kind: -_WIDTHS[kind])
    pieces = [kind for kind in kinds for _ in range(_DEMAND[kind])]
    return float(len(first_fit((5600, 1), [(width, 1) for width in _WIDTHS], pieces, split="along")))


def _herz() -> float:
    return BestSheet((127, 98), _HERZ).solve([float(along * across) for along, across in _HERZ])


CHECKS = [
    Check("rolls needed", _ROLLS, 73.0, lambda: float(len(_rolls().sheets)), trap=72.0),
    Check("rolls proved to be needed", _ROLLS, 73.0, lambda: float(_rolls().lower_bound)),
    Check("plan of the rolls is proven", _ROLLS, True, lambda: _rolls().proven),
    Check(
        "rolls of material in the orders",
        _ROLLS,
        72.7,
        lambda: _rolls().yield_pct / 100 * len(_rolls().sheets),
        0.05,
    ),
    Check("rolls by first-fit decreasing", _ROLLS, 82.0, _first_fit_decreasing),
    Check(
        "first-fit decreasing stays within 11/9 of the optimum and 6/9",
        "Dósa 2007, tight bound of first-fit decreasing",
        True,
        lambda: _first_fit_decreasing() <= 11 / 9 * 73 + 6 / 9,
    ),
    Check(
        "best guillotine cutting of a sheet of 127 × 98",
        "Herz 1972, instance H as reported by Hifi and Zissimopoulos 1996",
        12348.0,
        _herz,
        trap=12446.0,  # the sheet's own area
    ),
    Check(
        "four kinds that fill twelve sheets without waste",
        "constructed, perfect packing",
        12.0,
        lambda: float(
            len(
                plan_cutting(
                    StockSheet("sheet", 2500, 1250),
                    [
                        BlankOrder("a", 1500, 750, 12),
                        BlankOrder("b", 1000, 750, 12),
                        BlankOrder("c", 1500, 500, 12),
                        BlankOrder("d", 1000, 500, 12),
                    ],
                    kerf_mm=0,
                ).sheets
            )
        ),
        mark=Mark.CONSTRUCTED,
    ),
]
