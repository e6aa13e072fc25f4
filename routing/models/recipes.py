"""What every recipe of the book has in common, and the words that several of them choose from."""

from __future__ import annotations

from typing import Any

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models.functions import Lower
from django.utils.translation import gettext_lazy

from routing.specs.inputs import FinishKind, Role

ROLE_CHOICES = [
    (Role.SNARE.value, "snare"),
    (Role.RACK_TOM.value, "rack tom"),
    (Role.FLOOR_TOM.value, "floor tom"),
    (Role.BASS.value, "bass drum"),
]
FINISH_CHOICES = [
    (FinishKind.LACQUER.value, "lacquer"),
    (FinishKind.OIL.value, "oil"),
    (FinishKind.WRAP.value, "wrap"),
]


def between(low: float, high: float) -> list[Any]:
    return [MinValueValidator(low), MaxValueValidator(high)]


class NamedRecipe(models.Model):
    """A thing in the recipe book: known by a name that no two share, and retired rather than deleted."""

    name = models.CharField(max_length=80)
    is_active = models.BooleanField("in use", default=True, help_text="Retired recipes stay on old drums.")
    note = models.CharField(max_length=300, blank=True)

    class Meta:
        abstract = True
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint(
                Lower("name"),
                name="%(class)s_name_unique",
                violation_error_message=gettext_lazy("This name is taken; choose another."),
            )
        ]

    def __str__(self) -> str:
        return self.name
