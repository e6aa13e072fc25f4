"""A few whole drums for tests: the inputs of each role, finish and kind of seam."""

from __future__ import annotations

from dataclasses import replace

from routing.specs.inputs import (
    CoatInputs,
    CoatStage,
    DrumInputs,
    EdgeInputs,
    EdgeShape,
    FinishInputs,
    FinishKind,
    FittingInputs,
    GlueInputs,
    Grain,
    HardwareInputs,
    HeadTargetInputs,
    LugInputs,
    LugKind,
    MixPartInputs,
    PartInputs,
    PlateInputs,
    PressInputs,
    RodInputs,
    Role,
    SeamInputs,
    SeamKind,
    SnareBedInputs,
    SpeciesInputs,
    Surface,
    WrapInputs,
)

BIRCH = SpeciesInputs("yellow birch", 0.62, 0.00256, 0.00338)
MAPLE = SpeciesInputs("sugar maple", 0.63, 0.00165, 0.00353)


def plate(
    thickness_mm: float = 1.8,
    *,
    name: str = "birch plate",
    species: SpeciesInputs = BIRCH,
    veneers: int = 3,
    grain: Grain = Grain.AROUND,
    stock: tuple[float, float] = (2500.0, 1250.0),
    measured_mm: float | None = None,
) -> PlateInputs:
    return PlateInputs(name, species, thickness_mm, veneers, grain, stock[0], stock[1], measured_mm)


GLUE = GlueInputs(
    name="urea",
    mix=(MixPartInputs("powder", 100.0), MixPartInputs("water", 60.0)),
    solids_pct=62.0,
    spread_g_per_m2=160.0,
    waste_pct=20.0,
    pot_life_min_at_20c=200.0,
    closed_time_min_at_20c=18.0,
    halving_step_c=9.0,
)
PRESS = PressInputs(0.4, 100.0, 4.0, 1.0, 48.0, cylinders=2, cylinder_bore_mm=200.0)
EDGE = EdgeInputs("double 45", EdgeShape.DOUBLE_45, 1.5, 45.0, 45.0)

LACQUER = FinishInputs(
    "satin",
    FinishKind.LACQUER,
    coats=(
        CoatInputs("inside sealer", CoatStage.INSIDE_SEAL, Surface.INSIDE, 60.0, 32.0, 0.6, 0.0, 240, 2.0),
        CoatInputs("sealer", CoatStage.SEAL, Surface.OUTSIDE, 90.0, 32.0, 0.6, 5.0, 220, 2.0),
        CoatInputs("satin clear", CoatStage.CLEAR, Surface.OUTSIDE, 90.0, 34.0, 0.6, 5.0, 400, 2.0),
    ),
    gloss_target_gu=25.0,
)
WRAPPED = FinishInputs(
    "pearl wrap",
    FinishKind.WRAP,
    wrap=WrapInputs("pearl", 0.5, 20.0, 6.0, 1372.0, 610.0, 27.0, 30.0),
)

LUGS = LugInputs("single lug", LugKind.SINGLE_ENDED, 8, 25.4, 5.0, "M4", 30.0, 22.0, 50.0)
ROD = RodInputs("rod 52", "12-24", 1.058, 5.486, 52.0, 14.0, 16.0, 30.0)


def hardware(per_head: int = 8) -> HardwareInputs:
    return HardwareInputs(
        name=f"set of {per_head}",
        lugs=replace(LUGS, per_head=per_head),
        hoop_holes=per_head,
        hoop_kind="pressed 2.3",
        rod=ROD,
        fittings=(FittingInputs("vent", "vent", None, 1, ((0.0, 0.0, 12.7),), 20.0, 20.0),),
        parts=(
            PartInputs("lug", "lugs", 2 * per_head, 55.0),
            PartInputs("lug screw", "screws", 4 * per_head, 2.6, spare=2),
            PartInputs("lug washer", "screws", 4 * per_head, 0.6, spare=2),
            PartInputs("tension rod", "rods", 2 * per_head, 17.0),
            PartInputs("hoop", "", 2, 780.0),
            PartInputs("head", "", 2, 75.0),
        ),
    )


SNARE = DrumInputs(
    role=Role.SNARE,
    nominal_diameter_in=14.0,
    nominal_depth_in=5.5,
    head_undersize_mm=3.2,
    plates=(plate(), plate(), plate()),
    seam=SeamInputs(SeamKind.SCARF),
    trim_each_end_mm=7.5,
    rough_length_allowance_mm=30.0,
    rough_width_allowance_mm=20.0,
    batter_edge=EDGE,
    resonant_edge=replace(EDGE, name="snare side", shape=EdgeShape.SNARE_SIDE, outer_angle_deg=None),
    finish=LACQUER,
    glue=GLUE,
    press=PRESS,
    hardware=hardware(8),
    snare_bed=SnareBedInputs(1.2, 50.0, 90.0),
    tuning=HeadTargetInputs(300.0, 360.0),
)
TOM = replace(
    SNARE,
    role=Role.RACK_TOM,
    nominal_diameter_in=12.0,
    nominal_depth_in=8.0,
    resonant_edge=EDGE,
    hardware=hardware(6),
    snare_bed=None,
    tuning=None,
)
WRAPPED_TOM = replace(TOM, finish=WRAPPED, seam=SeamInputs(SeamKind.BUTT, fit_allowance_mm=0.3))
BASS = replace(
    TOM,
    role=Role.BASS,
    nominal_diameter_in=22.0,
    nominal_depth_in=18.0,
    plates=(plate(2.4), plate(2.4), plate(2.4)),
    seam=SeamInputs(SeamKind.DIAGONAL),
)
ALL = {"snare": SNARE, "tom": TOM, "wrapped tom": WRAPPED_TOM, "bass": BASS}
