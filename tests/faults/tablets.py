"""Ten tablets that tap over HTTP as the tablet's own script does: a tap is sent until it is answered, with the same key."""

from __future__ import annotations

import http.client
import json
import random
import threading
import time
from collections import Counter
from dataclasses import dataclass, field
from typing import Any

from tests.faults.filling import STATION

_BORDER = "----a-part-of-the-form"
GIVEN_UP = 0.02  # of the tries that fail: a tablet whose battery died; nobody learns what became of the tap
WITH_PHOTO = 0.15  # of the signatures
WAIT_S = 0.2  # before a tap is sent again
TRIES_AGAIN = 50  # of a tap that was taken in long ago, while nothing is broken any more
PATIENCE_S = 20


@dataclass
class Tap:
    """One tap, and what its tablet was told about it."""

    key: str
    kind: str  # signed or withdrawn, as the record says it
    serial: str
    values: list[float] = field(default_factory=list)
    answer: str = ""  # ok, refused, or nothing: never answered
    tries: int = 0
    fields: dict[str, str] = field(default_factory=dict)
    photo: bytes = b""


@dataclass
class Told:
    """What the whole shop's tablets have seen, for those who break things and wait."""

    changed: threading.Condition = field(default_factory=threading.Condition)
    counts: Counter[str] = field(default_factory=Counter)

    def add(self, what: str) -> None:
        with self.changed:
            self.counts[what] += 1
            self.changed.notify_all()

    def wait_for_more(self, what: str, more: int, *, patience_s: float) -> None:
        with self.changed:
            wanted = self.counts[what] + more
            if not self.changed.wait_for(lambda: self.counts[what] >= wanted, timeout=patience_s):
                raise AssertionError(
                    f"{more} more taps with the outcome {what!r} did not come in {patience_s:.0f} s: {dict(self.counts)}"
                )


class TabletThread(threading.Thread):
    """Signs and withdraws at the cut station, mostly its own shells, sometimes those that all share."""

    def __init__(self, number: int, filled: dict[str, Any], port: int, seed: int, told: Told) -> None:
        super().__init__(name=f"tablet {number}", daemon=True)
        mine = filled["tablets"][number]
        self.cookies: dict[str, str] = dict(mine["cookies"])
        self.own: list[str] = mine["own"]
        self.shared: list[str] = filled["shared"]
        self.points: list[int] = filled["points"]
        self.port, self.number, self.told = port, number, told
        self.chance = random.Random(seed * 1000 + number)
        self.signed: set[str] = set()
        self.taps: list[Tap] = []
        self.over = threading.Event()
        self.broke: BaseException | None = None
        self.line: http.client.HTTPConnection | None = None

    def run(self) -> None:
        try:
            while not self.over.is_set():
                self.send_until_answered(self._next())
        except BaseException as broke:  # said by whoever waits for this thread
            self.broke = broke
            raise

    def send_again(self) -> Counter[str]:
        """Everything that was ever taken in, once more: what a tablet does that lost its list of what was sent."""
        self._hang_up()  # the server has closed what was idle while other tablets sent
        counts = Counter(self._sent_again(tap) for tap in self.taps if tap.answer == "ok")
        self._hang_up()
        return counts

    def _sent_again(self, tap: Tap) -> str:
        for _ in range(TRIES_AGAIN - 1):
            if (answer := self._once(tap)) in ("ok", "refused"):
                return answer
            time.sleep(WAIT_S)
        return self._once(tap)

    def send_until_answered(self, tap: Tap) -> None:
        self.taps.append(tap)
        while not tap.answer:
            tap.tries += 1
            answer = self._once(tap)
            self.told.add(answer)
            if answer in ("ok", "refused"):
                tap.answer = answer
            elif self.over.is_set() or self.chance.random() < GIVEN_UP:
                return
            else:
                self.over.wait(WAIT_S)
        if tap.answer == "ok" and tap.kind == "signed":
            self.signed.add(tap.serial)
        else:
            self.signed.discard(tap.serial)

    def _next(self) -> Tap:
        shared = self.chance.random() < 0.2
        serial = self.chance.choice(self.shared if shared else self.own)
        key = f"{self.number}-{len(self.taps)}"
        if serial in self.signed:
            return Tap(key, "withdrawn", serial, fields={"reason": key})
        values = [round(self.chance.uniform(1, 999), 1) for _ in self.points]
        typed = {f"check-{point}": str(value) for point, value in zip(self.points, values, strict=True)}
        photo = _picture(self.chance) if self.chance.random() < WITH_PHOTO else b""
        return Tap(key, "signed", serial, values, fields={"note": key, **typed}, photo=photo)

    def _once(self, tap: Tap) -> str:
        """Send it and say what came back: ok, refused, error (the server could not) or down (nobody there)."""
        action = "sign" if tap.kind == "signed" else "withdraw"
        body = _form({"position": "1", "tap_key": tap.key, **tap.fields}, tap.photo)
        headers = {
            "Accept": "application/json",
            "Content-Type": f"multipart/form-data; boundary={_BORDER}",
            "Cookie": "; ".join(f"{name}={value}" for name, value in self.cookies.items()),
            "X-CSRFToken": self.cookies["csrftoken"],
        }
        if self.line is None:
            self.line = http.client.HTTPConnection("127.0.0.1", self.port, timeout=PATIENCE_S)
        try:
            self.line.request("POST", f"/floor/{STATION}/shell/{tap.serial}/{action}/", body, headers)
            answer = self.line.getresponse()
            content = answer.read()
        except (OSError, http.client.HTTPException):
            self._hang_up()
            return "down"
        for kept in answer.headers.get_all("Set-Cookie", []):
            name, _, rest = kept.partition("=")
            self.cookies[name] = rest.partition(";")[0]
        if answer.status >= 500:
            return "error"
        said = json.loads(content)
        if said.get("ok"):
            return "ok"
        if "refused" in said:
            return "refused"
        raise AssertionError(f"{self.name} got an answer that is none: {answer.status} {said}")

    def _hang_up(self) -> None:
        if self.line is not None:
            self.line.close()
        self.line = None


def _form(fields: dict[str, str], photo: bytes) -> bytes:
    parts = [
        f'--{_BORDER}\r\nContent-Disposition: form-data; name="{name}"\r\n\r\n{value}\r\n'.encode()
        for name, value in fields.items()
    ]
    if photo:
        head = 'Content-Disposition: form-data; name="sign-photo"; filename="a.png"\r\nContent-Type: image/png'
        parts.append(f"--{_BORDER}\r\n{head}\r\n\r\n".encode() + photo + b"\r\n")
    return b"".join(parts) + f"--{_BORDER}--\r\n".encode()


def _picture(chance: random.Random) -> bytes:
    """Noise, so that no two are the same file."""
    import io

    from PIL import Image

    out = io.BytesIO()
    Image.frombytes("RGB", (120, 90), chance.randbytes(120 * 90 * 3)).save(out, "PNG")
    return out.getvalue()
