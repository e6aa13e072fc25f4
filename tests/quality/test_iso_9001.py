"""The table of clauses names tests; each of them exists and is collected under that name."""

from __future__ import annotations

import ast
import re
from pathlib import Path

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "docs" / "iso-9001.md").read_text(encoding="utf-8")
NAMED = re.findall(r"`(tests/[\w/]+\.py)::(\w+)`", PAGE)


def _tests_of(path: str) -> set[str]:
    tree = ast.parse((ROOT / path).read_text(encoding="utf-8"))
    return {node.name for node in ast.walk(tree) if isinstance(node, ast.FunctionDef) and node.name.startswith("test_")}


def test_every_row_of_the_three_clauses_names_a_test() -> None:
    rows = [line for line in PAGE.splitlines() if line.startswith("|") and not line.startswith(("|---", "| asked"))]
    assert len(rows) == len(NAMED) > 20
    for clause in ("8.5.2", "8.6", "8.7"):
        assert f"\n## {clause} " in PAGE


def test_every_named_test_exists() -> None:
    missing = [f"{path}::{name}" for path, name in NAMED if name not in _tests_of(path)]
    assert missing == []
