"""The page of words: every state, every figure and every kind of station has an entry, and screens take theirs from it."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from django.test import Client
from django.urls import reverse

from quality.models import BagState, Disposition, LotState, RequestState, Severity
from routing.models import DwellKind, OperationState, OrderState, PlanState, ShellState, StationKind
from shopfloor import words
from tests.shopfloor.tablets import make_tablet
from tests.small_shop import SmallShop

TEMPLATES = Path(__file__).parents[2] / "templates"
STATES = [OperationState, ShellState, OrderState, PlanState, BagState, LotState, RequestState, Disposition, Severity]


@pytest.fixture
def glossary(client: Client, shop: SmallShop) -> str:
    return client.get("/glossary/").content.decode()


def terms(page: str) -> set[str]:
    """What is explained: the words of the chips and those in bold."""
    chips = re.findall(r"</svg>([^<]+)</span>", page)
    return {word.lower() for word in [*chips, *re.findall(r"<dt>([^<]+)</dt>", page)]}


@pytest.mark.parametrize("states", [*STATES, StationKind], ids=lambda states: str(states.__name__))
def test_every_state_and_kind_is_explained(glossary: str, states: type[OperationState]) -> None:
    assert {str(state.label).lower() for state in states} <= terms(glossary)


def test_every_dwell_is_explained(glossary: str) -> None:
    assert {str(kind.label) for kind in DwellKind if kind} <= terms(glossary)


def figures_on(*templates: str) -> set[str]:
    """The names of the figures in blocks and totals: what stands before a comma, without capitals."""
    text = "".join((TEMPLATES / name).read_text() for name in templates)
    return {
        name.partition(",")[0].lower() for name in re.findall(r'<dt>(?:{% translate ")?([^<{"]+)(?:" %})?</dt>', text)
    }


def test_every_figure_on_a_page_is_explained(glossary: str) -> None:
    named = figures_on("figures/overview.html", "figures/check.html", "plan/home.html", "board/_totals.html")
    assert {"rework ratio", "cpk", "at risk", "in process"} <= named, "the names are found"
    titles = re.findall(
        r'<h2[^>]*>(?:{% translate ")?([^<{"]*yield) by', (TEMPLATES / "figures/overview.html").read_text()
    )
    assert len(titles) == 2
    assert named | {title.lower() for title in titles} <= terms(glossary)


@pytest.mark.parametrize("template", sorted(TEMPLATES.rglob("*.html")), ids=lambda path: path.name)
def test_every_meaning_that_a_template_asks_for_is_there(template: Path) -> None:
    for figure in re.findall(r'{% meaning "([^"]+)" %}', template.read_text()):
        assert words.meaning_of(figure)


def test_no_word_is_explained_twice() -> None:
    for entries in (words.OF_THE_TRADE, sorted(words.OF_FIGURES.items())):
        names = [name for name, _ in entries]
        assert len(names) == len(set(names))
    assert [name for name, _ in words.OF_THE_TRADE] == sorted(name for name, _ in words.OF_THE_TRADE)


def test_every_anchor_leads_somewhere(glossary: str) -> None:
    for anchor in re.findall(r'href="#([\w-]+)"', glossary):
        assert f'id="{anchor}"' in glossary


def test_a_tablet_finds_back_to_the_floor(client: Client, shop: SmallShop) -> None:
    make_tablet(client)
    page = client.get("/glossary/").content.decode()
    assert 'class="floor"' in page and 'href="/floor/">Back to the floor</a>' in page


@pytest.mark.parametrize("path", ["/floor/cut/sign-in/", "/floor/"])
def test_the_legend_is_a_tap_away_on_the_tablet_before_anybody_signs_in(
    client: Client, shop: SmallShop, path: str
) -> None:
    make_tablet(client)
    page = client.get(path).content.decode()
    legend = page.split('class="inline ring-legend"')[1].split("</details>")[0]
    for _, word, meaning in words.OF_STEPS:
        assert f"<b>{word}</b> {meaning}" in legend
    assert legend.count("<svg") == len(words.OF_STEPS)


def test_the_legend_stands_where_rings_stand(supervisor: Client, shop: SmallShop) -> None:
    shell = shop.released()[0]
    for path in (
        "/board/kits/",
        "/board/age/",
        reverse("orders:order", args=[shell.order.number]),
        f"/trace/{shell.serial}/",
    ):
        assert "ring-legend" in supervisor.get(path).content.decode(), path
    assert 'href="/glossary/#rings"' in supervisor.get("/board/").content.decode(), "that board has to stay light"


def test_the_docs_explain_no_figure_that_the_program_does_not() -> None:
    docs = (TEMPLATES.parent / "docs" / "figures.md").read_text()
    table = docs.split("| figure | what it is |")[1].split("\n\n")[0]
    named = {
        re.sub(r" of an? .*", "", name).lower() for name in re.findall(r"^\| ([A-Z][^|]+) \|", table, re.MULTILINE)
    }
    assert len(named) >= 6
    assert named <= {name.lower() for name in words.OF_FIGURES}
