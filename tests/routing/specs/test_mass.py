from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from routing.specs.errors import SpecError
from routing.specs.inputs import PartInputs, SeamInputs, SeamKind
from routing.specs.layup import lay_up
from routing.specs.mass import (
    DRY_FILM_G_PER_CM3,
    bag_mass,
    carton_gross,
    carton_mass,
    edge_volume,
    finish_mass,
    mass,
    shell_mass,
)
from routing.specs.sheet import compute_sheet
from tests.routing.specs.example_drums import BIRCH, SNARE, WRAPPED_TOM, plate

HEAVY = replace(BIRCH, specific_gravity=0.71 / 1.08)  # 710 kg/m³ at 8 %


def shell(plates, **options):
    layup = lay_up(352.4, plates, SeamInputs(SeamKind.BUTT))
    return shell_mass(plates=plates, layup=layup, depth_mm=154.7, moisture_pct=8, **options)


def test_a_snare_shell_at_710_kg_per_m3() -> None:
    # By hand: 14 × 5.5 in, 15 mm oversize, three plates of 1.8 mm → 0.65 kg; the ring π/4·(D² − d²)·H·ρ says the same.
    grams, glue, removed, _ = shell([plate(species=HEAVY)] * 3)
    ring = math.pi / 4 * (352.4**2 - 341.6**2) * 154.7 * 710e-6
    assert grams == pytest.approx(ring, rel=1e-9)
    assert (glue, removed) == (0, 0)


@given(st.lists(st.floats(2, 30), max_size=60))
def test_holes_make_it_lighter(holes: list[float]) -> None:
    whole, _, _, _ = shell([plate()] * 3)
    drilled, _, removed, _ = shell([plate()] * 3, hole_diameters_mm=holes)
    assert drilled + removed == pytest.approx(whole)
    assert 0 <= removed < whole


def test_glue_stays_in_the_shell_as_solids() -> None:
    bare, _, _, _ = shell([plate()] * 3)
    glued, glue, _, _ = shell([plate()] * 3, glue_area_m2=0.3, spread_g_per_m2=160, glue_solids_pct=62)
    assert glue == pytest.approx(0.3 * 160 * 0.62)
    assert glued == pytest.approx(bare + glue)


def test_a_bag_of_one_kind_shows_a_missing_piece() -> None:
    bag = bag_mass("rods", [PartInputs("rod", "rods", 16, 17.0)])
    assert bag.nominal_g == pytest.approx(272)
    assert bag.spread_g == pytest.approx(17 * 0.02 * 4 + 0.1)
    assert bag.finds_one_missing


def test_a_washer_hides_among_lugs() -> None:
    bag = bag_mass("all", [PartInputs("lug", "all", 16, 55.0), PartInputs("washer", "all", 32, 0.6)])
    assert not bag.finds_one_missing
    assert bag.lightest_part == "washer"
    assert "Count it" in bag.advice


@given(st.lists(st.tuples(st.integers(1, 60), st.floats(0.1, 500), st.floats(0, 10)), min_size=1, max_size=6))
def test_when_weighing_is_said_to_find_it_the_windows_do_not_touch(rows) -> None:
    parts = [PartInputs(str(i), "b", quantity, grams, spread) for i, (quantity, grams, spread) in enumerate(rows)]
    bag = bag_mass("b", parts)
    assert bag.low_g <= bag.nominal_g <= bag.high_g
    heaviest_short_bag = bag.high_g - bag.lightest_g
    assert bag.finds_one_missing == (heaviest_short_bag < bag.low_g) or math.isclose(heaviest_short_bag, bag.low_g)


def test_the_drum_is_shell_finish_and_hardware_without_spares() -> None:
    plates = SNARE.plates
    result = mass(
        plates=plates,
        layup=lay_up(352.4, plates, SNARE.seam),
        depth_mm=139.7,
        moisture_pct=8,
        parts=SNARE.hardware.parts,
        finish_g=40,
    )
    assert result.hardware_g == pytest.approx(sum(part.quantity * part.unit_mass_g for part in SNARE.hardware.parts))
    assert result.drum_g == pytest.approx(result.shell_g + 40 + result.hardware_g)
    assert result.spares_g == pytest.approx(2 * 2.6 + 2 * 0.6)
    assert [bag.bag for bag in result.bags] == ["lugs", "screws", "rods"]
    assert result.loose_g == pytest.approx(2 * 780 + 2 * 75)
    assert result.shell_low_g < result.shell_g < result.shell_high_g


def test_gross_mass_of_a_carton() -> None:
    assert carton_gross([3500, 900], spares_g=20, carton_g=800, packing_g=300) == 5520


@pytest.mark.parametrize(
    "call",
    [
        lambda: bag_mass("empty", []),
        lambda: bag_mass("b", [PartInputs("x", "b", 1, float("nan"))]),
        lambda: bag_mass("b", [PartInputs("x", "b", 1, 1.0, mass_tolerance_pct=-1)]),
        lambda: shell([plate()], hole_diameters_mm=[float("nan")]),
        lambda: shell([plate()], hole_diameters_mm=[100.0] * 60),
        lambda: carton_gross([float("inf")], spares_g=0, carton_g=0, packing_g=0),
    ],
)
def test_nonsense_is_refused(call) -> None:
    with pytest.raises(SpecError):
        call()


def test_dried_coats_weigh_area_times_film_times_density() -> None:
    sheet = compute_sheet(SNARE)
    by_hand = sum(coat.area_m2 * coat.dry_film_um for coat in sheet.coats.coats) * DRY_FILM_G_PER_CM3
    assert sheet.mass.finish_g == pytest.approx(by_hand) and by_hand > 5
    assert sheet.mass.drum_g == pytest.approx(sheet.mass.shell_g + by_hand + sheet.mass.hardware_g)


def test_a_wrap_weighs_its_sheet_and_its_adhesive() -> None:
    sheet = compute_sheet(WRAPPED_TOM)
    assert sheet.wrap is not None and WRAPPED_TOM.finish.wrap is not None
    sheet_g = sheet.wrap.area_m2 * WRAPPED_TOM.finish.wrap.thickness_mm * 1350
    coats_g = finish_mass(sheet.coats, None)
    assert sheet.mass.finish_g == pytest.approx(coats_g + sheet_g + sheet.wrap.adhesive_dry_g)


def test_an_empty_carton_weighs_more_when_it_is_larger() -> None:
    # 500 × 500 × 300 mm: 1.1 m² of walls, floor and lid, 1.43 m² with flaps, at 800 g/m².
    assert carton_mass(500, 300) == pytest.approx(1144)
    assert carton_mass(600, 300) > carton_mass(500, 300)
    with pytest.raises(SpecError):
        carton_mass(float("nan"), 300)


def test_a_bevel_takes_off_its_ring_of_wood() -> None:
    # A single 45° over a wall of 6 mm at D = 300: a triangle of 6 × 6 / 2 whose centroid lies 4 mm from the outside.
    assert edge_volume([(0, 0), (6, 6)], 300) == pytest.approx(18 * math.pi * (300 - 2 * 4))
    # A square end takes nothing, a step of 1 mm over the whole wall takes the ring itself.
    assert edge_volume([(0, 0), (6, 0)], 300) == 0
    assert edge_volume([(0, 1), (6, 1)], 300) == pytest.approx(math.pi / 4 * (300**2 - 288**2))


def test_the_edges_make_the_shell_lighter() -> None:
    sheet = compute_sheet(SNARE)
    taken = [
        edge_volume(edge.profile, sheet.layup.outside_diameter_mm)
        for edge in (sheet.edges.batter, sheet.edges.resonant)
    ]
    share = sheet.mass.removed_by_edges_g / (
        sheet.mass.shell_g - sheet.mass.glue_solids_g + sheet.mass.removed_by_edges_g
    )
    volume = sum(p.mid_plane_length_mm * p.thickness_mm for p in sheet.layup.plates) * sheet.shell.depth_mm
    assert share == pytest.approx(sum(taken) / volume, rel=0.02)  # the holes are not in the volume
    assert 0.005 < share < 0.08


def test_a_coarse_scale_finds_less() -> None:
    parts = [PartInputs("screw", "screws", 40, 1.5, mass_tolerance_pct=1.0)]
    assert bag_mass("screws", parts, scale_division_g=0.1).finds_one_missing
    assert not bag_mass("screws", parts, scale_division_g=1.0).finds_one_missing
    with pytest.raises(SpecError):
        bag_mass("screws", parts, scale_division_g=0)
