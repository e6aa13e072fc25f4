"""However long the words are and whatever they are written in: all of them are on the paper, in their places."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import UTC, datetime

import pytest
from django.utils import timezone

from routing.history import Stamp
from routing.models import DrumModel, Finish, KitLine, KitOrder, ShellSpec, Station
from routing.release import release_order
from shopfloor.demo.loading import load_demo
from shopfloor.travelers import making
from shopfloor.travelers import texts as texts_module
from shopfloor.travelers.drawn import PAPERS_PT, Drawn, pdf_of
from shopfloor.travelers.facts import read
from shopfloor.travelers.head import FACTS_HIGH, FACTS_TOP, SHORT, SHORT_RIGHT
from shopfloor.travelers.ink import MM
from shopfloor.travelers.pages import body_pages, sheaf_pages
from shopfloor.travelers.rows import EDGE, FOOT, NEXT_HEAD, RIGHT_WIDE, Row, Stack, pages_of
from shopfloor.travelers.sheet import Traveler, TravelerStation
from shopfloor.travelers.texts import Texts
from shopfloor.travelers.type_case import set_page
from tests.shopfloor.paper import pages_of as texts_of
from tests.shopfloor.traveler_papers import BASE, bare, letters_of, papers_of, text_of, travelers
from tests.small_shop import SmallShop

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("papers_folder")]
BOTH = pytest.mark.parametrize("paper", ["A4", "Letter"])


def with_station(traveler: Traveler, at: int, station: TravelerStation) -> Traveler:
    stations = list(traveler.body.stations)
    stations[at] = station
    return replace(traveler, body=replace(traveler.body, stations=tuple(stations)))


def stays_on_its_pages(pdf: bytes, paper: str) -> None:
    """Nothing of the body stands in the foot or runs out at a side; nothing at all runs out of the page."""
    width, height = PAPERS_PT[paper]
    for each in letters_of(pdf):
        assert each.left > EDGE - 1 and each.right < width - EDGE + 1, each
        assert each.top > 4 * MM and each.bottom < height - 4 * MM, each
        assert each.bottom < height - FOOT + 1 or each.top > height - 9.5 * MM, each


# The head


@BOTH
@pytest.mark.parametrize("letter", ["W", "Ш", "n", "漢"])
def test_the_longest_names_of_the_head_are_there_and_in_their_places(shop: SmallShop, paper: str, letter: str) -> None:
    (traveler,) = travelers(shop.released())
    long = {"customer": 120, "customer_reference": 80, "line": 80, "finish": 60, "order": 30}
    pdf = papers_of(
        replace(traveler, head=replace(traveler.head, **{name: letter * n for name, n in long.items()})),  # type: ignore[arg-type]
        paper=paper,
    )
    stays_on_its_pages(pdf, paper)
    width = PAPERS_PT[paper][0]
    cells = {
        "order": (EDGE, EDGE + SHORT, FACTS_TOP, FACTS_TOP + FACTS_HIGH, 30),
        "for": (EDGE + SHORT, width - EDGE - 2 * SHORT_RIGHT, FACTS_TOP, FACTS_TOP + FACTS_HIGH, 200),
        "line": (42 * MM, width - 42 * MM, 19 * MM, 25.4 * MM, 140),
    }
    letters = [each for each in letters_of(pdf) if each.letter == letter and each.page == 0]
    for left, right, top, bottom, count in cells.values():
        inside = [x for x in letters if x.left >= left and x.right <= right and x.top >= top and x.bottom <= bottom]
        # The labels have an n too: “For”, “Order”, “not in the kit any more” are no letters of the names.
        assert len(inside) >= count if letter == "n" else len(inside) == count
        assert min(x.bottom - x.top for x in inside) > 1.5


@BOTH
def test_long_names_of_usual_words_stay_large_enough_to_read(shop: SmallShop, paper: str) -> None:
    (traveler,) = travelers(shop.released())
    customer = "Municipal Academy of Percussion, Brass and Chamber Music of the Seven Valleys and their Surroundings, Main House 2nd fl"
    head = replace(traveler.head, customer=customer[:120], customer_reference="purchase 48812 / framework 2026-11 " * 2)
    height = [
        x.bottom - x.top for x in letters_of(papers_of(replace(traveler, head=head), paper=paper)) if x.letter == "M"
    ]
    assert min(height[:2]) > 0.7 * 5.4  # a capital is 0.73 of its size (read from the face)


# Who signed


@BOTH
@pytest.mark.parametrize(
    ("name", "capital"),
    [
        ("W" * 80, "W"),
        ("Maximiliana Featherstonehaugh-Cholmondeley of the Lower Mill and of the Hill House"[:80], "M"),
        ("Константин Константинопольский-Преображенский Младший из Нижней Мельницы у реки М", "М"),
    ],
)
def test_a_long_name_that_signed_is_large_enough_and_inside_of_its_box(
    shop: SmallShop, paper: str, name: str, capital: str
) -> None:
    (traveler,) = travelers(shop.released())
    at = datetime(2026, 11, 2, 9, tzinfo=UTC)
    for station in (0, 2, len(traveler.body.stations) - 1):
        visit = traveler.body.stations[station]
        steps = tuple(replace(step, signed_by=name, signed_at=at) for step in visit.steps)
        pdf = papers_of(with_station(traveler, station, replace(visit, steps=steps)), paper=paper)
        assert bare(text_of(pdf)).count(bare(name)) == len(steps)
        left = PAPERS_PT[paper][0] - EDGE - RIGHT_WIDE
        inside = [
            x
            for x in letters_of(pdf)
            if x.letter == capital
            and x.left > left
            and x.right < left + 49.6 * MM
            and x.top > (12 if x.page else 50) * MM
        ]
        assert len(inside) >= len(steps) * name.count(capital)
        assert min(x.bottom - x.top for x in inside) > 0.7 * 6.5
        stays_on_its_pages(pdf, paper)


# Rows


@BOTH
@pytest.mark.parametrize("after", range(14))
def test_a_row_that_is_higher_than_a_page_loses_nothing_wherever_it_begins(
    shop: SmallShop, paper: str, after: int
) -> None:
    (traveler,) = travelers(shop.released())
    one = next(station for station in traveler.body.stations if not station.many)
    words = [f"care{n}" for n in range(1140)]
    long = replace(one, caution=" ".join(words))
    assert len(long.caution) >= 9000
    body = replace(traveler.body, stations=(*[replace(one, caution="")] * after, long, one))
    pdf = papers_of(replace(traveler, body=body), paper=paper)
    assert re.findall(r"\bcare\d+\b", text_of(pdf)) == words
    stays_on_its_pages(pdf, paper)


@BOTH
@pytest.mark.parametrize("at", [0, 1, 3])
def test_more_readings_than_a_page_has_room_for_are_all_there(shop: SmallShop, paper: str, at: int) -> None:
    (traveler,) = travelers(shop.released())
    readings = [f"Reading{n} at the place of that number _______ 1.0 … 2.0 mm" for n in range(110)]
    visit = replace(traveler.body.stations[at], write="; ".join(readings))
    pdf = papers_of(with_station(traveler, at, visit), paper=paper)
    assert re.findall(r"Reading\d+", text_of(pdf)) == [f"Reading{n}" for n in range(110)]
    for part in ("_______", "1.0", "2.0 mm"):  # whole, though a page may end between them
        assert bare(text_of(pdf)).count(bare(part)) >= 110
    stays_on_its_pages(pdf, paper)


@BOTH
def test_a_long_text_that_is_set_goes_on_on_the_next_page(shop: SmallShop, paper: str) -> None:
    (traveler,) = travelers(shop.released())
    words = [f"уход{n}" for n in range(1000)]
    pdf = papers_of(replace(traveler, body=replace(traveler.body, notes=" ".join(words))), paper=paper)
    assert re.findall(r"\bуход\d+\b", text_of(pdf)) == words
    assert sum("уход" in page for page in texts_of(pdf)) > 1
    stays_on_its_pages(pdf, paper)


def test_a_row_of_which_one_column_does_not_begin_in_what_is_left_goes_to_the_next_page() -> None:
    def stack(*heights: float) -> Stack:
        made = Stack()
        for height in heights:
            made.add(height, lambda ink, top: None)
        return made

    first, high = Row((stack(500.0),), 0, 0), Row((stack(*[10.0] * 200), stack(200.0, 10.0)), 0, 0)
    pages = pages_of([first, high], 842.0)
    assert pages[0] == [first]
    assert sum(len(row.stacks[0].items) for page in pages[1:] for row in page) == 200
    assert sum(len(row.stacks[1].items) for page in pages[1:] for row in page) == 2
    for page in pages:
        assert sum(row.height for row in page) <= 842.0 - FOOT - NEXT_HEAD


# What is set


def foreign(traveler: Traveler) -> Traveler:
    """Letters that are set, in everything that a traveler says."""
    numbers = tuple(replace(n, note=f"{n.note} №") for n in traveler.body.stations[0].steps[0].numbers)
    stations = tuple(
        replace(
            station,
            name=f"תחנה {place}",
            caution=f"осторожно {place}",
            write=f"измерение {place} _______ mm",
            drawings=tuple(re.sub(r"(<text[^>]*>)", r"\1Ж", svg, count=1) for svg in station.drawings),
            steps=tuple(
                replace(
                    step,
                    title=f"шаг {step.position}",
                    dwell=f"ждать {step.position}",
                    signed_by=f"Жанна {step.position}",
                    signed_at=datetime(2026, 11, 2, 9, tzinfo=UTC),
                    numbers=numbers,
                )
                for step in station.steps
            ),
        )
        for place, station in enumerate(traveler.body.stations)
    )
    body = replace(traveler.body, stations=stations, notes="заметка 1", warnings=("внимание 1",))
    head = replace(traveler.head, customer="клиент 1", customer_reference="номер 1", line="линия 1", finish="лак 1")
    return replace(traveler, head=head, body=body)


@BOTH
def test_every_text_of_a_traveler_may_be_written_in_other_letters(shop: SmallShop, paper: str) -> None:
    (plain,) = travelers(shop.released())
    traveler = foreign(plain)
    pdf = papers_of(traveler, paper=paper)
    text = bare(text_of(pdf))
    wanted = ["клиент 1", "номер 1", "линия 1", "лак 1", "заметка 1", "внимание 1"]
    for place, station in enumerate(traveler.body.stations):
        wanted += [station.caution, station.write]
        wanted += [words for step in station.steps for words in (step.dwell, step.signed_by)]
        wanted += [step.title for step in station.steps if station.many]
        assert bare(f"תחנה {place}") in text or bare(f"{place} תחנה") in text or bare(f"{place} הנחת") in text
    assert [words for words in wanted if bare(words) not in text] == []
    assert text.count("Ж") >= sum(len(station.drawings) for station in traveler.body.stations)
    assert text.count("№") >= len(traveler.body.stations[0].steps[0].numbers)
    stays_on_its_pages(pdf, paper)


def test_one_document_sets_all_texts_of_several_shells_and_none_is_made_for_plain_ones(
    shop: SmallShop, monkeypatch: pytest.MonkeyPatch
) -> None:
    documents = []

    def counted(html: str) -> object:
        documents.append(html)
        return set_page(html)

    monkeypatch.setattr(texts_module, "set_page", counted)
    shells = shop.released(quantity=3)
    facts = read([shell.serial for shell in shells], base_url=BASE)
    making.make(facts, "A4")
    assert documents == []
    KitOrder.objects.update(customer="Музыкальная школа", note="מהר")
    shop.stations["edge"].caution = "осторожно"
    shop.stations["edge"].save()
    facts = read([shell.serial for shell in shells], base_url=BASE)
    making.make(facts, "A4")
    assert len(documents) == 1


def test_a_file_has_no_words_of_another_customers_paper(shop: SmallShop) -> None:
    one, other = travelers(shop.released(quantity=2))
    heads = [replace(one.head, customer="Первая школа"), replace(other.head, customer="Другая школа")]
    texts = Texts()
    body = body_pages(one.body, "A4", texts)
    kept, counts = sheaf_pages([(head, body) for head in heads], shop="Ottermill", paper="A4", texts=texts)
    sheaf = Drawn.from_bytes(kept)
    assert sheaf == Drawn.from_bytes(sheaf.to_bytes())
    own = pdf_of([(page, b"") for page in sheaf.pages[: counts[0]]], [sheaf], paper="A4", title="t")
    both = pdf_of([(page, b"") for page in sheaf.pages], [sheaf], paper="A4", title="t")
    assert "Первая школа" in text_of(own) and "Другая школа" not in text_of(own)
    assert both.count(b"/Subtype/Form") == own.count(b"/Subtype/Form") + 1


# The key


@pytest.mark.django_db
def test_the_key_of_a_shell_is_the_same_alone_and_among_drums_of_other_finishes() -> None:
    now = timezone.now()
    load_demo(now=now, today=timezone.localdate())
    order = KitOrder.objects.create(number="K-mixed", customer="Harrow Lane School", due=now.date(), created_at=now)
    kinds = {model.line.finish_kind: model for model in DrumModel.objects.select_related("line").order_by("pk")}
    assert len(kinds) > 1
    for position, (kind, model) in enumerate(kinds.items(), start=1):
        finish = Finish.objects.filter(kind=kind).order_by("pk")[0]
        KitLine.objects.create(order=order, position=position, model=model, finish=finish)
    serials = [shell.serial for shell in release_order(number="K-mixed", stamp=Stamp(None, "x", now, now))]
    together = read(serials, base_url=BASE)
    stations: list[set[int]] = [{operation.station_id for operation in each.operations} for each in together]
    assert any(one != other for one in stations for other in stations)
    specs = {spec.pk: spec for spec in ShellSpec.objects.all()}
    for each in together:
        (alone,) = read([each.head.serial], base_url=BASE)
        assert alone.key("A4") == each.key("A4")
        assert alone.body_key(specs[alone.spec_id]) == each.body_key(specs[each.spec_id])
    # What changes at a station changes the key of those that go there, and of no other.
    changed = next(iter(set().union(*stations) - stations[0].intersection(*stations)))
    Station.objects.filter(pk=changed).update(caution="Mind the new fan.")
    after = {each.head.serial: each.key("A4") for each in read(serials, base_url=BASE)}
    for each, here in zip(together, stations, strict=True):
        assert (after[each.head.serial] != each.key("A4")) == (changed in here)
