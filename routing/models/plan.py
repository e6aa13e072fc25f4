"""A plan of the work: which step of which shell is to begin when, where and with whom. Made anew, never corrected."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.conf import settings
from django.db import models

from routing.models.route import Operation, Station


class PlanState(models.TextChoices):
    RUNNING = "running", "being made"
    READY = "ready", "ready"
    STOPPED = "stopped", "stopped"
    FAILED = "failed", "failed"


SILENCE = timedelta(seconds=60)  # a plan that says nothing for so long is made by nobody any more


class Plan(models.Model):
    """One run of the planner from the state of the shop at ``made_at``."""

    made_at = models.DateTimeField()
    heard_at = models.DateTimeField(help_text="The last sign of life of whoever makes it.")
    made_by_name = models.CharField(max_length=80, blank=True)
    state = models.CharField(max_length=8, choices=PlanState.choices, default=PlanState.RUNNING)
    is_current = models.BooleanField(default=False, help_text="The plan that orders the work lists.")
    seed = models.PositiveIntegerField(default=1)
    time_limit_s = models.FloatField(default=20.0)
    found_by = models.CharField(max_length=40, blank=True, help_text="Solver or dispatch rule.")
    objective = models.FloatField(null=True, blank=True, help_text="Weighted lateness of the plan, in hours.")
    bound = models.FloatField(null=True, blank=True, help_text="No plan can have less, in hours.")
    elapsed_s = models.FloatField(default=0.0)
    progress_pct = models.PositiveSmallIntegerField(default=0)
    message = models.CharField(max_length=300, blank=True)
    stop_wanted = models.BooleanField(default=False)
    input_hash = models.CharField(max_length=64, blank=True, help_text="Equal inputs and seed give equal plans.")
    summary = models.JSONField(default=dict, blank=True)

    class Meta:
        ordering = ["-made_at", "-id"]
        constraints = [
            models.UniqueConstraint(
                fields=["is_current"], condition=models.Q(is_current=True), name="plan_one_current"
            ),
        ]

    def __str__(self) -> str:
        return f"plan of {self.made_at:%Y-%m-%d %H:%M}"

    def is_running(self, now: datetime) -> bool:
        return self.state == PlanState.RUNNING and now - self.heard_at <= SILENCE

    @property
    def gap_pct(self) -> int:
        """How far the weighted lateness may be above the least there can be, in % of itself."""
        return (
            round(100 * (self.objective - self.bound) / self.objective)
            if self.objective and self.bound is not None
            else 0
        )


class PlannedStep(models.Model):
    plan = models.ForeignKey(Plan, on_delete=models.CASCADE, related_name="steps")
    operation = models.ForeignKey(Operation, on_delete=models.CASCADE, related_name="planned")
    # Without an index of its own, which would find the steps of all plans: one plan's are found by the index below.
    station = models.ForeignKey(Station, on_delete=models.CASCADE, related_name="+", db_index=False)
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    person = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    campaign = models.CharField(max_length=80, blank=True, help_text="Mould or colour that is worked in one go.")
    campaign_number = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering = ["starts_at", "id"]
        constraints = [
            models.UniqueConstraint(fields=["plan", "operation"], name="plannedstep_once_in_a_plan"),
        ]
        indexes = [
            # Work lists: one station of the current plan, in order of time.
            models.Index(fields=["plan", "station", "starts_at"], name="plannedstep_work_list"),
        ]

    def __str__(self) -> str:
        return f"{self.operation} at {self.starts_at:%Y-%m-%d %H:%M}"
