"""Tablets that belong to the shop: each enrolled by a supervisor for its stations, and revoked with one tap."""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from django.db.models.functions import Lower

from quality.models.people import Person
from routing.models import Station


class TabletQuerySet(models.QuerySet["Tablet"]):
    def in_use(self) -> TabletQuerySet:
        return self.filter(revoked_at__isnull=True)


class Tablet(models.Model):
    """A browser that may show the floor. It keeps a secret key; here stands only that key's hash."""

    name = models.CharField(max_length=40, help_text="As it is written on its back, for example “Spray room 1”.")
    key_hash = models.CharField(max_length=64, unique=True)
    stations = models.ManyToManyField(Station, related_name="tablets")
    enrolled_at = models.DateTimeField()
    enrolled_by = models.ForeignKey(Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    revoked_at = models.DateTimeField(null=True, blank=True)
    revoked_by = models.ForeignKey(Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    last_seen_at = models.DateTimeField(null=True, blank=True)
    failed_pins = models.PositiveSmallIntegerField(default=0)
    locked_until = models.DateTimeField(null=True, blank=True)

    objects = TabletQuerySet.as_manager()

    class Meta:
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint(
                Lower("name"),
                condition=Q(revoked_at__isnull=True),
                name="tablet_name_unique_in_use",
                violation_error_message="A tablet in use has this name; choose another.",
            )
        ]

    def __str__(self) -> str:
        return self.name


class EnrolmentCode(models.Model):
    """A code that makes one browser a tablet of the shop, once and only for a short time."""

    code_hash = models.CharField(max_length=64, unique=True)
    tablet_name = models.CharField(max_length=40)
    stations = models.ManyToManyField(Station, related_name="+")
    made_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    used_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-made_at"]

    def __str__(self) -> str:
        return f"code for {self.tablet_name}"


class EnrolmentTry(models.Model):
    """A wrong code that somebody typed: so many in a minute, and no code is looked at for the rest of it."""

    at = models.DateTimeField(db_index=True)

    def __str__(self) -> str:
        return f"wrong code at {self.at:%Y-%m-%d %H:%M:%S}"
