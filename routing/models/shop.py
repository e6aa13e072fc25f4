"""The one shop: its name, its habits, its paper."""

from __future__ import annotations

from django.core.validators import MaxValueValidator, MinValueValidator, RegexValidator
from django.db import models
from django.utils.translation import gettext_lazy as _

from routing.languages import Language
from routing.prepared import Prepared


class PaperSize(models.TextChoices):
    A4 = "A4", "A4"
    LETTER = "Letter", "Letter"


class Shop(models.Model):
    """Defaults that hold for every drum unless its model says otherwise. There is exactly one row."""

    name = models.CharField(max_length=80, default="My drum shop")
    serial_prefix = models.CharField(
        max_length=4,
        default="DS",
        validators=[RegexValidator(r"^[A-Z]{2,4}$", _("Use two to four capital letters, for example OW."))],
        help_text=_("Begins every serial number. Changing it does not touch serials that exist."),
    )
    paper_size = models.CharField(max_length=8, choices=PaperSize.choices, default=PaperSize.A4)
    language = models.CharField(
        max_length=2,
        choices=Language.choices,
        default=Language.ENGLISH,
        help_text=_("Of travelers, cards and tablets. The office is in English."),
    )
    head_undersize_mm = models.FloatField(
        default=3.2,
        validators=[MinValueValidator(1.6), MaxValueValidator(6.0)],
        help_text=_("How much smaller than its nominal size a shell is made, so that heads drop on and turn freely."),
    )
    trim_each_end_mm = models.FloatField(default=8.0, validators=[MinValueValidator(1.0), MaxValueValidator(40.0)])
    rough_length_allowance_mm = models.FloatField(
        default=30.0, validators=[MinValueValidator(0), MaxValueValidator(100)]
    )
    rough_width_allowance_mm = models.FloatField(
        default=20.0, validators=[MinValueValidator(0), MaxValueValidator(100)]
    )
    room_temperature_c = models.FloatField(default=20.0, validators=[MinValueValidator(0), MaxValueValidator(45)])
    room_humidity_pct = models.FloatField(default=45.0, validators=[MinValueValidator(5), MaxValueValidator(95)])
    plate_moisture_pct = models.FloatField(default=8.0, validators=[MinValueValidator(2), MaxValueValidator(20)])
    floor_idle_minutes = models.PositiveSmallIntegerField(
        default=20,
        validators=[MinValueValidator(1), MaxValueValidator(480)],
        help_text=_("A worker who taps nothing for so long is signed out of the tablet."),
    )
    withdraw_minutes = models.PositiveSmallIntegerField(
        default=10,
        validators=[MinValueValidator(1), MaxValueValidator(120)],
        help_text=_("How long a worker may withdraw their own tap without a supervisor."),
    )
    is_demo = models.BooleanField(default=False, editable=False)
    skipped_steps = models.CharField(
        max_length=120,
        blank=True,
        default="",
        editable=False,
        help_text="First steps that were skipped, by their codes.",
    )
    round_order = models.CharField(
        max_length=30,
        blank=True,
        default="",
        editable=False,
        help_text="The order of the guided round, while one is on.",
    )
    round_traced = models.CharField(
        max_length=20, blank=True, default="", editable=False, help_text="The drum that was traced in the guided round."
    )

    class Meta:
        constraints = [
            models.CheckConstraint(condition=models.Q(pk=1), name="shop_single_row"),
        ]

    def __str__(self) -> str:
        return self.name

    @classmethod
    def current(cls) -> Shop:
        """The shop's row, made with defaults when the database is new."""
        return _SHOP.first() or cls.objects.get_or_create(pk=1)[0]


_SHOP = Prepared(lambda: Shop.objects.filter(pk=1))
