"""Chooses the database of a test run before Django starts; loaded by pytest itself.

``SHOP_TEST_DB=postgres`` runs on DATABASE_URL when one is given, else on a throw-away server made from Debian's
binaries. Anything else runs on the embedded database. What can't run fails and says what to install.
"""

from __future__ import annotations

import atexit
import os
import pwd
import shutil
import subprocess
import tempfile
import time
from pathlib import Path
from urllib.parse import quote

import pytest

INSTALL = "apt-get install postgresql"


@pytest.hookimpl(tryfirst=True)
def pytest_load_initial_conftests() -> None:
    # Playwright's own loop runs in the thread of the tests; Django would refuse its database there.
    os.environ.setdefault("DJANGO_ALLOW_ASYNC_UNSAFE", "true")
    if "SHOP_TEST_DATA" not in os.environ:  # workers of pytest-xdist inherit it
        os.environ["SHOP_TEST_DATA"] = tempfile.mkdtemp(prefix="shop-test-")
        atexit.register(shutil.rmtree, os.environ["SHOP_TEST_DATA"], ignore_errors=True)
    os.environ["SHOP_DATA"] = os.environ["SHOP_TEST_DATA"]
    os.environ.setdefault("SECRET_KEY", "only for tests, never for a shop " * 2)
    if os.environ.get("SHOP_TEST_DB", "sqlite") != "postgres":
        os.environ.pop("DATABASE_URL", None)
    elif not os.environ.get("DATABASE_URL"):
        os.environ["DATABASE_URL"] = _throwaway_server()


def pytest_report_header() -> str:
    engine = "PostgreSQL" if os.environ.get("DATABASE_URL") else "SQLite"
    return f"database: {engine}"


def _binaries() -> Path:
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/postgres"), key=lambda path: int(path.parts[-3]))
    if found:
        return found[-1].parent
    if on_path := shutil.which("postgres"):
        return Path(on_path).resolve().parent
    pytest.exit(f"The PostgreSQL tests need the server's binaries. Install them with: {INSTALL}", returncode=3)


def _throwaway_server() -> str:
    """Start a server in a temporary folder, reached through a socket there; it ends with the run."""
    binaries = _binaries()
    folder = Path(tempfile.mkdtemp(prefix="pg-", dir="/tmp"))  # a socket's path must be short
    as_user: dict[str, object] = {}
    account = pwd.getpwuid(os.getuid()).pw_name
    if os.getuid() == 0:  # the server refuses to run as root
        entry = next((pwd.getpwnam(name) for name in ("postgres", "nobody") if _exists(name)), None)
        if entry is None:
            pytest.exit("PostgreSQL can't run as root, and there is no account postgres or nobody.", returncode=3)
        account = entry.pw_name
        as_user = {"user": entry.pw_uid, "group": entry.pw_gid, "extra_groups": []}
        os.chown(folder, entry.pw_uid, entry.pw_gid)
    data = folder / "data"
    subprocess.run(
        [binaries / "initdb", "-A", "trust", "--no-sync", "-U", account, "-E", "UTF8", "-D", data],
        check=True,
        stdout=subprocess.DEVNULL,
        cwd=folder,
        **as_user,  # type: ignore[call-overload]
    )
    log = (folder / "log").open("w")
    server = subprocess.Popen(
        [binaries / "postgres", "-D", data, "-k", folder, "-c", "listen_addresses=", "-c", "fsync=off"],
        stdout=log,
        stderr=log,
        cwd=folder,
        **as_user,  # type: ignore[call-overload]
    )
    owner = os.getpid()

    def stop() -> None:
        if os.getpid() == owner:
            server.terminate()
            server.wait(timeout=20)
            shutil.rmtree(folder, ignore_errors=True)

    atexit.register(stop)
    for _ in range(200):
        ready = subprocess.run(
            [binaries / "pg_isready", "-q", "-h", folder, "-U", account, "-d", "postgres"], check=False
        )
        if ready.returncode == 0:
            return f"postgres://{quote(account)}@{quote(str(folder), safe='')}/postgres"
        if server.poll() is not None:
            break
        time.sleep(0.1)
    pytest.exit(f"The PostgreSQL server did not start:\n{(folder / 'log').read_text()}", returncode=3)


def _exists(name: str) -> bool:
    try:
        pwd.getpwnam(name)
    except KeyError:
        return False
    return True
