"""Sets of hardware: lugs, hoops and rods, fittings with their holes, and the parts list."""

from __future__ import annotations

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from routing.models.recipes import ROLE_CHOICES, NamedRecipe, between
from routing.specs.inputs import LugKind


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
                violation_error_message=gettext_lazy(
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
                {"angles_deg": _("Give one angle for each piece, for example [120, 240], or leave empty.")}
            )
        if not isinstance(self.holes, list) or not all(
            isinstance(hole, list)
            and len(hole) == 3
            and all(isinstance(number, int | float) and not isinstance(number, bool) for number in hole)
            for hole in self.holes
        ):
            raise ValidationError(
                {"holes": _("Give each hole as [round, axial, diameter] in mm, for example [[0, 19, 5.5]].")}
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
