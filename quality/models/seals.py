"""One line that joins every chain of a day. Printed and put away, it shows later that no chain was written anew."""

from __future__ import annotations

from django.db import models


class DaySeal(models.Model):
    """Append-only. ``hash`` covers the day, every shell's last record of that day, and the seal before."""

    day = models.DateField(unique=True)
    begins_at = models.DateTimeField()
    ends_at = models.DateTimeField(help_text="Excluded. Kept, so that a change of the shop's time zone breaks no seal.")
    sealed_at = models.DateTimeField()
    through = models.JSONField(
        default=dict, help_text="Last row of each list beside the chains that this seal covers, by table."
    )
    shells = models.PositiveIntegerField()
    records = models.PositiveIntegerField()
    previous_hash = models.CharField(max_length=64, blank=True)
    hash = models.CharField(max_length=64)

    class Meta:
        ordering = ["day"]

    def __str__(self) -> str:
        return f"{self.day} {self.hash[:16]}"
