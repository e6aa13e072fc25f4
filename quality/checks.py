"""Which checks a step asks for, with the limits that this very drum's spec gives them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from quality.errors import ReadingRefused
from quality.models import CheckKind, CheckPoint, Judged
from routing.models import Operation, Shell
from routing.specs.errors import SpecError
from routing.specs.tuning import Evenness, evenness


@dataclass(frozen=True, slots=True)
class Check:
    """A check point as it stands for one step of one shell. Limits are None where there is none."""

    point: CheckPoint
    nominal: float | None
    low: float | None
    high: float | None
    places: int = 1
    head: Mapping[str, Any] | None = None  # of the spec, where pitches of a head are read

    @property
    def numbered(self) -> range:
        """The places where it is measured, from 1."""
        return range(1, self.places + 1)

    @property
    def is_spread(self) -> bool:
        return self.places > 1 and self.point.judged == Judged.SPREAD

    @property
    def key(self) -> str:
        """Under which its answer comes in."""
        return str(self.point.pk)

    @property
    def is_measured(self) -> bool:
        return self.point.kind == CheckKind.MEASURED

    @property
    def limits(self) -> str:
        """The limits as words: “138.7 … 139.7 mm”, “at most 1.5 mm”."""
        unit = f" {self.point.unit}" if self.point.unit else ""
        if self.low is not None and self.high is not None:
            return f"{self.low:.6g} … {self.high:.6g}{unit}"
        if self.high is not None:
            return f"at most {self.high:.6g}{unit}"
        if self.low is not None:
            return f"at least {self.low:.6g}{unit}"
        return ""

    def accepts(self, value: float) -> bool:
        # Readings carry the decimals of a gauge; a hair of floating point must not fail one that stands on its limit.
        slack = 1e-9 * max(1.0, abs(value))
        return (self.low is None or value >= self.low - slack) and (self.high is None or value <= self.high + slack)


@dataclass(frozen=True, slots=True)
class CheckedReading:
    check: Check
    value: float | None  # what was judged; None for yes and no
    passed: bool
    values: tuple[float, ...] = ()  # all readings where there are several

    @property
    def evenness(self) -> Evenness | None:
        """How even the pitches at the lugs of a head are; None for anything else."""
        if self.check.point.unit != "Hz" or len(self.values) < 4:
            return None
        allowed = self.check.point.plus or self.check.point.minus or 3.0
        try:
            return evenness(self.values, allowed, None if self.check.is_spread else self.check.nominal)
        except SpecError:
            return None  # no pitch of a drum: the limits say so anyway

    def _implied(self, mean_hz: float) -> str:
        """What the mean pitch says of an ideal head: its note scales with the pitch, its tension with the square."""
        head = self.check.head
        if head is None or not head.get("target_hz"):
            return ""
        ratio = mean_hz / head["target_hz"]
        return (
            f"; as an ideal head {head['fundamental_hz'] * ratio:.0f} Hz struck in the middle, "
            f"{head['tension_n_per_m'] * ratio**2:.0f} N/m"
        )

    @property
    def shown(self) -> str:
        """“231 / 233 / 229 Hz (spread 30 cents)”, “0.8 mm”, “no”."""
        if self.value is None:
            return "yes" if self.passed else "no"
        unit = f" {self.check.point.unit}" if self.check.point.unit else ""
        if not self.values:
            return f"{self.value:g}{unit}"
        every = " / ".join(f"{value:g}" for value in self.values) + unit
        even = self.evenness
        if even is not None:
            return f"{every} (spread {even.spread_cents:.0f} cents{self._implied(even.mean_hz)})"
        return f"{every}, {'spread' if self.check.is_spread else 'worst'} {self.value:g}{unit}"


def spec_value(results: Mapping[str, Any], key: str) -> Any:
    """The value at a dotted place of a frozen spec, e.g. ``shell.depth_mm``; list places are numbers. None when absent."""
    here: Any = results
    for part in key.split("."):
        if isinstance(here, Mapping):
            here = here.get(part)
        elif isinstance(here, list) and part.isdigit() and int(part) < len(here):
            here = here[int(part)]
        else:
            return None
    return here


def checks_for(operation: Operation, shell: Shell, results: Mapping[str, Any]) -> list[Check]:
    """The checks of a step, in order. ``operation.station`` and ``shell.model``/``finish`` are read."""
    points = CheckPoint.objects.filter(station=operation.station, is_current=True).order_by("position", "id")
    return checks_among(points, operation, shell, results)


def checks_among(
    points: Iterable[CheckPoint], operation: Operation, shell: Shell, results: Mapping[str, Any]
) -> list[Check]:
    """Those of ``points`` that a step asks for, in their order; for many steps at once."""
    return [
        _check(point, results, operation)
        for point in points
        if point.station_id == operation.station_id
        and point.role in ("", shell.model.role)
        and point.finish_kind in ("", shell.finish.kind)
    ]


def _check(point: CheckPoint, results: Mapping[str, Any], operation: Operation) -> Check:
    if point.kind != CheckKind.MEASURED:
        return Check(point, None, None, None)
    nominal = point.nominal
    if point.spec_key:
        key = point.spec_key.replace("{coat}", str(operation.coat_index or 0))
        found = spec_value(results, key)
        nominal = float(found) if isinstance(found, int | float) and not isinstance(found, bool) else None
    minus, plus = point.minus, point.plus
    allowed = spec_value(results, point.tolerance_key) if point.tolerance_key else None
    if isinstance(allowed, int | float):
        minus, plus = (None if limit is None else float(allowed) for limit in (minus, plus))
    head = spec_value(results, point.spec_key.rpartition(".")[0]) if point.unit == "Hz" else None
    return Check(
        point,
        nominal,
        None if nominal is None or minus is None else nominal - minus,
        None if nominal is None or plus is None else nominal + plus,
        _places(point, results),
        head if isinstance(head, dict) and "tension_n_per_m" in head else None,
    )


def _places(point: CheckPoint, results: Mapping[str, Any]) -> int:
    found = spec_value(results, point.places_key) if point.places_key else None
    return min(16, max(1, found if isinstance(found, int) else point.places))


def read_checks(checks: list[Check], answers: Mapping[str, str]) -> list[CheckedReading]:
    """Answers from the screen (check point id → text) as readings. Raises ReadingRefused for a missing or unreadable one."""
    readings = []
    for check in checks:
        answer = answers.get(check.key, "").strip()
        if not answer:
            raise ReadingRefused("missing", f"Still to be checked: {check.point.text}")
        if check.is_measured and check.low is None and check.high is None:
            raise ReadingRefused(
                "no_limits",
                f"“{check.point.text}” has no limits for this drum; a supervisor puts the check point right in the recipe book.",
            )
        if not check.is_measured:
            if answer not in {"yes", "no"}:
                raise ReadingRefused("not_yes_or_no", f"Answer yes or no: {check.point.text}")
            readings.append(CheckedReading(check, None, answer == "yes"))
            continue
        readings.append(_measured(check, answer))
    return readings


def _measured(check: Check, answer: str) -> CheckedReading:
    """One reading, or as many as there are places, with spaces or semicolons between them."""
    words = answer.replace(";", " ").split()
    values = tuple(_number(word, check) for word in words)
    if len(values) != check.places:
        raise ReadingRefused(
            "readings_missing", f"{check.places} readings are wanted, {len(values)} came: {check.point.text}"
        )
    if check.places == 1:
        return CheckedReading(check, values[0], check.accepts(values[0]))
    if check.is_spread:
        spread = max(values) - min(values)
        return CheckedReading(check, spread, check.accepts(spread), values)
    worst = max(values, key=lambda value: abs(value - (check.nominal or 0.0)))
    return CheckedReading(check, worst, all(check.accepts(value) for value in values), values)


def _number(word: str, check: Check) -> float:
    try:
        value = float(word.replace(",", "."))
    except ValueError:
        value = float("nan")
    if not abs(value) < 1e6:
        raise ReadingRefused("not_a_number", f"“{word[:20]}” is not a number: {check.point.text}")
    return value
