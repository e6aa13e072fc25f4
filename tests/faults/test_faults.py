"""The short run of ``make faults``, on the database of this test run: three kills of each kind, a full disk, all taps again."""

from __future__ import annotations

import os
import re
import socket
import subprocess
import sys
import threading
from contextlib import closing
from dataclasses import replace

import pytest
from django.db import connection

from tests.faults import tablets
from tests.faults.judging import Written, _wrong
from tests.faults.tablets import TabletThread, Tap, Told
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


class TestSendingAgain:
    """A tablet whose line was closed while it was idle, as the server does after half a minute."""

    def test_a_line_that_was_closed_is_no_answer(self) -> None:
        with closing(Desk(down=0)) as desk:
            tablet = desk.tablet()
            assert tablet._once(tablet.taps[0]) == "ok"
            assert desk.hung_up.wait(10)
            assert tablet.send_again() == {"ok": 1}

    def test_until_it_is_answered(self) -> None:
        with closing(Desk(down=3)) as desk:
            assert desk.tablet().send_again() == {"ok": 1}
            assert desk.calls == 4

    def test_not_for_ever(self, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setattr(tablets, "TRIES_AGAIN", 3)
        with closing(Desk(down=100)) as desk:
            assert desk.tablet().send_again() == {"down": 1}
            assert desk.calls == 3


class Desk(threading.Thread):
    """Hangs up on the first ``down`` callers, answers one tap of each of the others, and hangs up without a word."""

    ANSWER = b'HTTP/1.1 200 OK\r\nContent-Type: application/json\r\nContent-Length: 11\r\n\r\n{"ok":true}'

    def __init__(self, *, down: int) -> None:
        super().__init__(daemon=True)
        self.down, self.calls = down, 0
        self.hung_up = threading.Event()
        self.door = socket.create_server(("127.0.0.1", 0))
        self.start()

    def run(self) -> None:
        while True:
            try:
                caller, _ = self.door.accept()
            except OSError:  # closed
                return
            with caller, caller.makefile("rb") as heard:
                self.calls += 1
                if self.calls > self.down:
                    length = 0
                    while (line := heard.readline()).strip():
                        name, _, value = line.partition(b":")
                        length = int(value) if name.lower() == b"content-length" else length
                    heard.read(length)
                    caller.sendall(self.ANSWER)
            self.hung_up.set()

    def close(self) -> None:
        self.door.shutdown(socket.SHUT_RDWR)
        self.door.close()
        self.join(10)

    def tablet(self) -> TabletThread:
        mine = {"cookies": {"csrftoken": "x"}, "own": [], "shared": []}
        filled = {"tablets": [mine], "shared": [], "points": []}
        tablet = TabletThread(0, filled, self.door.getsockname()[1], 1, Told())
        tablet.taps.append(Tap("0-0", "signed", "SS-1", answer="ok"))
        return tablet
