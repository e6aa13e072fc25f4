"""What the record of a signature or a finding says, and the sentences that go with readings that do not pass."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from quality.checks import CheckedReading
from quality.models import Person
from routing.history import Stamp


def out_of_limits(failed: Sequence[CheckedReading]) -> str:
    parts = "; ".join(failure(reading) for reading in failed)
    return f"Not signed, this does not pass: {parts}. Put the shell on hold below, or correct the entry."


def failure(reading: CheckedReading) -> str:
    if reading.value is None:
        return f"{reading.check.point.text}: no"
    advice = f" {reading.evenness.advice}" if reading.evenness else ""
    return f"{reading.check.point.text}: {reading.shown} (allowed {reading.check.limits}){advice}"


def late_body(entered_by: Person, stamp: Stamp) -> dict[str, Any]:
    """Both names and both times of a signature entered from paper, for the chain."""
    return {
        "late": {
            "signed_by": stamp.person_name,
            "on_paper_at": stamp.at.isoformat(),
            "entered_by": entered_by.name,
            "entered_by_id": entered_by.pk,
            "entered_at": stamp.received_at.isoformat(),
        }
    }


def reading_body(reading: CheckedReading) -> dict[str, Any]:
    return {
        "check": reading.check.point.code,
        "check_revision": reading.check.point.revision,
        "text": reading.check.point.text,
        "value": reading.value,
        **({"values": list(reading.values), "shown": reading.shown} if reading.values else {}),
        **({"lines": [line.name for line in reading.check.lines]} if reading.check.lines else {}),
        "low": reading.check.low,
        "high": reading.check.high,
        "unit": reading.check.point.unit,
        "passed": reading.passed,
    }
