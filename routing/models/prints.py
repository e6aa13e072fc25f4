"""A print of travelers: what was asked for once, by whom, and which copy each shell got."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.db import models

from routing.models.shop import PaperSize

KEPT = timedelta(days=1)  # so long its file can be opened again; later, the shells may look different


class TravelerPrint(models.Model):
    """The paper itself is a file of the same number; the record of each shell says that it was made."""

    tap_key = models.CharField(max_length=64, null=True, blank=True, unique=True)
    name = models.CharField(max_length=80, help_text="Of the file, for the person who saves it.")
    paper = models.CharField(max_length=8, choices=PaperSize.choices)
    base_url = models.CharField(max_length=200, blank=True, help_text="Begins the addresses in its codes.")
    copies = models.JSONField(help_text="Serial number and which copy of its traveler this is, from 1.")
    printed_at = models.DateTimeField()
    printed_by = models.CharField(max_length=80)

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return f"{self.name}, {self.printed_at:%Y-%m-%d %H:%M}"

    def is_kept(self, now: datetime) -> bool:
        return now - self.printed_at < KEPT
