"""README, DEVELOPERS and docs held against the code: what they name exists, and what exists is named."""

from __future__ import annotations

import ast
import re
from importlib.util import find_spec
from pathlib import Path

import pytest
from django.core.management import get_commands, load_command_class
from django.urls import Resolver404, get_resolver, resolve

from quality.models import Role

ROOT = Path(__file__).resolve().parents[1]
PAGES = {page.relative_to(ROOT).as_posix(): page.read_text() for page in (*ROOT.glob("*.md"), *ROOT.glob("docs/*.md"))}
ALL = "\n".join(PAGES.values())
DEVELOPERS = PAGES["DEVELOPERS.md"]
MAKEFILE = (ROOT / "Makefile").read_text()
OWN = [
    file
    for folder in ("routing", "quality", "shopfloor", "templates", "static", "tests", "docs", ".ci")
    for file in (ROOT / folder).rglob("*")
    if file.is_file() and "__pycache__" not in file.parts
]
NAMES = {file.name for file in OWN} | {file.name for file in ROOT.iterdir() if file.is_file()}
SUFFIXES = r"\.(?:py|md|css|js|html|json|toml|csv|yaml|lock)"
# Words that stand for what somebody types, and variables of other programs.
NOT_OURS = {"MAILTO"}
# Files that the program writes into the shop's folder, or into a backup.
WRITTEN = {"manifest.json"}


def code_in(page: str) -> list[str]:
    """What stands between backticks, and the lines of fenced blocks."""
    fenced = re.findall(r"^```\w*\n(.*?)^```", page, re.MULTILINE | re.DOTALL)
    without = re.sub(r"^```\w*\n.*?^```", "", page, flags=re.MULTILINE | re.DOTALL)
    return re.findall(r"`([^`\n]+(?:\n[^`\n]+)?)`", without) + [line for block in fenced for line in block.splitlines()]


CODE = {name: code_in(page) for name, page in PAGES.items()}
EVERY = [(name, code) for name, codes in CODE.items() for code in codes]


class TestCommands:
    def test_each_that_is_named_exists_and_takes_what_is_written(self) -> None:
        known = get_commands()
        named = [(name, *found) for name, code in EVERY for found in re.findall(r"manage\.py\s+(\w+)([^|]*)", code)]
        assert len(named) > 20
        for page, command, rest in named:
            assert command in known, f"{page}: manage.py {command}"
            app = known[command]
            made = app if not isinstance(app, str) else load_command_class(app, command)
            options = {
                option
                for action in made.create_parser("manage.py", command)._actions
                for option in action.option_strings
            }
            for option in re.findall(r"--[a-z][\w-]+", rest):
                assert option in options, f"{page}: manage.py {command} {option}"

    def test_each_of_the_shops_own_is_named(self) -> None:
        own = {file.stem for file in OWN if file.match("*/management/commands/*.py") and file.stem != "__init__"}
        assert len(own) > 10
        assert own - set(re.findall(r"manage\.py\s+(\w+)", ALL)) == set()


class TestMake:
    targets = set(" ".join(re.findall(r"^\.PHONY:((?:.*\\\n)*.*)$", MAKEFILE, re.MULTILINE)).replace("\\", "").split())

    def test_each_target_that_is_named_exists(self) -> None:
        named = {(name, target) for name, code in EVERY for target in re.findall(r"\bmake ([a-z][\w-]*)", code)}
        assert len(named) > 10
        assert [each for each in sorted(named) if each[1] not in self.targets] == []

    def test_each_target_is_named(self) -> None:
        inner = {target for target in self.targets if target.startswith(("environment-", "system-"))}
        assert self.targets - inner - set(re.findall(r"\bmake ([a-z][\w-]*)", ALL)) == set()


class TestSettings:
    """The environment variables: the list at the top of the settings is the whole list."""

    settings = (ROOT / "shopfloor" / "settings.py").read_text()
    listed = set(re.findall(r"^([A-Z_]+(?:, [A-Z_]+)*)  ", ast.get_docstring(ast.parse(settings)) or "", re.MULTILINE))
    names = {name for line in listed for name in line.split(", ")}

    def test_each_is_read(self) -> None:
        reading = self.settings + (ROOT / "shopfloor" / "serve.py").read_text()
        body = reading.replace(ast.get_docstring(ast.parse(self.settings)) or "", "")
        assert len(self.names) > 10
        assert [name for name in sorted(self.names) if f'"{name}"' not in body] == []

    def test_each_that_is_read_is_listed(self) -> None:
        read = re.findall(r"(?:environ(?:\.get)?[\[(]|_truth\(|_number\()\"([A-Z_]+)\"", self.settings)
        assert len(read) > 8
        assert set(read) - self.names == set()

    def test_each_has_a_row_for_who_runs_the_machine(self) -> None:
        rows = re.findall(r"^\| (`[A-Z_`, ]+`) \|", PAGES["docs/operations.md"], re.MULTILINE)
        assert {name for row in rows for name in re.findall(r"[A-Z_]+", row)} == self.names

    def test_each_variable_that_is_set_in_an_example_is_known(self) -> None:
        made = set(re.findall(r"\$\(([A-Z]+)\)|^(?:export )?([A-Z_]+) \?=", MAKEFILE, re.MULTILINE))
        of_make = {name for pair in made for name in pair if name} | set(re.findall(r"\$\(if \$\(([A-Z]+)\)", MAKEFILE))
        known = self.names | of_make | {"SHOP_TEST_DB"} | NOT_OURS
        named = {(name, word) for name, code in EVERY for word in re.findall(r"\b([A-Z][A-Z_]+)=", code)}
        named |= {(name, word) for name, page in PAGES.items() for word in re.findall(r"\bSHOP_[A-Z_]+\b", page)}
        assert len(named) > 10
        assert [each for each in sorted(named) if each[1] not in known] == []


class TestAddresses:
    @pytest.mark.parametrize(
        "page", [name for name in PAGES if re.search(r"`/[a-z]", PAGES[name])], ids=lambda name: name
    )
    def test_each_that_is_named_leads_somewhere(self, page: str) -> None:
        for code in CODE[page]:
            if re.fullmatch(r"/[\w./{}-]*(\?.*)?", code) and not re.match(r"/(data|tmp|somewhere)\b", code):
                path = re.sub(r"\b[A-Z]{4,}\b", "X-1", code.partition("?")[0])
                assert leads_somewhere(path), f"{page}: {code}"

    def test_each_first_part_is_named(self) -> None:
        assert len(FIRST_PARTS) > 25
        assert [first for first in sorted(FIRST_PARTS) if f"`{first}`" not in ALL] == []


FIRST_PARTS = {f"/{pattern.pattern}" for pattern in get_resolver().url_patterns}


def leads_somewhere(path: str) -> bool:
    """Whether it is an address, or the first part of some."""
    try:
        resolve(path)
    except Resolver404:
        return path in FIRST_PARTS
    return True


def test_every_role_has_its_column() -> None:
    head = next(line for line in PAGES["docs/roles.md"].splitlines() if line.startswith("| right"))
    assert [cell.strip() for cell in head.strip("|").split("|")[1:]] == [str(role.label) for role in Role]


class TestFiles:
    @pytest.mark.parametrize("page", PAGES)
    def test_each_link_leads_to_a_file(self, page: str) -> None:
        for target in re.findall(r"\]\(([^)#:]+)(?:#[^)]*)?\)", PAGES[page]):
            assert ((ROOT / page).parent / target).exists(), f"{page}: {target}"

    @pytest.mark.parametrize("page", PAGES)
    def test_each_path_exists(self, page: str) -> None:
        for code in CODE[page]:
            for path in re.findall(rf"(?<![\w/.<])[\w.-]+(?:/[\w.-]+)+{SUFFIXES}\b", code):
                assert (ROOT / path).exists(), f"{page}: {path}"
            if re.fullmatch(r"(?:\.?[\w-]+/)+", code) and not in_a_table_of_rooms(page, code):
                assert (ROOT / code).is_dir(), f"{page}: {code}"
            if re.fullmatch(rf"[\w-]+{SUFFIXES}", code):
                assert code in NAMES | WRITTEN, f"{page}: {code}"

    def test_each_module_that_is_started_exists(self) -> None:
        named = {module for _, code in EVERY for module in re.findall(r"python -m ((?:tests|shopfloor)[\w.]*)", code)}
        assert len(named) > 2
        assert [module for module in sorted(named) if find_spec(module) is None] == []

    def test_every_page_is_linked_from_the_first(self) -> None:
        linked = set(re.findall(r"\]\(([\w./-]+\.md)\)", PAGES["README.md"]))
        assert set(PAGES) - {"README.md"} - linked == set()


def in_a_table_of_rooms(page: str, code: str) -> bool:
    return page == "DEVELOPERS.md" and any(code in rooms for rooms in ROOMS.values())


def rooms_of(page: str) -> dict[str, list[str]]:
    """Folder → the names in the first cells of its tables."""
    rooms: dict[str, list[str]] = {}
    for folder, section in re.findall(r"^### `([\w/]+)/`:.*?\n(.*?)(?=^##)", page, re.MULTILINE | re.DOTALL):
        firsts = re.findall(r"^\| (`[^|]*`) \|", section, re.MULTILINE)
        rooms.setdefault(folder, []).extend(name for first in firsts for name in re.findall(r"`([^`]+)`", first))
    return rooms


ROOMS = rooms_of(DEVELOPERS)


@pytest.mark.parametrize("folder", ROOMS)
def test_every_room_has_its_line_and_every_line_its_room(folder: str) -> None:
    inside = [each for each in (ROOT / folder).iterdir() if each.name not in ("__init__.py", "__pycache__")]
    files = {each.name for each in inside if each.suffix == ".py"}
    folders = {f"{each.name}/" for each in inside if each.is_dir() and any(each.rglob("*.py"))}
    named = ROOMS[folder]
    assert len(named) == len(set(named))
    assert files | folders == set(named)


def test_the_three_layers_have_their_tables() -> None:
    assert {"routing", "quality", "shopfloor"} <= set(ROOMS)
