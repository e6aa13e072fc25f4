"""Keys for the shop's own scripts and calendars. Only the hash of a key is kept; it is shown once."""

from __future__ import annotations

from django.db import models

from quality.models.people import Person


class KeyOpens(models.TextChoices):
    """A calendar's key stands in an address and is easily passed on, so it opens the due dates and nothing else."""

    LISTS = "lists", "everything, to read"
    CALENDAR = "calendar", "the calendar of due dates"


class ApiKey(models.Model):
    opens = models.CharField(max_length=8, choices=KeyOpens.choices, default=KeyOpens.LISTS)
    name = models.CharField(max_length=60, unique=True, help_text="What it is for: “label printer”, “accounts”.")
    key_hash = models.CharField(max_length=64, unique=True, editable=False)
    begins = models.CharField(max_length=8, editable=False, help_text="First characters, to tell keys apart.")
    created_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    created_at = models.DateTimeField()
    last_used_at = models.DateTimeField(null=True, blank=True)
    revoked_at = models.DateTimeField(null=True, blank=True)
    revoked_by = models.ForeignKey(Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name
