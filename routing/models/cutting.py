"""A cutting plan that is being made, or was: kept in the database so that every web process can show it."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.db import models

SILENCE = timedelta(seconds=30)  # a plan that says nothing for so long is made by nobody any more


class CuttingJobState(models.TextChoices):
    RUNNING = "running", "being made"
    DONE = "done", "made"
    FAILED = "failed", "not made"


class CuttingJob(models.Model):
    """What was asked for, how far it is, and what came out."""

    state = models.CharField(max_length=8, choices=CuttingJobState, default=CuttingJobState.RUNNING)
    asked = models.JSONField(help_text="Orders, day, kerf and seconds, as routing.cutting_jobs.PlanRequest.")
    progress = models.JSONField(help_text="Kind of sheet, sheets so far and the bound, as PlanProgress.")
    stop_wanted = models.BooleanField(default=False)
    started_at = models.DateTimeField()
    started_by = models.CharField(max_length=80)
    tap_key = models.CharField(max_length=64, null=True, blank=True, unique=True)
    heard_at = models.DateTimeField(help_text="The last sign of life of whoever makes it.")
    ended_at = models.DateTimeField(null=True, blank=True)
    result = models.JSONField(null=True, blank=True, help_text="The plans and what was left to cut, as PlanResult.")
    error = models.TextField(blank=True, help_text="Why there is no plan, in a sentence.")

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return f"cutting plan {self.pk}, {self.get_state_display()}"

    def is_running(self, now: datetime) -> bool:
        return self.state == CuttingJobState.RUNNING and now - self.heard_at <= SILENCE

    def was_interrupted(self, now: datetime) -> bool:
        """The process that made it is gone: the shop's machine was restarted, for one."""
        return self.state == CuttingJobState.RUNNING and not self.is_running(now)
