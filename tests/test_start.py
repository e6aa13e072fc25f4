"""What starts with the program and what only when it is needed; what a hash must cost at least."""

from __future__ import annotations

import json
import os
import subprocess
import sys

import pytest
from argon2 import Type, extract_parameters

from quality.hashing import ShopArgon2Hasher

# Solvers, paper, pictures, workbooks and what these bring with them: a quarter of a second and more each.
HEAVY = {"ortools", "weasyprint", "PIL", "openpyxl", "numpy", "pandas", "fontTools", "lxml", "playwright", "hypothesis"}
LOAD = "import django, json, sys; django.setup(); import {module}; print(json.dumps(sorted(sys.modules)))"


def loaded(module: str) -> set[str]:
    """The packages that are loaded when the program and a module of it are, in a process of its own."""
    done = subprocess.run(
        [sys.executable, "-c", LOAD.format(module=module)],
        env=os.environ | {"DJANGO_SETTINGS_MODULE": "shopfloor.settings"},
        capture_output=True,
        text=True,
        check=True,
    )
    return {name.split(".")[0] for name in json.loads(done.stdout.splitlines()[-1])}


def test_every_page_and_command_is_there_without_what_is_heavy() -> None:
    found = loaded("shopfloor.urls, shopfloor.wsgi, shopfloor.management.commands.simulate_week")
    assert {"django", "shopfloor", "quality", "routing"} <= found
    assert found & HEAVY == set()


OPEN = """
import contextlib, json, os, sys, threading

def open_files():
    found = set()
    for number in range(256):
        with contextlib.suppress(OSError):
            found.add((number, os.fstat(number).st_ino))
    return found

from shopfloor.serve import load_program
before = open_files()
load_program()
from django.db import connections
print(json.dumps([
    threading.active_count(),
    [wrapper.alias for wrapper in connections.all(initialized_only=True) if wrapper.connection is not None],
    sorted(open_files() - before),
    sorted(sys.modules),
]))
"""


def test_nothing_that_a_fork_cannot_share_is_open_when_workers_are_made() -> None:
    environment = {name: value for name, value in os.environ.items() if name != "DJANGO_SETTINGS_MODULE"}
    done = subprocess.run([sys.executable, "-c", OPEN], env=environment, capture_output=True, text=True, check=True)
    threads, connected, opened, modules = json.loads(done.stdout.splitlines()[-1])
    assert (threads, connected, opened) == (1, [], [])
    assert {"shopfloor.floor.views", "shopfloor.board.views", "shopfloor.health.views"} <= set(modules)
    assert {name.split(".")[0] for name in modules} & HEAVY == set()


@pytest.mark.parametrize("workers", ["0", "-1", "many", ""])
def test_a_number_of_processes_that_is_none(workers: str) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "shopfloor.serve"],
        env=os.environ | {"WORKERS": workers},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 1
    assert done.stderr.startswith(f"WORKERS={workers} is no number of processes")


def test_what_is_heavy_is_seen_when_it_is_loaded() -> None:
    assert "openpyxl" in loaded("shopfloor.workbooks")


def test_a_hash_costs_at_least_what_owasp_asks_for() -> None:
    """OWASP Password Storage Cheat Sheet: Argon2id with at least 19 MiB of memory, two iterations and one lane."""
    hasher = ShopArgon2Hasher()
    algorithm, _, kept = hasher.encode("284917", hasher.salt()).partition("$")
    asked = extract_parameters(f"${kept}")
    assert algorithm == "argon2"
    assert asked.type is Type.ID
    assert asked.memory_cost >= 19 * 1024
    assert asked.time_cost >= 2
    assert asked.parallelism == 1


@pytest.mark.parametrize("wrong", ["284918", ""])
def test_a_wrong_pin_is_refused(wrong: str) -> None:
    hasher = ShopArgon2Hasher()
    assert not hasher.verify(wrong, hasher.encode("284917", hasher.salt()))
