"""The page of a person, as tests send and read it."""

from __future__ import annotations

from typing import Any

from quality.models import Person, Qualification

GOOD_PIN, OTHER_PIN = "730164", "951827"
PHRASE = "four words in a row"


def address(who: Person, what: str = "") -> str:
    return f"/people/{who.pk}/{what}"


def form_of(who: Person, **changes: Any) -> dict[str, Any]:
    """What the page of a person sends when ``changes`` are made; a field set to None is not sent."""
    data: dict[str, Any] = {"name": who.name, "username": who.username, "role": who.role, "version": who.version}
    if who.is_active:
        data["is_active"] = "on"
    for row in Qualification.objects.filter(person=who):
        data[f"station-{row.station_id}-holds"] = "on"
        data[f"station-{row.station_id}-valid_from"] = row.valid_from.isoformat()
        data[f"station-{row.station_id}-valid_to"] = row.valid_to.isoformat() if row.valid_to else ""
        data[f"station-{row.station_id}-trained_by"] = row.trained_by_id or ""
    return {name: value for name, value in (data | changes).items() if value is not None}


def said(answer: Any) -> str:
    text: str = answer.content.decode()
    return text
