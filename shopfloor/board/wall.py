"""The wall screen: few things, large. The kits that press most, every station in a line, and what is full."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from shopfloor.board.ahead import Ahead
from shopfloor.board.kits import BoardKit
from shopfloor.board.work import StationColumn

SHOWN_KITS = 6  # as many as are read from across the shop without scrolling


@dataclass(frozen=True, slots=True)
class WallRest:
    """The kits that have no line of their own, by how they stand."""

    count: int
    words: str


def contents(kits: Sequence[BoardKit], columns: Sequence[StationColumn], ahead: Ahead) -> dict[str, Any]:
    open_kits = [kit for kit in kits if not kit.is_done]
    shown, rest = open_kits[:SHOWN_KITS], open_kits[SHOWN_KITS:]
    by_words: dict[str, int] = {}
    for kit in rest:
        by_words[kit.standing.words] = by_words.get(kit.standing.words, 0) + 1
    return {
        "ahead": ahead,
        "kits": shown,
        "rest": [WallRest(count, words) for words, count in by_words.items()],
        "columns": columns,
    }
