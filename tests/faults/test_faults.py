"""The short run of ``make faults``, on the database of this test run: three kills of each kind, a full disk, all taps again."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from dataclasses import replace

import pytest
from django.db import connection

from tests.faults.judging import Written, _wrong
from tests.faults.tablets import Tap
from tests.places import ROOT


def test_no_acknowledged_tap_is_lost(transactional_db: None) -> None:
    """In a process of its own: it mounts a small disk that nobody else sees."""
    database = "postgres" if connection.vendor == "postgresql" else "sqlite"
    name = str(connection.settings_dict["NAME"])
    ended = subprocess.run(
        [
            *(sys.executable, "-m", "tests.faults", "--kills", "3", "--db", database),
            *("--tables-from", _address(name) if database == "postgres" else name),
        ],
        cwd=ROOT,
        env=os.environ,
        check=False,
        capture_output=True,
        text=True,
    )
    assert ended.returncode == 0, ended.stdout + ended.stderr[-4000:]
    counts = re.search(r"(\d+) taps acknowledged, (\d+) of them found once and whole", ended.stdout)
    assert counts, ended.stdout
    assert int(counts[1]) == int(counts[2]) >= 40


def _address(name: str) -> str:
    from urllib.parse import urlsplit

    return urlsplit(os.environ["DATABASE_URL"])._replace(path=f"/{name}").geturl()


class TestTheJudge:
    """It finds what it is there to find."""

    TAP = Tap("0-1", "signed", "SS-1", [1.0, 2.0, 3.0], "ok", fields={"note": "0-1"})
    ROW = Written(
        "signed", "SS-1", {"note": "0-1", "readings": [{"value": n} for n in (1.0, 2.0, 3.0)]}, 1, 0, [1.0, 2.0, 3.0]
    )

    def test_a_tap_that_is_there(self) -> None:
        assert list(_wrong([self.TAP], {"0-1": [self.ROW]})) == []

    @pytest.mark.parametrize(
        ("rows", "says"),
        [
            ([], "on record 0 times"),
            ([ROW, ROW], "on record 2 times"),
            ([replace(ROW, sign_offs=0)], "its signature"),
            ([replace(ROW, readings=[1.0, 2.0])], "its readings"),
            ([replace(ROW, serial="SS-2")], "SS-2 instead of"),
            ([replace(ROW, kind="withdrawn")], "withdrawn SS-1 instead of"),
        ],
    )
    def test_a_tap_that_is_not_there_once_and_whole(self, rows: list[Written], says: str) -> None:
        (wrong,) = _wrong([self.TAP], {"0-1": rows})
        assert says in wrong

    def test_a_photo_that_is_missing(self) -> None:
        (wrong,) = _wrong([replace(self.TAP, photo=b"x")], {"0-1": [self.ROW]})
        assert "its photo" in wrong

    def test_a_refused_tap_on_record(self) -> None:
        (wrong,) = _wrong([replace(self.TAP, answer="refused")], {"0-1": [self.ROW]})
        assert "was refused and is on record" in wrong

    def test_one_that_was_never_answered_may_be_there_or_not(self) -> None:
        unanswered = replace(self.TAP, answer="")
        assert list(_wrong([unanswered], {})) == []
        assert list(_wrong([unanswered], {"0-1": [self.ROW]})) == []
