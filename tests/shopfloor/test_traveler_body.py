"""The rows of a traveler: nothing of the spec is missing on paper, whatever its length, and nothing runs out of the page."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import UTC, datetime
from html import unescape

import pytest
from django.utils import timezone
from django.utils.translation import gettext as _

from routing.history import Stamp
from routing.languages import Language, spoken_in
from routing.models import DrumModel, Finish, KitLine, KitOrder
from routing.release import release_order
from shopfloor.demo.loading import load_demo
from shopfloor.travelers.head import EDGE, Imprint, Mark, head_ink, imprint_ink
from shopfloor.travelers.rows import FOOT
from shopfloor.travelers.texts import Texts
from tests.shopfloor.paper import pages_of
from tests.shopfloor.traveler_papers import bare, edges_of, papers_of, text_of, travelers
from tests.small_shop import SmallShop

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_every_number_caution_and_word_of_a_drawing_is_on_the_paper(paper: str) -> None:
    now = timezone.now()
    load_demo(now=now, today=timezone.localdate())
    order = KitOrder.objects.create(number="K-all", customer="Harrow Lane School", due=now.date(), created_at=now)
    for position, code in enumerate(("heron-snare-14x5-5", "heron-bass-22x18"), start=1):
        model = DrumModel.objects.get(code=code)
        finish = Finish.objects.filter(kind=model.line.finish_kind).order_by("pk")[0]
        KitLine.objects.create(order=order, position=position, model=model, finish=finish)
    for traveler in travelers(release_order(number="K-all", stamp=Stamp(None, "command line", now, now))):
        text = bare(text_of(papers_of(traveler, paper=paper)))
        wanted = []
        for station in traveler.body.stations:
            wanted += [station.name, station.caution, station.write]
            for number in (*station.shared, *(n for step in station.steps for n in step.numbers)):
                label = number.label.lower() if station.many else number.label
                wanted += [label, f"{number.value} {number.unit}", number.tolerance]
                wanted += [] if station.many else [number.note]
            wanted += [words for step in station.steps for words in (step.title, step.dwell) if station.many]
            for svg in station.drawings:
                wanted += [unescape(words) for words in re.findall(r"<text[^>]*>([^<]*)</text>", svg)]
        assert len(wanted) > 150
        assert [words for words in wanted if bare(words) not in text] == []


def test_a_row_that_is_higher_than_a_page_goes_on_and_loses_no_word(shop: SmallShop) -> None:
    (traveler,) = travelers(shop.released())
    words = " ".join(f"care{n}" for n in range(2500))
    stations = tuple(
        replace(station, caution=words) if station is traveler.body.stations[1] else station
        for station in traveler.body.stations
    )
    pdf = papers_of(replace(traveler, body=replace(traveler.body, stations=stations)))
    assert len(pages_of(pdf)) > 2
    assert re.findall(r"\bcare\d+\b", text_of(pdf)) == words.split()
    assert all(min(edges) > 0.01 for edges in edges_of(pdf))


def test_long_notes_and_names_keep_all_their_words_and_their_place(shop: SmallShop) -> None:
    (traveler,) = travelers(shop.released())
    customer = "Municipal Academy of Percussion, Brass and Chamber Music of the Seven Valleys and their Surroundings, Main House"
    reference = "purchase 48812 / framework 2026-11 / cost centre percussion 7731 / second floor"
    head = replace(traveler.head, customer=customer, customer_reference=reference, finish="Rowan Red gloss " * 5)
    note = " ".join(f"note{n}" for n in range(1500))
    body = replace(traveler.body, notes=note, warnings=("The lugs are close to the seam.",) * 3)
    pdf = papers_of(replace(traveler, head=head, body=body), paper="Letter")
    text = text_of(pdf)
    assert customer in text and reference in text
    assert text.count("Rowan Red gloss") == 5
    assert re.findall(r"\bnote\d+\b", text) == note.split()
    assert text.count("Mind. The lugs are close to the seam.") == 3
    assert all(min(edges) > 0.01 for edges in edges_of(pdf))


def test_a_long_name_that_signed_stays_inside_of_its_box(shop: SmallShop) -> None:
    (traveler,) = travelers(shop.released())
    name = "Maximiliana Featherstonehaugh-Cholmondeley of the Lower Mill"
    stations = tuple(
        replace(
            s,
            steps=tuple(
                replace(step, signed_by=name, signed_at=datetime(2026, 11, 2, 9, tzinfo=UTC)) for step in s.steps
            ),
        )
        for s in traveler.body.stations
    )
    text = bare(text_of(papers_of(replace(traveler, body=replace(traveler.body, stations=stations)))))
    assert text.count(bare(f"{name} 2026-11-02 09:00")) == sum(len(s.steps) for s in stations)


def test_the_same_body_is_in_the_file_once(shop: SmallShop) -> None:
    found = travelers(shop.released(quantity=4))
    one, four = papers_of(found[0]), papers_of(*found)
    assert len({traveler.body_key for traveler in found}) == 1
    assert four.count(b"/Subtype/Form") == one.count(b"/Subtype/Form") == len(pages_of(one))
    assert len(four) < 1.5 * len(one)


def test_a_mark_covers_nothing(shop: SmallShop) -> None:
    (traveler,) = travelers(shop.released())
    name = "Ottermill Drum Works and Sons of the Long River Valley"
    head = head_ink(traveler.head, shop=name, paper="A4", page=1, of=1, texts=Texts())
    mark = imprint_ink(
        Imprint("A4", timezone.now(), "Somebody"), Mark(1, "COPY 12", "Take older paper off this shell."), Texts()
    )
    (box,) = re.findall(rb"([\d.]+) [\d.]+ ([\d.]+) [\d.]+ re f", mark.content())
    left, right = float(box[0]), float(box[0]) + float(box[1])
    first = re.search(rb"/\w+ ([\d.]+) Tf 1 0 0 1 ([\d.]+) ", head.content())
    assert first is not None
    size, at = float(first[1]), float(first[2])
    assert at + head.case.width(name, "title") * size < left < right < 110 * 72 / 25.4


@pytest.mark.parametrize("language", Language.values)
def test_what_a_print_says_of_itself_stays_below_the_body(language: str) -> None:
    with spoken_in(language):
        printed = Imprint("A4", timezone.now(), "Maximiliana Featherstonehaugh")
        ink = imprint_ink(printed, Mark(12, _("PREVIEW"), _("Not on record and not for the floor.")), Texts())
    lines = re.findall(rb"/\w+ ([\d.]+) Tf 1 0 0 1 ([\d.]+) ([\d.]+) ", ink.content())
    below = [(float(size), float(y)) for size, x, y in lines if float(x) < EDGE + 1 and float(y) < FOOT]
    assert below and all(y + 0.73 * size < FOOT for size, y in below)
