"""Problems found on a shell: each holds the shell until someone with the right settles it."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from quality.models.people import Person
from routing.models import Operation, Shell


class Disposition(models.TextChoices):
    """What was decided about a shell on hold."""

    RELEASED = "released", "released from hold"
    REWORK = "rework", "rework"
    AS_IS = "as_is", "use as is"
    REGRADE = "regrade", "regrade"
    SCRAP = "scrap", "scrap and replace"


class Severity(models.TextChoices):
    MINOR = "minor", "minor"
    MAJOR = "major", "major"
    CRITICAL = "critical", "critical"


class Defect(models.Model):
    """A name for what can go wrong: where it usually shows and comes from, how bad it is, what is usually decided."""

    code = models.CharField(max_length=6, unique=True)
    name = models.CharField(max_length=80)
    found_at = models.CharField(max_length=80, blank=True, help_text="Station kinds where it shows, comma-separated.")
    caused_at = models.CharField(
        max_length=80,
        blank=True,
        help_text="Station kinds where it usually comes from, comma-separated; empty: outside.",
    )
    severity = models.CharField(max_length=8, choices=Severity.choices, default=Severity.MAJOR)
    usual_disposition = models.CharField(
        max_length=8,
        choices=Disposition.choices,
        blank=True,
        help_text="What is usually decided; a supervisor decides.",
    )
    is_active = models.BooleanField("in use", default=True, help_text="Without the tick it is no longer offered.")

    class Meta:
        ordering = ["code"]

    def __str__(self) -> str:
        return f"{self.code} {self.name}"


class ProblemState(models.TextChoices):
    OPEN = "open", "open"
    SETTLED = "settled", "settled"


class Problem(models.Model):
    shell = models.ForeignKey(Shell, on_delete=models.PROTECT, related_name="problems")
    operation = models.ForeignKey(Operation, on_delete=models.PROTECT, related_name="problems")
    defect = models.ForeignKey(Defect, null=True, blank=True, on_delete=models.PROTECT, related_name="problems")
    text = models.CharField(max_length=300)
    found_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="problems_found")
    found_at = models.DateTimeField()
    state = models.CharField(max_length=8, choices=ProblemState.choices, default=ProblemState.OPEN)
    settled_by = models.ForeignKey(Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    settled_at = models.DateTimeField(null=True, blank=True)
    settlement = models.CharField(max_length=300, blank=True)
    disposition = models.CharField(
        max_length=8, choices=Disposition.choices, blank=True, help_text="What was decided; empty while it is open."
    )
    allowed_by = models.CharField(max_length=80, blank=True, help_text="Who allowed it to be used as it is.")

    class Meta:
        ordering = ["-found_at"]
        constraints = [
            # One open problem holds a shell; more findings are added to its text.
            models.UniqueConstraint(fields=["shell"], condition=Q(state="open"), name="problem_one_open_per_shell"),
        ]

    def __str__(self) -> str:
        return f"{self.shell}: {self.text}"
