"""In a shop without anything every page opens, and one that has nothing to show says what to do next."""

from __future__ import annotations

import re

import pytest
from django.test import Client
from django.urls import URLPattern, reverse

from quality.models import Role
from tests.shopfloor.test_access import ADDRESSES, DESK, rows
from tests.small_shop import person

# Pages that are lists: without a row each has a place that says so.
LISTS = [
    "board:board",
    "board:kits",
    "board:age",
    "orders:list",
    "catalog:checks",
    "catalog:defects",
    "cutting:plan",
    "trace:seals",
    "materials:list",
    "materials:batches",
    "made_here:list",
    "figures:overview",
    "figures:findings",
    "requests:list",
    "requests:causes",
    "packing:list",
    "packing:shortages",
    "cartons:list",
    "people:matrix",
    "tablets:list",
    "hours:page",
    "plan:picture",
    "plan:work_lists",
    "api:keys",
    "bench:bench",
]
EMPTY = re.compile(r'<div class="empty">(.*?)</div>', re.DOTALL)


def without_arguments(pattern: URLPattern) -> bool:
    return not pattern.pattern.converters


def opened(client: Client, name: str) -> str:
    answer = client.get(reverse(name))
    assert answer.status_code == 200, name
    return answer.content.decode() if answer["Content-Type"].startswith("text/html") else ""


@pytest.mark.parametrize("name", LISTS)
def test_a_list_without_a_row_leads_on(owner: Client, name: str) -> None:
    blocks = EMPTY.findall(opened(owner, name))
    assert blocks, f"{name} does not say that it is empty"
    for block in blocks:
        assert "<a href=" in block, f"{name} leads nowhere: {block}"


def test_no_page_breaks_in_an_empty_shop(owner: Client) -> None:
    for method, name, answers in rows(DESK):
        if method == "GET" and without_arguments(ADDRESSES[name]) and answers["administrator"] == 200:
            page = opened(owner, name)
            for block in EMPTY.findall(page):
                assert "<a href=" in block, f"{name} leads nowhere: {block}"


@pytest.mark.parametrize("role", [Role.WORKER, Role.OFFICE, Role.SUPERVISOR])
def test_an_empty_page_leads_nobody_to_a_closed_door(db: None, role: Role) -> None:
    client = Client()
    client.force_login(person("somebody", role))
    for name in LISTS:
        answer = client.get(reverse(name))
        if answer.status_code == 403:
            continue
        for block in EMPTY.findall(answer.content.decode()):
            for where in re.findall(r'<a href="([^"?]+)"', block):
                assert client.get(where).status_code in (200, 302), f"{name} leads to {where}"
