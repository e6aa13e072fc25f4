"""What the shop can do in a day: its hours, who is away, what is down, moulds, and rooms to dry in."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from routing.languages import day, moment
from routing.models.recipes import between
from routing.models.route import Station


def _days(first: date, last: date) -> str:
    return day(first) if first == last else _("{first} to {last}").format(first=day(first), last=day(last))


class Weekday(models.IntegerChoices):
    MONDAY = 0, "Monday"
    TUESDAY = 1, "Tuesday"
    WEDNESDAY = 2, "Wednesday"
    THURSDAY = 3, "Thursday"
    FRIDAY = 4, "Friday"
    SATURDAY = 5, "Saturday"
    SUNDAY = 6, "Sunday"


class Shift(models.Model):
    """Hours of work on one day of the week, by the shop's clock. A break is a gap between two rows."""

    weekday = models.PositiveSmallIntegerField(choices=Weekday.choices)
    starts = models.TimeField()
    ends = models.TimeField()

    class Meta:
        ordering = ["weekday", "starts"]
        constraints = [
            models.UniqueConstraint(
                fields=["weekday", "starts"],
                name="shift_start_unique",
                violation_error_message=gettext_lazy("Two shifts of this day begin at the same time."),
            ),
            models.CheckConstraint(
                condition=Q(ends__gt=F("starts")),
                name="shift_ends_after_start",
                violation_error_message=gettext_lazy("A shift ends after it begins, on the same day."),
            ),
        ]

    def __str__(self) -> str:
        return f"{_(self.get_weekday_display())} {self.starts:%H:%M}–{self.ends:%H:%M}"


class Closure(models.Model):
    """Days on which nobody works: holidays, the summer break, stock-taking."""

    first = models.DateField()
    last = models.DateField()
    reason = models.CharField(max_length=80)

    class Meta:
        ordering = ["first"]
        constraints = [
            models.CheckConstraint(
                condition=Q(last__gte=F("first")),
                name="closure_dates_in_order",
                violation_error_message=gettext_lazy("The last day lies before the first; change one of the two."),
            )
        ]

    def __str__(self) -> str:
        return f"{_days(self.first, self.last)}: {self.reason}"


class Absence(models.Model):
    """Days on which one person is away."""

    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="absences")
    first = models.DateField()
    last = models.DateField()
    reason = models.CharField(max_length=80, blank=True)

    class Meta:
        ordering = ["first"]
        constraints = [
            models.CheckConstraint(
                condition=Q(last__gte=F("first")),
                name="absence_dates_in_order",
                violation_error_message=gettext_lazy("The last day lies before the first; change one of the two."),
            )
        ]

    def __str__(self) -> str:
        return _("{name} away {days}").format(name=self.person, days=_days(self.first, self.last))


class Outage(models.Model):
    """That a station can't be used for a while: a press that is down, a booth whose filters are changed."""

    station = models.ForeignKey(Station, on_delete=models.CASCADE, related_name="outages")
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    reason = models.CharField(max_length=80)

    class Meta:
        ordering = ["starts_at"]
        constraints = [
            models.CheckConstraint(
                condition=Q(ends_at__gt=F("starts_at")),
                name="outage_times_in_order",
                violation_error_message=gettext_lazy("It ends after it begins; change one of the two times."),
            )
        ]

    def __str__(self) -> str:
        words = _("{station} down from {time}: {reason}")
        return words.format(station=self.station, time=moment(self.starts_at), reason=self.reason)


class Mould(models.Model):
    """Press moulds of one diameter. A shell stays in its mould while the glue sets."""

    diameter_in = models.FloatField("diameter, in", unique=True, validators=between(6, 28))
    count = models.PositiveSmallIntegerField(default=1, validators=between(1, 20))

    class Meta:
        ordering = ["diameter_in"]

    def __str__(self) -> str:
        return f"{self.count} × {self.diameter_in:g} in"


class DryingRoom(models.Model):
    """Where shells stand while they cure or dry, with room for so many."""

    name = models.CharField(max_length=60, unique=True)
    places = models.PositiveSmallIntegerField(default=20, validators=between(1, 1000))
    stations = models.ManyToManyField(
        Station, related_name="drying_rooms", help_text="After a step at one of these, shells wait here."
    )

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


def rooms_after(rows: Iterable[tuple[int, int, str]]) -> dict[int, str]:
    """The drying room after each station, from (station, room, name of the room). Of two for one station, the older."""
    return {station: name for station, _room, name in sorted(rows, reverse=True)}
