"""How steady a check is: its readings as a control chart, and whether they keep their limits."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.db.models.functions import TruncDate
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from quality.figures.findings import Finding
from quality.figures.span import Span
from quality.models import CheckKind, CheckPoint, Reading, SignOff
from quality.statistics import (
    Capability,
    Chart,
    StatisticsError,
    capability,
    count_chart,
    individuals_chart,
    means_chart,
    proportion_chart,
)
from quality.statistics.capability import ENOUGH
from quality.statistics.charts import LARGEST_SUBGROUP
from routing.languages import day, moment, numeral
from routing.models import RecordKind, ShellRecord

MOST = 500  # readings in one chart
# In English for the file, translated where a page shows them.
HEAD = (
    gettext_noop("Serial"),
    gettext_noop("When"),
    gettext_noop("Who"),
    gettext_noop("Read"),
    gettext_noop("Allowed"),
    gettext_noop("Charted"),
    gettext_noop("Passed"),
)
HEAD_BY_DAY = (gettext_noop("Day"), gettext_noop("Looked at"), gettext_noop("Did not pass"), gettext_noop("Part"))


@dataclass(frozen=True, slots=True)
class Taken:
    """One reading of a check as it stands in the record."""

    serial: str
    at: datetime
    person: str
    value: float | None
    values: tuple[float, ...]
    low: float | None
    high: float | None
    passed: bool


@dataclass(frozen=True, slots=True)
class CheckFigures:
    """A chart with the points it is made of; ``chart`` is None, with the reason, where there are too few."""

    point: CheckPoint
    chart: Chart | None
    labels: tuple[str, ...]  # a serial, or a day, for each point of the first panel
    rows: tuple[tuple[str, ...], ...]  # the table beside the picture
    head: tuple[str, ...]
    what: str  # what is charted, in words
    by_distance: bool  # charted is not what was read but how far it lies from the middle of what its drum allows
    allowed: tuple[float | None, float | None]
    capability: Capability | None
    readings: int
    left_out: int  # older ones, beyond the newest 500
    reason: str

    @property
    def cautions(self) -> list[str]:
        """What to know before the capability is believed, in words."""
        able = self.capability
        if able is None:
            return []
        return [_(each).format(readings=able.readings, enough=ENOUGH) for each in able.cautions]

    @property
    def signals(self) -> list[tuple[str, str, str]]:
        """(panel, point, what it says) of every signal, in order."""
        if self.chart is None:
            return []
        return [
            (panel.name, self.labels[panel.first + signal.place], signal.words)
            for panel in self.chart.panels
            for signal in panel.signals
        ]


def measured_checks() -> list[CheckPoint]:
    """The newest revision of every check, in the order of the stations; retired ones last."""
    newest: dict[str, CheckPoint] = {}
    for point in CheckPoint.objects.select_related("station").order_by("code", "revision"):
        newest[point.code] = point
    return sorted(
        newest.values(), key=lambda point: (not point.is_current, point.station.position, point.position, point.pk)
    )


def figures_of_check(code: str, span: Span) -> CheckFigures | None:
    """The chart of a check over all its revisions, or None when no check has this code.

    Signed readings count, also those of steps that were done again, and readings that put a shell on hold; what was
    withdrawn does not. One reading a drum: individuals and moving range. Several: means and ranges. Yes or no, and
    counts: the part that failed, by day.
    """
    point = CheckPoint.objects.filter(code=code).select_related("station").order_by("-revision").first()
    if point is None:
        return None
    taken = sorted([*_signed(code, span), *_held(code, span)], key=lambda each: each.at)
    left_out = max(0, len(taken) - MOST)
    taken = taken[left_out:]
    if point.kind != CheckKind.MEASURED:
        return _by_day(point, taken, left_out)
    return _measured(point, [each for each in taken if each.value is not None], left_out)


def findings_chart(findings: Iterable[Finding], span: Span) -> tuple[Chart | None, list[tuple[date, int]]]:
    """Findings for each day on which anything was signed, as a chart of counts; None with fewer than two such days."""
    signed = (
        SignOff.objects.filter(span.within("at", "operation__shell__"))
        .order_by()
        .annotate(day=TruncDate("at"))
        .values_list("day", flat=True)
        .distinct()
    )
    counts = Counter(timezone.localdate(finding.at) for finding in findings)
    days = sorted(set(signed) | set(counts))
    table = [(day, counts[day]) for day in days]
    return (count_chart([count for _, count in table]) if len(table) > 1 else None), table


def _signed(code: str, span: Span) -> Iterator[Taken]:
    newest = (
        Reading.objects.filter(
            span.within("sign_off__at", "sign_off__operation__shell__"),
            check_point__code=code,
            sign_off__withdrawal__isnull=True,
        )
        .select_related("sign_off__record__shell")
        .order_by("-sign_off__at", "-pk")[: MOST + 1]
    )
    for reading in newest:
        record = reading.sign_off.record
        for entry in record.body.get("readings", ()):
            if entry["check"] == code:
                yield _taken(record, entry)


def _held(code: str, span: Span) -> Iterator[Taken]:
    records = ShellRecord.objects.filter(
        span.within("at", "shell__"), kind=RecordKind.HELD, body__has_key="readings"
    ).select_related("shell")
    for record in records:
        for entry in record.body["readings"]:
            if entry["check"] == code:
                yield _taken(record, entry)


def _taken(record: ShellRecord, entry: dict[str, Any]) -> Taken:
    return Taken(
        serial=record.shell.serial,
        at=record.at,
        person=record.person_name,
        value=entry["value"],
        values=tuple(entry.get("values", ())),
        low=entry["low"],
        high=entry["high"],
        passed=entry["passed"],
    )


def _measured(point: CheckPoint, taken: Sequence[Taken], left_out: int) -> CheckFigures:
    shared = len({(each.low, each.high) for each in taken}) <= 1
    shifts = [0.0 if shared else _middle(each) for each in taken]
    allowed = _allowed(taken, shifts)
    sizes = {len(each.values) for each in taken}
    in_groups = len(sizes) == 1 and 2 <= next(iter(sizes)) <= LARGEST_SUBGROUP and point.judged != "spread"
    single = [(each.value or 0.0) - shift for each, shift in zip(taken, shifts, strict=True)]
    groups = [[value - shift for value in each.values] for each, shift in zip(taken, shifts, strict=True)]
    reason, chart, able = "", None, None
    try:
        chart = means_chart(groups) if in_groups else individuals_chart(single)
        if allowed != (None, None):
            every = [value for group in groups for value in group] if in_groups else single
            able = capability(
                every, low=allowed[0], high=allowed[1], sigma_within=chart.sigma, in_control=chart.in_control
            )
    except StatisticsError as error:
        reason = _(error.message)
    what = _("the readings")
    if not shared:
        what = _("the distance of each reading from the middle of what its drum allows")
    if in_groups:
        words = _("means and ranges of {n} readings a drum; charted are {what}")
        what = words.format(n=next(iter(sizes)), what=what)
    passed, failed = _("yes"), _("no")
    shown = groups if in_groups else [[value] for value in single]
    return CheckFigures(
        point=point,
        chart=chart,
        labels=tuple(each.serial for each in taken),
        head=HEAD,
        rows=tuple(
            (
                each.serial,
                moment(each.at),
                each.person,
                " / ".join(numeral(value) for value in each.values or (each.value or 0.0,)),
                _limits(each),
                " / ".join(numeral(round(value, 6)) for value in values),
                passed if each.passed else failed,
            )
            for each, values in zip(taken, shown, strict=True)
        ),
        what=what,
        by_distance=not shared,
        allowed=allowed,
        capability=able,
        readings=len(taken),
        left_out=left_out,
        reason=reason,
    )


def _by_day(point: CheckPoint, taken: Sequence[Taken], left_out: int) -> CheckFigures:
    looked: Counter[date] = Counter(timezone.localdate(each.at) for each in taken)
    failed: Counter[date] = Counter(timezone.localdate(each.at) for each in taken if not each.passed)
    days = sorted(looked)
    reason, chart = "", None
    try:
        chart = proportion_chart([failed[on] for on in days], [looked[on] for on in days])
    except StatisticsError as error:
        reason = _(error.message)
    return CheckFigures(
        point=point,
        chart=chart,
        labels=tuple(day(on) for on in days),
        head=HEAD_BY_DAY,
        rows=tuple(
            (day(on), str(looked[on]), str(failed[on]), f"{numeral(failed[on] / looked[on] * 100, '.1f')} %")
            for on in days
        ),
        what=_("the part of the drums that did not pass, day by day"),
        by_distance=False,
        allowed=(None, None),
        capability=None,
        readings=len(taken),
        left_out=left_out,
        reason=reason,
    )


def _middle(taken: Taken) -> float:
    """What a reading is compared with where drums have limits of their own: their middle, or the one limit there is."""
    limits = [limit for limit in (taken.low, taken.high) if limit is not None]
    return sum(limits) / len(limits) if limits else 0.0


def _allowed(taken: Sequence[Taken], shifts: Sequence[float]) -> tuple[float | None, float | None]:
    """Limits that hold for every reading as charted: the narrowest, where drums differ."""
    lows = [each.low - shift for each, shift in zip(taken, shifts, strict=True) if each.low is not None]
    highs = [each.high - shift for each, shift in zip(taken, shifts, strict=True) if each.high is not None]
    low = max(lows) if len(lows) == len(taken) and lows else None
    high = min(highs) if len(highs) == len(taken) and highs else None
    return low, high


def _limits(taken: Taken) -> str:
    if taken.low is not None and taken.high is not None:
        return f"{numeral(taken.low, '.6g')} … {numeral(taken.high, '.6g')}"
    if taken.high is not None:
        return _("at most {limit}").format(limit=numeral(taken.high, ".6g"))
    return "" if taken.low is None else _("at least {limit}").format(limit=numeral(taken.low, ".6g"))
