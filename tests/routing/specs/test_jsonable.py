from __future__ import annotations

import json
from dataclasses import dataclass, replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from routing.specs.errors import SpecError
from routing.specs.inputs import DrumInputs, Grain, PlateInputs, RoomInputs, SeamInputs, SeamKind, SpeciesInputs
from routing.specs.jsonable import from_json, to_json
from tests.routing.specs.example_drums import ALL, SNARE

finite = st.floats(allow_nan=False, allow_infinity=False)
species = st.builds(SpeciesInputs, st.text(), finite, finite, finite)
plates = st.builds(
    PlateInputs, st.text(), species, finite, st.integers(), st.sampled_from(Grain), finite, finite, st.none() | finite
)
seams = st.builds(
    SeamInputs, st.sampled_from(SeamKind), finite, finite, finite, st.none() | st.lists(finite).map(tuple)
)


@dataclass(frozen=True)
class Odd:
    either: int | str
    table: dict[str, tuple[float, ...]]
    on: bool = False


@pytest.mark.parametrize("name", ALL)
def test_whole_drums_come_back_exactly(name: str) -> None:
    assert from_json(DrumInputs, json.loads(json.dumps(to_json(ALL[name])))) == ALL[name]


@given(plates, seams)
def test_any_finite_input_comes_back_exactly(plate: PlateInputs, seam: SeamInputs) -> None:
    drum = replace(SNARE, plates=(plate,), seam=seam)
    text = json.dumps(to_json(drum), allow_nan=False)
    back = from_json(DrumInputs, json.loads(text))
    assert back == drum
    assert repr(back) == repr(drum)


def test_unions_and_mappings() -> None:
    for odd in (Odd(1, {"a": (1.0, 2.0)}), Odd("one", {}, True)):
        assert from_json(Odd, json.loads(json.dumps(to_json(odd)))) == odd


def test_whole_numbers_become_floats_again() -> None:
    assert repr(from_json(RoomInputs, {"temperature_c": 20})) == repr(RoomInputs(20.0))


def test_a_missing_key_takes_its_default() -> None:
    data = to_json(SNARE)
    del data["room"]
    assert from_json(DrumInputs, data) == SNARE


@pytest.mark.parametrize(
    ("change", "place"),
    [
        ({"role": "kazoo"}, "role"),
        ({"nominal_depth_in": "deep"}, "nominal_depth_in"),
        ({"nominal_depth_in": True}, "nominal_depth_in"),
        ({"nominal_depth_in": None}, "nominal_depth_in"),
        ({"plates": {}}, "plates"),
        ({"plates": [3]}, "plates.0"),
        ({"room": {"temperature_c": 20.0, "colour": 1}}, "room.colour"),
        ({"glue": {}}, "glue."),
        ({"surprise": 1}, "surprise"),
    ],
)
def test_damaged_records_are_refused_with_the_place(change, place) -> None:
    with pytest.raises(SpecError) as refused:
        from_json(DrumInputs, to_json(SNARE) | change)
    assert refused.value.code == "bad_record"
    assert place in refused.value.message


def test_what_json_cannot_hold_is_refused() -> None:
    with pytest.raises(SpecError):
        to_json(RoomInputs(float("nan")))
    with pytest.raises(TypeError):
        to_json(object())
    with pytest.raises(TypeError):
        to_json({1: 2})
