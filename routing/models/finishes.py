"""Finishes: coats of lacquer or oil with their test cards, or a wrap."""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy

from routing.models.recipes import FINISH_CHOICES, NamedRecipe, between
from routing.specs.inputs import CoatStage, Surface


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
                violation_error_message=gettext_lazy("A wrapped finish needs its wrap sheet; the others have none."),
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
                violation_error_message=gettext_lazy("Two cards have the same share of gloss base; keep one."),
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
                violation_error_message=gettext_lazy(
                    "Two coats share a place; number them 1, 2, 3 … in the order they go on."
                ),
            )
        ]

    def __str__(self) -> str:
        return self.name
