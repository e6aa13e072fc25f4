"""The page of hours and places, as tests read it."""

from __future__ import annotations

import re
from typing import Any

from django.test import Client

from tests.shopfloor.tablets import page

PAGE = "/hours/"


def new(kind: str) -> str:
    return f"{PAGE}{kind}/new/"


def one(kind: str, pk: int, what: str = "") -> str:
    return f"{PAGE}{kind}/{pk}/{what}"


def section(answer: Any, name: str) -> str:
    """The text of one part of the page, its tags left out."""
    found = re.search(rf'<section class="[^"]*" (?:id|aria-labelledby)="{name}".*?</section>', page(answer), re.DOTALL)
    assert found is not None, name
    return " ".join(re.sub(r"<[^>]+>", " ", found[0]).split())


def seen_on(client: Client, where: str, kind: str) -> str:
    found = re.search(rf'name="{kind}-seen" value="([^"]*)"', page(client.get(where)))
    assert found is not None
    return found[1]
