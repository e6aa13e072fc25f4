"""Drilling programs and drawings, held against the open text of RS274/NGC and the reference of DXF R12."""

from __future__ import annotations

import io
from dataclasses import replace
from typing import Any

import ezdxf

from routing.specs.drilling import DrillingResult, drilling
from routing.specs.hole_files import DrillProgramRules, drilling_program, hole_map_dxf
from routing.specs.inputs import FittingInputs, Role
from tests.published.checks import Check, Mark
from tests.routing.specs.example_drums import hardware
from tests.rs274 import Machine, ProgramError, run

_RS274 = "NISTIR 6556, RS274/NGC: canned cycle G81 with G98"
_ROTARY = "NISTIR 6556, RS274/NGC: the rotary axis must stand still in a canned cycle"
_DXF = "DXF reference, R12 (AC1009)"


def _drum() -> DrillingResult:
    vent = FittingInputs("vent", "vent", (0.0,), 1, ((0.0, 0.0, 12.7),), 20.0, 20.0)
    return drilling(
        role=Role.RACK_TOM, hardware=replace(hardware(6), fittings=(vent,)), outside_diameter_mm=301.6, depth_mm=203.2
    )


def _example() -> tuple[float, ...]:
    machine = Machine(x=1, y=2, z=3, feed=100)
    run("G90 G81 G98 X4 Y5 Z1.5 R2.8", machine)
    return tuple(number for move in machine.moves for number in (move.x, move.y, move.z))


def _our_cycle() -> tuple[float, ...]:
    """The vent of the drum above: heights of the drill from its rapid over the hole to its way back."""
    rules = DrillProgramRules(safe_z_mm=50.0, clearance_z_mm=2.8, break_through_mm=1.5)
    moves = run(drilling_program(_drum(), title="vent", wall_mm=6.0, rules=rules)).moves
    last = max(n for n, move in enumerate(moves) if move.kind == "feed")
    return tuple(move.z for move in moves[last - 2 : last + 2])


def _rotary_stands_still() -> bool:
    try:
        run(drilling_program(_drum(), title="vent", wall_mm=6.0))
    except ProgramError:
        return False
    return True


def _refused(program: str) -> bool:
    try:
        run(program)
    except ProgramError:
        return True
    return False


def _document() -> Any:
    return ezdxf.read(io.StringIO(hole_map_dxf(_drum(), title="drum")))  # type: ignore[attr-defined,unused-ignore]


CHECKS = [
    Check(
        "from (1, 2, 3): G90 G81 G98 X4 Y5 Z1.5 R2.8, replayed",
        _RS274,
        (4, 5, 3, 4, 5, 2.8, 4, 5, 1.5, 4, 5, 3),
        _example,
        1e-9,
    ),
    Check(
        "our own hole: over, down to R, feed to Z, back to the old height",
        _RS274,
        (50.0, 2.8, -7.5, 50.0),
        _our_cycle,
        1e-9,
    ),
    Check("our programs turn the shell between the cycles only", _ROTARY, True, _rotary_stands_still),
    Check(
        "a program that turns within a cycle is refused",
        _ROTARY,
        True,
        lambda: _refused("G21 G90 G98 F100\nG0 X0 A0 Z60\nG81 X10 A30 Z-7 R3"),
    ),
    Check("version of our drawing", _DXF, "AC1009", lambda: str(_document().dxfversion), trap="AC1015"),
    Check(
        "only entities that R12 knows",
        _DXF,
        True,
        lambda: {e.dxftype() for e in _document().modelspace()} <= {"LINE", "CIRCLE", "ARC", "POLYLINE", "TEXT"},
    ),
    Check(
        "the unit stands in a text, as R12 has no variable for it",
        _DXF,
        True,
        lambda: (
            any("MILLIMETRES" in e.dxf.text for e in _document().modelspace().query("TEXT"))
            and "$INSUNITS" not in hole_map_dxf(_drum(), title="drum")
        ),
    ),
    Check(
        "faults that an independent reader finds in it",
        "ezdxf, audit of a drawing",
        0.0,
        lambda: float(len(_document().audit().errors)),
        mark=Mark.COMPUTED,
    ),
]
