"""Chooses the database of a test run before Django starts; loaded by pytest itself (``-p tests.database``).

``SHOP_TEST_DB=postgres`` runs on DATABASE_URL when one is given, else on a throw-away server made from Debian's
binaries. ``SHOP_TEST_DB=sqlite``, the default, runs on the embedded database. A run that can't have the database it was
asked for fails and says what to install; none falls back to the other.
"""

from __future__ import annotations

import atexit
import ctypes
import os
import pwd
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any, NoReturn
from urllib.parse import quote

import pytest

INSTALL = "sudo apt-get install postgresql"
SERVERS = Path("/usr/lib/postgresql")  # where Debian keeps them, one folder for each version
SECONDS_TO_START = 30
# A bench that measures writing sets this: then PostgreSQL keeps what it was told, as in a shop.
DURABLE = "SHOP_TEST_DURABLE"
_CARELESS = ("-c", "fsync=off", "-c", "synchronous_commit=off", "-c", "full_page_writes=off")
# A developer's own settings are no part of a test.
FORGOTTEN = (
    *("ALLOWED_HOSTS", "SHOP_URL", "SHOP_TIME_ZONE", "SHOP_HTTPS", "SHOP_DEBUG"),
    *("SHOP_PROXIES", "SHOP_IDLE_MIN", "SHOP_SLOW_MS"),
)


@pytest.hookimpl(tryfirst=True)
def pytest_load_initial_conftests() -> None:
    # Playwright's own loop runs in the thread of the tests; Django would refuse its database there.
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"
    for name in FORGOTTEN:
        os.environ.pop(name, None)
    os.environ["SECRET_KEY"] = "only for tests, never for a shop " * 2
    if os.environ.get("PYTEST_XDIST_WORKER"):  # the process that started this one has chosen already
        return
    folder = tempfile.mkdtemp(prefix="shop-test-")
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    os.environ["SHOP_DATA"] = folder
    (Path(folder) / "static").mkdir()  # empty: see the fixture for static files in conftest.py
    match os.environ.get("SHOP_TEST_DB", "sqlite"):
        case "sqlite":
            os.environ.pop("DATABASE_URL", None)
        case "postgres":
            url = os.environ.get("DATABASE_URL")
            if url and not url.startswith(("postgres://", "postgresql://")):
                _give_up("SHOP_TEST_DB=postgres needs a DATABASE_URL that begins with postgres:// – or none at all.")
            os.environ["DATABASE_URL"] = url or _throwaway_server()
        case other:
            _give_up(f"SHOP_TEST_DB={other}: there is no such database. Choose sqlite or postgres.")


def pytest_report_header() -> str:
    return f"database: {'PostgreSQL' if os.environ.get('DATABASE_URL') else 'SQLite'}"


def _give_up(message: str) -> NoReturn:
    raise pytest.UsageError(message)


def _binaries() -> Path:
    found = sorted(SERVERS.glob("*/bin/postgres"), key=lambda path: int(path.parts[-3]))
    if found:
        return found[-1].parent
    if on_path := shutil.which("postgres"):
        return Path(on_path).resolve().parent
    _give_up(f"The tests on PostgreSQL need the server's binaries. Install them with: {INSTALL}")


def _throwaway_server() -> str:
    """Start a server in a temporary folder, reached through a socket there; it ends with the run."""
    binaries = _binaries()
    folder = Path(tempfile.mkdtemp(prefix="pg-", dir="/tmp"))  # a socket's path must be short
    account, as_account = _account(folder)
    made = subprocess.run(
        [
            *(binaries / "initdb", "-D", folder / "data", "-U", account, "-A", "trust", "--no-sync"),
            *("-E", "UTF8", "--locale=C.UTF-8"),
        ],
        check=False,
        capture_output=True,
        text=True,
        cwd=folder,
        **as_account,
    )
    if made.returncode:
        shutil.rmtree(folder, ignore_errors=True)
        _give_up(f"The PostgreSQL server for the tests could not be made:\n{made.stderr}")
    with (folder / "log").open("w") as log:
        server = subprocess.Popen(
            [
                *(binaries / "postgres", "-D", folder / "data", "-k", folder, "-c", "listen_addresses="),
                *(() if os.environ.get(DURABLE) else _CARELESS),
            ],
            stdout=log,
            stderr=log,
            cwd=folder,
            preexec_fn=_end_with_parent,  # noqa: PLW1509 (no thread runs yet)
            **as_account,
        )

    def stop() -> None:
        server.send_signal(signal.SIGINT)  # "fast": does not wait for those who are still connected
        try:
            server.wait(timeout=20)
        except subprocess.TimeoutExpired:
            server.kill()
        shutil.rmtree(folder, ignore_errors=True)

    atexit.register(stop)
    patience = time.monotonic() + SECONDS_TO_START
    while server.poll() is None and time.monotonic() < patience:
        ready = subprocess.run(
            [binaries / "pg_isready", "-q", "-h", folder, "-U", account, "-d", "postgres"], check=False
        )
        if ready.returncode == 0:
            return f"postgres://{quote(account)}@{quote(str(folder), safe='')}/postgres"
        time.sleep(0.1)
    _give_up(f"The PostgreSQL server for the tests did not start:\n{(folder / 'log').read_text()}")


def _account(folder: Path) -> tuple[str, dict[str, Any]]:
    """Who the server runs as. It refuses to run as root, so root lends it the folder and another account."""
    if os.getuid() != 0:
        return pwd.getpwuid(os.getuid()).pw_name, {}
    accounts = {entry.pw_name: entry for entry in pwd.getpwall()}
    entry = accounts.get("postgres") or accounts.get("nobody")
    if entry is None:
        _give_up("PostgreSQL can't run as root, and there is no account postgres or nobody to run it as.")
    os.chown(folder, entry.pw_uid, entry.pw_gid)
    return entry.pw_name, {"user": entry.pw_uid, "group": entry.pw_gid, "extra_groups": []}


def _end_with_parent() -> None:
    """Runs in the new process: a test run that is killed takes its server along (Linux only)."""
    if sys.platform == "linux":
        pr_set_pdeathsig = 1
        ctypes.CDLL(None).prctl(pr_set_pdeathsig, signal.SIGINT)
