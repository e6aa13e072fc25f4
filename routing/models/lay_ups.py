"""Woods, plates, glues and press cycles, and the lay-ups made from them."""

from __future__ import annotations

from django.db import models
from django.utils.translation import gettext_lazy

from routing.models.recipes import NamedRecipe, between
from routing.specs.inputs import Grain, SeamKind


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
                violation_error_message=gettext_lazy("Two parts of the mix share a place; number them 1, 2, 3 …"),
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
                violation_error_message=gettext_lazy(
                    "Two plates share a place; number them 1, 2, 3 … from the outside."
                ),
            )
        ]

    def __str__(self) -> str:
        return f"{self.position}. {self.plate}"
