"""Every bench, one after the other: ``python -m tests.bench [--only taps board] [--scale 0.1] [--write docs/benchmarks.md]``.

Each runs in a process of its own, on each database that it names. The table is printed; with ``--write`` it replaces the
one between the two marks of that file, with the machine and the day it was taken on. Ends with 1 when a bench broke;
a missed limit is said in the table and is no failure of the run.
"""

from __future__ import annotations

import argparse
import importlib
import json
import os
import platform
import subprocess
import sys
import tempfile
from datetime import UTC, datetime
from pathlib import Path

from tests.bench.figure import HEAD, Figure

BENCHES: tuple[str, ...] = ("taps", "tablet", "growth", "board", "travelers", "specs", "start")
BEGIN, END = "<!-- measured: begin -->", "<!-- measured: end -->"


def main() -> int:
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("--only", nargs="+", choices=BENCHES, default=BENCHES, metavar="NAME")
    ask.add_argument("--scale", type=float, default=1.0)
    ask.add_argument("--write", type=Path)
    chosen = ask.parse_args()
    rows: list[str] = []
    broken: list[str] = []
    missed = 0
    for name in chosen.only:
        for database in importlib.import_module(f"tests.bench.{name}").DATABASES:
            found = _one(name, database, chosen.scale)
            if found is None:
                broken.append(f"{name} on {database}")
                continue
            rows += [figure.row(database) for figure in found]
            missed += sum(not figure.met for figure in found)
    table = "\n".join([f"{_machine()}, scale {chosen.scale:g}", "", HEAD, *rows])
    print(f"\n{table}\n\n{len(rows)} figures, {missed} missed.")
    if broken:
        print(f"These broke: {', '.join(broken)}", file=sys.stderr)
    elif chosen.write:
        _write(chosen.write, table)
    return 1 if broken else 0


def _one(name: str, database: str, scale: float) -> list[Figure] | None:
    print(f"── {name} on {database}", flush=True)
    with tempfile.TemporaryDirectory(prefix="bench-") as folder:
        kept = Path(folder) / "figures.json"
        command = [
            sys.executable,
            "-m",
            f"tests.bench.{name}",
            "--db",
            database,
            "--scale",
            str(scale),
            "--json",
            str(kept),
        ]
        if subprocess.run(command, check=False).returncode or not kept.exists():
            return None
        return [Figure(**figure) for figure in json.loads(kept.read_text())]


def _machine() -> str:
    cpu = platform.processor() or platform.machine()
    info = Path("/proc/cpuinfo")
    if info.exists():
        names = [
            line.partition(":")[2].strip() for line in info.read_text().splitlines() if line.startswith("model name")
        ]
        cpu = names[0] if names else cpu
    return (
        f"Taken on {os.cpu_count()} cores of {cpu}, Python {platform.python_version()}, on {datetime.now(UTC):%Y-%m-%d}"
    )


def _write(path: Path, table: str) -> None:
    text = path.read_text()
    before, begin, rest = text.partition(BEGIN)
    _, end, after = rest.partition(END)
    if not begin or not end:
        sys.exit(f"{path} has no place for the table: it needs a line {BEGIN} and a line {END}.")
    path.write_text(f"{before}{BEGIN}\n{table}\n{END}{after}")


if __name__ == "__main__":
    sys.exit(main())
