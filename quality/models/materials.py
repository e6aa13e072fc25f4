"""What goes into a drum: lots as they were received, glue batches as they were mixed here, and which step used which."""

from __future__ import annotations

from datetime import datetime

from django.db import models
from django.db.models import Q, Value
from django.db.models.functions import Lower
from django.db.models.lookups import Exact

from quality.models.people import Person
from quality.models.signoffs import SignOff
from routing.models import Glue


class LotKind(models.TextChoices):
    PLATE = "plate", "plate or veneer"
    GLUE = "glue", "glue component"
    COATING = "coating", "lacquer or oil"
    WRAP = "wrap", "wrap"
    HARDWARE = "hardware", "hardware"
    HEAD = "head", "heads"
    SNARE_WIRE = "snare_wire", "snare wires"
    OTHER = "other", "other"


class LotState(models.TextChoices):
    MAKING = "making", "being made"
    RECEIVED = "received", "received"
    OPEN = "open", "open"
    EMPTY = "empty", "empty"
    HELD = "held", "on hold"


def lot_code(code: str) -> Exact:
    """Of a lot: that it has this code, in large letters or small; as its index has it, which ``iexact`` would not use."""
    return Exact(Lower("code"), Lower(Value(code)))


class MaterialLot(models.Model):
    """One delivery of one material. ``code`` is what its label says and what the scanner reads."""

    code = models.CharField(max_length=40, help_text="As on its label; this is what is scanned.")
    kind = models.CharField(max_length=12, choices=LotKind.choices)
    name = models.CharField(max_length=80)
    state = models.CharField(max_length=8, choices=LotState.choices, default=LotState.RECEIVED)
    received_on = models.DateField()
    expires_on = models.DateField(
        null=True, blank=True, help_text="Last day it may be used; empty: it does not expire."
    )
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["kind", "name", "-received_on"]
        indexes = [
            # The last to arrive are offered while one types a code.
            models.Index(fields=["-received_on", "code"], name="materiallot_newest"),
            # What is being made here stands on the tablets; what was made in all the years does not.
            models.Index(fields=["state"], name="materiallot_in_making", condition=Q(state="making")),
        ]
        constraints = [
            models.UniqueConstraint(
                Lower("code"),
                name="materiallot_code_unique",
                violation_error_message="A lot with this code is entered already.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.code} {self.name}"


class LotChange(models.Model):
    """That somebody received a lot, opened, emptied, held or freed it. Append-only."""

    lot = models.ForeignKey(MaterialLot, on_delete=models.PROTECT, related_name="changes")
    state = models.CharField(max_length=8, choices=LotState.choices)
    at = models.DateTimeField()
    person = models.ForeignKey(Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    person_name = models.CharField(max_length=80)
    reason = models.CharField(max_length=200, blank=True)
    tap_key = models.CharField(max_length=64, unique=True, null=True, blank=True)

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return f"{self.lot.code}: {self.get_state_display()}"


class GlueBatch(models.Model):
    """One mix of a glue: who mixed it, when, at what temperature, and until when it may be used."""

    code = models.CharField(max_length=20, unique=True)
    glue = models.ForeignKey(Glue, on_delete=models.PROTECT, related_name="batches")
    mixed_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    mixed_at = models.DateTimeField()
    temperature_c = models.FloatField()
    pot_life_min = models.FloatField()
    use_until = models.DateTimeField()
    is_empty = models.BooleanField(default=False)
    emptied_at = models.DateTimeField(null=True, blank=True)
    emptied_by_name = models.CharField(max_length=80, blank=True)
    tap_key = models.CharField(max_length=64, unique=True, null=True, blank=True)

    class Meta:
        ordering = ["-mixed_at"]
        verbose_name_plural = "glue batches"
        indexes = [models.Index(fields=["-mixed_at"], name="gluebatch_newest")]

    def __str__(self) -> str:
        return self.code

    def may_be_used_at(self, moment: datetime) -> bool:
        return self.mixed_at <= moment <= self.use_until


class GlueBatchPart(models.Model):
    batch = models.ForeignKey(GlueBatch, on_delete=models.CASCADE, related_name="parts")
    position = models.PositiveSmallIntegerField()
    name = models.CharField(max_length=60)
    mass_g = models.FloatField()
    lot = models.ForeignKey(MaterialLot, null=True, blank=True, on_delete=models.PROTECT, related_name="in_batches")

    class Meta:
        ordering = ["position"]
        constraints = [models.UniqueConstraint(fields=["batch", "position"], name="gluebatchpart_position_unique")]

    def __str__(self) -> str:
        return f"{self.name} {self.mass_g:g} g"


class MaterialUse(models.Model):
    """That a signed step used a lot or a glue batch. Append-only, like the signature."""

    sign_off = models.ForeignKey(SignOff, on_delete=models.PROTECT, related_name="materials")
    lot = models.ForeignKey(MaterialLot, null=True, blank=True, on_delete=models.PROTECT, related_name="uses")
    glue_batch = models.ForeignKey(GlueBatch, null=True, blank=True, on_delete=models.PROTECT, related_name="uses")

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(lot__isnull=True, glue_batch__isnull=False) | Q(lot__isnull=False, glue_batch__isnull=True),
                name="materialuse_lot_or_batch",
            )
        ]

    def __str__(self) -> str:
        return f"{self.lot or self.glue_batch} in {self.sign_off}"
