"""The catalogues: whole for what a tablet or a paper says, alike in their files, with the same places for what is filled in."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path
from string import Formatter

import polib
import pytest
from django.conf import settings
from django.utils.translation.template import templatize

from quality.bags import LOOSE_TITLE, BagStand
from quality.models import (
    BagState,
    CheckedHow,
    Disposition,
    LotKind,
    LotState,
    RequestKind,
    RequestState,
    Severity,
)
from quality.statistics import RULES
from quality.statistics.capability import CAUTIONS
from routing.drawings.ring import WORDS as RING_WORDS
from routing.models import DwellKind, OperationState, OrderState, PlanState, ShellState, StationKind
from routing.models.recipes import ROLE_CHOICES
from routing.specs.inputs import Grain, Surface
from shopfloor.stored_words import WORDS

ROOT = Path(settings.BASE_DIR)
LANGUAGES = ("de", "es")
# What a person at a station or a customer reads; other rooms may lack a translation, and speak English then.
FLOOR = (
    "templates/floor",
    "templates/card",
    "templates/guide",
    "templates/cartons/list.html",
    "templates/cartons/order.html",
    "templates/components/pages.html",
    "templates/packing/_bags.html",
    "templates/packing/label.html",
    *("templates/packing/refused.html", "templates/tablets/_here.html", "templates/404.html", "templates/base.html"),
)
ROOMS_WITH_A_DESK = (
    *("api", "bench", "board", "catalog", "cutting", "exports", "figures", "holes", "hours"),
    *("late", "made_here", "materials", "orders", "people", "plan", "recall", "requests", "signin", "start"),
    *("tablets", "trace"),
)
# Code that only speaks at a desk: it asks for its words all the same, and speaks English until somebody translates them.
AT_A_DESK = (
    "shopfloor/guide/desk_pages.py",
    "shopfloor/session_limits.py",
    *(f"shopfloor/{room}/" for room in ROOMS_WITH_A_DESK),
)
ASKS_FOR_WORDS = ("django.utils.translation", "routing.specs.sentences import")  # the core has forms of its own
CALLS = {"_": 1, "gettext": 1, "gettext_noop": 1, "ngettext": 1}
PLACES = re.compile(r"%\(\w+\)s|\{\w+\}")
KINDS = (
    *(OperationState, ShellState, OrderState, DwellKind, StationKind, LotKind, LotState, BagState),
    *(Disposition, Severity, RequestState, PlanState, CheckedHow, RequestKind),
)
PACKAGES = ("routing", "quality", "shopfloor")
LITERAL = r"""('(?:[^'\\]|\\.)*'|"(?:[^"\\]|\\.)*")"""


def files(places: tuple[str, ...], ending: str) -> list[Path]:
    found = []
    for place in places:
        path = ROOT / place
        found += (
            [path] if path.is_file() else sorted(path.rglob(f"*{ending}")) or sorted(ROOT.glob(f"{place}*{ending}"))
        )
    return found


def spoken_at_tablets() -> list[Path]:
    return [path for path in files(PACKAGES, ".py") if not str(path.relative_to(ROOT)).startswith(AT_A_DESK)]


def said_in_code(path: Path) -> Iterator[str]:
    """What a module says that asks for words in a language at all; another's ``_`` is only a name."""
    text = path.read_text(encoding="utf-8")
    return messages_in(ast.parse(text)) if any(words in text for words in ASKS_FOR_WORDS) else iter(())


def said_in_template(path: Path) -> Iterator[str]:
    code = templatize(path.read_text(encoding="utf-8"))
    for found in re.finditer(rf"\bngettext\(\s*u?{LITERAL}\s*,", code):
        yield ast.literal_eval(found[1])
    for found in re.finditer(rf"(?<!n)\b(?:gettext|_)\(\s*u?{LITERAL}\s*\)", code):
        yield ast.literal_eval(found[1])


def catalogue(language: str, ending: str = "po") -> dict[str, list[str]]:
    """Message → its forms; one with a context begins with it."""
    path = ROOT / "shopfloor" / "locale" / language / "LC_MESSAGES" / f"django.{ending}"
    entries = polib.pofile(str(path)) if ending == "po" else polib.mofile(str(path))
    return {
        f"{each.msgctxt}: {each.msgid}" if each.msgctxt else each.msgid: [
            each.msgstr_plural[at] for at in sorted(each.msgstr_plural)
        ]
        if each.msgid_plural
        else [each.msgstr]
        for each in entries
    }


@pytest.mark.parametrize("language", LANGUAGES)
def test_whatever_a_tablet_or_a_traveler_says_is_translated(language: str) -> None:
    known = catalogue(language)
    said = {
        *(words for path in files(FLOOR, ".html") for words in said_in_template(path)),
        *(words for path in spoken_at_tablets() for words in said_in_code(path)),
        *said_in_template(ROOT / "templates" / "floor_base.html"),
    }
    assert len(said) > 800
    assert sorted(words for words in said if not all(known.get(words, [""]))) == []


def test_the_core_says_nothing_but_by_its_forms() -> None:
    """What it refuses and warns of has no words of its own, except where only the office and programs read it."""
    office = {"hole_files", "jsonable", "threads", "tuning", "units"}
    found = []
    for path in sorted((ROOT / "routing/specs").glob("*.py")):
        for call in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(call, ast.Call) and getattr(call.func, "id", "") in {"SpecError", "SpecWarning"}:
                words = [each.value for each in ast.walk(call.args[2]) if isinstance(each, ast.Constant)]
                found += [
                    (path.stem, each)
                    for each in words
                    if isinstance(each, str) and len(re.findall("[A-Za-z]{2,}", each)) > 1
                ]
    assert {stem for stem, _ in found} == office
    assert [words for stem, words in found if stem == "tuning"] == ["The mode ", " is not in the table."]


@pytest.mark.parametrize("language", LANGUAGES)
def test_what_is_compiled_is_what_is_written(language: str) -> None:
    written = {msgid: forms for msgid, forms in catalogue(language).items() if all(forms)}
    assert catalogue(language, "mo") == written


@pytest.mark.parametrize("language", LANGUAGES)
def test_no_translation_is_a_guess_and_all_fill_in_the_same_places(language: str) -> None:
    path = ROOT / "shopfloor" / "locale" / language / "LC_MESSAGES" / "django.po"
    entries = polib.pofile(str(path))
    assert [each.msgid for each in entries if each.fuzzy or each.obsolete] == []
    for each in entries:
        whole = each.msgid_plural or each.msgid
        for form in each.msgstr_plural.values() if each.msgid_plural else [each.msgstr]:
            if form and not (each.msgid_plural and form == each.msgstr_plural[0]):
                assert sorted(set(PLACES.findall(form))) == sorted(set(PLACES.findall(whole))), each.msgid


def test_every_word_of_the_tables_that_a_tablet_shows_is_named_for_the_catalogues() -> None:
    labels = {
        *(label for _, label in ROLE_CHOICES),
        *(str(state.label) for kind in KINDS for state in kind),
        *(stand.value for stand in BagStand),
        *(value.value for kind in (Grain, Surface) for value in kind),
        *RING_WORDS.values(),
        *RULES.values(),
        *CAUTIONS,
        LOOSE_TITLE,
    }
    assert labels - set(WORDS) == set()


def test_scripts_say_in_english_what_the_page_has_translated() -> None:
    """``said("name", "English")`` of a script, and ``data-name`` of the page with the same English."""
    scripts = "\n".join(path.read_text() for path in sorted((ROOT / "static" / "js").glob("*.js")))
    said = dict(re.findall(r'said\(\s*"(\w+)",\s*"((?:[^"\\]|\\.)*)"', scripts))
    page = (ROOT / "templates" / "floor" / "_words.html").read_text()
    given = {
        re.sub("-(.)", lambda letter: letter[1].upper(), name): words
        for name, _, words in re.findall(r"""data-([\w-]+)="\{% translate (['"])(.*?)\2 %\}\"""", page)
    }
    assert given == {name: words for name, words in said.items() if name != "point"}


def named_at_the_top(module: ast.Module) -> dict[str, ast.expr]:
    return {
        node.targets[0].id: node.value
        for node in module.body
        if isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name)
    }


def filled_in(function: ast.AST, named: dict[str, ast.expr]) -> Iterator[tuple[ast.Call, set[str]]]:
    """Every ``.format(…)`` of a function, with the places of the message that it fills in; a message that was given a name
    is the one that the name was given last.
    """
    given = dict(named)
    for node in sorted(ast.walk(function), key=lambda node: (getattr(node, "lineno", 0), isinstance(node, ast.Call))):
        if isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name):
            given[node.targets[0].id] = node.value
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr == "format":
            words = node.func.value
            messages = set(messages_in(given.get(words.id, words) if isinstance(words, ast.Name) else words))
            if messages:
                yield node, {name for each in messages for _, name, _, _ in Formatter().parse(each) if name}


def messages_in(tree: ast.AST) -> Iterator[str]:
    for node in ast.walk(tree):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in CALLS:
            for argument in node.args[: CALLS[node.func.id]]:
                if isinstance(argument, ast.Constant) and isinstance(argument.value, str):
                    yield argument.value


def test_code_fills_in_exactly_the_places_of_each_message() -> None:
    seen, wrong = 0, []
    for path in files(PACKAGES, ".py"):
        module = ast.parse(path.read_text(encoding="utf-8"))
        named = named_at_the_top(module)
        for function in ast.walk(module):
            for call, wanted in filled_in(function, named) if isinstance(function, ast.FunctionDef) else ():
                given = {each.arg for each in call.keywords if each.arg}
                is_whole = all(each.arg for each in call.keywords)
                seen += 1
                if call.args or not given <= wanted or (is_whole and given != wanted):
                    wrong.append(f"{path.name}:{call.lineno}: {ast.unparse(call)}")
    assert seen > 250
    assert wrong == []
