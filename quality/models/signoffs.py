"""Signatures at stations, their readings, their withdrawal and voiding: append-only, beside the chain's records."""

from __future__ import annotations

from django.db import models

from quality.models.checks import CheckPoint
from quality.models.people import Person
from routing.models import Operation, ShellRecord


class SignOffQuerySet(models.QuerySet["SignOff"]):
    def standing(self) -> SignOffQuerySet:
        """Signatures that were neither withdrawn nor made void by rework."""
        return self.filter(withdrawal__isnull=True, voiding__isnull=True)


class SignOff(models.Model):
    record = models.OneToOneField(ShellRecord, on_delete=models.PROTECT, related_name="sign_off")
    operation = models.ForeignKey(Operation, on_delete=models.PROTECT, related_name="sign_offs")
    attempt = models.PositiveSmallIntegerField()
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="sign_offs")
    at = models.DateTimeField()
    entered_by = models.ForeignKey(
        Person,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="late_entries",
        help_text="Who entered it later from paper; empty: signed at the tablet.",
    )

    objects = SignOffQuerySet.as_manager()

    class Meta:
        ordering = ["id"]
        constraints = [
            # Two tablets that sign the same step at once: the second finds this taken.
            models.UniqueConstraint(fields=["operation", "attempt"], name="signoff_once_per_attempt"),
        ]

    def __str__(self) -> str:
        return f"{self.operation} signed by {self.person}"


class Reading(models.Model):
    sign_off = models.ForeignKey(SignOff, on_delete=models.PROTECT, related_name="readings")
    check_point = models.ForeignKey(CheckPoint, on_delete=models.PROTECT, related_name="readings")
    value = models.FloatField(
        null=True, blank=True, help_text="What was judged: the reading, or the spread of several."
    )
    values = models.JSONField(null=True, blank=True, help_text="All readings where there are several, in order.")
    passed = models.BooleanField()

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return f"{self.check_point}: {'yes' if self.value is None else self.value}"


class Withdrawal(models.Model):
    """A signature taken back. Both records stay."""

    sign_off = models.OneToOneField(SignOff, on_delete=models.PROTECT, related_name="withdrawal")
    record = models.OneToOneField(ShellRecord, on_delete=models.PROTECT, related_name="withdrawal")
    reason = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return f"withdrawal of {self.sign_off}"


class Voiding(models.Model):
    """A signature that no longer stands because the shell was sent back before its step. Both records stay."""

    sign_off = models.OneToOneField(SignOff, on_delete=models.PROTECT, related_name="voiding")
    record = models.ForeignKey(ShellRecord, on_delete=models.PROTECT, related_name="voidings")

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return f"voiding of {self.sign_off}"
