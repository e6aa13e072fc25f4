"""What a station is told about a drum: few numbers, with units, straight from the frozen spec."""

from __future__ import annotations

import copy
from typing import Any

import pytest

from routing.models import StationKind
from routing.specs.jsonable import to_json
from routing.specs.sheet import compute_sheet
from routing.station_drawings import station_drawing
from routing.station_numbers import StationNumber, station_numbers
from tests.routing.specs.example_drums import ALL, BASS, SNARE, TOM, WRAPPED_TOM

MOST = 7  # what can be read at arm's length


def spec(drum: Any) -> tuple[dict[str, Any], dict[str, Any]]:
    results, inputs = to_json(compute_sheet(drum)), to_json(drum)
    assert isinstance(results, dict) and isinstance(inputs, dict)
    return results, inputs


def by_label(kind: StationKind, drum: Any, coat: int | None = None) -> dict[str, StationNumber]:
    results, inputs = spec(drum)
    numbers = station_numbers(kind, results, inputs, coat)
    assert len({number.label for number in numbers}) == len(numbers)
    return {number.label: number for number in numbers}


@pytest.mark.parametrize("drum", ALL.values(), ids=list(ALL))
@pytest.mark.parametrize("kind", StationKind)
def test_a_station_gets_few_numbers_and_each_says_what_it_is(kind: StationKind, drum: Any) -> None:
    results, inputs = spec(drum)
    coats = range(len(inputs["finish"]["coats"])) if kind in (StationKind.SEAL, StationKind.FINISH) else [None]
    for coat in coats:
        numbers = station_numbers(kind, results, inputs, coat)
        nothing_to_say = (kind == StationKind.TUNE and results["tuning"] is None) or (
            kind == StationKind.WRAP and results["wrap"] is None
        )
        assert nothing_to_say or 1 <= len(numbers) <= MOST
        for number in numbers:
            assert number.label
            assert number.value or number.tolerance, f"{number.label} says nothing"
            assert "nan" not in number.value and "None" not in f"{number.value}{number.tolerance}{number.note}"


def test_lengths_are_read_from_the_spec_and_never_computed_again() -> None:
    results, inputs = spec(SNARE)
    frozen = copy.deepcopy(results)
    frozen["shell"]["depth_mm"] = 123.4
    frozen["drilling"]["lug_pitch_arc_mm"] = 99.94
    frozen["edges"]["batter"]["spindle_height_mm"] = 4.321
    assert station_numbers(StationKind.TRIM, frozen, inputs)[0].value == "123.4"
    assert station_numbers(StationKind.DRILL, frozen, inputs)[1].value == "99.9"
    assert station_numbers(StationKind.EDGE, frozen, inputs)[1].value.startswith("4.32")


def test_trimmed_depth_in_both_measures() -> None:
    depth = by_label(StationKind.TRIM, SNARE)["Depth after trimming"]
    # An inch is 25.4 mm by the international yard and pound agreement of 1959.
    assert depth.value == f"{SNARE.nominal_depth_in * 25.4:.1f}"
    assert depth.unit == "mm"
    assert depth.note.endswith(" in")
    assert depth.tolerance.startswith("±")


def test_what_can_only_be_too_much_has_no_plus_and_minus() -> None:
    roundness = by_label(StationKind.TRIM, SNARE)["Roundness"]
    assert (roundness.value, roundness.tolerance.split()[:2]) == ("", ["at", "most"])


def test_beds_are_cut_on_snares_only() -> None:
    assert "Snare beds, depth" in by_label(StationKind.EDGE, SNARE)
    labels = by_label(StationKind.EDGE, TOM)
    assert not [label for label in labels if "nare" in label]
    assert [label for label in labels if label.startswith("Resonant")]


def test_every_plate_has_its_blank_in_order_from_outside() -> None:
    results, inputs = spec(SNARE)
    numbers = station_numbers(StationKind.CUT, results, inputs)
    assert len(numbers) == len(inputs["plates"])
    lengths = [float(number.value.split(" × ")[-2]) for number in numbers]
    assert lengths == sorted(lengths, reverse=True), "the plates inside are shorter"


def test_a_room_in_which_the_glue_does_not_set_stops_the_work() -> None:
    results, inputs = spec(SNARE)
    results["gluing"]["clocks"] |= {"may_glue": False, "reason": "10 °C is too cold."}
    (closing,) = [n for n in station_numbers(StationKind.PRESS, results, inputs) if n.label == "Close within"]
    assert (closing.value, closing.unit, closing.note) == ("do not glue", "", "10 °C is too cold.")


def test_a_room_in_which_nothing_may_be_coated_stops_the_work() -> None:
    results, inputs = spec(SNARE)
    results["coats"]["coats"][0] |= {"may_coat": False, "stop_reason": "The air is too damp."}
    (dry,) = [n for n in station_numbers(StationKind.SEAL, results, inputs, 0) if n.label == "Then dry for"]
    assert (dry.value, dry.note) == ("do not coat", "The air is too damp.")


def test_each_coat_has_its_own_numbers_and_no_others() -> None:
    results, inputs = spec(SNARE)
    count = len(inputs["finish"]["coats"])
    first = [station_numbers(StationKind.FINISH, results, inputs, coat)[0].value for coat in range(count)]
    assert first == [f"{coat + 1} of {count}" for coat in range(count)]
    assert station_numbers(StationKind.FINISH, results, inputs, count) == []
    assert station_numbers(StationKind.FINISH, results, inputs, None) == []


def test_a_wrapped_drum_has_a_blank_that_overlaps() -> None:
    wrap = by_label(StationKind.WRAP, WRAPPED_TOM)
    results, _ = spec(WRAPPED_TOM)
    length = float(wrap["Blank"].value.split(" × ")[0])
    # The circumference over the wood is what the sheet has to go round, and more.
    assert length > results["shell"]["outside_circumference_mm"] / results["wrap"]["pieces"]
    assert by_label(StationKind.WRAP, SNARE) == {}


def test_parts_and_bags_add_up() -> None:
    numbers = by_label(StationKind.ASSEMBLE, BASS)
    _, inputs = spec(BASS)
    bags = {part["bag"] for part in inputs["hardware"]["parts"] if part["bag"]}
    assert int(numbers["Parts"].value) == sum(part["quantity"] for part in inputs["hardware"]["parts"])
    assert int(numbers["Bags"].value) == len(bags)


def test_a_carton_is_never_written_smaller_than_the_drum() -> None:
    results, inputs = spec(TOM)
    results["packing"] |= {"carton_side_mm": 400.2, "carton_height_mm": 300.0}
    (carton,) = [n for n in station_numbers(StationKind.PACK, results, inputs) if n.label.startswith("Carton")]
    assert carton.value == "401 × 401 × 300"


@pytest.mark.parametrize(
    ("kind", "drawings"), [("cut", 1), ("press", 1), ("edge", 2), ("drill", 1), ("tune", 0), ("pack", 0), ("trim", 0)]
)
def test_a_drawing_where_one_helps(kind: str, drawings: int) -> None:
    results, _ = spec(SNARE)
    svg = station_drawing(kind, results)
    assert svg.count("<svg") == drawings
    assert "style=" not in svg


def test_a_wrap_in_two_pieces_is_cut_piece_by_piece_and_says_where_it_overlaps() -> None:
    results, inputs = spec(WRAPPED_TOM)
    results["wrap"] |= {"pieces": 2, "piece_length_mm": 891.16, "blank_length_mm": 1782.32, "blank_height_mm": 445.2}
    results["drilling"]["wrap_seams_deg"] = [33.0, 213.0]
    results["shell"]["mm_per_degree"] = 4.84
    numbers = {n.label: n for n in station_numbers(StationKind.WRAP, results, inputs)}
    assert numbers["Blank"].value == "2 × 891.2 × 445.2"
    overlap = numbers["Middles of the overlaps"]
    assert overlap.value == "159.7 and 1030.9" and "33.0° and 213.0°" in overlap.note


def test_gloss_is_named_on_the_scale_it_was_set_for() -> None:
    results, inputs = spec(SNARE)
    results["coats"] |= {"gloss_target_gu": 85.0, "gloss_angle_deg": 20, "gloss_advice": "compare shells at 20°"}
    numbers = {n.label: n for n in station_numbers(StationKind.FINAL_CHECK, results, inputs)}
    assert numbers["Gloss at 60°"].value == "85" and "20°" in numbers["Gloss at 60°"].note
