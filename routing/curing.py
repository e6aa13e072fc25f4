"""When a finish has cured long enough for a carton: one rule for the step that packs and for the carton that closes."""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime, timedelta

from django.db.models import F, Q

from routing.models import Operation, OperationState, ShellSpec, StationKind


def cured_to_pack(shell_ids: Collection[int]) -> dict[int, datetime]:
    """For each shell, counted from its last coat or its wrap; a shell without a finish is not there. Two queries."""
    last: dict[int, datetime] = {}
    done = (
        Operation.objects.filter(shell__in=shell_ids, state=OperationState.DONE, done_at__isnull=False)
        .filter(Q(coat_index__isnull=False) | Q(station__kind=StationKind.WRAP))
        .order_by("position")
        .values_list("shell_id", "done_at")
    )
    for shell_id, done_at in done:
        assert done_at is not None
        last[shell_id] = done_at
    hours = ShellSpec.objects.filter(shell__in=list(last), revision=F("shell__spec_revision")).values_list(
        "shell_id", "inputs__finish__cure_to_pack_h"
    )
    return {shell_id: last[shell_id] + timedelta(hours=cures_h) for shell_id, cures_h in hours}
