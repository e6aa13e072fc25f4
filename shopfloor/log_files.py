"""Logs as files that a small shop can read and that never fill its disk, written by several processes at once."""

from __future__ import annotations

import fcntl
import json
import logging
import os
from datetime import UTC, datetime
from pathlib import Path
from typing import BinaryIO


class SharedFile(logging.Handler):
    """Appends each record to a file; at ``max_bytes`` it is renamed to ``.1``, ``.1`` to ``.2``, and so on.

    A lock beside the file makes processes take turns: the usual rotating handlers lose lines when two rename at once.
    """

    def __init__(self, filename: str | Path, max_bytes: int = 2_000_000, keep: int = 5) -> None:
        super().__init__()
        self.path = Path(filename)
        self.max_bytes = max_bytes
        self.keep = keep

    def emit(self, record: logging.LogRecord) -> None:
        try:
            self._append((self.format(record) + "\n").encode("utf-8", "backslashreplace"))
        except OSError:  # a full disk stops no work
            self.handleError(record)

    def _append(self, line: bytes) -> None:
        self.path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        with self._mine(self._numbered("lock")) as lock:
            fcntl.flock(lock, fcntl.LOCK_EX)
            if self.path.exists() and self.path.stat().st_size + len(line) > self.max_bytes:
                self._rotate()
            with self._mine(self.path) as file:
                file.write(line)

    @staticmethod
    def _mine(path: Path) -> BinaryIO:
        """Open for adding; made, if it is not there, for nobody else to read."""
        return os.fdopen(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o600), "ab")

    def _rotate(self) -> None:
        for number in range(self.keep - 1, 0, -1):
            if (older := self._numbered(number)).exists():
                older.replace(self._numbered(number + 1))
        self.path.replace(self._numbered(1))

    def _numbered(self, number: int | str) -> Path:
        return self.path.with_name(f"{self.path.name}.{number}")


class Json(logging.Formatter):
    """One JSON object for each record, for programs."""

    def format(self, record: logging.LogRecord) -> str:
        line = {
            "at": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
            "level": record.levelname,
            "logger": record.name,
            "request_id": getattr(record, "request_id", "-"),
            "process": record.process,
            "message": record.getMessage(),
        }
        for name in ("status_code", "address", "milliseconds"):
            if hasattr(record, name):
                line[name] = getattr(record, name)
        if record.exc_info:
            line["error"] = self.formatException(record.exc_info)
        return json.dumps(line, ensure_ascii=False, default=str)


class Readable(logging.Formatter):
    """For people. What a browser sent can't begin a line that looks like another record."""

    def format(self, record: logging.LogRecord) -> str:
        head = (
            f"{self.formatTime(record, '%Y-%m-%d %H:%M:%S')} {record.levelname} "
            f"[{getattr(record, 'request_id', '-')}] {record.name}: "
        )
        words = head + record.getMessage().replace("\r", "␍").replace("\n", "␊")
        if record.exc_info:
            words += "\n    " + self.formatException(record.exc_info).replace("\n", "\n    ")
        return words
