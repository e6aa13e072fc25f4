"""Sentences of a spec are read back by the forms they were made of, exactly, and said in another language."""

from __future__ import annotations

import json
import random
import re
import subprocess
import sys
from collections.abc import Iterator
from string import Formatter
from typing import Any

import pytest
from django.utils.translation import gettext

from routing import spec_words
from routing.languages import spoken_in
from routing.spec_words import spoken
from routing.specs.errors import SpecError
from routing.specs.inputs import DrumInputs
from routing.specs.jsonable import from_json, to_json
from routing.specs.sentences import forms
from routing.specs.sheet import compute_sheet
from routing.specs.tuning import evenness
from tests.routing.specs.example_drums import ALL

NAMES = ("Ash", "Ash (wide), 2 mm", "1.5", "Böckchen & Co. – 12-24")


def in_german(form: str, **values: str) -> str:
    with spoken_in("de"):
        return gettext(form).format(**values)


def said_in_german(sentence: str) -> str:
    with spoken_in("de"):
        return spoken(sentence)


def places(form: str) -> list[str]:
    return [place for _, place, _, _ in Formatter().parse(form) if place]


def read_by(sentence: str) -> list[str]:
    return [form.form for form in spec_words._forms() if form.readings(sentence)]


@pytest.mark.parametrize("form", forms())
@pytest.mark.parametrize("name", NAMES)
def test_a_form_gives_back_what_filled_its_places(form: str, name: str) -> None:
    kinds = {"angles": "0°, 22.5°", "gaps": "120°, 240°", "places": "1, 3"}
    texts = spec_words._TEXTS | spec_words._WORDS | spec_words._SENTENCES
    given = {
        place: kinds.get(place, name if place in texts else ("-0.25", "7", "1e-05")[number % 3])
        for number, place in enumerate(places(form))
    }
    (found,) = [each for each in spec_words._forms() if each.form == form]
    assert given in found.readings(form.format(**given))


def test_every_form_of_the_core_is_known_to_the_edge() -> None:
    """In a process of its own: here other tests have loaded the whole core."""
    program = (
        "import importlib, pkgutil\n"
        "import routing.spec_words, routing.specs\n"
        "from routing.specs.sentences import forms\n"
        "known = set(forms())\n"
        "for module in pkgutil.iter_modules(routing.specs.__path__):\n"
        "    importlib.import_module('routing.specs.' + module.name)\n"
        "print(len(known), sorted(set(forms()) - known))\n"
    )
    ended = subprocess.run([sys.executable, "-c", program], check=False, capture_output=True, text=True)
    assert ended.returncode == 0, ended.stderr
    known, unknown = ended.stdout.split(" ", 1)
    assert int(known) > 100
    assert unknown == "[]\n"


def sentences_in(made: Any) -> Iterator[str]:
    if isinstance(made, dict):
        for name, value in made.items():
            if name in {"message", "advice", "reason", "stop_reason", "gloss_advice", "verdict"} and value:
                yield value
            yield from sentences_in(value)
    elif isinstance(made, list):
        for value in made:
            yield from sentences_in(value)


def changed_at_random(drum: DrumInputs, by: random.Random) -> dict[str, Any]:
    """Its inputs with one number that may be too little or too much."""
    inputs: dict[str, Any] = json.loads(json.dumps(to_json(drum)))
    numbers: list[tuple[Any, Any]] = []

    def collect(holder: Any, keys: Any) -> None:
        for key in keys:
            if isinstance(holder[key], dict):
                collect(holder[key], holder[key])
            elif isinstance(holder[key], list):
                collect(holder[key], range(len(holder[key])))
            elif isinstance(holder[key], int | float) and not isinstance(holder[key], bool):
                numbers.append((holder, key))

    collect(inputs, inputs)
    holder, key = by.choice(numbers)
    value = by.choice((0, holder[key] * 3, holder[key] * by.uniform(0.3, 1.7), holder[key] + by.uniform(-5, 5)))
    holder[key] = round(value) if isinstance(holder[key], int) else value
    return inputs


def test_whatever_the_core_says_of_drums_made_wrong_is_read_back() -> None:
    by, said, fields = random.Random(11), set[str](), set[str]()
    for _ in range(1200):
        inputs = changed_at_random(by.choice(list(ALL.values())), by)
        try:
            said.update(sentences_in(to_json(compute_sheet(from_json(DrumInputs, inputs)))))
        except SpecError as refused:
            said.add(refused.message)
            fields.add(refused.field)
    unread = sorted(sentence for sentence in said if not read_by(sentence))
    assert unread == []
    assert [field for field in fields if not re.fullmatch(r"[\w.]+", field)] == []  # names, no words
    assert len({read_by(sentence)[0] for sentence in said}) > 40


def test_numbers_take_the_decimal_sign_and_names_keep_what_they_are() -> None:
    verdict = "Fit to glue: {now} % moisture."
    assert said_in_german("Fit to glue: 8.5 % moisture.") == in_german(verdict, now="8,5")
    finds = "Weighing finds one missing {part}."
    assert said_in_german("Weighing finds one missing 1.5 in screw.") == in_german(finds, part="1.5 in screw")
    assert said_in_german("lugs") == "lugs"


def test_a_sentence_within_another_is_said_too() -> None:
    reason = in_german(
        "no film forms at {now} °C; warm the room to at least {least} °C before coating.", now="4,5", least="16"
    )
    english = "no film forms at 4.5 °C; warm the room to at least 16 °C before coating."
    assert said_in_german(f"Clear: satin: {english}") == f"Clear: satin: {reason}"
    assert said_in_german("Clear: dries badly.") == "Clear: dries badly."


def test_each_lug_to_turn_is_said() -> None:
    advice = evenness([200, 204.5, 200, 195.5], 3.0, 200).advice
    loosen = in_german("loosen lug {lug} ({off} Hz)", lug="2", off="+4,5")
    tighten = in_german("tighten lug {lug} ({off} Hz)", lug="4", off="-4,5")
    assert said_in_german(advice) == in_german("Turn: {turns}.", turns=f"{loosen}; {tighten}")


@pytest.mark.parametrize(
    "sentence",
    [
        "Fit to glue: 8.5 % moisture",
        "Zum Leimen geeignet: 8,5 % Holzfeuchte.",
        "Clear: " * 2000 + "dries badly.",  # as somebody may type it
        "",
    ],
)
def test_what_is_no_sentence_stays_as_it_is(sentence: str) -> None:
    assert said_in_german(sentence) == sentence


def test_what_can_be_read_in_two_ways_stays_as_it_is(monkeypatch: pytest.MonkeyPatch) -> None:
    two_ways = "Hole 1 (vent 1) and Hole 3 (vent 1) and Hole 2 (lug 1) are 5.0 mm apart; keep 6 mm."
    one_way = "Hole 1 (vent and badge 1) and Hole 2 (lug 1) are 5.0 mm apart; keep 6 mm."
    monkeypatch.setattr(spec_words, "_", lambda form: form.replace("Hole", "Loch"))
    spec_words._spoken.cache_clear()
    said = [said_in_german(two_ways), said_in_german(one_way)]
    spec_words._spoken.cache_clear()
    assert said == [two_ways, "Loch 1 (vent and badge 1) and Loch 2 (lug 1) are 5,0 mm apart; keep 6 mm."]


@pytest.mark.parametrize("sentence", ["Fit to glue: 8.5 % moisture.", "Even within 3 Hz."])
def test_english_stays_as_it_is(sentence: str) -> None:
    assert spoken(sentence) is sentence
