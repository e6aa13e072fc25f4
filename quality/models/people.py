"""People: one account for each person, with a role, a password for the office screens and a PIN for the floor."""

from __future__ import annotations

from datetime import date
from typing import Any, ClassVar

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.contrib.auth.validators import UnicodeUsernameValidator
from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from routing.languages import Language
from routing.models import Station


class Role(models.TextChoices):
    WORKER = "worker", "worker"
    FINAL_CHECKER = "final_checker", "final checker"
    SUPERVISOR = "supervisor", "supervisor"
    OFFICE = "office", "office"
    ADMINISTRATOR = "administrator", "administrator"


class PersonManager(BaseUserManager["Person"]):
    def create_user(self, username: str, password: str | None = None, **fields: Any) -> Person:
        person = self.model(username=username, **fields)
        person.set_password(password)
        person.save(using=self._db)
        return person

    def create_superuser(self, username: str, password: str | None = None, name: str = "") -> Person:
        """What “manage.py createsuperuser” calls: an administrator whose history begins with it."""
        from quality.accounts import make_administrator  # knows these models

        return make_administrator(username=username, name=name or username, password=password, at=timezone.now())


class Person(AbstractBaseUser):
    """Someone who works here. ``name`` is printed on travelers and cards."""

    username = models.CharField(
        max_length=40,
        unique=True,
        validators=[UnicodeUsernameValidator()],
        help_text=_("For signing in to the office screens."),
        error_messages={"unique": _("This user name is taken; choose another.")},
    )
    name = models.CharField(max_length=80, help_text=_("As it is printed on travelers and cards."))
    role = models.CharField(max_length=14, choices=Role.choices, default=Role.WORKER)
    language = models.CharField(
        max_length=2,
        choices=Language.choices,
        blank=True,
        default="",
        help_text=_("At the tablets; empty: the shop's. The office is in English."),
    )
    is_active = models.BooleanField("works here", default=True)
    version = models.PositiveIntegerField(default=0, editable=False, help_text="Rises with every edit of the account.")
    pin = models.CharField(max_length=128, blank=True, editable=False)
    pin_version = models.PositiveIntegerField(default=0, editable=False)
    failed_pins = models.PositiveSmallIntegerField(default=0, editable=False)
    locked_until = models.DateTimeField(null=True, blank=True, editable=False)

    objects: ClassVar[PersonManager] = PersonManager()

    USERNAME_FIELD = "username"
    REQUIRED_FIELDS: ClassVar[list[str]] = ["name"]

    class Meta:
        ordering = ["name"]
        verbose_name_plural = "people"

    def __str__(self) -> str:
        return self.name


class Qualification(models.Model):
    """That a person may sign at a station, from a day on, perhaps to a day."""

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="qualifications")
    station = models.ForeignKey(Station, on_delete=models.PROTECT, related_name="qualifications")
    valid_from = models.DateField()
    valid_to = models.DateField(null=True, blank=True)
    trained_by = models.ForeignKey(Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["person__name", "station__position"]
        constraints = [
            models.UniqueConstraint(
                fields=["person", "station"],
                name="qualification_unique",
                violation_error_message=_("This person has an entry for this station already; change that one."),
            ),
            models.CheckConstraint(
                condition=Q(valid_to__isnull=True) | Q(valid_to__gte=models.F("valid_from")),
                name="qualification_dates_in_order",
                violation_error_message=_("The last day lies before the first; change one of the two dates."),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.person} at {self.station}"

    def holds_on(self, day: date) -> bool:
        return self.valid_from <= day and (self.valid_to is None or day <= self.valid_to)
