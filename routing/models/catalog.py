"""Recipes: woods, plates, lay-ups, glues, edges, finishes, hardware and the drums made from them."""

from __future__ import annotations

from typing import Any

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Lower

from routing.specs.inputs import CoatStage, EdgeShape, FinishKind, Grain, LugKind, Role, SeamKind, Surface

ROLE_CHOICES = [
    (Role.SNARE.value, "snare"),
    (Role.RACK_TOM.value, "rack tom"),
    (Role.FLOOR_TOM.value, "floor tom"),
    (Role.BASS.value, "bass drum"),
]
FINISH_CHOICES = [
    (FinishKind.LACQUER.value, "lacquer"),
    (FinishKind.OIL.value, "oil"),
    (FinishKind.WRAP.value, "wrap"),
]


def between(low: float, high: float) -> list[Any]:
    return [MinValueValidator(low), MaxValueValidator(high)]


class NamedRecipe(models.Model):
    """A thing in the recipe book: known by a name that no two share, and retired rather than deleted."""

    name = models.CharField(max_length=80)
    is_active = models.BooleanField("in use", default=True, help_text="Retired recipes stay on old drums.")
    note = models.CharField(max_length=300, blank=True)

    class Meta:
        abstract = True
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint(
                Lower("name"),
                name="%(class)s_name_unique",
                violation_error_message="This name is taken; choose another.",
            )
        ]

    def __str__(self) -> str:
        return self.name


class Species(NamedRecipe):
    """A wood. Published values belong with their source in the note."""

    specific_gravity = models.FloatField(
        validators=between(0.1, 1.3), help_text="Ovendry mass over volume at 12 % moisture content."
    )
    change_radial_per_pct = models.FloatField("radial change per 1 % MC", validators=between(0.0005, 0.01))
    change_tangential_per_pct = models.FloatField("tangential change per 1 % MC", validators=between(0.0005, 0.02))

    class Meta(NamedRecipe.Meta):
        verbose_name_plural = "species"


class Plate(NamedRecipe):
    """A plate as bought or pressed flat: one veneer or several, glued crosswise."""

    species = models.ForeignKey(Species, on_delete=models.PROTECT, related_name="plates")
    thickness_mm = models.FloatField(validators=between(0.3, 12.0))
    veneers = models.PositiveSmallIntegerField(validators=between(1, 15))
    stock_length_mm = models.FloatField(
        validators=between(200, 5000), help_text="Sheet size along the grain of the face veneers."
    )
    stock_width_mm = models.FloatField(validators=between(100, 3000), help_text="Sheet size across that grain.")


class Glue(NamedRecipe):
    solids_pct = models.FloatField(default=62.0, validators=between(20, 100))
    spread_g_per_m2 = models.FloatField(default=160.0, validators=between(30, 500))
    waste_pct = models.FloatField(default=20.0, validators=between(0, 100))
    pot_life_min_at_20c = models.FloatField(validators=between(5, 3000))
    closed_time_min_at_20c = models.FloatField(validators=between(1, 240))
    halving_step_c = models.FloatField(
        default=9.0, validators=between(3, 30), help_text="The clocks halve for every so many °C above 20."
    )
    min_room_c = models.FloatField(default=10.0, validators=between(0, 30))
    max_room_c = models.FloatField(default=35.0, validators=between(15, 60))
    caution = models.CharField(max_length=300, blank=True)


class GluePart(models.Model):
    glue = models.ForeignKey(Glue, on_delete=models.CASCADE, related_name="mix")
    position = models.PositiveSmallIntegerField(validators=between(1, 9))
    name = models.CharField(max_length=60)
    parts_by_weight = models.FloatField(validators=between(0.01, 1000))

    class Meta:
        ordering = ["position"]
        constraints = [
            models.UniqueConstraint(
                fields=["glue", "position"],
                name="gluepart_position_unique",
                violation_error_message="Two parts of the mix share a place; number them 1, 2, 3 …",
            )
        ]

    def __str__(self) -> str:
        return f"{self.name} {self.parts_by_weight:g}"


class PressCycle(NamedRecipe):
    pressure_n_per_mm2 = models.FloatField(validators=between(0.01, 2.0))
    temperature_c = models.FloatField(validators=between(10, 160))
    base_time_min = models.FloatField(validators=between(0, 1500))
    minutes_per_mm = models.FloatField(validators=between(0, 120))
    rest_h = models.FloatField("rest before trimming, h", default=48.0, validators=between(0, 400))
    cylinders = models.PositiveSmallIntegerField(default=0, validators=between(0, 20))
    cylinder_bore_mm = models.FloatField(default=0, validators=between(0, 500))


class LayUp(NamedRecipe):
    """Plates from the outside of the shell to the inside, how their seams are cut, and how they are glued."""

    seam_kind = models.CharField(max_length=10, choices=[(k.value, k.value) for k in SeamKind], default=SeamKind.SCARF)
    scarf_slope = models.FloatField(default=12.0, validators=between(4, 20), help_text="n of 1:n; scarf seams only.")
    diagonal_angle_deg = models.FloatField(default=15.0, validators=between(5, 45), help_text="Diagonal seams only.")
    fit_allowance_mm = models.FloatField(default=0.0, validators=between(-1.0, 1.0))
    glue = models.ForeignKey(Glue, on_delete=models.PROTECT, related_name="lay_ups")
    press_cycle = models.ForeignKey(PressCycle, on_delete=models.PROTECT, related_name="lay_ups")

    class Meta(NamedRecipe.Meta):
        verbose_name = "lay-up"

    @property
    def wall_mm(self) -> float:
        return sum(row.plate.thickness_mm for row in self.plates.all())

    @property
    def veneers(self) -> int:
        return sum(row.plate.veneers for row in self.plates.all())


class LayUpPlate(models.Model):
    lay_up = models.ForeignKey(LayUp, on_delete=models.CASCADE, related_name="plates")
    position = models.PositiveSmallIntegerField(validators=between(1, 20), help_text="1 is the outermost.")
    plate = models.ForeignKey(Plate, on_delete=models.PROTECT, related_name="used_in")
    face_grain = models.CharField(
        max_length=8,
        choices=[(Grain.AROUND.value, "around the shell"), (Grain.AXIAL.value, "along the axis")],
        default=Grain.AXIAL.value,
    )

    class Meta:
        ordering = ["position"]
        constraints = [
            models.UniqueConstraint(
                fields=["lay_up", "position"],
                name="layupplate_position_unique",
                violation_error_message="Two plates share a place; number them 1, 2, 3 … from the outside.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.position}. {self.plate}"


class EdgeProfile(NamedRecipe):
    """A bearing edge. Angles are measured from the head plane."""

    shape = models.CharField(
        max_length=16,
        choices=[
            (EdgeShape.SINGLE_45.value, "single 45"),
            (EdgeShape.DOUBLE_45.value, "double 45"),
            (EdgeShape.ROUND_OVER_45.value, "45 inside, round-over outside"),
            (EdgeShape.SHALLOW.value, "shallow angle"),
            (EdgeShape.FULL_ROUND.value, "full round"),
            (EdgeShape.SNARE_SIDE.value, "snare side"),
        ],
    )
    apex_offset_mm = models.FloatField(validators=between(0, 12), help_text="From the outside face of the wood.")
    inner_angle_deg = models.FloatField(default=45.0, validators=between(10, 80))
    outer_angle_deg = models.FloatField(null=True, blank=True, validators=between(10, 80))
    round_over_radius_mm = models.FloatField(null=True, blank=True, validators=between(0.5, 12))
    land_mm = models.FloatField(
        "land before truing, mm", default=0.4, validators=between(0, 3), help_text="Flat that the cutter leaves."
    )


class WrapSheet(NamedRecipe):
    thickness_mm = models.FloatField(validators=between(0.1, 2.0))
    overlap_mm = models.FloatField(default=20.0, validators=between(5, 60))
    shy_mm = models.FloatField(default=6.0, validators=between(0, 20), help_text="Left free at each bearing edge.")
    sheet_length_mm = models.FloatField(default=1372.0, validators=between(200, 5000))
    sheet_width_mm = models.FloatField(default=610.0, validators=between(100, 3000))
    adhesive_dry_g_per_m2 = models.FloatField(default=22.0, validators=between(5, 200))
    adhesive_solids_pct = models.FloatField(default=25.0, validators=between(5, 100))
    press_rest_h = models.FloatField("rest after wrapping, h", default=24.0, validators=between(0, 400))


class Finish(NamedRecipe):
    kind = models.CharField(max_length=8, choices=FINISH_CHOICES)
    wrap = models.ForeignKey(WrapSheet, null=True, blank=True, on_delete=models.PROTECT, related_name="finishes")
    gloss_target_gu = models.FloatField(
        null=True, blank=True, validators=between(0, 100), help_text="Gloss units on the 60° scale."
    )
    cure_to_drill_h = models.FloatField("cure before drilling, h", default=48.0, validators=between(0, 1000))
    cure_to_pack_h = models.FloatField("cure before packing, h", default=120.0, validators=between(0, 2000))

    class Meta(NamedRecipe.Meta):
        verbose_name_plural = "finishes"
        constraints = [
            *NamedRecipe.Meta.constraints,
            models.CheckConstraint(
                condition=(Q(kind="wrap") & Q(wrap__isnull=False)) | (~Q(kind="wrap") & Q(wrap__isnull=True)),
                name="finish_wrap_sheet_matches_kind",
                violation_error_message="A wrapped finish needs its wrap sheet; the others have none.",
            ),
        ]


class Drawdown(models.Model):
    """A test card of a blend: what gloss came out of how much gloss base in the matt one."""

    finish = models.ForeignKey(Finish, on_delete=models.CASCADE, related_name="drawdowns")
    gloss_base_pct = models.FloatField("gloss base in the blend, %", validators=between(0, 100))
    gloss_gu = models.FloatField("gloss at 60°, GU", validators=between(0, 120))

    class Meta:
        ordering = ["gloss_base_pct"]
        constraints = [
            models.UniqueConstraint(
                fields=["finish", "gloss_base_pct"],
                name="drawdown_share_unique",
                violation_error_message="Two cards have the same share of gloss base; keep one.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.gloss_base_pct:g} %: {self.gloss_gu:g} GU"


class FinishCoat(models.Model):
    finish = models.ForeignKey(Finish, on_delete=models.CASCADE, related_name="coats")
    position = models.PositiveSmallIntegerField(validators=between(1, 30))
    name = models.CharField(max_length=60)
    stage = models.CharField(
        max_length=12,
        choices=[
            (CoatStage.INSIDE_SEAL.value, "inside seal"),
            (CoatStage.SEAL.value, "seal"),
            (CoatStage.COLOUR.value, "colour"),
            (CoatStage.CLEAR.value, "clear"),
            (CoatStage.OIL.value, "oil"),
        ],
    )
    surface = models.CharField(max_length=8, choices=[(s.value, s.value) for s in Surface], default=Surface.OUTSIDE)
    wet_film_um = models.FloatField(validators=between(5, 400))
    volume_solids_pct = models.FloatField(validators=between(1, 100))
    transfer_efficiency = models.FloatField(
        default=0.65, validators=between(0.05, 1), help_text="Part of the material that stays on the shell, 0 to 1."
    )
    thinning_pct = models.FloatField(default=0.0, validators=between(0, 100))
    grit_before = models.PositiveSmallIntegerField(
        "grit before this coat, P", null=True, blank=True, validators=between(24, 3000)
    )
    base_dwell_h = models.FloatField(
        "dwell at 21 °C and 50 % RH, h", validators=between(0, 400), help_text="Until the next step may begin."
    )
    film_forming_min_c = models.FloatField(default=16.0, validators=between(0, 30))

    class Meta:
        ordering = ["position"]
        constraints = [
            models.UniqueConstraint(
                fields=["finish", "position"],
                name="finishcoat_position_unique",
                violation_error_message="Two coats share a place; number them 1, 2, 3 … in the order they go on.",
            )
        ]

    def __str__(self) -> str:
        return self.name


class HardwareSet(NamedRecipe):
    """What is screwed to a drum of one role: lugs, hoops and rods here, fittings and the parts list in their tables."""

    role = models.CharField(max_length=10, choices=ROLE_CHOICES)
    lug_name = models.CharField(max_length=60)
    lug_kind = models.CharField(
        max_length=12,
        choices=[(LugKind.SINGLE_ENDED.value, "single-ended"), (LugKind.DOUBLE_ENDED.value, "double-ended")],
    )
    lugs_per_head = models.PositiveSmallIntegerField(validators=between(4, 16))
    lug_hole_spacing_mm = models.FloatField(
        default=0, validators=between(0, 120), help_text="Between the two holes of one lug; 0 for one hole."
    )
    lug_hole_diameter_mm = models.FloatField(validators=between(3, 15))
    lug_screw = models.CharField(max_length=10, default="M4")
    lug_first_hole_from_edge_mm = models.FloatField(default=35.0, validators=between(10, 150))
    lug_footprint_round_mm = models.FloatField(default=25.0, validators=between(5, 80))
    lug_footprint_axial_mm = models.FloatField(default=60.0, validators=between(5, 400))
    lug_projection_mm = models.FloatField(default=22.0, validators=between(3, 60))
    hoop_kind = models.CharField(max_length=40, default="pressed steel")
    hoop_holes = models.PositiveSmallIntegerField(validators=between(4, 16))
    rod_name = models.CharField(max_length=60)
    rod_thread = models.CharField(max_length=20, default="12-24 UNC")
    rod_pitch_mm = models.FloatField(default=1.0583, validators=between(0.4, 2))
    rod_diameter_mm = models.FloatField(default=5.486, validators=between(3, 10))
    rod_length_mm = models.FloatField(validators=between(20, 200))
    rod_stack_above_edge_mm = models.FloatField(default=12.0, validators=between(0, 80))
    rod_lug_mouth_from_edge_mm = models.FloatField(default=20.0, validators=between(0, 120))
    rod_thread_depth_mm = models.FloatField(default=20.0, validators=between(3, 80))
    for_diameter_in = models.FloatField(
        "for diameter, in",
        null=True,
        blank=True,
        validators=between(6, 40),
        help_text="Of its hoops, heads and wires; empty: fits any.",
    )
    inside_projection_mm = models.FloatField(default=6.0, validators=between(0, 40))
    mount_projection_mm = models.FloatField(default=0.0, validators=between(0, 150))

    class Meta(NamedRecipe.Meta):
        constraints = [
            *NamedRecipe.Meta.constraints,
            models.CheckConstraint(
                condition=Q(hoop_holes=F("lugs_per_head")),
                name="hardwareset_hoop_holes_equal_lugs",
                violation_error_message=(
                    "The hoops must have as many holes as there are lugs per head; change one of the two."
                ),
            ),
        ]


class Fitting(models.Model):
    """A strainer, bracket, spur, vent … with its holes, as ``round,axial,diameter`` mm triples from its centre."""

    hardware = models.ForeignKey(HardwareSet, on_delete=models.CASCADE, related_name="fittings")
    name = models.CharField(max_length=60)
    kind = models.CharField(
        max_length=10,
        choices=[(kind, kind) for kind in ("vent", "badge", "strainer", "butt", "bracket", "spur", "leg", "mount")],
    )
    pieces = models.PositiveSmallIntegerField(default=1, validators=between(1, 12))
    angles_deg = models.JSONField(
        null=True, blank=True, help_text="One angle per piece, or empty: the layout rules place them."
    )
    holes = models.JSONField(
        default=list, blank=True, help_text="[[round mm, axial mm, diameter mm], …] from the centre."
    )
    screw = models.CharField(
        max_length=10, blank=True, help_text="Thread of its screws, for example M5; empty where none goes through."
    )
    footprint_round_mm = models.FloatField(validators=between(1, 400))
    footprint_axial_mm = models.FloatField(validators=between(1, 400))
    height_fraction = models.FloatField(default=0.5, validators=between(0, 1))
    height_mm = models.FloatField(null=True, blank=True, help_text="From the batter edge; negative: from the other.")

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return self.name

    def clean(self) -> None:
        angles = self.angles_deg
        if angles is not None and (
            not isinstance(angles, list)
            or len(angles) != self.pieces
            or not all(isinstance(angle, int | float) and not isinstance(angle, bool) for angle in angles)
        ):
            raise ValidationError(
                {"angles_deg": "Give one angle for each piece, for example [120, 240], or leave empty."}
            )
        if not isinstance(self.holes, list) or not all(
            isinstance(hole, list)
            and len(hole) == 3
            and all(isinstance(number, int | float) and not isinstance(number, bool) for number in hole)
            for hole in self.holes
        ):
            raise ValidationError(
                {"holes": "Give each hole as [round, axial, diameter] in mm, for example [[0, 19, 5.5]]."}
            )


class Part(models.Model):
    """One line of the parts list of one drum."""

    hardware = models.ForeignKey(HardwareSet, on_delete=models.CASCADE, related_name="parts")
    position = models.PositiveSmallIntegerField(default=1)
    name = models.CharField(max_length=60)
    bag = models.CharField(max_length=40, blank=True, help_text="Which hardware bag; empty for loose parts.")
    quantity = models.PositiveSmallIntegerField(validators=between(1, 400))
    unit_mass_g = models.FloatField(validators=between(0.01, 20000))
    mass_tolerance_pct = models.FloatField(default=2.0, validators=between(0, 50))
    spare = models.PositiveSmallIntegerField(default=0, validators=between(0, 20))

    class Meta:
        ordering = ["position", "id"]

    def __str__(self) -> str:
        return f"{self.quantity} × {self.name}"


class ProductLine(NamedRecipe):
    finish_kind = models.CharField(max_length=8, choices=FINISH_CHOICES)


class DrumModel(models.Model):
    """A drum that can be ordered: role and size, and the recipes it is made by."""

    code = models.SlugField(
        max_length=40, unique=True, help_text="Used in order books, for example heron-snare-14x5-5."
    )
    line = models.ForeignKey(ProductLine, on_delete=models.PROTECT, related_name="models")
    role = models.CharField(max_length=10, choices=ROLE_CHOICES)
    nominal_diameter_in = models.FloatField("diameter, in", validators=between(6, 30))
    nominal_depth_in = models.FloatField("depth, in", validators=between(2, 30))
    lay_up = models.ForeignKey(LayUp, on_delete=models.PROTECT, related_name="models")
    batter_edge = models.ForeignKey(EdgeProfile, on_delete=models.PROTECT, related_name="+")
    resonant_edge = models.ForeignKey(EdgeProfile, on_delete=models.PROTECT, related_name="+")
    hardware = models.ForeignKey(HardwareSet, on_delete=models.PROTECT, related_name="models")
    head_undersize_mm = models.FloatField(
        null=True, blank=True, validators=between(1.6, 6), help_text="Empty: the shop's default."
    )
    trim_each_end_mm = models.FloatField(
        null=True, blank=True, validators=between(1, 40), help_text="Empty: the shop's default."
    )
    snare_bed_depth_mm = models.FloatField(null=True, blank=True, validators=between(0.2, 5))
    snare_bed_flat_mm = models.FloatField(null=True, blank=True, validators=between(10, 200))
    snare_bed_width_mm = models.FloatField(null=True, blank=True, validators=between(20, 250))
    batter_pitch_hz = models.FloatField(null=True, blank=True, validators=between(30, 600))
    resonant_pitch_hz = models.FloatField(null=True, blank=True, validators=between(30, 600))
    is_active = models.BooleanField("in use", default=True)
    note = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["line__name", "role", "nominal_diameter_in", "nominal_depth_in"]

    def __str__(self) -> str:
        return f"{self.line.name} {self.size} {self.get_role_display()}"

    @property
    def size(self) -> str:
        """Diameter × depth in inches, in this order everywhere in the program."""
        return f"{self.nominal_diameter_in:g} × {self.nominal_depth_in:g} in"

    def clean(self) -> None:
        if self.hardware_id and self.role and self.hardware.role != self.role:
            raise ValidationError(
                {
                    "hardware": f"This hardware set is for a {self.hardware.get_role_display()}; choose one for this role."
                }
            )
        if self.pk and self.shells.exists():
            before = DrumModel.objects.get(pk=self.pk)
            for name in ("line_id", "role", "nominal_diameter_in", "nominal_depth_in"):
                if getattr(before, name) != getattr(self, name):
                    raise ValidationError(
                        {
                            name.removesuffix("_id"): "Drums of this model were released; what they are can't change. "
                            "Make a new model, and retire this one."
                        }
                    )
        bed = (self.snare_bed_depth_mm, self.snare_bed_flat_mm, self.snare_bed_width_mm)
        if self.role == Role.SNARE and None in bed:
            raise ValidationError({"snare_bed_depth_mm": "A snare needs its snare bed: depth, flat and overall width."})
        if self.role != Role.SNARE and any(value is not None for value in bed):
            raise ValidationError({"snare_bed_depth_mm": "Only a snare has snare beds; leave these empty."})
