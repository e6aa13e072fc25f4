"""Which checks a step asks for, with the limits that this very drum's spec gives them."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from math import ceil, floor
from typing import Any

from django.utils.translation import gettext as _

from quality.errors import ReadingRefused
from quality.models import CheckKind, CheckPoint, Judged
from routing.languages import numeral
from routing.models import Operation, Shell, StationKind
from routing.prepared import Prepared
from routing.specs.errors import SpecError
from routing.specs.tuning import Evenness, evenness

SHORT_MIN = 10.0  # less than that is said to the fraction of a minute
MOST_LINES = 40  # of one count; a longer list is counted in parts


def limits_words(least: str, most: str, unit: str) -> str:
    """“138.7 … 139.7 mm”, “at most 1.5 mm”, of limits as they are written; empty stands for a limit that there is not."""
    after = f" {unit}" if unit else ""
    if least and most:
        return f"{least} … {most}{after}"
    if most:
        return _("at most {value}").format(value=most) + after
    return _("at least {value}").format(value=least) + after if least else ""


@dataclass(frozen=True, slots=True)
class CountLine:
    """One line of the parts list that is counted."""

    name: str
    wanted: int


@dataclass(frozen=True, slots=True)
class Entry:
    """One number that is asked for: its place from 1, what it is called, and its limits."""

    number: int
    label: str
    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True)
class Check:
    """A check point as it stands for one step of one shell. Limits are None where there is none."""

    point: CheckPoint
    nominal: float | None
    low: float | None
    high: float | None
    places: int = 1
    head: Mapping[str, Any] | None = None  # of the spec, where pitches of a head are read
    lines: tuple[CountLine, ...] = ()  # of what is counted

    @property
    def entries(self) -> list[Entry]:
        """What is to be entered: each line that is counted, each place that is measured."""
        if self.lines:
            return [
                Entry(n, f"{each.name}: {each.wanted}", each.wanted, each.wanted)
                for n, each in enumerate(self.lines, 1)
            ]
        low, high = (None, None) if self.is_spread else (self.low, self.high)
        return [Entry(place, str(place), low, high) for place in range(1, self.places + 1)]

    @property
    def is_count(self) -> bool:
        return self.point.kind == CheckKind.COUNT

    @property
    def is_spread(self) -> bool:
        return self.places > 1 and self.point.judged == Judged.SPREAD

    @property
    def key(self) -> str:
        """Under which its answer comes in."""
        return str(self.point.pk)

    @property
    def is_measured(self) -> bool:
        """Whether numbers are entered, read or counted; else it is yes or no."""
        return self.point.kind != CheckKind.YES_NO

    @property
    def limits(self) -> str:
        """The limits as words: “138.7 … 139.7 mm”, “at most 1.5 mm”."""
        if self.is_count and self.high is not None:
            return f"{numeral(self.high)} {self.point.unit or _('pieces')}"
        return limits_words(self._limit(self.low, ceil), self._limit(self.high, floor), self.point.unit)

    def _limit(self, value: float | None, inward: Callable[[float], int]) -> str:
        """As it is shown: of many minutes the whole ones, rounded to the side that is allowed."""
        if value is None:
            return ""
        return numeral(inward(value) if self.point.unit == "min" and value >= SHORT_MIN else value, ".6g")

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
        return _("; as an ideal head {pitch} Hz struck in the middle, {tension} N/m").format(
            pitch=f"{head['fundamental_hz'] * ratio:.0f}", tension=f"{head['tension_n_per_m'] * ratio**2:.0f}"
        )

    @property
    def shown(self) -> str:
        """“231 / 233 / 229 Hz (spread 30 cents)”, “0.8 mm”, “no”."""
        if self.value is None:
            return _("yes") if self.passed else _("no")
        unit = f" {self.check.point.unit}" if self.check.point.unit else ""
        if self.check.lines and self.values:
            return ", ".join(
                f"{each.name} {value:g}"
                + ("" if value == each.wanted else " " + _("instead of {wanted}").format(wanted=each.wanted))
                for each, value in zip(self.check.lines, self.values, strict=True)
            )
        if not self.values:
            return f"{numeral(self.value)}{unit}"
        every = " / ".join(map(numeral, self.values)) + unit
        even = self.evenness
        if even is not None:
            spread = _("spread {value} cents").format(value=f"{even.spread_cents:.0f}")
            return f"{every} ({spread}{self._implied(even.mean_hz)})"
        which = _("spread") if self.check.is_spread else _("worst")
        return f"{every}, {which} {numeral(self.value)}{unit}"


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


_POINTS = Prepared(
    lambda station: CheckPoint.objects.filter(station=station, is_current=True).order_by("position", "id")
)


def check_points_at(operation: Operation) -> list[CheckPoint]:
    """The current check points of a step's station, in order."""
    return _POINTS.all(station=operation.station_id)


def checks_for(operation: Operation, shell: Shell, results: Mapping[str, Any]) -> list[Check]:
    """The checks of a step, in order. ``operation.station`` and ``shell.model``/``finish`` are read."""
    return checks_among(check_points_at(operation), operation, shell, results)


def checks_among(
    points: Iterable[CheckPoint], operation: Operation, shell: Shell, results: Mapping[str, Any]
) -> list[Check]:
    """Those of ``points`` that a step asks for, in their order; for many steps at once."""
    return [
        _check(point, results, operation)
        for point in points
        if _belongs(point, operation, shell) and is_sampled(point, operation, shell)
    ]


def left_to_sampling(points: Iterable[CheckPoint], operation: Operation, shell: Shell) -> list[CheckPoint]:
    """Those of ``points`` that are not asked for this drum because only every so many is looked at."""
    return [point for point in points if _belongs(point, operation, shell) and not is_sampled(point, operation, shell)]


def is_sampled(point: CheckPoint, operation: Operation, shell: Shell) -> bool:
    """Every drum, or every so many by the running number in the serial. The final check looks at every drum."""
    if point.sample_every <= 1 or operation.station.kind == StationKind.FINAL_CHECK:
        return True
    return running_number(shell.serial) % point.sample_every == 0


def running_number(serial: str) -> int:
    """The number that goes on through a year: the digits before the check character, without prefix and year."""
    digits = "".join(character for character in serial[:-1] if character.isdigit())
    return int(digits[2:] or "0")


def _belongs(point: CheckPoint, operation: Operation, shell: Shell) -> bool:
    return (
        point.station_id == operation.station_id
        and point.role in ("", shell.model.role)
        and point.finish_kind in ("", shell.finish.kind)
    )


def _check(point: CheckPoint, results: Mapping[str, Any], operation: Operation) -> Check:
    if point.kind == CheckKind.YES_NO:
        return Check(point, None, None, None)
    if point.kind == CheckKind.COUNT:
        return _count(point, results)
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


def _count(point: CheckPoint, results: Mapping[str, Any]) -> Check:
    """What is counted against the drum's own parts list; without a line there is no limit, and no signature either."""
    lines = count_lines(results, point.spec_key) if point.spec_key else ()
    if not lines and point.nominal is not None:
        lines = (CountLine("", round(point.nominal)),)
    total = float(sum(each.wanted for each in lines))
    if len(lines) > 1 or (lines and lines[0].name):
        return Check(point, total, total, total, len(lines), lines=lines)
    return Check(point, total, total, total) if lines else Check(point, None, None, None)


def count_lines(results: Mapping[str, Any], key: str) -> tuple[CountLine, ...]:
    """What a place of the spec wants counted: a whole number, or a list of lines with a name and a quantity.

    ``hardware.rods`` is a number; ``hardware.pick_list`` every line of the parts list, ``hardware.pick_list[lugs]`` those
    of one bag (``[]``: loose parts), ``hardware.bags`` the pieces bag by bag; ``:spare`` after a list counts the spare parts instead. Lines of
    which none is wanted are left out.
    """
    place, _colon, which = key.partition(":")
    place, of_a_bag, bag = place.partition("[")
    found = spec_value(results, place)
    if isinstance(found, int) and not isinstance(found, bool):
        return (CountLine("", found),)
    if not isinstance(found, list):
        return ()
    names = ("spare", "spares") if which == "spare" else ("quantity", "pieces")
    lines = []
    for line in found:
        if not isinstance(line, Mapping) or (of_a_bag and line.get("bag") != bag.rstrip("]")):
            continue
        wanted = next((line[name] for name in names if isinstance(line.get(name), int)), 0)
        if wanted:
            lines.append(CountLine(str(line.get("name") or line.get("bag") or "loose parts"), wanted))
    return tuple(lines[:MOST_LINES])


def _places(point: CheckPoint, results: Mapping[str, Any]) -> int:
    found = spec_value(results, point.places_key) if point.places_key else None
    return min(16, max(1, found if isinstance(found, int) else point.places))


def read_checks(checks: list[Check], answers: Mapping[str, str]) -> list[CheckedReading]:
    """Answers from the screen (check point id → text) as readings. Raises ReadingRefused for a missing or unreadable one."""
    readings = []
    for check in checks:
        answer = answers.get(check.key, "").strip()
        if not answer:
            raise ReadingRefused("missing", _("Still to be checked: {check}").format(check=check.point.text))
        if check.is_measured and check.low is None and check.high is None:
            raise ReadingRefused(
                "no_limits",
                _(
                    "“{check}” has no limits for this drum; a supervisor puts the check point right in the recipe book."
                ).format(check=check.point.text),
            )
        if not check.is_measured:
            if answer not in {"yes", "no"}:
                raise ReadingRefused("not_yes_or_no", _("Answer yes or no: {check}").format(check=check.point.text))
            readings.append(CheckedReading(check, None, answer == "yes"))
            continue
        readings.append(_measured(check, answer))
    return readings


def _measured(check: Check, answer: str) -> CheckedReading:
    """One reading, or as many as there are places, with spaces or semicolons between them."""
    words = answer.replace(";", " ").split()
    values = tuple(_number(word, check) for word in words)
    if check.is_count and any(value != int(value) or value < 0 for value in values):
        raise ReadingRefused(
            "no_count", _("Pieces are counted in whole numbers: {check}").format(check=check.point.text)
        )
    if len(values) != check.places:
        raise ReadingRefused(
            "readings_missing",
            _("{places} readings are wanted, {came} came: {check}").format(
                places=check.places, came=len(values), check=check.point.text
            ),
        )
    if check.lines:
        right = all(value == each.wanted for each, value in zip(check.lines, values, strict=True))
        return CheckedReading(check, sum(values), right, values)
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
        raise ReadingRefused(
            "not_a_number", _("“{typed}” is not a number: {check}").format(typed=word[:20], check=check.point.text)
        )
    return value
