"""Sub-assemblies made in the shop (snare wires, prepared lugs, isolation mounts): lots with a short route and signatures."""

from __future__ import annotations

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

from quality.models.materials import LotKind, MaterialLot
from quality.models.people import Person
from routing.models import Station


class LotRoute(models.Model):
    """How one kind of sub-assembly is made. A change makes a new revision; lots keep the one they began with."""

    code = models.SlugField(max_length=30)
    revision = models.PositiveSmallIntegerField(default=1)
    is_current = models.BooleanField(default=True)
    name = models.CharField(max_length=80, help_text="As the lots made by it are called, and as the parts list says.")
    kind = models.CharField(max_length=12, choices=LotKind.choices)
    unit = models.CharField(max_length=12, default="pieces")

    class Meta:
        ordering = ["name", "-revision"]
        constraints = [
            models.UniqueConstraint(fields=["code", "revision"], name="lotroute_revision_unique"),
            models.UniqueConstraint(fields=["code"], condition=models.Q(is_current=True), name="lotroute_one_current"),
        ]

    def __str__(self) -> str:
        return f"{self.name}, revision {self.revision}"


class LotRouteStep(models.Model):
    route = models.ForeignKey(LotRoute, on_delete=models.CASCADE, related_name="steps")
    position = models.PositiveSmallIntegerField()
    title = models.CharField(max_length=80, help_text="What is done, as an instruction.")
    station = models.ForeignKey(Station, on_delete=models.PROTECT, related_name="lot_route_steps")
    check_text = models.CharField(max_length=200, blank=True, help_text="What is checked before it is signed.")
    dwell_h = models.FloatField("wait after, h", default=0, validators=[MinValueValidator(0), MaxValueValidator(1000)])

    class Meta:
        ordering = ["position"]
        constraints = [models.UniqueConstraint(fields=["route", "position"], name="lotroutestep_position_unique")]

    def __str__(self) -> str:
        return f"{self.position}. {self.title}"


class MadeLot(models.Model):
    """A lot that is or was made here. ``lot`` can be used once every step is signed."""

    lot = models.OneToOneField(MaterialLot, on_delete=models.PROTECT, related_name="made_here")
    route = models.ForeignKey(LotRoute, on_delete=models.PROTECT, related_name="lots")
    quantity = models.PositiveIntegerField(help_text="Pieces begun.")
    begun_at = models.DateTimeField()
    begun_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    tap_key = models.CharField(max_length=64, unique=True, null=True, blank=True)

    class Meta:
        ordering = ["-begun_at"]

    def __str__(self) -> str:
        return f"{self.lot} ({self.quantity})"


class LotSignOff(models.Model):
    """Who did one step of a lot made here. Append-only."""

    made = models.ForeignKey(MadeLot, on_delete=models.PROTECT, related_name="sign_offs")
    step = models.ForeignKey(LotRouteStep, on_delete=models.PROTECT, related_name="sign_offs")
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="lot_sign_offs")
    person_name = models.CharField(max_length=80)
    device = models.CharField(max_length=60, blank=True)
    at = models.DateTimeField()
    received_at = models.DateTimeField()
    good = models.PositiveIntegerField(help_text="Pieces that passed this step.")
    note = models.CharField(max_length=300, blank=True)
    tap_key = models.CharField(max_length=64, unique=True, null=True, blank=True)
    previous_hash = models.CharField(max_length=64, blank=True)
    hash = models.CharField(max_length=64)

    class Meta:
        ordering = ["id"]
        constraints = [models.UniqueConstraint(fields=["made", "step"], name="lotsignoff_once_per_step")]

    def __str__(self) -> str:
        return f"{self.step} of {self.made.lot.code} signed by {self.person_name}"


class LotComponent(models.Model):
    """That a lot made here contains another lot. Append-only; a hold on the component reaches every drum through it."""

    sign_off = models.ForeignKey(LotSignOff, on_delete=models.PROTECT, related_name="components")
    lot = models.ForeignKey(MaterialLot, on_delete=models.PROTECT, related_name="in_made_lots")

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return f"{self.lot} in {self.sign_off.made.lot.code}"
