"""The air at a station: read once a shift, and what follows from it for coats and glue."""

from __future__ import annotations

import math
from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any

from django.utils.translation import gettext as _

from routing.errors import NotAllowedNow
from routing.history import Stamp
from routing.models import Operation, RoomReading, Station, StationKind
from routing.prepared import Prepared
from routing.spec_words import spoken
from routing.specs.coats import coat_in
from routing.specs.errors import require_between
from routing.specs.gluing import clocks
from routing.specs.inputs import CoatInputs, GlueInputs, PlateInputs, RoomInputs
from routing.specs.jsonable import from_json, to_json
from routing.specs.moisture import moisture
from routing.turnstile import writing

Results = Mapping[str, Any]
SHIFT = timedelta(hours=12)  # an older reading says nothing about the air now
KINDS = frozenset({StationKind.CUT, StationKind.PRESS, StationKind.SEAL, StationKind.FINISH, StationKind.WRAP})
_COATING = frozenset({StationKind.SEAL, StationKind.FINISH})


def asks_for_air(station: Station) -> bool:
    """Whether the work at a station follows the air, so that it is read there."""
    return station.kind in KINDS


_NEWEST = Prepared(
    lambda station, at, since: RoomReading.objects.filter(station=station, at__lte=at, at__gt=since).order_by("-at")[:1]
)


def newest_reading(station: Station, at: datetime) -> RoomReading | None:
    """What the air at a station was when it was last read in this shift; None where no work follows it."""
    if not asks_for_air(station):
        return None
    return _NEWEST.first(station=station.pk, at=at, since=at - SHIFT)


def read_room(*, station: Station, temperature_c: float, humidity_pct: float, stamp: Stamp) -> RoomReading:
    """Enter the air at a station. The same values by the same person within a minute are one reading.

    Raises SpecError for a temperature outside −5 to 45 °C or a humidity outside 5 to 100 %.
    """
    require_between(temperature_c, -5.0, 45.0, field="temperature_c", unit="°C")
    require_between(humidity_pct, 5.0, 100.0, field="humidity_pct", unit="%")
    with writing():
        twin = RoomReading.objects.filter(
            station=station,
            person_name=stamp.person_name,
            temperature_c=temperature_c,
            humidity_pct=humidity_pct,
            at__gt=stamp.at - timedelta(minutes=1),
        ).first()
        return twin or RoomReading.objects.create(
            station=station,
            temperature_c=temperature_c,
            humidity_pct=humidity_pct,
            at=stamp.at,
            person_id=stamp.person_id,
            person_name=stamp.person_name,
        )


def in_this_air(results: Results, inputs: Results, reading: RoomReading | None) -> dict[str, Any]:
    """A spec's results with the clocks of the glue and the dwells of the coats as they are in the air that was read.

    The frozen spec itself stays as it is; without a reading these are its own figures.
    """
    if reading is None:
        return dict(results)
    room = RoomInputs(reading.temperature_c, reading.humidity_pct, inputs["room"]["plate_moisture_pct"])
    coats = dict(results["coats"])
    coats["coats"] = [
        {**made, **to_json(coat_in(from_json(CoatInputs, recipe), room))}
        for made, recipe in zip(coats["coats"], inputs["finish"]["coats"], strict=True)
    ]
    glue = from_json(GlueInputs, inputs["glue"])
    gluing = {**results["gluing"], "clocks": to_json(clocks(glue, reading.temperature_c))}
    water = moisture(
        plates=[from_json(PlateInputs, plate) for plate in inputs["plates"]],
        room=room,
        pressed_height_mm=results["cutting"]["pressed_height_mm"],
        spread_g_per_m2=glue.spread_g_per_m2,
        glue_solids_pct=glue.solids_pct,
    )
    return {**results, "coats": coats, "gluing": gluing, "moisture": to_json(water)}


def require_air(operation: Operation, results: Results, reading: RoomReading | None) -> None:
    """Refuse a coat where no film forms and a glue-up outside the glue's temperatures. ``results`` are in this air."""
    measured = "" if reading else " " + _("Read the room's air and enter it at this station if it is better now.")
    if operation.station.kind in _COATING and operation.coat_index is not None:
        coat = results["coats"]["coats"][operation.coat_index]
        if not coat["may_coat"]:
            raise NotAllowedNow(
                "air_stops_coat", _("Do not coat: {reason}").format(reason=spoken(coat["stop_reason"])) + measured
            )
    if operation.station.kind == StationKind.PRESS and not results["gluing"]["clocks"]["may_glue"]:
        raise NotAllowedNow(
            "air_stops_glue",
            _("Do not glue: {reason}").format(reason=spoken(results["gluing"]["clocks"]["reason"])) + measured,
        )


def dwell_minutes(operation: Operation, frozen: Results, now: Results, inputs: Results) -> int:
    """How long a shell waits after a step, from the air it was done in.

    A dwell that the route fixes stays as it is; one that came from the coat follows the air, and the last coat waits at
    least until the whole film has cured.
    """
    if operation.coat_index is None or operation.station.kind not in _COATING:
        return operation.dwell_minutes
    planned, real = (float(results["coats"]["coats"][operation.coat_index]["dwell_h"]) for results in (frozen, now))
    cure_h = float(inputs["finish"]["cure_to_drill_h"])
    is_last = operation.coat_index == len(inputs["finish"]["coats"]) - 1
    from_spec = round(max(planned, cure_h) * 60) if is_last else round(planned * 60)
    if operation.dwell_minutes != from_spec:
        return operation.dwell_minutes
    return math.ceil(max(real, cure_h) * 60) if is_last else math.ceil(real * 60)
