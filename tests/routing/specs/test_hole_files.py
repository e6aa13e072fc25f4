from __future__ import annotations

import io
import math
from collections import Counter
from dataclasses import replace
from itertools import pairwise
from typing import Any

import ezdxf
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from routing.specs.drilling import DrillingResult, drilling
from routing.specs.errors import SpecError
from routing.specs.hole_files import DrillProgramRules, drilling_program, hole_map_dxf
from routing.specs.inputs import FittingInputs, Role
from routing.specs.seam_lines import seam_lines
from routing.specs.sheet import compute_sheet
from tests.routing.specs.example_drums import ALL, hardware
from tests.rs274 import Machine, Move, ProgramError, run

SHEETS = {name: compute_sheet(inputs) for name, inputs in ALL.items()}
POST = FittingInputs("Post (old “type” × 2) 100 %", "mount", None, 1, ((-8.0, 0.0, 28.0), (30.0, 0.0, 6.6)), 60.0, 60.0)


def with_post() -> DrillingResult:
    return drilling(
        role=Role.RACK_TOM,
        hardware=replace(hardware(6), fittings=(POST,)),
        outside_diameter_mm=301.6,
        depth_mm=203.2,
    )


def drilled_by(machine: Machine) -> list[tuple[float, float, int, float]]:
    """Where the drill stood when it fed down: height, angle, tool, depth."""
    return [(move.x, move.a, move.tool, move.z) for move in machine.moves if move.kind == "feed"]


@pytest.mark.parametrize("name", ALL)
def test_a_program_drills_the_holes_of_the_list_and_no_others(name: str) -> None:
    sheet = SHEETS[name]
    machine = run(drilling_program(sheet.drilling, title=name, wall_mm=sheet.shell.wall_mm))
    assert machine.metric and machine.ended and not machine.spindle_on
    sizes = sorted({hole.diameter_mm for hole in sheet.drilling.holes})
    expected = Counter(
        (round(hole.height_mm, 3), round(hole.angle_deg, 3), hole.diameter_mm) for hole in sheet.drilling.holes
    )
    found = drilled_by(machine)
    assert Counter((round(x, 3), round(a, 3), sizes[tool - 1]) for x, a, tool, _ in found) == expected
    assert {z for *_, z in found} == {round(-(sheet.shell.wall_mm + 2.0), 3)}


def unsafe(moves: list[Move], safe_z: float, clearance: float) -> list[Move]:
    """Moves that turn or shift the shell below the safe height, or rapids into the wood."""
    wrong = []
    for before, after in pairwise(moves):
        turned = (before.a, before.x, before.y) != (after.a, after.x, after.y)
        if turned and min(before.z, after.z) < safe_z - 1e-9:
            wrong.append(after)
        if after.kind == "rapid" and after.z < clearance - 1e-9:
            wrong.append(after)
        if after.kind == "feed" and not after.spindle_on:
            wrong.append(after)
    return wrong


@pytest.mark.parametrize("name", ALL)
def test_the_shell_turns_only_at_the_safe_height(name: str) -> None:
    sheet = SHEETS[name]
    machine = run(drilling_program(sheet.drilling, title=name, wall_mm=sheet.shell.wall_mm))
    assert machine.moves[0].z == 60 and machine.moves[-1].z == 60
    assert unsafe(machine.moves, 60, 3) == []
    assert all(move.y == 0 for move in machine.moves)


@settings(max_examples=30, deadline=None)
@given(st.floats(2, 15), st.floats(3, 20), st.floats(30, 120), st.floats(0, 5), st.floats(20, 900), st.integers(3, 6))
def test_rules_are_kept_whatever_they_are(
    wall: float, clear: float, safe: float, through: float, feed: float, decimals: int
) -> None:
    rules = DrillProgramRules(safe, clear, through, feed, decimals=decimals)
    machine = run(drilling_program(with_post(), title="any", wall_mm=wall, rules=rules))
    small = 10**-decimals
    assert unsafe(machine.moves, safe - small, clear - small) == []
    assert len(drilled_by(machine)) == 6 * 4 + 2
    assert all(z == pytest.approx(-(wall + through), abs=small) for *_, z in drilled_by(machine))


def test_each_diameter_has_its_tool_small_ones_first_and_large_ones_slow() -> None:
    program = drilling_program(with_post(), title="post", wall_mm=6.0)
    machine = run(program)
    tools = [tool for _, _, tool, _ in drilled_by(machine)]
    assert tools == sorted(tools) and set(tools) == {1, 2, 3}
    assert {move.feed for move in machine.moves if move.tool == 3 and move.kind == "feed"} == {60.0}
    assert {move.feed for move in machine.moves if move.tool == 1 and move.kind == "feed"} == {150.0}
    assert "(T3 = 28 MM FLAT-BOTTOM)" in program and "S1000 M3" in program


def test_the_convention_and_the_caution_stand_in_front() -> None:
    program = drilling_program(with_post(), title="post", wall_mm=6.0)
    before_motion = program[: program.index("G17")]
    for words in (
        "DRY-RUN FIRST",
        "COUNTER-CLOCKWISE SEEN FROM THE BATTER SIDE",
        "X0 AT THE BATTER EDGE",
        "MILLIMETRES",
    ):
        assert words in before_motion
    assert program.startswith("%\n(") and program.endswith("M30\n%\n")
    assert program.isascii() and max(len(line) for line in program.splitlines()) <= 120


def test_names_that_people_write_do_not_break_the_program() -> None:
    drums = with_post()
    program = drilling_program(drums, title="Heron (14 × 5½) % – “ø” " + "very long name " * 20, wall_mm=6.0)
    assert "(HERON [14 X 5 1/2] PCT - O VERY LONG" in program
    assert len(drilled_by(run(program))) == len(drums.holes)
    assert hole_map_dxf(drums, title="Heron (14 × 5½) % – “ø”").isascii()


def test_the_interpreter_follows_the_example_of_the_report() -> None:
    machine = Machine(x=1, y=2, z=3, feed=100)
    run("G90 G81 G98 X4 Y5 Z1.5 R2.8", machine)
    assert [(m.kind, m.x, m.y, m.z) for m in machine.moves] == [
        ("rapid", 4, 5, 3),
        ("rapid", 4, 5, 2.8),
        ("feed", 4, 5, 1.5),
        ("rapid", 4, 5, 3),
    ]


@pytest.mark.parametrize(
    ("program", "words"),
    [
        ("G21 G90 G98 F100\nG0 Z60 A0\nG81 X1 Y0 A5 Z-7 R3", "rotary axis moves"),
        ("G21 G90\nG0 Z60\nG81 X1 Y0 Z-7 R3", "without a feed"),
        ("G90 F9\nG81 X1 Z3 R2", "below Z"),
        ("G90 F9\nG81 X1 Z3", "needs R and Z"),
        ("G0 G81 X1", "two words"),
        ("(A (nested) comment)", "brackets"),
        ("%\nG0 X1", "closing %"),
        ("X1", "without a motion"),
        ("G0", "motion without axes"),
        ("G2 X1", "unknown"),
        ("M3", "without a speed"),
        ("G0 X1 X2", "twice"),
        ("G0 ½", "ASCII"),
    ],
)
def test_the_interpreter_refuses_what_a_control_would_refuse(program: str, words: str) -> None:
    with pytest.raises(ProgramError, match=words):
        run(program, Machine(absolute=True))


def read(text: str) -> Any:
    return ezdxf.read(io.StringIO(text))  # type: ignore[attr-defined,unused-ignore]


@pytest.mark.parametrize("name", ALL)
def test_a_drawing_holds_every_hole_where_it_is(name: str) -> None:
    sheet = SHEETS[name]
    seams = [angle for plate in sheet.layup.plates for angle in plate.seam_angles_deg]
    text = hole_map_dxf(sheet.drilling, title=name, seams=seam_lines(sheet.layup))
    document = read(text)
    assert document.dxfversion == "AC1009"
    assert document.audit().errors == []
    space = document.modelspace()
    circles = {
        (round(c.dxf.center.x, 3), round(c.dxf.center.y, 3), round(2 * c.dxf.radius, 3)) for c in space.query("CIRCLE")
    }
    height, width = sheet.drilling.height_mm, sheet.drilling.circumference_mm
    for hole in sheet.drilling.holes:
        assert (round(hole.arc_mm, 3), round(height - hole.height_mm, 3), hole.diameter_mm) in circles
    on_the_shell = [circle for circle in circles if 0 <= circle[0] < width]
    assert len(on_the_shell) == len(sheet.drilling.holes)
    texts = [entity.dxf.text for entity in space.query("TEXT")]
    assert any("MILLIMETRES" in words for words in texts) and any("BATTER EDGE AT THE TOP" in words for words in texts)
    assert {entity.dxf.layer for entity in space} == {"SHELL", "SEAMS", "HARDWARE", "HOLES", "TEXT"}
    # Every seam crosses mid-height at its angle, however it leans.
    crossing = set()
    for line in space.query("LINE"):
        (x0, y0), (x1, y1) = (line.dxf.start.x, line.dxf.start.y), (line.dxf.end.x, line.dxf.end.y)
        if min(y0, y1) <= height / 2 <= max(y0, y1):
            crossing.add(round(x0 + (x1 - x0) * (height / 2 - y0) / (y1 - y0), 1) % round(width, 1))
    assert sorted(crossing) == pytest.approx(sorted({round(angle / 360 * width, 1) for angle in seams}), abs=0.11)


def test_the_batter_edge_is_at_the_top() -> None:
    near_the_batter = FittingInputs("vent", "vent", (90.0,), 1, ((0.0, 0.0, 12.7),), 20.0, 20.0, height_mm=40.0)
    drums = drilling(
        role=Role.RACK_TOM,
        hardware=replace(hardware(6), fittings=(near_the_batter,)),
        outside_diameter_mm=301.6,
        depth_mm=203.2,
    )
    space = read(hole_map_dxf(drums, title="vent")).modelspace()
    (vent,) = [c for c in space.query("CIRCLE") if c.dxf.radius == 6.35]
    assert vent.dxf.center.y == pytest.approx(163.2)
    assert vent.dxf.center.x == pytest.approx(drums.circumference_mm / 4, abs=1e-3)
    boxes = [
        {(round(v.dxf.location.x, 1), round(v.dxf.location.y, 1)) for v in box.vertices}
        for box in space.query("POLYLINE")
        if box.dxf.layer == "HARDWARE"
    ]
    quarter = drums.circumference_mm / 4
    corners = {(round(quarter + dx, 1), round(163.2 + dy, 1)) for dx in (-10, 10) for dy in (-10, 10)}
    assert corners in boxes
    heights = {x for x, *_ in drilled_by(run(drilling_program(drums, title="vent", wall_mm=6.0)))}
    assert 40.0 in heights and 163.2 not in heights


def test_only_entities_of_the_old_format_are_used() -> None:
    kinds = {entity.dxftype() for entity in read(hole_map_dxf(with_post(), title="post")).modelspace()}
    assert kinds <= {"LINE", "CIRCLE", "ARC", "POLYLINE", "TEXT"}
    assert "$INSUNITS" not in hole_map_dxf(with_post(), title="post")


def test_a_hole_across_the_datum_is_drawn_at_both_ends() -> None:
    drums = with_post()
    (big,) = [hole for hole in drums.holes if hole.diameter_mm == 28.0]
    assert big.arc_mm > drums.circumference_mm - 14
    space = read(hole_map_dxf(drums, title="post")).modelspace()
    at = sorted(c.dxf.center.x for c in space.query("CIRCLE") if c.dxf.radius == 14.0)
    assert at == pytest.approx([big.arc_mm - drums.circumference_mm, big.arc_mm], abs=1e-3)


def test_the_same_holes_give_the_same_files() -> None:
    assert hole_map_dxf(with_post(), title="post") == hole_map_dxf(with_post(), title="post")
    assert drilling_program(with_post(), title="post", wall_mm=6) == drilling_program(
        with_post(), title="post", wall_mm=6
    )


def test_an_impossible_program_is_refused() -> None:
    with pytest.raises(SpecError) as refused:
        drilling_program(replace(with_post(), holes=()), title="none", wall_mm=6.0)
    assert refused.value.code == "no_holes"
    for rules in (
        DrillProgramRules(clearance_z_mm=0.0),
        DrillProgramRules(safe_z_mm=2.0),
        DrillProgramRules(feed_mm_per_min=math.nan),
        DrillProgramRules(large_speed_rpm=0.0),
        DrillProgramRules(decimals=0),
    ):
        with pytest.raises(SpecError):
            drilling_program(with_post(), title="x", wall_mm=6.0, rules=rules)
    with pytest.raises(SpecError):
        drilling_program(with_post(), title="x", wall_mm=0.0)
