"""Runs every outside check, and holds the register itself to its promises."""

from __future__ import annotations

import subprocess
import sys

import pytest

from tests.published.checks import Check, all_checks, run, table

CHECKS = all_checks()


@pytest.mark.parametrize("check", CHECKS, ids=[check.name for check in CHECKS])
def test_outside_check(check: Check) -> None:
    outcome = run(check)
    assert outcome.holds, f"{check.name} ({check.source}): {outcome.fault}"


def test_each_check_has_its_own_name() -> None:
    names = [check.name for check in CHECKS]
    assert len(set(names)) == len(names)


def test_a_trap_lies_outside_the_tolerance() -> None:
    for check in CHECKS:
        if isinstance(check.trap, float | int) and isinstance(check.expected, float | int):
            assert abs(check.expected - check.trap) > check.tolerance, check.name


@pytest.mark.parametrize(
    ("check", "fault"),
    [
        (Check("off", "s", 1.0, lambda: 1.2, 0.1), "expected 1"),
        (Check("trap", "s", 1.0, lambda: 1.09, 0.1, trap=1.15), "trap"),
        (Check("not a number", "s", 1.0, lambda: float("nan"), 0.1), "expected 1"),
        (Check("too few", "s", (1.0, 2.0), lambda: (1.0,), 0.1), "2 numbers"),
        (Check("text", "s", "Y", lambda: "X"), "expected 'Y'"),
        (Check("number for a truth", "s", True, lambda: 1.0), "expected True"),
        (Check("breaks", "s", 1.0, lambda: 1 / 0), "ZeroDivisionError"),
    ],
    ids=lambda value: value.name if isinstance(value, Check) else "",
)
def test_what_does_not_hold_is_found(check: Check, fault: str) -> None:
    outcome = run(check)
    assert not outcome.holds
    assert fault in outcome.fault
    assert "FAILS" in table([outcome])


def test_the_command_counts_as_the_tests_do() -> None:
    printed = subprocess.run(
        [sys.executable, "-m", "tests.published.checks"], capture_output=True, text=True, check=True
    )
    assert printed.stdout.splitlines()[-1] == table([run(check) for check in CHECKS]).splitlines()[-1]
    assert " with 0 different" not in printed.stdout
