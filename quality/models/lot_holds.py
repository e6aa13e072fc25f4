"""That the shells of a bad lot or glue batch were put on hold, and what became of each of them at that moment."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from quality.models.materials import GlueBatch, LotChange, MaterialLot
from quality.models.people import Person
from quality.models.problems import Problem
from routing.models import Shell, ShellRecord


class LotHold(models.Model):
    """One tap on “hold every shell it is in”. Append-only."""

    lot = models.ForeignKey(MaterialLot, null=True, blank=True, on_delete=models.PROTECT, related_name="holds")
    glue_batch = models.ForeignKey(GlueBatch, null=True, blank=True, on_delete=models.PROTECT, related_name="holds")
    change = models.ForeignKey(
        LotChange,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="holds",
        help_text="That the lot was put on hold; empty for a glue batch.",
    )
    reason = models.CharField(max_length=200)
    at = models.DateTimeField()
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    person_name = models.CharField(max_length=80)
    tap_key = models.CharField(max_length=64, unique=True, null=True, blank=True)

    class Meta:
        ordering = ["-id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(lot__isnull=True, change__isnull=True, glue_batch__isnull=False)
                | Q(lot__isnull=False, change__isnull=False, glue_batch__isnull=True),
                name="lothold_lot_or_batch",
            )
        ]

    def __str__(self) -> str:
        return f"hold of {self.named}"

    @property
    def named(self) -> str:
        """“lot P-1 Birch 3.0” or “glue batch G-261125-1”."""
        return f"lot {self.lot}" if self.lot else f"glue batch {self.glue_batch}"


class HoldOutcome(models.TextChoices):
    HELD = "held", "put on hold"
    ADDED = "added", "on hold already"
    LEFT = "left", "left the shop: recall"
    SCRAPPED = "scrapped", "scrapped or remade"
    STUCK = "stuck", "no open step: find it by hand"


class HeldShell(models.Model):
    """What a hold did with one shell. Append-only."""

    hold = models.ForeignKey(LotHold, on_delete=models.PROTECT, related_name="shells")
    shell = models.ForeignKey(Shell, on_delete=models.PROTECT, related_name="lot_holds")
    outcome = models.CharField(max_length=9, choices=HoldOutcome.choices)
    state_then = models.CharField(max_length=14, help_text="What the shell was before: in production, packed, shipped.")
    problem = models.ForeignKey(Problem, null=True, blank=True, on_delete=models.PROTECT, related_name="lot_holds")
    record = models.OneToOneField(ShellRecord, null=True, blank=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["id"]
        constraints = [models.UniqueConstraint(fields=["hold", "shell"], name="heldshell_once_per_hold")]

    def __str__(self) -> str:
        return f"{self.shell}: {self.get_outcome_display()}"
