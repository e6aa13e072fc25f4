"""Bags of hardware, cartons, and the parts on the shelf."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from quality.models.materials import MaterialLot
from quality.models.people import Person
from routing.models import KitOrder, Shell, ShellRecord


class BagState(models.TextChoices):
    FILLED = "filled", "filled"
    CHECKED = "checked", "checked"
    OPENED = "opened", "opened again"


class CheckedHow(models.TextChoices):
    COUNT = "count", "counted"
    WEIGHT = "weight", "weighed"


class Bag(models.Model):
    """One bag of one drum's parts list, filled by one person. Filled again, it is a new row; the old one stays."""

    shell = models.ForeignKey(Shell, on_delete=models.PROTECT, related_name="bags")
    name = models.CharField(max_length=60, help_text="As the parts list calls it.")
    attempt = models.PositiveSmallIntegerField(default=1)
    state = models.CharField(max_length=8, choices=BagState.choices, default=BagState.FILLED)
    contents = models.JSONField(help_text="What went in, from the frozen spec: name, quantity, spare.")
    spec_revision = models.PositiveSmallIntegerField()
    filled_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="bags_filled")
    filled_at = models.DateTimeField()
    checked_how = models.CharField(max_length=6, choices=CheckedHow.choices, blank=True)
    checked_by = models.ForeignKey(Person, null=True, blank=True, on_delete=models.PROTECT, related_name="bags_checked")
    checked_at = models.DateTimeField(null=True, blank=True)
    weight_g = models.FloatField(null=True, blank=True)
    low_g = models.FloatField(null=True, blank=True)
    high_g = models.FloatField(null=True, blank=True)
    counts = models.JSONField(null=True, blank=True, help_text="Pieces counted, in the order of the contents.")

    class Meta:
        ordering = ["shell_id", "name", "attempt"]
        constraints = [
            models.UniqueConstraint(fields=["shell", "name", "attempt"], name="bag_attempt_unique"),
            models.UniqueConstraint(fields=["shell", "name"], condition=~Q(state="opened"), name="bag_one_standing"),
        ]

    def __str__(self) -> str:
        return f"{self.name} of {self.shell}"


class StockPart(models.Model):
    """A part on the shelf, by the name that parts lists give it, and how many there are."""

    name = models.CharField(max_length=80, unique=True)
    on_hand = models.IntegerField(default=0)
    reorder_at = models.PositiveIntegerField(default=0, help_text="Asked for again when fewer are left.")
    place = models.CharField(max_length=40, blank=True, help_text="Shelf or drawer.")

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class StockMove(models.Model):
    """That parts came, went into a bag or to a customer, or were counted. Append-only."""

    part = models.ForeignKey(StockPart, on_delete=models.PROTECT, related_name="moves")
    change = models.IntegerField()
    on_hand_after = models.IntegerField()
    reason = models.CharField(max_length=120)
    bag = models.ForeignKey(Bag, null=True, blank=True, on_delete=models.PROTECT, related_name="moves")
    request = models.ForeignKey(
        "quality.CustomerRequest", null=True, blank=True, on_delete=models.PROTECT, related_name="moves"
    )
    lot = models.ForeignKey(MaterialLot, null=True, blank=True, on_delete=models.PROTECT, related_name="moves")
    person = models.ForeignKey(Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    person_name = models.CharField(max_length=80)
    at = models.DateTimeField()
    tap_key = models.CharField(max_length=64, unique=True, null=True, blank=True)

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return f"{self.part}: {self.change:+d}"

    @property
    def of_serial(self) -> str:
        """The drum whose bag it was, or about which a customer asked; empty for a count or a delivery."""
        holder = self.bag or self.request
        return holder.shell.serial if holder else ""


class Carton(models.Model):
    """A carton of an order that was closed. Opened again, the row stays and the next close makes a new one."""

    order = models.ForeignKey(KitOrder, on_delete=models.PROTECT, related_name="cartons")
    number = models.PositiveSmallIntegerField()
    of = models.PositiveSmallIntegerField()
    attempt = models.PositiveSmallIntegerField(default=1)
    gross_g = models.FloatField()
    weighed_g = models.FloatField(null=True, blank=True)
    closed_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="cartons_closed")
    closed_at = models.DateTimeField()
    opened_by = models.ForeignKey(Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    opened_at = models.DateTimeField(null=True, blank=True)
    opened_because = models.CharField(max_length=200, blank=True)
    tap_key = models.CharField(max_length=64, unique=True, null=True, blank=True)

    class Meta:
        ordering = ["order_id", "number", "attempt"]
        constraints = [
            models.UniqueConstraint(fields=["order", "number", "attempt"], name="carton_attempt_unique"),
            models.UniqueConstraint(
                fields=["order", "number"], condition=Q(opened_at__isnull=True), name="carton_one_closed"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.order} carton {self.number} of {self.of}"


class CartonDrum(models.Model):
    carton = models.ForeignKey(Carton, on_delete=models.PROTECT, related_name="drums")
    shell = models.ForeignKey(Shell, on_delete=models.PROTECT, related_name="in_cartons")
    place = models.PositiveSmallIntegerField(help_text="1 is the outermost.")
    record = models.ForeignKey(ShellRecord, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["carton_id", "place"]
        constraints = [models.UniqueConstraint(fields=["carton", "shell"], name="cartondrum_once")]

    def __str__(self) -> str:
        return f"{self.shell} in {self.carton}"
