"""What happened to a shell: one append-only chain of records per shell.

Each record carries the hash of the one before it. The tables beside it (sign-offs, readings, problems) are ways to
find things quickly; the record is what holds.
"""

from __future__ import annotations

import hashlib
import json
from datetime import UTC
from typing import Any

from django.conf import settings
from django.db import models

from routing.models.orders import Shell
from routing.models.route import Operation


class RecordKind(models.TextChoices):
    RELEASED = "released", "released"
    REISSUED = "reissued", "spec re-issued"
    PRINTED = "printed", "traveler printed"
    STARTED = "started", "work started"
    PAUSED = "paused", "work paused"
    SIGNED = "signed", "signed off"
    WITHDRAWN = "withdrawn", "signature withdrawn"
    HELD = "held", "put on hold"
    FOUND = "found", "finding added"
    RESUMED = "resumed", "released from hold"
    CARD = "card", "card printed"
    SCRAPPED = "scrapped", "scrapped"
    REWORK = "rework", "sent back for rework"
    SKIPPED = "skipped", "step skipped"
    SHIPPED = "shipped", "shipped"
    BAGGED = "bagged", "bag filled"
    BAG_CHECK = "bag_check", "bag checked"
    UNBAGGED = "unbagged", "bag opened again"
    CARTON = "carton", "carton closed"
    UNCARTONED = "uncartoned", "carton opened again"
    REQUEST = "request", "customer's request"
    PICKED = "picked", "parts picked for a request"
    ANSWERED = "answered", "request answered"


class ShellRecord(models.Model):
    shell = models.ForeignKey(Shell, on_delete=models.PROTECT, related_name="records")
    sequence = models.PositiveIntegerField()
    kind = models.CharField(max_length=10, choices=RecordKind.choices)
    operation = models.ForeignKey(Operation, null=True, blank=True, on_delete=models.PROTECT, related_name="records")
    at = models.DateTimeField(help_text="When it was done, by the clock of the device.")
    received_at = models.DateTimeField(help_text="When the server took it in.")
    person = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="records"
    )
    person_name = models.CharField(max_length=80)
    device = models.CharField(max_length=60, blank=True)
    body = models.JSONField(default=dict)
    tap_key = models.CharField(max_length=64, unique=True, null=True, blank=True)
    previous_hash = models.CharField(max_length=64, blank=True)
    hash = models.CharField(max_length=64)

    class Meta:
        ordering = ["shell_id", "sequence"]
        constraints = [models.UniqueConstraint(fields=["shell", "sequence"], name="shellrecord_sequence_unique")]
        indexes = [
            # Trace by person reads newest first.
            models.Index(fields=["person", "-at"], name="shellrecord_person_at"),
            # What was done at one tablet, and what was signed on some days.
            models.Index(fields=["device", "-at"], name="shellrecord_device_at"),
            models.Index(fields=["kind", "-at"], name="shellrecord_kind_at"),
            # The seal of a day reads what was taken in on it.
            models.Index(fields=["received_at"], name="shellrecord_received_at"),
        ]

    def __str__(self) -> str:
        return f"{self.shell_id}/{self.sequence} {self.kind}"

    def computed_hash(self, serial: str) -> str:
        """SHA-256 over everything this record says, in a fixed order, and the hash of the record before it."""
        content: dict[str, Any] = {
            "shell": serial,
            "sequence": self.sequence,
            "kind": self.kind,
            "operation": self.operation_id,
            "at": self.at.astimezone(UTC).isoformat(),
            "received_at": self.received_at.astimezone(UTC).isoformat(),
            "person": self.person_id,
            "person_name": self.person_name,
            "device": self.device,
            "tap_key": self.tap_key,
            "body": self.body,
            "previous": self.previous_hash,
        }
        canonical = json.dumps(content, sort_keys=True, separators=(",", ":"), ensure_ascii=True, allow_nan=False)
        return hashlib.sha256(canonical.encode()).hexdigest()
