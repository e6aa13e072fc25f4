"""What the record of a signature or a finding says, and the sentences that go with readings that do not pass."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.utils.translation import gettext as _

from quality.checks import CheckedReading
from quality.models import Person
from routing.history import Stamp
from routing.languages import for_the_record
from routing.spec_words import spoken


def out_of_limits(failed: Sequence[CheckedReading]) -> str:
    parts = "; ".join(failure(reading) for reading in failed)
    said = _("Not signed, this does not pass: {parts}. Put the shell on hold below, or correct the entry.")
    return said.format(parts=parts)


def failure(reading: CheckedReading) -> str:
    if reading.value is None:
        return f"{reading.check.point.text}: " + _("no")
    advice = f" {spoken(reading.evenness.advice)}" if reading.evenness else ""
    allowed = _("allowed {limits}").format(limits=reading.check.limits)
    return f"{reading.check.point.text}: {reading.shown} ({allowed}){advice}"


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
    with for_the_record():
        shown = {"values": list(reading.values), "shown": reading.shown} if reading.values else {}
    return {
        "check": reading.check.point.code,
        "check_revision": reading.check.point.revision,
        "text": reading.check.point.text,
        "value": reading.value,
        **shown,
        **({"lines": [line.name for line in reading.check.lines]} if reading.check.lines else {}),
        "low": reading.check.low,
        "high": reading.check.high,
        "unit": reading.check.point.unit,
        "passed": reading.passed,
    }
