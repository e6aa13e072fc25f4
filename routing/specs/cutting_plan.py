"""Which blanks to cut from which sheet, so that as few sheets as possible are opened."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from routing.specs.cutting import CuttingResult
from routing.specs.cutting_search import CuttingSearch, Watcher
from routing.specs.errors import SpecError, require_between
from routing.specs.guillotine import Size
from routing.specs.inputs import Grain, PlateInputs
from routing.specs.sentences import gettext_noop

_ONE_SHEET = gettext_noop("1 sheet; no plan has fewer.")
_NO_FEWER = gettext_noop("{sheets} sheets; no plan has fewer.")
_PERHAPS_FEWER = gettext_noop("{sheets} sheets; at least {least} are needed, so at most {gap} could be saved.")
_BLANK_TOO_LARGE = gettext_noop(
    "{label}: a blank of {along} × {across} mm (along × across the grain) does not fit a sheet of "
    "{length} × {width} mm."
)
_TOO_MANY = gettext_noop("Plan at most 20 000 blanks at once; take a shorter release.")

_TENTHS = 10  # the plan works in whole tenths of a millimetre
_SLACK = 1e-6


@dataclass(frozen=True, slots=True)
class StockSheet:
    """The sheet that one kind of plate comes in: length along the grain of its face veneers, width across."""

    name: str
    length_mm: float
    width_mm: float


@dataclass(frozen=True, slots=True)
class BlankOrder:
    """Blanks of one size. ``label`` says what they are for, e.g. a serial number and the plate's position."""

    label: str
    along_grain_mm: float
    across_grain_mm: float
    quantity: int = 1


@dataclass(frozen=True, slots=True)
class PlacedBlank:
    label: str
    x_mm: float  # along the grain, from a corner of the sheet
    y_mm: float  # across it
    along_grain_mm: float
    across_grain_mm: float


@dataclass(frozen=True, slots=True)
class Offcut:
    """A left-over large enough to keep."""

    x_mm: float
    y_mm: float
    along_grain_mm: float
    across_grain_mm: float


@dataclass(frozen=True, slots=True)
class SheetLayout:
    number: int
    blanks: tuple[PlacedBlank, ...]
    offcuts: tuple[Offcut, ...]
    used_pct: float  # blanks over the sheet


@dataclass(frozen=True, slots=True)
class CuttingPlan:
    """How to cut one kind of plate. ``lower_bound`` sheets are needed by any way of cutting edge to edge."""

    stock: StockSheet
    kerf_mm: float
    sheets: tuple[SheetLayout, ...]
    blanks: int
    area_bound: int  # sheets that the blanks' area alone would fill
    lower_bound: int
    yield_pct: float  # blanks over all sheets opened
    yield_with_offcuts_pct: float
    proven: bool  # no plan has fewer sheets
    gap_sheets: int
    stopped_early: bool
    summary: str


def orders_for_shell(
    label: str, plates: Sequence[PlateInputs], cutting: CuttingResult, *, rough: bool = True
) -> list[tuple[StockSheet, BlankOrder]]:
    """The blanks of one shell, each with the sheet it is cut from.

    ``rough`` takes the pre-cut sizes, else the precise ones with the slant of a diagonal seam.
    """
    orders = []
    for plate, blank in zip(plates, cutting.blanks, strict=True):
        size = (blank.length_mm + blank.slant_mm, blank.height_mm)
        if plate.face_grain is Grain.AXIAL:
            size = (size[1], size[0])
        if rough:
            size = (blank.rough_along_grain_mm, blank.rough_across_grain_mm)
        stock = StockSheet(plate.name, plate.stock_length_mm, plate.stock_width_mm)
        orders.append((stock, BlankOrder(f"{label} plate {blank.position}", size[0], size[1], blank.pieces)))
    return orders


def plan_release(
    orders: Iterable[tuple[StockSheet, BlankOrder]],
    *,
    kerf_mm: float = 3.2,
    clock: Callable[[], float] | None = None,
    time_limit_s: float = 20.0,
    watch: Watcher | None = None,
) -> tuple[CuttingPlan, ...]:
    """One plan for each kind of sheet that a kit or a release needs, by name. The time limit is for each plan."""
    groups: dict[StockSheet, list[BlankOrder]] = {}
    for stock, order in orders:
        groups.setdefault(stock, []).append(order)
    return tuple(
        plan_cutting(stock, groups[stock], kerf_mm=kerf_mm, clock=clock, time_limit_s=time_limit_s, watch=watch)
        for stock in sorted(groups, key=lambda one: (one.name, one.length_mm, one.width_mm))
    )


def plan_cutting(
    stock: StockSheet,
    orders: Sequence[BlankOrder],
    *,
    kerf_mm: float = 3.2,
    keep_along_mm: float = 300.0,
    keep_across_mm: float = 150.0,
    clock: Callable[[], float] | None = None,
    time_limit_s: float = 20.0,
    watch: Watcher | None = None,
) -> CuttingPlan:
    """A plan with as few sheets as could be found, and a bound that says how far it can be from the best.

    Edge-to-edge cuts only; no blank is turned, because its grain must lie as ordered. Sizes in mm, rounded up to a tenth;
    kerf 0 to 10 mm; sheet 100 to 10 000 mm; at most 20 000 blanks. SpecError names a blank that does not fit the sheet.

    Method: first-fit in several orders; then column generation over guillotine patterns (Gilmore and Gomory, 1961 and
    1966) whose linear programme gives the bound (Farley, 1990), and an integer programme over the patterns found. Where the
    exact recursion is too large, blanks are rounded down for the bound only, which keeps it valid. The same input gives the
    same plan, unless time runs out; time is measured only when a ``clock`` (seconds) is given.
    """
    _check(stock, orders, kerf_mm)
    kerf = math.ceil(kerf_mm * _TENTHS - _SLACK)
    sheet = (_floor(stock.length_mm) + kerf, _floor(stock.width_mm) + kerf)
    kinds = _kinds(stock, orders, kerf, sheet)
    sizes = list(kinds)
    demand = [sum(order.quantity for order in kinds[size]) for size in sizes]
    job = CuttingSearch(sheet, sizes, demand, clock, time_limit_s, watch)
    job.run()
    return _drawn(stock, kerf_mm, kerf, kinds, sizes, job, (keep_along_mm, keep_across_mm))


def _floor(mm: float) -> int:
    return math.floor(mm * _TENTHS + _SLACK)


def _kinds(stock: StockSheet, orders: Sequence[BlankOrder], kerf: int, sheet: Size) -> dict[Size, list[BlankOrder]]:
    kinds: dict[Size, list[BlankOrder]] = {}
    for order in orders:
        size = (
            math.ceil(order.along_grain_mm * _TENTHS - _SLACK) + kerf,
            math.ceil(order.across_grain_mm * _TENTHS - _SLACK) + kerf,
        )
        if size[0] > sheet[0] or size[1] > sheet[1]:
            raise SpecError(
                "blank_too_large",
                "orders",
                _BLANK_TOO_LARGE.format(
                    label=order.label,
                    along=f"{order.along_grain_mm:.1f}",
                    across=f"{order.across_grain_mm:.1f}",
                    length=f"{stock.length_mm:g}",
                    width=f"{stock.width_mm:g}",
                ),
            )
        if order.quantity:
            kinds.setdefault(size, []).append(order)
    return dict(sorted(kinds.items(), reverse=True))


def _drawn(
    stock: StockSheet,
    kerf_mm: float,
    kerf: int,
    kinds: dict[Size, list[BlankOrder]],
    sizes: list[Size],
    job: CuttingSearch,
    keep_mm: tuple[float, float],
) -> CuttingPlan:
    surplus = Counter(item for part in job.best for item in part.items())
    surplus.subtract(dict(enumerate(job.demand)))
    spare = dict(surplus)
    waiting = {
        index: [order for order in kinds[size] for _ in range(order.quantity)] for index, size in enumerate(sizes)
    }
    layouts = []
    kept = 0.0
    sheet_area = stock.length_mm * stock.width_mm
    # What was cut too often is left out on the emptiest sheets, so that their left-overs are large.
    for part in sorted(job.best, key=lambda p: (sum(sizes[i][0] * sizes[i][1] for i in p.items()), job.counts(p))):
        trimmed = part.without(spare)
        blanks = []
        for item, x, y in trimmed.placed():
            order = waiting[item].pop(0)
            blanks.append(
                PlacedBlank(order.label, x / _TENTHS, y / _TENTHS, order.along_grain_mm, order.across_grain_mm)
            )
        if not blanks:
            continue
        offcuts = tuple(
            Offcut(x / _TENTHS, y / _TENTHS, (along - kerf) / _TENTHS, (across - kerf) / _TENTHS)
            for x, y, along, across in trimmed.left_over()
            if along - kerf >= keep_mm[0] * _TENTHS and across - kerf >= keep_mm[1] * _TENTHS
        )
        kept += sum(one.along_grain_mm * one.across_grain_mm for one in offcuts)
        used = sum(one.along_grain_mm * one.across_grain_mm for one in blanks)
        layouts.append(SheetLayout(0, tuple(blanks), offcuts, used / sheet_area * 100))
    layouts = [
        SheetLayout(number, one.blanks, one.offcuts, one.used_pct)
        for number, one in enumerate(sorted(layouts, key=lambda one: -one.used_pct), start=1)
    ]
    count = len(layouts)
    area = sum(one.used_pct for one in layouts) / 100 * sheet_area
    opened = count * sheet_area
    proven = count <= job.bound
    return CuttingPlan(
        stock=stock,
        kerf_mm=kerf_mm,
        sheets=tuple(layouts),
        blanks=sum(len(one.blanks) for one in layouts),
        area_bound=job.area_bound,
        lower_bound=min(job.bound, count),
        yield_pct=area / opened * 100 if count else 0.0,
        yield_with_offcuts_pct=(area + kept) / opened * 100 if count else 0.0,
        proven=proven,
        gap_sheets=max(0, count - job.bound),
        stopped_early=job.stopped and not proven,
        summary=_summary(count, job.bound, proven),
    )


def _summary(count: int, bound: int, proven: bool) -> str:
    if proven:
        return _ONE_SHEET if count == 1 else _NO_FEWER.format(sheets=count)
    return _PERHAPS_FEWER.format(sheets=count, least=bound, gap=count - bound)


def _check(stock: StockSheet, orders: Sequence[BlankOrder], kerf_mm: float) -> None:
    require_between(stock.length_mm, 100, 10_000, field="stock_length_mm", unit="mm")
    require_between(stock.width_mm, 100, 10_000, field="stock_width_mm", unit="mm")
    require_between(kerf_mm, 0, 10, field="kerf_mm", unit="mm")
    for order in orders:
        require_between(order.along_grain_mm, 10, 10_000, field="along_grain_mm", unit="mm")
        require_between(order.across_grain_mm, 10, 10_000, field="across_grain_mm", unit="mm")
        require_between(order.quantity, 0, 20_000, field="quantity")
    if sum(order.quantity for order in orders) > 20_000:
        raise SpecError("too_many_blanks", "orders", _TOO_MANY)
