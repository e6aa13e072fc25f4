"""The air at a station, read once a shift: dwells and glue clocks follow it."""

from __future__ import annotations

from django.conf import settings
from django.db import models

from routing.models.recipes import between
from routing.models.route import Station


class RoomReading(models.Model):
    station = models.ForeignKey(Station, on_delete=models.PROTECT, related_name="room_readings")
    temperature_c = models.FloatField("temperature, °C", validators=between(-5, 45))
    humidity_pct = models.FloatField("relative humidity, %", validators=between(5, 100))
    at = models.DateTimeField()
    person = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    person_name = models.CharField(max_length=80)

    class Meta:
        ordering = ["-at"]
        # The newest reading of one station.
        indexes = [models.Index(fields=["station", "-at"], name="roomreading_newest")]

    def __str__(self) -> str:
        return f"{self.station}: {self.temperature_c:g} °C, {self.humidity_pct:g} %"
