"""The packages that the program is made with: what is asked for, what is locked, and what the audit says of them."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
from importlib.metadata import packages_distributions
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

from tests.test_tooling import BASH, PROJECT, ROOT

LOCKS = ("requirements.lock", "requirements-dev.lock")


def locked(name: str) -> dict[str, str]:
    """Package → version of a lock file."""
    lines = re.findall(r"^([A-Za-z0-9][\w.-]*)(?:\[[\w,-]+\])?==([^ ;\\]+)", (ROOT / name).read_text(), re.MULTILINE)
    return {canonicalize_name(package): version for package, version in lines}


def imported_by(node: ast.AST) -> list[str]:
    if isinstance(node, ast.Import):
        return [alias.name for alias in node.names]
    return [node.module] if isinstance(node, ast.ImportFrom) and node.module and not node.level else []


class TestLocks:
    @pytest.mark.parametrize("name", LOCKS)
    def test_no_address_is_recorded(self, name: str) -> None:
        assert not re.search(r"https?:|file:|git\+|index-url|find-links|\s@\s", (ROOT / name).read_text())

    @pytest.mark.parametrize("name", LOCKS)
    def test_every_package_has_a_hash(self, name: str) -> None:
        entries = re.split(r"^(?=[A-Za-z0-9])", (ROOT / name).read_text(), flags=re.MULTILINE)[1:]
        assert len(entries) >= len(locked(name)) > 20
        assert [entry.split()[0] for entry in entries if "--hash=sha256:" not in entry] == []

    @pytest.mark.parametrize(
        ("name", "wanted"),
        [
            ("requirements.lock", PROJECT["project"]["dependencies"]),
            (
                "requirements-dev.lock",
                PROJECT["project"]["dependencies"] + PROJECT["project"]["optional-dependencies"]["dev"],
            ),
        ],
        ids=LOCKS,
    )
    def test_what_the_project_asks_for_is_locked(self, name: str, wanted: list[str]) -> None:
        versions = locked(name)
        for requirement in map(Requirement, wanted):
            package = canonicalize_name(requirement.name)
            assert package in versions, f"{requirement}: make lock"
            assert versions[package] in requirement.specifier, f"{requirement}: make lock"

    @pytest.mark.parametrize(
        ("folders", "extras"),
        [(("routing", "quality", "shopfloor"), ()), (("tests",), ("dev",))],
        ids=["program", "tests"],
    )
    def test_what_is_imported_is_asked_for(self, folders: tuple[str, ...], extras: tuple[str, ...]) -> None:
        """What comes along with another package today may not tomorrow."""
        asked = [*PROJECT["project"]["dependencies"]]
        for extra in extras:
            asked += PROJECT["project"]["optional-dependencies"][extra]
        asked_for = {canonicalize_name(Requirement(requirement).name) for requirement in asked}
        owners = packages_distributions()
        imported = {
            module.split(".")[0]
            for folder in folders
            for path in (ROOT / folder).rglob("*.py")
            for node in ast.walk(ast.parse(path.read_text()))
            for module in imported_by(node)
        }
        others = imported - set(sys.stdlib_module_names) - {"routing", "quality", "shopfloor", "tests"}
        assert "django" in others
        for module in sorted(others):
            owner = {canonicalize_name(name) for name in owners.get(module, ())}
            assert owner & asked_for, f"{module} is imported; name {owner or 'its package'} in pyproject.toml"

    def test_both_agree(self) -> None:
        run, dev = (locked(name).items() for name in LOCKS)
        assert run <= dev, "the tests would run on other versions than the shop: make lock"


@pytest.mark.parametrize(
    ("said", "status", "ends", "words"),
    [
        ("No known vulnerabilities found", 0, 0, "No weakness of these versions is known"),
        ("Found 2 known vulnerabilities in 1 package\nsegno 1.6.6 AN-EXAMPLE", 1, 1, "AN-EXAMPLE"),
        ("segno: Dependency not found on PyPI and could not be audited", 1, 2, "nothing is known"),
        ("ConnectionError: Failed to resolve", 1, 2, "nothing is known"),
        ("", 0, 0, "No weakness"),
        ("", 127, 2, "nothing is known"),
    ],
    ids=["none known", "some known", "a package that nobody knows", "no network", "silent", "no such tool"],
)
def test_the_audit_tells_what_was_found_from_what_was_not_looked_up(
    tmp_path: Path, said: str, status: int, ends: int, words: str
) -> None:
    tool = tmp_path / "tool"
    tool.write_text(f"#!{BASH}\ncat <<'END'\n{said}\nEND\nexit {status}\n")
    tool.chmod(0o755)
    done = subprocess.run([BASH, ROOT / ".ci" / "audit", tool], capture_output=True, text=True, check=False)
    assert done.returncode == ends
    assert words in done.stdout + done.stderr
    assert (ends == 0) == ("nothing is known" not in done.stderr and "Weaknesses are known" not in done.stderr)


@pytest.mark.parametrize("weak", LOCKS)
def test_the_audit_says_of_which_list_nothing_is_known_when_the_other_has_weaknesses(tmp_path: Path, weak: str) -> None:
    (unanswered,) = set(LOCKS) - {weak}
    tool = tmp_path / "tool"
    tool.write_text(
        f"#!{BASH}\n"
        f'case "${{@: -1}}" in {weak}) echo "Found 1 known vulnerability in 1 package"; echo "segno 1.6.6 AN-EXAMPLE" ;;\n'
        "*) echo 'ConnectionError: Failed to resolve' ;; esac\nexit 1\n"
    )
    tool.chmod(0o755)
    done = subprocess.run([BASH, ROOT / ".ci" / "audit", tool], capture_output=True, text=True, check=False)
    assert done.returncode == 2
    assert "AN-EXAMPLE" in done.stdout
    assert "Weaknesses are known." in done.stderr
    assert f"nothing is known of {unanswered}:" in done.stderr
    assert weak not in done.stderr


def test_the_audit_asks_about_every_lock_and_strictly(tmp_path: Path) -> None:
    tool = tmp_path / "tool"
    tool.write_text(f'#!{BASH}\necho "$*" >>{tmp_path}/asked\n')
    tool.chmod(0o755)
    subprocess.run([BASH, ROOT / ".ci" / "audit", tool], capture_output=True, check=True)
    asked = (tmp_path / "asked").read_text().splitlines()
    assert [line.split()[-1] for line in asked] == list(LOCKS)
    assert all({"--strict", "--require-hashes", "--disable-pip"} <= set(line.split()) for line in asked)
