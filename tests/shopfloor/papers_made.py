"""Papers made at once, in the process of the test."""

from __future__ import annotations

from shopfloor.management.commands.make_papers import make_one


def work_through() -> int:
    """Make everything that is asked for; how many asks that were."""
    made = 0
    while make_one():
        made += 1
    return made
