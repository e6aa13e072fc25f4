"""Who signs for what a management command does."""

from __future__ import annotations

from django.utils import timezone

from routing.history import Stamp

NAME = "command line"


def command_line_stamp() -> Stamp:
    now = timezone.now()
    return Stamp(person_id=None, person_name=NAME, at=now, received_at=now, device=NAME)
