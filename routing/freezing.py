"""From the recipe book to the inputs of a spec: what the core needs to know about one drum, as it stands now."""

from __future__ import annotations

from django.utils.translation import gettext as _

from routing.models import DrumModel, Finish, Glue, HardwareSet, LayUp, Shop, WrapSheet
from routing.models.drums import EdgeProfile
from routing.models.lay_ups import Plate
from routing.specs import inputs as spec
from routing.specs.errors import SpecError


def drum_inputs(model: DrumModel, finish: Finish, shop: Shop) -> spec.DrumInputs:
    """Everything that the spec of ``model`` in ``finish`` is computed from. Raises SpecError when a recipe is unfinished."""
    return spec.DrumInputs(
        role=spec.Role(model.role),
        nominal_diameter_in=model.nominal_diameter_in,
        nominal_depth_in=model.nominal_depth_in,
        head_undersize_mm=_or_default(model.head_undersize_mm, shop.head_undersize_mm),
        plates=_plates(model.lay_up),
        seam=spec.SeamInputs(
            kind=spec.SeamKind(model.lay_up.seam_kind),
            scarf_slope=model.lay_up.scarf_slope,
            diagonal_angle_deg=model.lay_up.diagonal_angle_deg,
            fit_allowance_mm=model.lay_up.fit_allowance_mm,
        ),
        trim_each_end_mm=_or_default(model.trim_each_end_mm, shop.trim_each_end_mm),
        rough_length_allowance_mm=shop.rough_length_allowance_mm,
        rough_width_allowance_mm=shop.rough_width_allowance_mm,
        batter_edge=_edge(model.batter_edge),
        resonant_edge=_edge(model.resonant_edge),
        finish=_finish(finish),
        glue=glue_inputs(model.lay_up.glue),
        press=_press(model.lay_up),
        hardware=_hardware(model.hardware),
        snare_bed=_snare_bed(model),
        tuning=_tuning(model),
        room=spec.RoomInputs(
            temperature_c=shop.room_temperature_c,
            humidity_pct=shop.room_humidity_pct,
            plate_moisture_pct=shop.plate_moisture_pct,
        ),
    )


def _or_default(value: float | None, default: float) -> float:
    return default if value is None else value


def _plates(lay_up: LayUp) -> tuple[spec.PlateInputs, ...]:
    rows = list(lay_up.plates.all())
    if not rows:
        empty = _("The lay-up “{lay_up}” has no plates; add them from outside to inside.")
        raise SpecError("no_plates", "lay_up", empty.format(lay_up=lay_up))
    return tuple(_plate(row.plate, row.face_grain) for row in rows)


def _plate(plate: Plate, face_grain: str) -> spec.PlateInputs:
    return spec.PlateInputs(
        name=plate.name,
        species=spec.SpeciesInputs(
            name=plate.species.name,
            specific_gravity=plate.species.specific_gravity,
            change_radial_per_pct=plate.species.change_radial_per_pct,
            change_tangential_per_pct=plate.species.change_tangential_per_pct,
        ),
        thickness_mm=plate.thickness_mm,
        veneers=plate.veneers,
        face_grain=spec.Grain(face_grain),
        stock_length_mm=plate.stock_length_mm,
        stock_width_mm=plate.stock_width_mm,
    )


def glue_inputs(glue: Glue) -> spec.GlueInputs:
    """A glue as the recipe book has it now."""
    return spec.GlueInputs(
        name=glue.name,
        mix=tuple(spec.MixPartInputs(part.name, part.parts_by_weight) for part in glue.mix.all()),
        solids_pct=glue.solids_pct,
        spread_g_per_m2=glue.spread_g_per_m2,
        waste_pct=glue.waste_pct,
        pot_life_min_at_20c=glue.pot_life_min_at_20c,
        closed_time_min_at_20c=glue.closed_time_min_at_20c,
        halving_step_c=glue.halving_step_c,
        min_room_c=glue.min_room_c,
        max_room_c=glue.max_room_c,
    )


def _press(lay_up: LayUp) -> spec.PressInputs:
    cycle = lay_up.press_cycle
    return spec.PressInputs(
        pressure_n_per_mm2=cycle.pressure_n_per_mm2,
        temperature_c=cycle.temperature_c,
        base_time_min=cycle.base_time_min,
        minutes_per_mm=cycle.minutes_per_mm,
        rest_h=cycle.rest_h,
        cylinders=cycle.cylinders,
        cylinder_bore_mm=cycle.cylinder_bore_mm,
    )


def _edge(profile: EdgeProfile) -> spec.EdgeInputs:
    return spec.EdgeInputs(
        name=profile.name,
        shape=spec.EdgeShape(profile.shape),
        apex_offset_mm=profile.apex_offset_mm,
        inner_angle_deg=profile.inner_angle_deg,
        outer_angle_deg=profile.outer_angle_deg,
        round_over_radius_mm=profile.round_over_radius_mm,
        land_mm=profile.land_mm,
    )


def _finish(finish: Finish) -> spec.FinishInputs:
    return spec.FinishInputs(
        name=finish.name,
        kind=spec.FinishKind(finish.kind),
        coats=tuple(
            spec.CoatInputs(
                name=coat.name,
                stage=spec.CoatStage(coat.stage),
                surface=spec.Surface(coat.surface),
                wet_film_um=coat.wet_film_um,
                volume_solids_pct=coat.volume_solids_pct,
                transfer_efficiency=coat.transfer_efficiency,
                thinning_pct=coat.thinning_pct,
                grit_before=coat.grit_before,
                base_dwell_h=coat.base_dwell_h,
                base_wet_film_um=coat.wet_film_um,
                film_forming_min_c=coat.film_forming_min_c,
            )
            for coat in finish.coats.all()
        ),
        wrap=None if finish.wrap is None else _wrap(finish.wrap),
        gloss_target_gu=finish.gloss_target_gu,
        cure_to_drill_h=finish.cure_to_drill_h,
        cure_to_pack_h=finish.cure_to_pack_h,
        drawdowns=tuple(spec.DrawdownInputs(card.gloss_base_pct, card.gloss_gu) for card in finish.drawdowns.all()),
    )


def _wrap(wrap: WrapSheet) -> spec.WrapInputs:
    return spec.WrapInputs(
        name=wrap.name,
        thickness_mm=wrap.thickness_mm,
        overlap_mm=wrap.overlap_mm,
        shy_mm=wrap.shy_mm,
        sheet_length_mm=wrap.sheet_length_mm,
        sheet_width_mm=wrap.sheet_width_mm,
        adhesive_dry_g_per_m2=wrap.adhesive_dry_g_per_m2,
        adhesive_solids_pct=wrap.adhesive_solids_pct,
        press_rest_h=wrap.press_rest_h,
    )


def _hardware(hardware: HardwareSet) -> spec.HardwareInputs:
    return spec.HardwareInputs(
        name=hardware.name,
        lugs=spec.LugInputs(
            name=hardware.lug_name,
            kind=spec.LugKind(hardware.lug_kind),
            per_head=hardware.lugs_per_head,
            hole_spacing_mm=hardware.lug_hole_spacing_mm,
            hole_diameter_mm=hardware.lug_hole_diameter_mm,
            screw=hardware.lug_screw,
            first_hole_from_edge_mm=hardware.lug_first_hole_from_edge_mm,
            footprint_round_mm=hardware.lug_footprint_round_mm,
            footprint_axial_mm=hardware.lug_footprint_axial_mm,
            projection_mm=hardware.lug_projection_mm,
        ),
        hoop_holes=hardware.hoop_holes,
        hoop_kind=hardware.hoop_kind,
        rod=spec.RodInputs(
            name=hardware.rod_name,
            thread=hardware.rod_thread,
            pitch_mm=hardware.rod_pitch_mm,
            diameter_mm=hardware.rod_diameter_mm,
            length_mm=hardware.rod_length_mm,
            stack_above_shell_edge_mm=hardware.rod_stack_above_edge_mm,
            lug_mouth_from_edge_mm=hardware.rod_lug_mouth_from_edge_mm,
            thread_depth_mm=hardware.rod_thread_depth_mm,
        ),
        fittings=tuple(
            spec.FittingInputs(
                name=fitting.name,
                kind=fitting.kind,
                angles_deg=None if fitting.angles_deg is None else tuple(fitting.angles_deg),
                pieces=fitting.pieces,
                holes=tuple((hole[0], hole[1], hole[2]) for hole in fitting.holes),
                footprint_round_mm=fitting.footprint_round_mm,
                footprint_axial_mm=fitting.footprint_axial_mm,
                height_fraction=fitting.height_fraction,
                height_mm=fitting.height_mm,
                screw=fitting.screw,
            )
            for fitting in hardware.fittings.all()
        ),
        parts=tuple(
            spec.PartInputs(
                name=part.name,
                bag=part.bag,
                quantity=part.quantity,
                unit_mass_g=part.unit_mass_g,
                mass_tolerance_pct=part.mass_tolerance_pct,
                spare=part.spare,
            )
            for part in hardware.parts.all()
        ),
        for_diameter_in=hardware.for_diameter_in,
        inside_projection_mm=hardware.inside_projection_mm,
        mount_projection_mm=hardware.mount_projection_mm,
    )


def _snare_bed(model: DrumModel) -> spec.SnareBedInputs | None:
    if (
        model.role != spec.Role.SNARE
        or model.snare_bed_depth_mm is None
        or model.snare_bed_flat_mm is None
        or model.snare_bed_width_mm is None
    ):
        return None
    return spec.SnareBedInputs(model.snare_bed_depth_mm, model.snare_bed_flat_mm, model.snare_bed_width_mm)


def _tuning(model: DrumModel) -> spec.HeadTargetInputs | None:
    if model.role != spec.Role.SNARE or model.batter_pitch_hz is None or model.resonant_pitch_hz is None:
        return None
    return spec.HeadTargetInputs(batter_hz=model.batter_pitch_hz, resonant_hz=model.resonant_pitch_hz)
