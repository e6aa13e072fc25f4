from __future__ import annotations

import itertools
import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from routing.specs.errors import SpecError
from routing.specs.inputs import Grain, SeamInputs, SeamKind
from routing.specs.layup import angle_between, lay_up, remaining_cut_list, seam_angles, seam_warnings
from tests.routing.specs.example_drums import plate

BUTT = SeamInputs(SeamKind.BUTT)
thicknesses = st.lists(st.floats(0.5, 3.0), min_size=1, max_size=8)


@given(st.floats(200, 660), thicknesses)
def test_plates_fill_the_wall_and_get_shorter_inwards(diameter: float, walls: list[float]) -> None:
    result = lay_up(diameter, [plate(t) for t in walls], BUTT)
    assert result.wall_mm == pytest.approx(sum(walls))
    assert result.plates[-1].inner_diameter_mm == pytest.approx(diameter - 2 * sum(walls))
    lengths = [p.mid_plane_length_mm for p in result.plates]
    assert all(math.isfinite(one) and one > 0 for one in lengths)
    for (outer, inner), (first, second) in zip(itertools.pairwise(lengths), itertools.pairwise(walls), strict=True):
        assert outer - inner == pytest.approx(math.pi * (first + second))
    # The mid-plane is where a plate neither stretches nor shrinks: area over thickness.
    for one in result.plates:
        area = math.pi / 4 * (one.outer_diameter_mm**2 - one.inner_diameter_mm**2)
        assert area / one.thickness_mm == pytest.approx(one.mid_plane_length_mm)


def test_blank_lengths_by_kind_of_seam() -> None:
    plates = [plate(1.8), plate(1.8)]
    butt = lay_up(352.4, plates, replace(BUTT, fit_allowance_mm=0.3))
    scarf = lay_up(352.4, plates, SeamInputs(SeamKind.SCARF, scarf_slope=12, fit_allowance_mm=0.3))
    slanted = lay_up(
        352.4, plates, SeamInputs(SeamKind.DIAGONAL, diagonal_angle_deg=15, fit_allowance_mm=0.3), height_mm=150
    )
    assert butt.plates[0].blank_length_mm == pytest.approx(1101.44 + 0.3, abs=0.01)
    assert scarf.plates[0].blank_length_mm - butt.plates[0].blank_length_mm == pytest.approx(12 * 1.8)
    assert scarf.plates[0].mid_plane_length_mm == butt.plates[0].mid_plane_length_mm
    assert slanted.plates[0].blank_length_mm == butt.plates[0].blank_length_mm
    assert slanted.plates[0].slant_mm == pytest.approx(150 * math.tan(math.radians(15)))


@pytest.mark.parametrize(("pieces", "most"), [(1, 12), (2, 6)])
def test_the_stagger_rule_keeps_seams_apart(pieces: int, most: int) -> None:
    for count in range(1, most + 1):
        seams = [
            tuple((angle + part * 360 / pieces) % 360 for part in range(pieces)) for angle in seam_angles(count, pieces)
        ]
        assert seam_warnings(seams) == [], count
    assert seam_angles(4)[:4] == (0, 180, 90, 270)


def test_too_many_seams_are_named_and_never_fall_together() -> None:
    seams = [(angle,) for angle in seam_angles(20)]
    assert len(set(seams)) == 20
    assert seam_warnings(seams)


def test_seams_given_by_hand_are_checked() -> None:
    seam = replace(BUTT, plate_angles_deg=(0.0, 45.0, 200.0, 20.0))
    warnings = [w for w in lay_up(352.4, [plate()] * 4, seam).warnings if w.code == "seams_close"]
    assert [w.message.split(" are")[0] for w in warnings] == [
        "The seams of plates 1 and 2",
        "The seams of plates 1 and 4",
        "The seams of plates 2 and 4",
    ]
    assert all(w.field == "seam.plate_angles_deg" for w in warnings)


@given(st.floats(-720, 720), st.floats(-720, 720))
def test_the_angle_between_two_seams(first: float, second: float) -> None:
    assert 0 <= angle_between(first, second) <= 180
    assert angle_between(first, second) == pytest.approx(angle_between(second, first), abs=1e-9)
    assert angle_between(first, first + 360) == pytest.approx(0, abs=1e-9)


def test_a_long_plate_is_made_of_pieces() -> None:
    result = lay_up(555.6, [plate(2.4, stock=(1500, 1250))] * 3, SeamInputs(SeamKind.SCARF))
    first = result.plates[0]
    assert first.pieces == 2
    assert first.blank_length_mm == pytest.approx(first.mid_plane_length_mm / 2 + 12 * 2.4)
    assert first.blank_length_mm <= 1500
    assert list(first.seam_angles_deg) == [0, 180]
    assert sum(w.code == "plate_in_pieces" for w in result.warnings) == 3
    assert not [w for w in result.warnings if w.code == "seams_close"]


def test_axial_grain_lies_across_the_sheet() -> None:
    axial = lay_up(352.4, [plate(1.8, grain=Grain.AXIAL, stock=(2500, 1000))], BUTT).plates[0]
    around = lay_up(352.4, [plate(1.8, grain=Grain.AROUND, stock=(2500, 1000))], BUTT).plates[0]
    assert (axial.pieces, around.pieces) == (2, 1)


def codes(*plates, diameter=352.4):
    return [w.code for w in lay_up(diameter, plates, BUTT).warnings]


def test_grain_and_balance() -> None:
    veneer, crossed = plate(0.6, veneers=1), plate(0.6, veneers=1, grain=Grain.AXIAL)
    assert codes(veneer, crossed, veneer) == []
    assert codes(veneer, veneer, crossed) == ["grain_parallel", "not_balanced"]
    assert codes(veneer, crossed) == ["not_balanced"]
    # Three plates of three veneers meet face to face in the same direction: balanced in themselves.
    assert "grain_parallel" not in codes(plate(1.2), plate(1.2), plate(1.2))
    assert "not_balanced" not in codes(
        plate(3.0, grain=Grain.AXIAL), plate(1.0, veneers=1), plate(3.0, grain=Grain.AXIAL)
    )
    assert "grain_parallel" in codes(plate(3.0), plate(1.0, veneers=1), plate(3.0))


def test_measuring_a_plate_does_not_unbalance_the_design() -> None:
    assert "not_balanced" not in codes(plate(1.2), plate(1.2), plate(1.2, measured_mm=0.9))


def test_tight_bends_warn_along_the_grain_only() -> None:
    assert codes(plate(1.0)) == []
    assert codes(plate(2.5)) == ["bend_damp"]
    assert codes(plate(2.5), diameter=200) == ["bend_too_tight"]
    assert codes(plate(2.5, grain=Grain.AXIAL), diameter=200) == []


def test_a_measured_plate_changes_the_rest_of_the_cut_list() -> None:
    plates = [plate(1.8, measured_mm=1.9), plate(1.8), plate(1.8)]
    nominal = lay_up(352.4, [plate(1.8)] * 3, BUTT)
    after = remaining_cut_list(352.4, plates, BUTT, {1: nominal.plates[0].blank_length_mm - math.pi * 0.1})
    assert [p.position for p in after.to_cut] == [2, 3]
    assert [c.change_mm for c in after.changes] == pytest.approx([0, -2 * math.pi * 0.1, -2 * math.pi * 0.1])
    assert after.warnings == ()


def test_a_plate_cut_before_it_was_measured_is_named() -> None:
    plates = [plate(1.8, measured_mm=2.0), plate(1.8), plate(1.8)]
    nominal = lay_up(352.4, [plate(1.8)] * 3, BUTT)
    after = remaining_cut_list(352.4, plates, BUTT, {1: nominal.plates[0].blank_length_mm})
    assert [(w.code, w.field) for w in after.warnings] == [("cut_wrong_length", "plates.0.measured_thickness_mm")]
    assert "0.6 mm too long" in after.warnings[0].message


@given(thicknesses, st.data())
def test_a_measurement_equal_to_the_nominal_changes_nothing(walls: list[float], data: st.DataObject) -> None:
    index = data.draw(st.integers(0, len(walls) - 1))
    plates = [plate(t, measured_mm=t if i == index else None) for i, t in enumerate(walls)]
    after = remaining_cut_list(352.4, plates, BUTT, {})
    assert all(change.change_mm == 0 for change in after.changes)


@given(thicknesses, st.floats(0.01, 0.2), st.data())
def test_a_thicker_plate_shortens_only_itself_and_those_inside(
    walls: list[float], more: float, data: st.DataObject
) -> None:
    index = data.draw(st.integers(0, len(walls) - 1))
    plates = [plate(t, measured_mm=t + more if i == index else None) for i, t in enumerate(walls)]
    changes = [change.change_mm for change in remaining_cut_list(352.4, plates, BUTT, {}).changes]
    assert changes[:index] == pytest.approx([0] * index, abs=1e-9)
    assert changes[index] == pytest.approx(-math.pi * more)
    assert changes[index + 1 :] == pytest.approx([-2 * math.pi * more] * (len(walls) - index - 1))


@pytest.mark.parametrize(
    ("plates", "seam", "field"),
    [
        ([], BUTT, "plates"),
        ([plate()] * 25, BUTT, "plates"),
        ([plate(0.1)], BUTT, "plates.0.thickness_mm"),
        ([plate(), plate(float("nan"))], BUTT, "plates.1.thickness_mm"),
        ([plate(1.8, measured_mm=18.0)], BUTT, "plates.0.measured_thickness_mm"),
        ([plate(veneers=0)], BUTT, "plates.0.veneers"),
        ([plate(stock=(250, 250))], BUTT, "plates.0.stock_length_mm"),
        ([plate(stock=(2500, 250), grain=Grain.AXIAL)], BUTT, "plates.0.stock_width_mm"),
        ([plate(12.0)] * 8, BUTT, "plates"),
        ([plate()], replace(BUTT, fit_allowance_mm=3.0), "seam.fit_allowance_mm"),
        ([plate()], SeamInputs(SeamKind.SCARF, scarf_slope=1), "seam.scarf_slope"),
        ([plate()], SeamInputs(SeamKind.DIAGONAL, diagonal_angle_deg=80), "seam.diagonal_angle_deg"),
        ([plate()], replace(BUTT, plate_angles_deg=(0.0, 90.0)), "seam.plate_angles_deg"),
        ([plate()], replace(BUTT, plate_angles_deg=(float("nan"),)), "seam.plate_angles_deg"),
    ],
)
def test_impossible_lay_ups_are_refused(plates, seam, field) -> None:
    with pytest.raises(SpecError) as refused:
        lay_up(352.4, plates, seam)
    assert refused.value.field == field


@pytest.mark.parametrize("cut", [{0: 1000.0}, {4: 1000.0}, {1: float("nan")}])
def test_a_cut_list_for_plates_that_do_not_exist_is_refused(cut: dict[int, float]) -> None:
    with pytest.raises(SpecError):
        remaining_cut_list(352.4, [plate()] * 3, BUTT, cut)
