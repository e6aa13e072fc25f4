"""What was found, where, and where it came from; customers' calls count as findings too."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from quality.figures.span import Span
from quality.models import CustomerRequest, Disposition, Problem
from quality.statistics import ParetoBar, pareto
from routing.models import RecordKind, ShellRecord, StationKind

BY_CUSTOMER = gettext_noop("the customer")
NOT_KNOWN = gettext_noop("not known")


class By(StrEnum):
    DEFECT = "defect"
    FOUND = "found"
    CAUSED = "caused"


@dataclass(frozen=True, slots=True)
class Finding:
    serial: str
    at: datetime
    defect: str
    found_at: str  # a station's name, or the customer
    caused_at: str  # a station's name, a kind of station, or not known
    decided: str

    def named(self, by: By) -> str:
        return {By.DEFECT: self.defect, By.FOUND: self.found_at, By.CAUSED: self.caused_at}[by]


def findings_between(span: Span) -> list[Finding]:
    """Newest first, in three queries. What was let go again without a defect is no finding.

    Where it came from: the step a shell was sent back to; else where the catalogue says such a defect usually comes from.
    """
    problems = (
        Problem.objects.filter(span.within("found_at", "shell__"))
        .exclude(disposition=Disposition.RELEASED, defect__isnull=True)
        .select_related("shell", "operation__station", "defect")
        .order_by("-found_at", "-pk")
    )
    sent_back = {
        record.body.get("problem"): record.operation.station.name
        for record in ShellRecord.objects.filter(
            kind=RecordKind.REWORK, at__gte=span.begins, operation__isnull=False
        ).select_related("operation__station")
        if record.operation
    }
    no_defect, still_open, by_customer = _("no defect named"), _("open"), _(BY_CUSTOMER)
    found = [
        Finding(
            serial=problem.shell.serial,
            at=problem.found_at,
            defect=problem.defect.name if problem.defect else no_defect,
            found_at=problem.operation.station.name,
            caused_at=sent_back.get(problem.pk) or _usual(problem.defect.caused_at if problem.defect else ""),
            decided=_(problem.get_disposition_display()) if problem.disposition else still_open,
        )
        for problem in problems
    ]
    requests = CustomerRequest.objects.filter(span.within("asked_at", "shell__"), cause__isnull=False).select_related(
        "shell", "cause", "caused_at"
    )
    found += [
        Finding(
            serial=request.shell.serial,
            at=request.asked_at,
            defect=request.cause.name if request.cause else no_defect,
            found_at=by_customer,
            caused_at=request.came_from
            if request.caused_at or request.from_outside
            else _usual(request.cause.caused_at if request.cause else ""),
            decided=_(request.get_state_display()),
        )
        for request in requests
    ]
    return sorted(found, key=lambda finding: finding.at, reverse=True)


def ranked(findings: Iterable[Finding], by: By) -> tuple[ParetoBar, ...]:
    return pareto(Counter(finding.named(by) for finding in findings))


def _usual(kinds: str) -> str:
    """The first of the kinds of station that a defect usually comes from, in words."""
    first = kinds.split(",")[0].strip()
    return _(StationKind(first).label) if first in StationKind.values else _(NOT_KNOWN)
