"""What customers ask after the sale, by serial number, and what was done about it."""

from __future__ import annotations

import hashlib

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext as _

from quality.models.people import Person
from quality.models.problems import Defect
from routing.models import KitOrder, Shell, ShellRecord, Station


class RequestKind(models.TextChoices):
    MISSING = "missing", "a part is missing"
    DAMAGE = "damage", "damage"
    SPARE = "spare", "a spare part"
    QUESTION = "question", "a question"
    COMPANION = "companion", "a companion drum"


class RequestState(models.TextChoices):
    OPEN = "open", "open"
    PICKED = "picked", "picked"
    SENT = "sent", "sent"
    ANSWERED = "answered", "answered"


class RequestCounter(models.Model):
    """The last number used in a year."""

    year = models.PositiveSmallIntegerField(primary_key=True)
    last = models.PositiveIntegerField(default=0)

    def __str__(self) -> str:
        return f"{self.year}: {self.last}"


class CustomerRequest(models.Model):
    number = models.CharField(max_length=16, unique=True)
    shell = models.ForeignKey(Shell, on_delete=models.PROTECT, related_name="requests")
    kind = models.CharField(max_length=10, choices=RequestKind.choices)
    said = models.CharField(max_length=500, help_text="What the customer says, in their words.")
    contact = models.CharField(max_length=120, blank=True, help_text="Who asks, and how to reach them.")
    ship_to = models.CharField(max_length=300, blank=True)
    address_salt = models.CharField(
        max_length=32, blank=True, help_text="Makes the digest of the two above unguessable."
    )
    state = models.CharField(max_length=8, choices=RequestState.choices, default=RequestState.OPEN)
    asked_at = models.DateTimeField()
    due_at = models.DateTimeField(help_text="When it should be out of the house, counted in working time.")
    taken_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="requests_taken")
    picked_by = models.ForeignKey(Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    picked_at = models.DateTimeField(null=True, blank=True)
    closed_by = models.ForeignKey(Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    closed_at = models.DateTimeField(null=True, blank=True)
    answer = models.CharField(max_length=500, blank=True)
    cause = models.ForeignKey(
        Defect, null=True, blank=True, on_delete=models.PROTECT, related_name="requests", help_text="Why it happened."
    )
    caused_at = models.ForeignKey(
        Station, null=True, blank=True, on_delete=models.PROTECT, related_name="+", help_text="Where it came from."
    )
    from_outside = models.BooleanField(
        default=False, help_text="It came from outside the shop: carrier, supplier, use."
    )
    companion_order = models.ForeignKey(
        KitOrder, null=True, blank=True, on_delete=models.SET_NULL, related_name="companions_of"
    )
    tap_key = models.CharField(max_length=64, unique=True, null=True, blank=True)

    class Meta:
        ordering = ["due_at", "id"]
        indexes = [
            # The list of what is still to be answered, the most pressing first.
            models.Index(fields=["due_at"], name="request_open", condition=Q(state__in=["open", "picked"])),
        ]

    def __str__(self) -> str:
        return self.number

    @property
    def address_digest(self) -> str:
        """Stands in the chain for who asks and where it goes: it proves them, and tells nothing without the salt."""
        told = "\n".join((self.address_salt, self.contact, self.ship_to))
        return hashlib.sha256(told.encode()).hexdigest()

    @property
    def came_from(self) -> str:
        """Where its cause came from, in words."""
        if self.caused_at:
            return self.caused_at.name
        return _("outside the shop") if self.from_outside else _("not known yet")


class RequestLine(models.Model):
    """One part of the as-built parts list that is to be sent."""

    request = models.ForeignKey(CustomerRequest, on_delete=models.CASCADE, related_name="lines")
    bag_name = models.CharField(max_length=60, blank=True)
    part_name = models.CharField(max_length=80)
    quantity = models.PositiveSmallIntegerField()

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return f"{self.quantity} × {self.part_name}"


class RequestEvent(models.Model):
    """What happened to a request: taken, picked, sent, answered, opened again. Append-only."""

    request = models.ForeignKey(CustomerRequest, on_delete=models.PROTECT, related_name="events")
    record = models.OneToOneField(ShellRecord, on_delete=models.PROTECT, related_name="request_event")
    state = models.CharField(max_length=8, choices=RequestState.choices)
    at = models.DateTimeField()
    person_name = models.CharField(max_length=80)

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return f"{self.request}: {self.get_state_display()}"
