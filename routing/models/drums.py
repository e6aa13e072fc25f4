"""Bearing edges, product lines, and the drums that can be ordered."""

from __future__ import annotations

from django.core.exceptions import ValidationError
from django.db import models
from django.utils.translation import gettext as _

from routing.models.hardware import HardwareSet
from routing.models.lay_ups import LayUp
from routing.models.recipes import FINISH_CHOICES, ROLE_CHOICES, NamedRecipe, between
from routing.specs.inputs import EdgeShape, Role


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
            other = _("This hardware set is for a {role}; choose one for this role.")
            raise ValidationError({"hardware": other.format(role=_(self.hardware.get_role_display()))})
        if self.pk and self.shells.exists():
            before = DrumModel.objects.get(pk=self.pk)
            for name in ("line_id", "role", "nominal_diameter_in", "nominal_depth_in"):
                if getattr(before, name) != getattr(self, name):
                    released = _(
                        "Drums of this model were released; what they are can't change. Make a new model, and retire "
                        "this one."
                    )
                    raise ValidationError({name.removesuffix("_id"): released})
        bed = (self.snare_bed_depth_mm, self.snare_bed_flat_mm, self.snare_bed_width_mm)
        if self.role == Role.SNARE and None in bed:
            raise ValidationError(
                {"snare_bed_depth_mm": _("A snare needs its snare bed: depth, flat and overall width.")}
            )
        if self.role != Role.SNARE and any(value is not None for value in bed):
            raise ValidationError({"snare_bed_depth_mm": _("Only a snare has snare beds; leave these empty.")})
