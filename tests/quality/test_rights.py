"""The table of rights in the docs is the table in the program."""

from __future__ import annotations

from pathlib import Path

import pytest

from quality.models import Person, Role
from quality.rights import RIGHTS, Right, has_right

ROLES_PAGE = Path(__file__).parents[2] / "docs" / "roles.md"


def documented() -> dict[str, set[str]]:
    rows = [line.strip().strip("|").split("|") for line in ROLES_PAGE.read_text().splitlines() if line.startswith("|")]
    roles = [cell.strip() for cell in rows[0][1:]]
    return {
        row[0].strip(): {role for role, cell in zip(roles, row[1:], strict=True) if cell.strip() == "yes"}
        for row in rows[2:]
    }


def test_docs_show_every_right_and_who_has_it() -> None:
    in_program = {
        right.value: {Role(role).label for role, rights in RIGHTS.items() if right in rights} for right in Right
    }
    assert documented() == in_program


@pytest.mark.parametrize("right", list(Right))
def test_somebody_who_left_has_no_right(right: Right) -> None:
    for role in Role:
        assert not has_right(Person(role=role, is_active=False), right)


def test_every_right_belongs_to_somebody() -> None:
    for right in Right:
        assert any(right in rights for rights in RIGHTS.values())
