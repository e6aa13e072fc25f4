"""Photos of what was found, kept as files; the row holds the hash that tells whether a file is still the one taken."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from quality.models.people import Person
from quality.models.problems import Problem
from quality.models.signoffs import SignOff


class Photo(models.Model):
    problem = models.ForeignKey(Problem, null=True, blank=True, on_delete=models.PROTECT, related_name="photos")
    sign_off = models.ForeignKey(SignOff, null=True, blank=True, on_delete=models.PROTECT, related_name="photos")
    file = models.CharField(max_length=120, help_text="Place in the folder of uploaded files.")
    sha256 = models.CharField(max_length=64)
    media_type = models.CharField(max_length=20)
    taken_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    taken_at = models.DateTimeField()

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(problem__isnull=True, sign_off__isnull=False)
                | Q(problem__isnull=False, sign_off__isnull=True),
                name="photo_of_problem_or_step",
            )
        ]

    def __str__(self) -> str:
        return self.file
