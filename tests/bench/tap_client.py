"""Tablets that tap: one process, one thread, prepared requests over kept connections, so that it takes little of the machine.

``python -m tests.bench.tap_client PLAN``: PLAN is a JSON file (see ``Plan``); what was seen is printed as JSON (``Seen``).
"""

from __future__ import annotations

import json
import selectors
import socket
import subprocess
import sys
import tempfile
import time
from collections import deque
from dataclasses import asdict, dataclass, field
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]


@dataclass(frozen=True, slots=True)
class Plan:
    """Each tablet has a connection of its own and taps in order; it waits for an answer before its next tap."""

    host: str
    port: int
    tablets: list[list[str]]  # for each tablet its requests, whole, in Latin-1
    seconds_between: float = 0.0  # between two taps of one tablet, whether answered or not; 0: as fast as answers come
    warm: int = 0  # so many taps of each tablet are not counted


@dataclass(slots=True)
class Seen:
    waits_ms: list[float] = field(default_factory=list)  # from the moment a tap was due to its whole answer
    failed: list[str] = field(default_factory=list)  # first line of answers that were no success
    seconds: float = 0.0  # from the first counted tap until the first tablet had no more: all tablets tap
    within: int = 0  # taps answered in that time
    busy: float = 0.0  # share of one core that this process took
    late_ms: float = 0.0  # how much later than due a tap was sent at worst, although its tablet was free


def tap(plan: Plan) -> Seen:
    """Send a plan from a process of its own."""
    with tempfile.NamedTemporaryFile("w", suffix=".json") as file:
        json.dump(asdict(plan), file)
        file.flush()
        command = [sys.executable, "-m", "tests.bench.tap_client", file.name]
        done = subprocess.run(command, check=True, capture_output=True, text=True, cwd=ROOT)
    return Seen(**json.loads(done.stdout))


class _Tablet:
    def __init__(self, plan: Plan, number: int) -> None:
        self.socket = socket.create_connection((plan.host, plan.port))
        self.socket.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        self.requests = deque(each.encode("latin-1") for each in plan.tablets[number])
        self.sent = 0
        self.due = 0.0  # of the tap under way, or of the next
        self.free_since = 0.0
        self.waiting = False
        self.answer = b""

    def send(self) -> None:
        self.waiting = True
        self.sent += 1
        self.socket.sendall(self.requests.popleft())

    def whole_answer(self) -> bytes | None:
        """Reads what has come; the answer when it is whole."""
        read = self.socket.recv(65536)
        if not read:
            raise ConnectionError("The server hung up.")
        self.answer += read
        head, found, body = self.answer.partition(b"\r\n\r\n")
        if not found:
            return None
        lines = head.lower().split(b"\r\n")
        length = next((int(line[15:]) for line in lines if line.startswith(b"content-length:")), None)
        assert length is not None, f"An answer without a length: {head!r}"
        if len(body) < length:
            return None
        whole, self.answer = self.answer, b""
        return whole


class _Tapping:
    """All the tablets of a plan and what was seen of them."""

    def __init__(self, plan: Plan) -> None:
        self.plan = plan
        self.seen = Seen()
        self.tablets = [_Tablet(plan, number) for number in range(len(plan.tablets))]
        self.counted_from = self.busy_from = 0.0
        self.watch = selectors.DefaultSelector()
        for tablet in self.tablets:
            self.watch.register(tablet.socket, selectors.EVENT_READ, tablet)

    def run(self) -> Seen:
        begun = time.perf_counter()
        for number, tablet in enumerate(self.tablets):  # evenly spread, as people who don't know of each other
            tablet.due = begun + self.plan.seconds_between * number / len(self.tablets)
        while any(tablet.requests or tablet.waiting for tablet in self.tablets):
            soonest = self._send_what_is_due()
            for key, _ in self.watch.select(max(0.0, soonest - time.perf_counter())):
                answer = key.data.whole_answer()
                if answer is not None:
                    self._take(key.data, answer)
        return self.seen

    def _send_what_is_due(self) -> float:
        """Sends it, and says when the next tap is due."""
        now = time.perf_counter()
        soonest = now + 0.2
        for tablet in self.tablets:
            if tablet.waiting or not tablet.requests:
                continue
            if tablet.due > now:
                soonest = min(soonest, tablet.due)
                continue
            if tablet.sent == self.plan.warm and not self.counted_from:
                self.counted_from, self.busy_from = now, time.process_time()
            if self.plan.seconds_between:
                self.seen.late_ms = max(self.seen.late_ms, (now - max(tablet.due, tablet.free_since)) * 1000)
            else:
                tablet.due = now
            tablet.send()
        return soonest

    def _take(self, tablet: _Tablet, answer: bytes) -> None:
        now, seen = time.perf_counter(), self.seen
        tablet.waiting, tablet.free_since = False, now
        if not answer.startswith(b"HTTP/1.1 200") or b'"ok": true' not in answer:
            seen.failed.append(answer[:1000].decode("latin-1"))
        elif tablet.sent > self.plan.warm:
            seen.waits_ms.append((now - tablet.due) * 1000)
        seen.within += bool(self.counted_from and not seen.seconds)
        tablet.due += self.plan.seconds_between
        if not tablet.requests and not seen.seconds:
            seen.seconds = now - self.counted_from
            seen.busy = (time.process_time() - self.busy_from) / seen.seconds


if __name__ == "__main__":
    print(json.dumps(asdict(_Tapping(Plan(**json.loads(Path(sys.argv[1]).read_text()))).run())))
