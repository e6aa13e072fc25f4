"""What happened to accounts, and what wrong tries cost: who changed what, and who has to wait."""

from __future__ import annotations

from django.db import models

from quality.models.people import Person


class AccountEvent(models.TextChoices):
    MADE = "made", "account made"
    NAME = "name", "name changed"
    USERNAME = "username", "user name changed"
    ROLE = "role", "role changed"
    LANGUAGE = "language", "language changed"
    CLOSED = "closed", "account closed"
    OPENED = "opened", "account opened again"
    QUALIFIED = "qualified", "qualified"
    PIN = "pin", "new PIN"
    PASSWORD = "password", "new password"
    UNLOCKED = "unlocked", "wrong tries forgotten"


class AccountChange(models.Model):
    """One change of an account: who, when and what, never a secret. The database refuses to change or delete it."""

    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="account_changes")
    what = models.CharField(max_length=9, choices=AccountEvent.choices)
    before = models.CharField(max_length=200, blank=True)
    after = models.CharField(max_length=200, blank=True)
    by = models.ForeignKey(Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    by_name = models.CharField(max_length=80, help_text="As it was then; “command line” for a command.")
    at = models.DateTimeField()

    class Meta:
        ordering = ["-at", "-pk"]
        indexes = [models.Index(fields=["person", "-at"], name="account_change_by_person")]

    def __str__(self) -> str:
        return f"{self.person_id}: {self.what}"


class TriesOf(models.TextChoices):
    ACCOUNT = "account", "an account, from browsers that do not know it"
    BROWSER = "browser", "an account, from one browser that knows it"
    ADDRESS = "address", "an address"
    CARDS = "cards", "an address that asks for cards"


class WrongTries(models.Model):
    """Wrong tries in a row, by what they are counted for, and until when no more are looked at."""

    counts = models.CharField(max_length=8, choices=TriesOf.choices)
    key = models.CharField(max_length=80, help_text="A hash for accounts: people type passwords where a name belongs.")
    account = models.CharField(max_length=64, blank=True, help_text="The same hash on all rows of one account.")
    failed = models.PositiveIntegerField(default=0)
    last_at = models.DateTimeField()
    locked_until = models.DateTimeField(null=True, blank=True)

    class Meta:
        verbose_name_plural = "wrong tries"
        constraints = [models.UniqueConstraint(fields=["counts", "key"], name="wrong_tries_unique")]
        indexes = [
            models.Index(fields=["account"], name="wrong_tries_by_account"),
            models.Index(fields=["last_at"], name="wrong_tries_by_time"),
        ]

    def __str__(self) -> str:
        return f"{self.counts} {self.key}: {self.failed}"
