"""The demo shop with work in it, served from a folder of its own for as long as somebody looks at it."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

ROOT = Path(__file__).parents[1]
PORT = 8199
PATIENCE_S = 60
WORK = "import django; django.setup(); from tests.busy_work import fill; fill()"


@contextmanager
def busy_shop() -> Iterator[str]:
    """Its address."""
    with tempfile.TemporaryDirectory(prefix="busy-demo-") as folder:
        around = os.environ | {"SHOP_DATA": folder, "HOST": "127.0.0.1", "PORT": str(PORT), "WORKERS": "1"}
        around["DJANGO_SETTINGS_MODULE"] = "shopfloor.settings"
        around.pop("DATABASE_URL", None)
        for command in (
            ["manage.py", "migrate", "--verbosity", "0"],
            ["manage.py", "collectstatic", "--noinput", "--verbosity", "0"],
            ["-c", WORK],
        ):
            subprocess.run([sys.executable, *command], cwd=ROOT, env=around, check=True)
        server = subprocess.Popen([sys.executable, "-m", "shopfloor.serve"], cwd=ROOT, env=around)
        try:
            address = f"http://127.0.0.1:{PORT}"
            _wait_for(address)
            yield address
        finally:
            server.terminate()
            server.wait(timeout=PATIENCE_S)


def _wait_for(address: str) -> None:
    for _ in range(PATIENCE_S * 2):
        try:
            urllib.request.urlopen(f"{address}/health/live/", timeout=5).close()
        except OSError:
            time.sleep(0.5)
        else:
            return
    sys.exit(f"The shop did not answer at {address} within {PATIENCE_S} s.")
