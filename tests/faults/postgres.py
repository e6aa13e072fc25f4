"""A PostgreSQL server with the settings of a shop – it keeps what it said it kept – that can be killed and started again."""

from __future__ import annotations

import contextlib
import signal
import subprocess
from pathlib import Path
from urllib.parse import quote

import psycopg

from tests import database
from tests.faults.server import alive, children, kill, wait_until


class Cluster:
    """``folder`` holds its data and its socket; a socket's path must be short."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.binaries = database._binaries()
        self.account, self.as_account = database._account(folder)
        self.server: subprocess.Popen[bytes] | None = None
        made = subprocess.run(
            [
                *(self.binaries / "initdb", "-D", folder / "data", "-U", self.account, "-A", "trust", "--no-sync"),
                *("-E", "UTF8", "--locale=C.UTF-8", "--wal-segsize=1"),
            ],
            check=False,
            capture_output=True,
            text=True,
            cwd=folder,
            **self.as_account,
        )
        assert made.returncode == 0, made.stderr

    @property
    def url(self) -> str:
        return f"postgres://{quote(self.account)}@{quote(str(self.folder), safe='')}/postgres"

    def start(self) -> None:
        with (self.folder.parent / f"{self.folder.name}.log").open("ab") as log:
            self.server = subprocess.Popen(
                [
                    *(self.binaries / "postgres", "-D", self.folder / "data", "-k", self.folder),
                    *("-c", "listen_addresses=", "-c", "fsync=on", "-c", "synchronous_commit=on"),
                    *("-c", "shared_buffers=16MB", "-c", "min_wal_size=2MB", "-c", "max_wal_size=8MB"),
                ],
                stdout=log,
                stderr=log,
                cwd=self.folder,
                **self.as_account,
            )
        wait_until(self.answers, "PostgreSQL to answer")

    def answers(self) -> bool:
        with contextlib.suppress(psycopg.OperationalError), psycopg.connect(self.url, connect_timeout=5) as line:
            return line.execute("SELECT 1").fetchone() == (1,)
        return False

    def runs(self) -> bool:
        return self.server is not None and self.server.poll() is None

    def kill(self) -> None:
        """The postmaster and every process of its, at once; nothing is written down any more."""
        assert self.server is not None
        everyone = [self.server.pid, *children(self.server.pid)]
        for pid in everyone:
            kill(pid)
        self.server.wait()
        wait_until(lambda: not any(alive(pid) for pid in everyone), "all of PostgreSQL to be dead")

    def stop(self) -> None:
        if self.server is not None and self.server.poll() is None:
            self.server.send_signal(signal.SIGINT)
            try:
                self.server.wait(timeout=60)
            except subprocess.TimeoutExpired:
                self.kill()

    def copy_from(self, url: str) -> None:
        """Take over the tables of another database."""
        out = self.folder / "copy.dump"
        dump = subprocess.run(
            [self.binaries / "pg_dump", "--format=custom", "--no-owner", "--no-privileges", f"--dbname={url}"],
            check=True,
            capture_output=True,
        )
        out.write_bytes(dump.stdout)
        subprocess.run(
            [self.binaries / "pg_restore", "--no-owner", "--exit-on-error", f"--dbname={self.url}", out], check=True
        )
        out.unlink()
