"""Check points: what is looked at or measured before a step is signed."""

from __future__ import annotations

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext as _

from routing.models import Station, StationKind
from routing.models.recipes import FINISH_CHOICES, ROLE_CHOICES, between


class CheckKind(models.TextChoices):
    YES_NO = "yes_no", "yes or no"
    MEASURED = "measured", "measured"
    COUNT = "count", "counted"


class Judged(models.TextChoices):
    """Of several readings of one check, what has to lie within the limits."""

    EACH = "each", "every reading"
    SPREAD = "spread", "largest less smallest"


class CheckPoint(models.Model):
    """One check at one station. Rows are never altered: a change retires this revision and adds the next."""

    code = models.SlugField(max_length=40)
    revision = models.PositiveSmallIntegerField(default=1)
    is_current = models.BooleanField(default=True)
    station = models.ForeignKey(Station, on_delete=models.PROTECT, related_name="check_points")
    position = models.PositiveSmallIntegerField(default=1)
    text = models.CharField(max_length=200, help_text="What to check, as an instruction.")
    kind = models.CharField(max_length=10, choices=CheckKind.choices, default=CheckKind.YES_NO)
    unit = models.CharField(max_length=12, blank=True)
    spec_key = models.CharField(
        max_length=80,
        blank=True,
        help_text="Where the nominal value stands in the drum's spec, for example shell.depth_mm.",
    )
    nominal = models.FloatField(null=True, blank=True, help_text="Nominal value when it does not come from the spec.")
    minus = models.FloatField(null=True, blank=True, help_text="Allowed below nominal; empty: no lower limit.")
    plus = models.FloatField(null=True, blank=True, help_text="Allowed above nominal; empty: no upper limit.")
    tolerance_key = models.CharField(
        max_length=80,
        blank=True,
        help_text="Where the tolerance stands in the drum's spec, for example shell.tolerances.depth.accept_mm; it takes "
        "the place of the limits below and above that are given.",
    )
    places = models.PositiveSmallIntegerField(
        default=1, validators=between(1, 16), help_text="How many readings are taken: four directions, each lug."
    )
    places_key = models.CharField(
        max_length=80,
        blank=True,
        help_text="Where the number of readings stands in the drum's spec, for example drilling.lugs_per_head.",
    )
    judged = models.CharField("judged by", max_length=6, choices=Judged.choices, default=Judged.EACH)
    sample_every = models.PositiveSmallIntegerField(
        "every so many drums",
        default=1,
        validators=between(1, 100),
        help_text="1: every drum. 5: every fifth by its running number. The final check is never sampled.",
    )
    role = models.CharField(max_length=10, choices=ROLE_CHOICES, blank=True, help_text="Empty: every role.")
    finish_kind = models.CharField(max_length=8, choices=FINISH_CHOICES, blank=True, help_text="Empty: every finish.")

    class Meta:
        ordering = ["station__position", "position", "id"]
        constraints = [
            models.UniqueConstraint(fields=["code", "revision"], name="checkpoint_revision_unique"),
            models.UniqueConstraint(fields=["code"], condition=Q(is_current=True), name="checkpoint_one_current"),
        ]

    def __str__(self) -> str:
        return self.text

    def clean(self) -> None:
        if self.kind == CheckKind.COUNT and not self.spec_key and self.nominal is None:
            raise ValidationError(
                {"spec_key": _("A count needs a place in the spec, for example hardware.rods, or a nominal number.")}
            )
        if self.sample_every > 1 and self.station_id and self.station.kind == StationKind.FINAL_CHECK:
            raise ValidationError({"sample_every": _("The final check looks at every drum; enter 1.")})
        if self.kind == CheckKind.MEASURED and not self.spec_key and self.nominal is None:
            raise ValidationError({"nominal": _("A measured check needs a nominal value or a place in the spec.")})
        if self.kind == CheckKind.MEASURED and self.minus is None and self.plus is None:
            raise ValidationError({"plus": _("A measured check needs at least one limit: below, above or both.")})
