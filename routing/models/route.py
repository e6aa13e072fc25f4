"""Stations, the order in which a drum visits them, and one shell's steps."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy

from routing.models.recipes import FINISH_CHOICES, ROLE_CHOICES, between


class StationKind(models.TextChoices):
    """What is done at a station: decides which numbers, drawing and caution it shows."""

    CUT = "cut", "cut"
    PRESS = "press", "glue and press"
    TRIM = "trim", "trim"
    EDGE = "edge", "edge"
    SEAL = "seal", "seal coats"
    SAND = "sand", "sand"
    FINISH = "finish", "finish"
    WRAP = "wrap", "wrap"
    DRILL = "drill", "drill"
    ASSEMBLE = "assemble", "assemble"
    TUNE = "tune", "tune"
    FINAL_CHECK = "final_check", "final check"
    PACK = "pack", "pack"


class DwellKind(models.TextChoices):
    NONE = "", "none"
    CURE = "cure", "curing"
    DRY = "dry", "drying"
    REST = "rest", "resting"


class StepRepeat(models.TextChoices):
    """How often a route step stands in a shell's route."""

    ONCE = "once", "once"
    SEAL_COATS = "seal_coats", "once for each seal coat"
    FINISH_COATS = "finish_coats", "once for each colour, clear or oil coat"


class OperationState(models.TextChoices):
    WAITING = "waiting", "waiting"
    READY = "ready", "ready"
    IN_WORK = "in_work", "in work"
    DONE = "done", "done"
    ON_HOLD = "on_hold", "on hold"
    SKIPPED = "skipped", "skipped"


class Station(models.Model):
    code = models.SlugField(max_length=30, unique=True)
    name = models.CharField(max_length=60)
    kind = models.CharField(max_length=12, choices=StationKind.choices)
    position = models.PositiveSmallIntegerField(help_text="Order on the board.")
    caution = models.TextField(blank=True, help_text="Shown with every step at this station, on screen and on paper.")
    is_active = models.BooleanField("in use", default=True)
    counts_touch_time = models.BooleanField(
        "start and stop",
        default=False,
        help_text="Steps here are begun, paused and finished, so that the time of work is known; otherwise one tap signs.",
    )

    places = models.PositiveSmallIntegerField(
        default=1, validators=between(1, 50), help_text="How many shells can be worked on here at once."
    )
    work_min = models.FloatField(
        "work on a shell, min", default=15, validators=between(0.5, 600), help_text="For planning only."
    )
    setup_min = models.FloatField(
        "change-over, min",
        default=0,
        validators=between(0, 600),
        help_text="Between two moulds or colours, for planning only.",
    )

    class Meta:
        ordering = ["position", "code"]

    def __str__(self) -> str:
        return self.name


class RouteTemplate(models.Model):
    """The stations a drum of one role and finish visits. A change makes a new revision; old ones stay."""

    role = models.CharField(max_length=10, choices=ROLE_CHOICES)
    finish_kind = models.CharField(max_length=8, choices=FINISH_CHOICES)
    revision = models.PositiveSmallIntegerField(default=1)
    is_current = models.BooleanField(default=True)
    created_at = models.DateTimeField()
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["role", "finish_kind", "-revision"]
        constraints = [
            models.UniqueConstraint(fields=["role", "finish_kind", "revision"], name="routetemplate_revision_unique"),
            models.UniqueConstraint(
                fields=["role", "finish_kind"], condition=Q(is_current=True), name="routetemplate_one_current"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_finish_kind_display()} {self.get_role_display()}, revision {self.revision}"


class RouteStep(models.Model):
    template = models.ForeignKey(RouteTemplate, on_delete=models.CASCADE, related_name="steps")
    position = models.PositiveSmallIntegerField()
    station = models.ForeignKey(Station, on_delete=models.PROTECT, related_name="route_steps")
    repeat = models.CharField(max_length=12, choices=StepRepeat.choices, default=StepRepeat.ONCE)
    dwell_kind = models.CharField(max_length=5, choices=DwellKind.choices, default=DwellKind.NONE, blank=True)
    dwell_h = models.FloatField(
        "dwell after, h",
        null=True,
        blank=True,
        validators=between(0, 1000),
        help_text="Empty: taken from the drum's own spec (press rest, coat, wrap).",
    )
    work_min = models.FloatField(
        "work on a shell, min",
        null=True,
        blank=True,
        validators=between(0.5, 600),
        help_text="For planning only; empty: the station's.",
    )

    class Meta:
        ordering = ["position"]
        constraints = [
            models.UniqueConstraint(
                fields=["template", "position"],
                name="routestep_position_unique",
                violation_error_message=gettext_lazy("Two steps share a place; number them in the order of work."),
            )
        ]

    def __str__(self) -> str:
        return f"{self.position}. {self.station}"


@models.CharField.register_lookup
class Among(models.Lookup):
    """``state__among``: as ``in``, with the values in the text of the statement. Only so does SQLite see, before it knows
    any value, that an index of some states has every row that is asked for; without it, it reads all steps ever made."""

    lookup_name = "among"
    prepare_rhs = False

    def as_sql(self, compiler: Any, connection: Any) -> tuple[str, tuple[Any, ...]]:
        column, values = self.process_lhs(compiler, connection)
        words = [str(word) for word in self.rhs]
        assert words and all(word.isidentifier() for word in words), "only words of the program stand in a statement"
        among = ", ".join(f"'{word}'" for word in words)
        return f"{column} IN ({among})", tuple(values)


class OperationQuerySet(models.QuerySet["Operation"]):
    def current(self) -> OperationQuerySet:
        """The one step of each unfinished shell that is to be done next, is being done or is held."""
        return self.filter(state__among=(OperationState.READY, OperationState.IN_WORK, OperationState.ON_HOLD))


class Operation(models.Model):
    """One step of one shell. Written by ``routing.release``, ``actions``, ``holds`` and ``rework`` only."""

    shell = models.ForeignKey("routing.Shell", on_delete=models.PROTECT, related_name="operations")
    position = models.PositiveSmallIntegerField()
    # No index of its own: it would find every step that was ever done at a station, and SQLite takes it when it may.
    station = models.ForeignKey(Station, on_delete=models.PROTECT, related_name="operations", db_index=False)
    title = models.CharField(max_length=80)
    coat_index = models.PositiveSmallIntegerField(null=True, blank=True, help_text="Which coat of the spec, from 0.")
    state = models.CharField(max_length=8, choices=OperationState.choices, default=OperationState.WAITING)
    attempt = models.PositiveSmallIntegerField(default=1, help_text="Rises when a signature is withdrawn or voided.")
    dwell_kind = models.CharField(max_length=5, choices=DwellKind.choices, default=DwellKind.NONE, blank=True)
    dwell_minutes = models.PositiveIntegerField(default=0)
    work_min = models.FloatField(null=True, blank=True, help_text="For planning; empty: the station's.")
    not_before = models.DateTimeField(null=True, blank=True, help_text="End of the dwell of the step before.")
    due = models.DateField(
        null=True, blank=True, help_text="The day of its order, which no release changes: a queue is read in its order."
    )
    ready_at = models.DateTimeField(null=True, blank=True)
    started_at = models.DateTimeField(null=True, blank=True)
    started_by_name = models.CharField(max_length=80, blank=True)
    paused_at = models.DateTimeField(null=True, blank=True)
    touch_seconds = models.PositiveIntegerField(default=0, help_text="Time of work before the present spell.")
    done_at = models.DateTimeField(null=True, blank=True)

    objects = OperationQuerySet.as_manager()

    class Meta:
        ordering = ["shell_id", "position"]
        constraints = [
            models.UniqueConstraint(fields=["shell", "position"], name="operation_position_unique"),
            models.UniqueConstraint(
                fields=["shell"],
                condition=Q(state__in=["ready", "in_work", "on_hold"]),
                name="operation_one_current_per_shell",
            ),
        ]
        indexes = [
            # Station queues and the board read only steps that are not waiting, done or skipped: the most urgent of a
            # station in this order, and all counts of the board from the index alone.
            models.Index(
                fields=["station", "due", "ready_at", "id", "state", "not_before"],
                name="operation_queue",
                condition=Q(state__in=["ready", "in_work", "on_hold"]),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.position}. {self.title}"

    @property
    def dwell_word(self) -> str:
        """What a shell does after this step: “drying”; the film still cures when the wait comes from an earlier coat."""
        return self.get_dwell_kind_display() if self.dwell_kind else DwellKind.CURE.label

    def is_dwelling(self, now: datetime) -> bool:
        """Whether the shell still cures, dries or rests before this step."""
        return self.state == OperationState.READY and self.not_before is not None and self.not_before > now
