from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from routing.specs.coats import (
    CoatsResult,
    blend_for_gloss,
    coats,
    dry_film,
    dwell_factor,
    gloss_angle,
    material_ml,
    thinned_solids,
)
from routing.specs.errors import SpecError
from routing.specs.inputs import CoatInputs, CoatStage, DrawdownInputs, FinishInputs, FinishKind, RoomInputs, Surface
from tests.routing.specs.example_drums import LACQUER, WRAPPED

SEAL = CoatInputs("seal", CoatStage.SEAL, Surface.OUTSIDE, 90.0, 32.0, 0.6, 5.0, 220, 2.0)
REFERENCE = RoomInputs(21.0, 50.0)


def coated(*all_coats: CoatInputs, room: RoomInputs = REFERENCE, gloss: float | None = None) -> CoatsResult:
    finish = FinishInputs("any", FinishKind.LACQUER, coats=all_coats, gloss_target_gu=gloss)
    return coats(finish=finish, outside_area_m2=0.15, inside_area_m2=0.14, room=room)


films = st.floats(5, 400)
solids = st.floats(1, 100)
thinner = st.floats(0, 100)


@given(films, solids, thinner)
def test_what_dries_is_the_solids_of_what_was_wet(wet: float, volume_solids: float, thinning: float) -> None:
    dry = dry_film(wet, volume_solids, thinning)
    assert 0 < dry <= wet
    assert dry * 100 == pytest.approx(wet * thinned_solids(volume_solids, thinning))


@given(solids, thinner)
def test_thinning_keeps_the_solid_matter(volume_solids: float, thinning: float) -> None:
    assert thinned_solids(volume_solids, thinning) * (100 + thinning) == pytest.approx(volume_solids * 100)


def test_material_is_conserved() -> None:
    coat = coated(SEAL).coats[0]
    assert coat.unthinned_ml + coat.thinner_ml == pytest.approx(coat.material_ml)
    assert coat.thinner_ml == pytest.approx(0.05 * coat.unthinned_ml)
    solid_on_the_shell_ml = coat.unthinned_ml * 0.32 * 0.6
    assert solid_on_the_shell_ml == pytest.approx(coat.area_m2 * coat.dry_film_um)


def test_each_surface_gets_its_own_area_and_film() -> None:
    both = replace(SEAL, name="oil", surface=Surface.BOTH)
    inside = replace(SEAL, name="inside", surface=Surface.INSIDE)
    found = coated(SEAL, both, inside)
    assert [coat.area_m2 for coat in found.coats] == pytest.approx([0.15, 0.29, 0.14])
    one = found.coats[0].dry_film_um
    assert found.outside_dry_film_um == pytest.approx(2 * one) and found.inside_dry_film_um == pytest.approx(2 * one)
    assert found.material_ml == pytest.approx(sum(coat.material_ml for coat in found.coats))
    assert found.dwell_h == pytest.approx(sum(coat.dwell_h for coat in found.coats))


def test_a_finish_without_coats_is_empty() -> None:
    found = coats(finish=WRAPPED, outside_area_m2=0.1, inside_area_m2=0.1, room=REFERENCE)
    assert found.coats == () and found.outside_dry_film_um == 0 and found.gloss_advice == ""


@given(st.floats(-5, 45), st.floats(5, 100))
def test_colder_and_damper_never_dries_sooner(temperature: float, humidity: float) -> None:
    here = dwell_factor(temperature, humidity)
    assert here > 0
    assert dwell_factor(max(-5.0, temperature - 1), humidity) >= here
    assert dwell_factor(temperature, min(100.0, humidity + 1)) >= here
    assert dwell_factor(temperature, humidity, air=1.5) > here > dwell_factor(temperature, humidity, air=0.75)


def test_the_reference_climate_changes_nothing() -> None:
    coat = coated(replace(SEAL, base_wet_film_um=90.0)).coats[0]
    assert coat.dwell_factor == 1 and coat.dwell_h == 2.0
    thick = coated(replace(SEAL, wet_film_um=180.0, base_wet_film_um=90.0)).coats[0]
    assert thick.dwell_h == 4.0


@pytest.mark.parametrize(
    ("room", "code", "field"),
    [
        (RoomInputs(15.9, 50.0), "too_cold_to_coat", "room.temperature_c"),
        (RoomInputs(21.0, 81.0), "too_damp_to_coat", "room.humidity_pct"),
        (RoomInputs(15.0, 90.0), "too_cold_to_coat", "room.temperature_c"),
    ],
)
def test_the_climate_stops_a_coat(room: RoomInputs, code: str, field: str) -> None:
    found = coated(SEAL, room=room)
    assert not found.coats[0].may_coat and "before coating" in found.coats[0].stop_reason
    assert [(warning.code, warning.field) for warning in found.warnings] == [(code, field)]


@pytest.mark.parametrize("room", [RoomInputs(16.0, 50.0), RoomInputs(21.0, 80.0)])
def test_the_limits_themselves_may_be_coated(room: RoomInputs) -> None:
    assert coated(SEAL, room=room).coats[0].may_coat


def test_a_coarser_grit_later_is_warned_of_on_its_own_surface_only() -> None:
    coarse = replace(SEAL, name="second", grit_before=180)
    assert [w.code for w in coated(SEAL, coarse).warnings] == ["coarser_grit"]
    assert coated(SEAL, replace(coarse, surface=Surface.INSIDE)).warnings == ()
    assert coats(finish=LACQUER, outside_area_m2=0.1, inside_area_m2=0.1, room=REFERENCE).warnings == ()


@pytest.mark.parametrize(("gloss", "angle", "words"), [(25.0, 60, "at 60°"), (85.0, 20, "at 20°"), (6.0, 85, "at 85°")])
def test_the_target_says_how_to_measure_it(gloss: float, angle: int, words: str) -> None:
    found = coated(SEAL, gloss=gloss)
    assert (found.gloss_angle_deg, gloss_angle(gloss)) == (angle, angle)
    assert words in found.gloss_advice


CARDS = [(0.0, 12.0), (50.0, 40.0), (100.0, 88.0)]


@given(st.floats(12, 88))
def test_a_blend_is_read_off_the_cards(target: float) -> None:
    share = blend_for_gloss(target, CARDS)
    assert 0 <= share <= 100
    reading = 12 + share / 50 * 28 if share <= 50 else 40 + (share - 50) / 50 * 48
    assert reading == pytest.approx(target)
    assert blend_for_gloss(target, list(reversed(CARDS))) == share


def test_the_cards_themselves_come_back() -> None:
    assert [blend_for_gloss(units, CARDS) for _, units in CARDS] == [share for share, _ in CARDS]


@pytest.mark.parametrize(
    ("target", "cards", "code"),
    [
        (30.0, [(0.0, 12.0)], "no_drawdowns"),
        (30.0, [], "no_drawdowns"),
        (30.0, [(0.0, 40.0), (50.0, 40.0)], "not_rising"),
        (30.0, [(0.0, 12.0), (0.0, 40.0)], "same_blend_twice"),
        (90.0, CARDS, "outside_drawdowns"),
        (5.0, CARDS, "outside_drawdowns"),
        (math.nan, CARDS, "outside_drawdowns"),
        (30.0, [(0.0, 12.0), (120.0, 80.0)], "out_of_range"),
    ],
)
def test_nothing_is_guessed_beyond_the_cards(target: float, cards: list[tuple[float, float]], code: str) -> None:
    with pytest.raises(SpecError) as refused:
        blend_for_gloss(target, cards)
    assert refused.value.code == code


@pytest.mark.parametrize(
    ("coat", "field"),
    [
        (replace(SEAL, wet_film_um=0.0), "wet_film_um"),
        (replace(SEAL, volume_solids_pct=math.nan), "volume_solids_pct"),
        (replace(SEAL, thinning_pct=-1.0), "thinning_pct"),
        (replace(SEAL, transfer_efficiency=0.0), "transfer_efficiency"),
        (replace(SEAL, base_dwell_h=-1.0), "base_dwell_h"),
        (replace(SEAL, base_wet_film_um=2.0), "base_wet_film_um"),
    ],
)
def test_an_impossible_coat_is_refused_by_its_own_field(coat: CoatInputs, field: str) -> None:
    with pytest.raises(SpecError) as refused:
        coated(SEAL, coat)
    assert refused.value.field == f"finish.coats.1.{field}"


def test_material_needs_a_gun_that_hits() -> None:
    assert material_ml(0.2, 100.0, 0.5) == pytest.approx(40.0)
    with pytest.raises(SpecError):
        material_ml(0.2, 100.0, 0.0)


def test_the_blend_for_the_gloss_comes_from_the_shops_own_cards() -> None:
    cards = (DrawdownInputs(0, 10), DrawdownInputs(50, 40), DrawdownInputs(100, 90))
    finish = FinishInputs("any", FinishKind.LACQUER, coats=(SEAL,), gloss_target_gu=25, drawdowns=cards)
    found = coats(finish=finish, outside_area_m2=0.15, inside_area_m2=0.14, room=REFERENCE)
    assert found.gloss_base_pct == pytest.approx(25)  # half-way from 10 to 40 units


def test_a_gloss_beyond_the_cards_is_a_warning_and_no_guess() -> None:
    cards = (DrawdownInputs(0, 10), DrawdownInputs(100, 60))
    finish = FinishInputs("any", FinishKind.LACQUER, coats=(SEAL,), gloss_target_gu=85, drawdowns=cards)
    found = coats(finish=finish, outside_area_m2=0.15, inside_area_m2=0.14, room=REFERENCE)
    assert found.gloss_base_pct is None
    assert [(w.code, w.field) for w in found.warnings] == [("outside_drawdowns", "finish.drawdowns")]
