"""Kit orders, their lines, and the shells made for them."""

from __future__ import annotations

from django.conf import settings
from django.core.validators import RegexValidator
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy

from routing.models.drums import DrumModel
from routing.models.finishes import Finish
from routing.models.recipes import between

MAX_QUANTITY = 50  # drums of a line


class OrderState(models.TextChoices):
    DRAFT = "draft", "draft"
    RELEASED = "released", "released"
    IN_PRODUCTION = "in_production", "in production"
    COMPLETE = "complete", "complete"
    SHIPPED = "shipped", "shipped"


class ShellState(models.TextChoices):
    PLANNED = "planned", "planned"
    IN_PRODUCTION = "in_production", "in production"
    ON_HOLD = "on_hold", "on hold"
    FINISHED = "finished", "finished"
    PACKED = "packed", "packed"
    SCRAPPED = "scrapped", "scrapped"
    REMADE = "remade", "remade"


class KitOrder(models.Model):
    number = models.CharField(
        max_length=30,
        unique=True,
        validators=[
            RegexValidator(
                r"^[A-Za-z0-9][A-Za-z0-9._-]*$", gettext_lazy("Use letters, digits, dot, dash or underscore.")
            )
        ],
    )
    customer = models.CharField(max_length=120)
    customer_reference = models.CharField(max_length=80, blank=True, db_index=True)
    due = models.DateField()
    state = models.CharField(max_length=14, choices=OrderState.choices, default=OrderState.DRAFT)
    weight = models.PositiveSmallIntegerField(
        "how much lateness counts",
        default=1,
        validators=between(1, 10),
        help_text="1 as usual, 10 for a rush order; the plan weighs each late hour with it.",
    )
    note = models.CharField(max_length=500, blank=True)
    created_at = models.DateTimeField()
    released_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["due", "number"]
        indexes = [
            models.Index(fields=["state", "due"], name="kitorder_state_due"),
            # The list of all orders begins with those due first.
            models.Index(fields=["due", "number"], name="kitorder_due"),
        ]

    def __str__(self) -> str:
        return self.number


class KitLine(models.Model):
    order = models.ForeignKey(KitOrder, on_delete=models.CASCADE, related_name="lines")
    position = models.PositiveSmallIntegerField()
    model = models.ForeignKey(DrumModel, on_delete=models.PROTECT, related_name="kit_lines")
    finish = models.ForeignKey(Finish, on_delete=models.PROTECT, related_name="kit_lines")
    quantity = models.PositiveSmallIntegerField(default=1, validators=between(1, MAX_QUANTITY))
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["position"]
        constraints = [
            models.UniqueConstraint(
                fields=["order", "position"],
                name="kitline_position_unique",
                violation_error_message=gettext_lazy("Two lines of the order share a number."),
            )
        ]

    def __str__(self) -> str:
        return f"{self.quantity} × {self.model}, {self.finish}"


class SerialCounter(models.Model):
    """The last number used in a year. Numbers are never given twice."""

    year = models.PositiveSmallIntegerField(primary_key=True)
    last = models.PositiveIntegerField(default=0)

    def __str__(self) -> str:
        return f"{self.year}: {self.last}"


class Shell(models.Model):
    """One shell, and later one drum. Written by the actions only."""

    serial = models.CharField(max_length=16, unique=True)
    order = models.ForeignKey(KitOrder, on_delete=models.PROTECT, related_name="shells")
    line = models.ForeignKey(KitLine, on_delete=models.PROTECT, related_name="shells")
    model = models.ForeignKey(DrumModel, on_delete=models.PROTECT, related_name="shells")
    finish = models.ForeignKey(Finish, on_delete=models.PROTECT, related_name="shells")
    state = models.CharField(max_length=14, choices=ShellState.choices, default=ShellState.PLANNED)
    spec_revision = models.PositiveSmallIntegerField(default=1)
    released_at = models.DateTimeField()
    replaces = models.OneToOneField("self", null=True, blank=True, on_delete=models.PROTECT, related_name="replaced_by")
    # Head of the shell's hash chain: how many records it has and the hash of the last.
    chain_length = models.PositiveIntegerField(default=0)
    chain_head = models.CharField(max_length=64, blank=True)

    class Meta:
        ordering = ["serial"]
        indexes = [
            # The board and the work list leave out what has left the shop.
            models.Index(
                fields=["state"],
                name="shell_in_process",
                condition=Q(state__in=["planned", "in_production", "on_hold", "finished"]),
            ),
        ]

    def __str__(self) -> str:
        return self.serial

    @property
    def drum(self) -> str:
        return f"{self.model}, {self.finish}"


class ShellSpec(models.Model):
    """A frozen spec: what was computed from what, by which formulas. Never changed; a re-issue adds a revision."""

    shell = models.ForeignKey(Shell, on_delete=models.PROTECT, related_name="specs")
    revision = models.PositiveSmallIntegerField()
    formula_version = models.CharField(max_length=20)
    inputs = models.JSONField()
    results = models.JSONField()
    reason = models.CharField(max_length=200)
    issued_at = models.DateTimeField()
    issued_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ["shell_id", "revision"]
        constraints = [models.UniqueConstraint(fields=["shell", "revision"], name="shellspec_revision_unique")]

    def __str__(self) -> str:
        return f"{self.shell} revision {self.revision}"
