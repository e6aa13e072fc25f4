"""Travelers, cards and certificates speak with the words that the page of words explains, spelled the same."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from routing.drawings.ring import WORDS as RING_WORDS
from routing.models import DwellKind, Operation, OperationState
from shopfloor import words
from shopfloor.travelers.facts import read
from shopfloor.travelers.sheet import travelers_from
from tests.shopfloor.test_languages import messages_in
from tests.shopfloor.traveler_prints import BASE
from tests.small_shop import SmallShop

ROOT = Path(__file__).parents[2]


def explained() -> set[str]:
    """Each word of each term, and the words of states, stations and dwells."""
    terms = [term for term, _ in words.OF_THE_TRADE]
    terms += [str(kind.label) for group in (words.OF_STATIONS, words.OF_DWELLS, words.OF_SHELLS) for kind, _ in group]
    return {word for term in terms for word in in_words(term)}


def in_words(label: str) -> list[str]:
    """Without what is filled in, and several as one."""
    found = re.findall("[a-z]+", re.sub(r"\{\w+\}", "", label.lower()).replace("'s", ""))
    return [re.sub("(?<=ch)es$|(?<!s)s$", "", word) for word in found]


# Words of every day, and those of geometry and weighing; any other that labels a number, a column or a drawing is explained.
EVERY_DAY = frozenset(
    in_words(
        """above across after aim air all alone along angle are area at away axis base before below by close dashed date deep
    diameter down drum dry each end first fit for force found free from furthest gap hand high how inner inside into
    it last leave like low material measured middle mind mm most movement name near no not of once one only
    outer outside over page parallel piece plane pressure rest round seen settle settled signed sound
    square stay straight swing the then this time to together top travel trimming true unrolled was water weigh wet
    when while with within wood"""
    )
)


def labels_of_numbers() -> Iterator[str]:
    """Whatever stands before a number at a station: the first argument of a StationNumber, given there or by a name."""
    for name in ("station_numbers", "station_details"):
        for node in ast.walk(ast.parse((ROOT / f"routing/{name}.py").read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
                at = {"StationNumber": 0, "_aim": 2}.get(node.func.id)
                if at is not None:
                    yield from messages_in(node.args[at])
            elif isinstance(node, ast.Assign) and getattr(node.targets[0], "id", "") == "label":
                yield from messages_in(node.value)
            elif isinstance(node, ast.For):
                yield from messages_in(node.iter)
            elif isinstance(node, ast.FunctionDef) and node.name == "side_in_words":
                yield from messages_in(node)


def words_of_drawings() -> Iterator[str]:
    """Of all that drawings say, what stands on those of a station: each part of it is a text of one of these modules."""
    texts = [
        node.value
        for name in ("edge_profile", "hole_map", "plate_stack")
        for node in ast.walk(ast.parse((ROOT / f"routing/drawings/{name}.py").read_text(encoding="utf-8")))
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and "\n" not in node.value
    ]
    for said in messages_in(ast.parse((ROOT / "routing/drawing_words.py").read_text(encoding="utf-8"))):
        parts = [part.strip() for part in re.split(r"\{\w+\}", said) if re.search("[a-z]{3}", part)]
        if parts and all(any(re.search(rf"(?<!\w){re.escape(part)}", text) for text in texts) for part in parts):
            yield said


def labels_of_papers() -> Iterator[str]:
    """Columns and facts of the traveler, the words of drawings, the facts and columns of a certificate."""
    for name in ("head", "rows"):
        text = (ROOT / f"shopfloor/travelers/{name}.py").read_text(encoding="utf-8")
        yield from (said for said in messages_in(ast.parse(text)) if not said.endswith("."))
    yield from words_of_drawings()
    facts = re.findall(
        r'^        \((?:_\()?"([A-Z][^"]+)"', (ROOT / "quality/certificate.py").read_text(), re.MULTILINE
    )
    columns = re.findall(
        r'<th[^>]*>(?:{% translate ")?([^<"]+)', (ROOT / "templates/certificate/paper.html").read_text()
    )
    assert len(facts) >= 8 and len(columns) >= 6
    yield from (*facts, *columns)


@pytest.mark.parametrize("label", sorted({*labels_of_numbers(), *labels_of_papers()}))
def test_a_label_on_paper_is_made_of_explained_words(label: str) -> None:
    assert set(in_words(label)) - explained() - EVERY_DAY == set()


def test_the_labels_are_found() -> None:
    assert {"Mould", "Wall: aim for", "Batter head, at each lug", "Snare side", "Mix for {count} like this"} <= set(
        labels_of_numbers()
    )
    assert {"Spec revision", "seam", "Bearing edges", "Lots and batches"} <= set(labels_of_papers())


def test_a_ring_names_states_as_they_are_explained() -> None:
    states = {str(state): str(state.label) for state in OperationState}
    for state, said in RING_WORDS.items():
        parts = said.split(" or ") if state == "drying" else []
        assert set(parts) <= {str(kind.label) for kind, _ in words.OF_DWELLS}
        assert parts or said == states[state]


@pytest.mark.django_db
def test_a_traveler_names_each_wait_as_it_is_explained(shop: SmallShop) -> None:
    (shell,) = shop.released()
    for kind, _ in words.OF_DWELLS:
        Operation.objects.filter(shell=shell).update(dwell_kind=kind, dwell_minutes=90)
        (traveler,) = travelers_from(read([shell.serial], base_url=BASE))
        said = {step.dwell for station in traveler.body.stations for step in station.steps}
        assert said == {f"then 1 h 30 min {DwellKind(kind).label}"}
