"""What a drum is made from: the inputs of a spec, frozen with it when an order is released.

Angles of bearing edges are measured from the head plane. Plates are listed from the outside of the shell to the
inside. Angles round the shell are degrees from the datum (the outer face seam), counter-clockwise seen from the
batter side; heights are mm from the batter edge.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum


class Role(StrEnum):
    SNARE = "snare"
    RACK_TOM = "rack_tom"
    FLOOR_TOM = "floor_tom"
    BASS = "bass"


class FinishKind(StrEnum):
    LACQUER = "lacquer"
    OIL = "oil"
    WRAP = "wrap"


class Grain(StrEnum):
    """Direction of the grain of a plate's face veneers once it stands in the shell."""

    AROUND = "around"
    AXIAL = "axial"


class SeamKind(StrEnum):
    BUTT = "butt"
    SCARF = "scarf"
    DIAGONAL = "diagonal"


class EdgeShape(StrEnum):
    SINGLE_45 = "single_45"
    DOUBLE_45 = "double_45"
    ROUND_OVER_45 = "round_over_45"
    SHALLOW = "shallow"
    FULL_ROUND = "full_round"
    SNARE_SIDE = "snare_side"


class CoatStage(StrEnum):
    INSIDE_SEAL = "inside_seal"
    SEAL = "seal"
    COLOUR = "colour"
    CLEAR = "clear"
    OIL = "oil"


class Surface(StrEnum):
    INSIDE = "inside"
    OUTSIDE = "outside"
    BOTH = "both"


class LugKind(StrEnum):
    SINGLE_ENDED = "single_ended"
    DOUBLE_ENDED = "double_ended"


@dataclass(frozen=True, slots=True)
class SpeciesInputs:
    """A wood. ``specific_gravity`` is ovendry mass over volume at 12 % moisture content."""

    name: str
    specific_gravity: float
    change_radial_per_pct: float  # dimensional-change coefficient C_R per 1 % MC, valid 6…14 % MC
    change_tangential_per_pct: float


@dataclass(frozen=True, slots=True)
class PlateInputs:
    name: str
    species: SpeciesInputs
    thickness_mm: float
    veneers: int
    face_grain: Grain
    stock_length_mm: float  # along the grain of the face veneers
    stock_width_mm: float  # across it
    measured_thickness_mm: float | None = None

    @property
    def working_thickness_mm(self) -> float:
        """The measured thickness when the cut station has entered one, else the nominal one."""
        return self.thickness_mm if self.measured_thickness_mm is None else self.measured_thickness_mm


@dataclass(frozen=True, slots=True)
class SeamInputs:
    kind: SeamKind
    scarf_slope: float = 12.0  # n of 1:n, length over thickness; scarf only
    diagonal_angle_deg: float = 15.0  # slope from the shell axis; diagonal only
    fit_allowance_mm: float = 0.0
    plate_angles_deg: tuple[float, ...] | None = None  # outer plate first; None: the stagger rule decides


@dataclass(frozen=True, slots=True)
class EdgeInputs:
    name: str
    shape: EdgeShape
    apex_offset_mm: float  # from the finished outside face of the wood
    inner_angle_deg: float = 45.0
    outer_angle_deg: float | None = None
    round_over_radius_mm: float | None = None
    land_mm: float = 0.4  # flat left by the cutter before truing


@dataclass(frozen=True, slots=True)
class SnareBedInputs:
    depth_mm: float
    flat_width_mm: float
    overall_width_mm: float


@dataclass(frozen=True, slots=True)
class CoatInputs:
    name: str
    stage: CoatStage
    surface: Surface
    wet_film_um: float
    volume_solids_pct: float
    transfer_efficiency: float  # 0…1, the part of what leaves the gun or pad that stays on the shell
    thinning_pct: float  # thinner added, % of the unthinned volume
    grit_before: int | None  # P-grit to sand with before this coat
    base_dwell_h: float  # until the next step at 21 °C, 50 % RH and base_wet_film_um
    base_wet_film_um: float = 90.0
    film_forming_min_c: float = 16.0
    max_humidity_pct: float = 80.0  # damper air is no air to coat in


@dataclass(frozen=True, slots=True)
class WrapInputs:
    name: str
    thickness_mm: float
    overlap_mm: float
    shy_mm: float  # left free at each bearing edge
    sheet_length_mm: float
    sheet_width_mm: float
    adhesive_dry_g_per_m2: float  # per surface
    adhesive_solids_pct: float
    press_rest_h: float = 24.0


@dataclass(frozen=True, slots=True)
class DrawdownInputs:
    """A test card: the gloss of a blend of matt and gloss base."""

    gloss_base_pct: float
    gloss_gu: float  # at 60°


@dataclass(frozen=True, slots=True)
class FinishInputs:
    name: str
    kind: FinishKind
    coats: tuple[CoatInputs, ...] = ()
    wrap: WrapInputs | None = None
    gloss_target_gu: float | None = None  # on the 60° scale
    cure_to_drill_h: float = 48.0
    cure_to_pack_h: float = 120.0
    drawdowns: tuple[DrawdownInputs, ...] = ()


@dataclass(frozen=True, slots=True)
class MixPartInputs:
    name: str
    parts_by_weight: float


@dataclass(frozen=True, slots=True)
class GlueInputs:
    name: str
    mix: tuple[MixPartInputs, ...]
    solids_pct: float
    spread_g_per_m2: float
    waste_pct: float
    pot_life_min_at_20c: float
    closed_time_min_at_20c: float
    halving_step_c: float  # the clocks halve for every so many °C above 20
    min_room_c: float = 10.0
    max_room_c: float = 35.0


@dataclass(frozen=True, slots=True)
class PressInputs:
    pressure_n_per_mm2: float
    temperature_c: float
    base_time_min: float
    minutes_per_mm: float
    rest_h: float  # before trimming
    cylinders: int = 0
    cylinder_bore_mm: float = 0.0


@dataclass(frozen=True, slots=True)
class RoomInputs:
    temperature_c: float = 20.0
    humidity_pct: float = 42.0
    plate_moisture_pct: float = 8.0


@dataclass(frozen=True, slots=True)
class FittingInputs:
    """A thing screwed to the shell: strainer, butt plate, bracket, spur, leg bracket, mount plate, badge, vent.

    Holes are offsets (mm round the outside, mm along the axis) from the fitting's centre, with their diameters.
    ``height_fraction`` places the centre between batter edge (0) and resonant edge (1) unless ``height_mm`` is given;
    a negative ``height_mm`` counts from the resonant edge. ``angles_deg`` are degrees of the drum's own frame, whose 0°
    is the middle of the gap at the back (butt plate of a snare, bottom of a bass drum, bracket of a tom); the layout
    turns that frame against the seams.
    """

    name: str
    kind: str  # vent, badge, strainer, butt, bracket, spur, leg, mount
    angles_deg: tuple[float, ...] | None  # one per piece; None: the layout rules place them
    pieces: int
    holes: tuple[tuple[float, float, float], ...]  # (round_mm, axial_mm, diameter_mm)
    footprint_round_mm: float
    footprint_axial_mm: float
    height_fraction: float = 0.5
    height_mm: float | None = None
    screw: str = ""  # thread of its screws, e.g. "M5"; empty where none goes through


@dataclass(frozen=True, slots=True)
class LugInputs:
    name: str
    kind: LugKind
    per_head: int
    hole_spacing_mm: float  # between the two holes of one lug; 0 for a lug with a single hole
    hole_diameter_mm: float
    screw: str  # thread, e.g. "M4"
    first_hole_from_edge_mm: float  # single-ended: centre of the hole nearest the edge
    footprint_round_mm: float
    footprint_axial_mm: float
    projection_mm: float = 22.0


@dataclass(frozen=True, slots=True)
class RodInputs:
    name: str
    thread: str
    pitch_mm: float
    diameter_mm: float
    length_mm: float
    stack_above_shell_edge_mm: float  # hoop ear, washers and head collar: from the rod head down to the edge plane
    # From the edge plane down to the lug's first thread. A double-ended lug stands at mid-depth: there it follows from
    # the drum's depth, and this is only its value at the depth the lug was made for.
    lug_mouth_from_edge_mm: float
    thread_depth_mm: float  # thread available in the lug nut


@dataclass(frozen=True, slots=True)
class PartInputs:
    """One line of the parts list of one drum."""

    name: str
    bag: str  # which hardware bag it is picked into, "" for loose parts
    quantity: int
    unit_mass_g: float
    mass_tolerance_pct: float = 2.0
    spare: int = 0  # extra pieces put in the carton


@dataclass(frozen=True, slots=True)
class HardwareInputs:
    name: str
    lugs: LugInputs
    hoop_holes: int
    hoop_kind: str
    rod: RodInputs | None = None
    fittings: tuple[FittingInputs, ...] = ()
    parts: tuple[PartInputs, ...] = ()
    for_diameter_in: float | None = None  # of its hoops, heads and wires; None: fits any
    inside_projection_mm: float = 6.0
    mount_projection_mm: float = 0.0  # largest outside projection of brackets and mounts that stay on


@dataclass(frozen=True, slots=True)
class HeadTargetInputs:
    """Snare tuning targets: pitch at the lugs, Hz, with evenness, Hz, and the head's mass per area."""

    batter_hz: float
    resonant_hz: float
    evenness_hz: float = 3.0
    batter_head_kg_per_m2: float = 0.262
    resonant_head_kg_per_m2: float = 0.105


@dataclass(frozen=True, slots=True)
class DrumInputs:
    """Everything that a drum's spec is computed from."""

    role: Role
    nominal_diameter_in: float
    nominal_depth_in: float
    head_undersize_mm: float
    plates: tuple[PlateInputs, ...]
    seam: SeamInputs
    trim_each_end_mm: float
    rough_length_allowance_mm: float
    rough_width_allowance_mm: float
    batter_edge: EdgeInputs
    resonant_edge: EdgeInputs
    finish: FinishInputs
    glue: GlueInputs
    press: PressInputs
    hardware: HardwareInputs
    snare_bed: SnareBedInputs | None = None
    tuning: HeadTargetInputs | None = None
    room: RoomInputs = field(default_factory=RoomInputs)
