"""The register of outside checks, and the table that ``python -m tests.published.checks`` prints."""

from __future__ import annotations

import importlib
import math
import pkgutil
import sys
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from enum import StrEnum

Value = float | str | bool | tuple[float, ...]


class Mark(StrEnum):
    PUBLISHED = "published"  # read in a source that somebody else printed
    COMPUTED = "computed"  # from a published formula, with an independent tool or by hand
    FROM_MEMORY = "from memory"  # not seen in print for this check
    COMMON_PRACTICE = "common practice"  # no source
    CONSTRUCTED = "constructed"  # a case built so that its answer is known


@dataclass(frozen=True, slots=True)
class Check:
    """One outside value. ``trap`` is a wrong value that circulates: being close to it fails, too."""

    name: str
    source: str
    expected: Value
    computed: Callable[[], Value]
    tolerance: float = 0.0  # absolute, on each number
    mark: Mark = Mark.PUBLISHED
    trap: float | str | None = None


@dataclass(frozen=True, slots=True)
class Outcome:
    check: Check
    computed: Value | None
    fault: str  # empty when it holds

    @property
    def holds(self) -> bool:
        return not self.fault


def run(check: Check) -> Outcome:
    """Compute a check and compare. An exception is a fault, as is a check that could not fail."""
    try:
        computed = check.computed()
    except Exception as error:  # whatever breaks must show as a line of the table
        return Outcome(check, None, f"{type(error).__name__}: {error}")
    return Outcome(check, computed, _fault(check, computed))


def all_checks() -> list[Check]:
    """Every check of every module beside this one, in a fixed order."""
    package = importlib.import_module("tests.published")
    found: list[Check] = []
    for module in sorted(info.name for info in pkgutil.iter_modules(package.__path__)):
        if not module.startswith("test_"):
            found.extend(getattr(importlib.import_module(f"tests.published.{module}"), "CHECKS", ()))
    return found


def _fault(check: Check, computed: Value) -> str:
    if isinstance(check.expected, str | bool):
        if type(computed) is not type(check.expected) or computed != check.expected:
            return f"expected {check.expected!r}, computed {computed!r}"
        return f"equals the trap {check.trap!r}" if computed == check.trap else ""
    wanted, got = _numbers(check.expected), _numbers(computed)
    if len(wanted) != len(got):
        return f"expected {len(wanted)} numbers, computed {len(got)}"
    for index, (one, other) in enumerate(zip(wanted, got, strict=True)):
        if not math.isfinite(other) or abs(one - other) > check.tolerance + 1e-12:
            return f"number {index + 1}: expected {one:g} ± {check.tolerance:g}, computed {other:g}"
    if isinstance(check.trap, float | int) and abs(got[0] - check.trap) <= check.tolerance:
        return f"can't be told from the trap {check.trap:g}"
    return ""


def _numbers(value: Value) -> tuple[float, ...]:
    if isinstance(value, tuple):
        return value
    return (float(value),)


def _shown(value: Value | None, other: Value | None) -> str:
    if isinstance(value, tuple) and len(value) > 4 and isinstance(other, tuple) and len(other) == len(value):
        worst = max(range(len(value)), key=lambda i: abs(value[i] - other[i]))
        return f"{value[worst]:.6g} (worst of {len(value)})"
    if isinstance(value, tuple):
        return " ".join(f"{number:.6g}" for number in value)
    if isinstance(value, float):
        return f"{value:.6g}"
    return str(value)


def table(outcomes: Iterable[Outcome]) -> str:
    """The outcomes as text in columns, with a last line that counts."""
    rows = [("", "check", "expected", "computed", "±", "mark", "source")]
    listed = list(outcomes)
    for outcome in listed:
        check = outcome.check
        rows.append(
            (
                "ok" if outcome.holds else "FAILS",
                check.name,
                _shown(check.expected, outcome.computed),
                _shown(outcome.computed, check.expected) if outcome.computed is not None else outcome.fault,
                f"{check.tolerance:g}" if check.tolerance else "exact",
                str(check.mark) + (f"; not {check.trap}" if check.trap is not None else ""),
                check.source,
            )
        )
    widths = [max(len(row[column]) for row in rows) for column in range(len(rows[0]) - 1)]
    lines = [
        "  ".join([*(cell.ljust(width) for cell, width in zip(row, widths, strict=False)), row[-1]]) for row in rows
    ]
    failed = sum(not outcome.holds for outcome in listed)
    published = {o.check.source.split(",")[0] for o in listed if o.check.mark is Mark.PUBLISHED}
    lines.append(f"{len(listed)} checks, with {len(published)} different published sources; {failed} failed.")
    return "\n".join(lines)


def main() -> int:
    outcomes = [run(check) for check in all_checks()]
    sys.stdout.write(table(outcomes) + "\n")
    return 0 if outcomes and all(outcome.holds for outcome in outcomes) else 1


if __name__ == "__main__":
    # Run as a script this file is another module than the one the checks import, with marks of its own.
    sys.exit(importlib.import_module("tests.published.checks").main())
