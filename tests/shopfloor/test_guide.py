"""The guide: open to everybody, one leaf each, and nothing in it that the program no longer has."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from PIL import Image

from quality.models import Person
from routing.languages import spoken_in
from routing.models import KitOrder, Shop
from shopfloor.demo.people import PEOPLE
from shopfloor.guide.leaf import Guide, said
from shopfloor.guide.pages import GUIDES, SAFETY
from tests.guide_pictures import BESIDE, LARGEST, SHOTS, perhaps_old, templates
from tests.shopfloor.paper import A4, LETTER, pages_of, sizes_of
from tests.shopfloor.tablets import Tablet, make_tablet, page
from tests.shopfloor.test_languages import LANGUAGES, catalogue
from tests.small_shop import SmallShop

FOLDER = Path(__file__).parents[2] / "static" / "guide"
MOST_PICTURES = 14
PICTURES = [step.picture for guide in GUIDES.values() for step in guide.steps if step.picture]
EVERY = pytest.mark.parametrize("guide", GUIDES.values(), ids=GUIDES)
# Words of a screen that come from a table of the program, not from a template.
ELSEWHERE = {"on hold", "Tablets", "People", "Materials", "Orders", "Requests", "Trace", "Packing", "Board", "Plan"}


def sentences(guide: Guide) -> str:
    steps = [f"{step.title}. {step.words}" for step in guide.steps]
    return " ".join([guide.lead, *steps, *(f"{happens}. {do}" for happens, do in guide.wrong)])


@EVERY
def test_it_can_be_read_by_everybody(client: Client, shop: SmallShop, guide: Guide) -> None:
    page = client.get(f"/guide/{guide.key}/").content.decode()
    assert guide.title in page and 'href="/sign-in/' not in page.split("<main")[1]
    for step in guide.steps:
        assert f"<h2>{step.title}</h2>" in page
    assert page.count("<img") == sum(bool(step.picture) for step in guide.steps)
    assert SAFETY.replace("'", "&#x27;") in page


def test_the_way_to_it_stands_on_every_page(client: Client, shop: SmallShop) -> None:
    assert 'href="/guide/"' in client.get("/").content.decode()
    index = client.get("/guide/").content.decode()
    for guide in GUIDES.values():
        assert f'href="/guide/{guide.key}/"' in index
    make_tablet(client)
    assert 'href="/guide/worker/">Guide</a>' in client.get("/floor/cut/sign-in/").content.decode()
    assert 'href="/guide/checker/">Guide</a>' in client.get("/floor/final-check/sign-in/").content.decode()


def test_a_tablet_finds_back_to_the_floor(client: Client, shop: SmallShop) -> None:
    make_tablet(client)
    for path in ("/guide/", "/guide/worker/"):
        assert 'href="/floor/">Back to the floor</a>' in client.get(path).content.decode()
    client.get("/floor/press/sign-in/")
    for path in ("/guide/", "/guide/worker/", "/glossary/"):
        assert 'href="/floor/press/">Back to the floor</a>' in client.get(path).content.decode(), "to its own queue"


def test_nobody_loses_what_they_typed_by_a_way_to_the_guide(shop: SmallShop) -> None:
    """In the middle of a step the link would lead away from readings that are not sent yet."""
    serial = shop.released()[0].serial
    tablet = Tablet("cut")
    tablet.sign_in(shop.worker)
    assert ">Guide</a>" in page(tablet.get("queue"))
    for answer in (tablet.get("step", serial), tablet.client.get(f"/floor/cut/rack/sign/?shell={serial}")):
        assert answer.status_code == 200
        assert "<form" in page(answer) and ">Guide</a>" not in page(answer)


def test_a_page_that_is_not_there_is_said_so(client: Client, shop: SmallShop) -> None:
    assert client.get("/guide/nobody/").status_code == 404
    assert client.get("/guide/nobody/card.pdf").status_code == 404


@EVERY
@pytest.mark.parametrize(("paper", "size"), [("A4", A4), ("Letter", LETTER)])
def test_the_card_is_one_leaf_with_all_of_it(
    client: Client, shop: SmallShop, guide: Guide, paper: str, size: tuple[int, int]
) -> None:
    Shop.objects.update(paper_size=paper)
    answer = client.get(f"/guide/{guide.key}/card.pdf")
    assert answer["Content-Type"] == "application/pdf"
    (leaf,) = pages_of(answer.content)
    assert sizes_of(answer.content) == {size}
    printed = re.sub(r"\W", "", leaf)
    for words in (guide.title, SAFETY, *(step.words for step in guide.steps), *(do for _, do in guide.wrong)):
        assert re.sub(r"\W", "", words) in printed, words


def test_the_pictures_are_those_that_the_script_takes() -> None:
    on_disk = {path.stem for path in FOLDER.glob("*.png")}
    assert on_disk == set(PICTURES) == {shot.name for shot in SHOTS} == set(json.loads(BESIDE.read_text()))
    assert len(on_disk) == len(PICTURES) <= MOST_PICTURES


@pytest.mark.parametrize("name", PICTURES)
def test_a_picture_is_small_and_says_what_it_shows(name: str) -> None:
    path = FOLDER / f"{name}.png"
    assert path.stat().st_size <= LARGEST
    with Image.open(path) as picture:
        assert picture.width >= 400
    assert all(step.shows for guide in GUIDES.values() for step in guide.steps if step.picture)


@EVERY
def test_every_button_that_it_names_is_on_a_screen(guide: Guide) -> None:
    there = templates()
    named = {words.rstrip(".,:") for words in re.findall("“([^”]+)”", sentences(guide))}
    assert named, "a guide names what to press"
    assert {words for words in named - ELSEWHERE if words not in there} == set()


def every_sentence(guide: Guide) -> list[str]:
    steps = [words for step in guide.steps for words in (step.title, step.words, step.shows) if words]
    return [guide.title, guide.lead, *steps, *(words for both in guide.wrong for words in both)]


def quoted(words: str) -> set[str]:
    return set(re.findall("[“„«]([^“”„«»]+)[”“»]", words))


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_translation_names_the_same_buttons_and_each_is_called_as_its_screen_calls_it(language: str) -> None:
    """Translations keep the names in English; the program puts in its own word, which has to be there."""
    known = catalogue(language)
    named: set[str] = set()
    for words in (words for guide in GUIDES.values() if guide.is_translated for words in every_sentence(guide)):
        (translated,) = known[words]
        assert translated and quoted(translated) == quoted(words)
        named |= quoted(words)
    assert {"Sign in", "Print the card", "Something is wrong"} <= named
    for name in named - {"Sign"}:
        assert known[name][0]
    (begins,) = known["Sign"]
    assert begins and known["Sign as %(name)s"][0].startswith(begins)


def test_what_stands_in_quotes_becomes_what_the_screen_says() -> None:
    with spoken_in("de"):
        assert said("Press “Print the card” or „Take it back“.") == "Press “Karte drucken” or „Zurücknehmen“."
    assert said("Press “Print the card”.") == "Press “Print the card”."


class TestLanguages:
    def test_a_tablet_reads_it_in_the_language_of_who_is_signed_in(self, shop: SmallShop, cut: Tablet) -> None:
        Shop.objects.update(language="es")
        assert '<html lang="es">' in page(cut.client.get("/guide/checker/"))
        Person.objects.filter(pk=shop.worker.pk).update(language="de")
        for address in ("/guide/", "/guide/worker/", "/guide/checker/", "/glossary/"):
            shown = page(cut.client.get(address))
            assert '<html lang="de">' in shown and ">Anleitung</a>" in shown and "?language=" not in shown
        assert "<strong>Vorsicht</strong>" in page(cut.client.get("/guide/worker/"))

    def test_a_tablet_where_nobody_is_signed_in_reads_it_in_the_shops_language(
        self, client: Client, shop: SmallShop
    ) -> None:
        Shop.objects.update(language="de")
        make_tablet(client)
        assert '<html lang="de">' in page(client.get("/guide/worker/"))

    def test_the_office_reads_it_in_english_or_as_the_address_asks(self, supervisor: Client, shop: SmallShop) -> None:
        Shop.objects.update(language="de")
        english = page(supervisor.get("/guide/worker/"))
        assert '<html lang="en">' in english and 'href="?language=de">Deutsch</a>' in english
        german = page(supervisor.get("/guide/worker/?language=de"))
        assert '<html lang="de">' in german and "<strong>Vorsicht</strong>" in german
        assert 'href="?language=en">English</a>' in german and 'href="/guide/?language=de"' in german
        letterhead = german.split('<div lang="en">')[1].split("</header>")[0]
        assert "Sign out" in letterhead, "the frame stays as the office is"
        assert '<html lang="en">' in page(supervisor.get("/guide/worker/?language=none"))

    def test_a_page_for_a_desk_is_in_english_everywhere(self, client: Client, shop: SmallShop) -> None:
        Shop.objects.update(language="de")
        make_tablet(client)
        shown = page(client.get("/guide/office/"))
        assert '<html lang="en">' in shown and "<strong>Caution</strong>" in shown

    def test_the_card_is_in_the_shops_language_whoever_prints(
        self, client: Client, supervisor: Client, shop: SmallShop
    ) -> None:
        Shop.objects.update(language="de")
        for browser in (client, supervisor):
            for who in ("worker", "checker"):
                (leaf,) = pages_of(browser.get(f"/guide/{who}/card.pdf?language=es").content)
                assert "Anleitung" in leaf and "Vorsicht." in leaf
        (leaf,) = pages_of(client.get("/guide/office/card.pdf").content)
        assert "Guide" in leaf and "Caution." in leaf


def test_what_the_pictures_show_is_in_the_program_still() -> None:
    """Headings and buttons as they were when the pictures were taken; a word that is gone makes a picture old."""
    there = templates()
    shown = json.loads(BESIDE.read_text())
    gone = {name: [word for word in entry["words"] if word not in there] for name, entry in shown.items()}
    assert not any(gone.values()), f"Take the pictures anew with python -m tests.pictures: {gone}"
    assert sum(bool(entry["words"]) for entry in shown.values()) > len(shown) / 2


def test_no_name_of_a_person_or_customer_is_on_a_picture() -> None:
    shown = BESIDE.read_text()
    assert not [person.name for person in PEOPLE if person.name in shown]


def test_what_may_be_old_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("tests.guide_pictures.digest", lambda entry: "another")
    assert set(perhaps_old()) == set(PICTURES)


def test_nothing_of_the_shop_is_asked_for(client: Client, shop: SmallShop) -> None:
    """Neither people nor orders: whoever reads it needs no sign-in."""
    with CaptureQueriesContext(connection) as asked:
        client.get("/guide/worker/")
    tables = " ".join(each["sql"] for each in asked.captured_queries)
    for model in (Person, KitOrder):
        assert model._meta.db_table not in tables
