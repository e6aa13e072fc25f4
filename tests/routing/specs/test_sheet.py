from __future__ import annotations

import json
import math
import time
from dataclasses import fields, is_dataclass, replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from routing.specs.errors import SpecError, SpecWarning
from routing.specs.inputs import DrumInputs, FinishKind, RoomInputs
from routing.specs.jsonable import from_json, to_json
from routing.specs.sheet import FORMULA_VERSION, SpecSheet, compute_sheet
from tests.routing.specs.example_drums import ALL, BASS, SNARE, TOM, WRAPPED_TOM


def numbers(value: object) -> list[float]:
    if isinstance(value, float):
        return [value]
    if isinstance(value, tuple):
        return [number for item in value for number in numbers(item)]
    if is_dataclass(value):
        return [number for field in fields(value) for number in numbers(getattr(value, field.name))]
    return []


def warnings_in(value: object) -> list[SpecWarning]:
    if isinstance(value, SpecWarning):
        return [value]
    if isinstance(value, tuple):
        return [warning for item in value for warning in warnings_in(item)]
    if is_dataclass(value):
        return [warning for field in fields(value) for warning in warnings_in(getattr(value, field.name))]
    return []


def names_an_input(drum: DrumInputs, path: str) -> bool:
    """Whether a dotted path leads to a field of these inputs."""
    at: object = drum
    for name in path.split("."):
        if isinstance(at, tuple):
            if not name.isdigit() or int(name) >= len(at):
                return False
            at = at[int(name)]
        elif is_dataclass(at) and name in {field.name for field in fields(at)}:
            at = getattr(at, name)
        else:
            return False
    return True


@pytest.mark.parametrize("name", ALL)
def test_a_sheet_is_frozen_and_read_back_exactly(name: str) -> None:
    sheet = compute_sheet(ALL[name])
    back = from_json(SpecSheet, json.loads(json.dumps(to_json(sheet), allow_nan=False)))
    assert back == sheet
    assert repr(back) == repr(sheet)
    assert sheet.formula_version == FORMULA_VERSION


@pytest.mark.parametrize("name", ALL)
def test_every_warning_is_collected_and_names_an_input(name: str) -> None:
    drum = replace(ALL[name], head_undersize_mm=1.0, room=RoomInputs(8.0, 80.0, 11.0))
    sheet = compute_sheet(drum)
    sections = [getattr(sheet, field.name) for field in fields(sheet) if field.name != "warnings"]
    assert sorted(map(repr, sheet.warnings)) == sorted(map(repr, warnings_in(tuple(sections))))
    assert {"head_tight", "too_wet", "room_outside_glue"} <= {warning.code for warning in sheet.warnings}
    for warning in sheet.warnings:
        assert names_an_input(drum, warning.field), warning


@settings(max_examples=60, deadline=None)
@given(
    st.sampled_from(sorted(ALL)),
    st.floats(8, 26),
    st.floats(4, 20),
    st.floats(1.6, 5),
    st.floats(0, 30),
    st.floats(20, 80),
    st.floats(3, 15),
)
def test_no_number_is_nonsense(
    name: str, diameter: float, depth: float, under: float, room: float, humidity: float, moisture: float
) -> None:
    drum = replace(
        ALL[name],
        nominal_diameter_in=diameter,
        nominal_depth_in=depth,
        head_undersize_mm=under,
        room=RoomInputs(room, humidity, moisture),
    )
    try:
        sheet = compute_sheet(drum)
    except SpecError as error:
        refusal = error
    else:
        found = numbers(sheet)
        assert len(found) > 50
        assert all(math.isfinite(number) for number in found)
        return
    assert refusal.message
    assert names_an_input(drum, refusal.field)


def test_the_wrap_is_taken_off_the_mould() -> None:
    assert WRAPPED_TOM.finish.kind is FinishKind.WRAP
    bare, wrapped = compute_sheet(TOM), compute_sheet(WRAPPED_TOM)
    assert wrapped.shell.outside_diameter_mm == pytest.approx(bare.shell.outside_diameter_mm - 1.0)
    assert wrapped.pressing.parting_force_n < bare.pressing.parting_force_n


def test_sections_agree_with_each_other() -> None:
    sheet = compute_sheet(SNARE)
    assert sheet.shell.wall_mm == sheet.layup.wall_mm
    assert sheet.shell.inside_diameter_mm == pytest.approx(sheet.layup.plates[-1].inner_diameter_mm)
    assert sheet.cutting.trimmed_height_mm == sheet.shell.depth_mm
    assert len(sheet.gluing.lines) == len(sheet.layup.plates) - 1


def test_a_whole_drum_computes_in_a_few_milliseconds() -> None:
    compute_sheet(BASS)
    best = math.inf
    for _ in range(20):
        start = time.process_time()
        compute_sheet(BASS)
        best = min(best, time.process_time() - start)
    assert best < 0.005, f"{best * 1000:.1f} ms"
