"""Who is spoken to in which language: the worker at the tablet, the shop on paper, English in the office and the record."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import timedelta
from html import escape

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import translation

from quality.models import Bag, CheckPoint, Person, Problem, Role, SignOff
from routing.drawing_words import in_words, picture_in_words
from routing.drawings.gantt import GanttRow
from routing.frozen import current_spec
from routing.kits import name_in_kit
from routing.languages import Language, moment, numeral, spoken_in
from routing.models import Shop
from routing.specs.check_character import check_character
from routing.station_numbers import station_numbers
from shopfloor.qr import card_address
from shopfloor.templatetags.shop import ring
from shopfloor.travelers.facts import read
from tests.quality.test_kitting import fill, with_bags
from tests.routing.drawings.examples import plan_over_time
from tests.shopfloor.paper import pages_of
from tests.shopfloor.tablets import Clock, Tablet, page, sign_through
from tests.shopfloor.test_floor_link import late, mark
from tests.shopfloor.traveler_prints import BASE, printed
from tests.small_shop import NOW, SmallShop

pytestmark = pytest.mark.django_db


def speaks(person: Person, language: str) -> None:
    Person.objects.filter(pk=person.pk).update(language=language)


def the_shop_speaks(language: str) -> None:
    Shop.objects.update(language=language)


@pytest.fixture
def own_depth(shop: SmallShop) -> CheckPoint:
    return CheckPoint.objects.create(
        code="depth",
        station=shop.stations["cut"],
        text="Depth over the edges",
        kind="measured",
        unit="mm",
        nominal=139.2,
        minus=0.5,
        plus=0.5,
    )


class TestTheTablet:
    @pytest.mark.parametrize(("language", "said"), [("de", "Abzeichnen als"), ("es", "Firmar como"), ("en", "Sign as")])
    def test_speaks_with_whoever_is_signed_in(self, shop: SmallShop, cut: Tablet, language: str, said: str) -> None:
        the_shop_speaks("en" if language != "en" else "de")
        speaks(shop.worker, language)
        (shell,) = shop.released()
        shown = page(cut.get("step", shell.serial))
        assert said in shown and f'<html lang="{language}">' in shown

    def test_speaks_as_the_shop_does_where_nobody_or_somebody_without_a_language_is(
        self, shop: SmallShop, clock: Clock
    ) -> None:
        the_shop_speaks("de")
        tablet = Tablet("cut")
        assert "Wer arbeitet hier?" in page(tablet.get("sign_in"))
        assert "An welcher Station steht " in page(tablet.client.get(reverse("floor:stations")))
        tablet.sign_in(shop.worker)
        assert "Hier ist nichts" in page(tablet.get("queue"))

    def test_a_worker_may_speak_english_in_a_german_shop(self, shop: SmallShop, cut: Tablet) -> None:
        the_shop_speaks("de")
        speaks(shop.worker, "en")
        assert "Nothing is here" in page(cut.get("queue"))

    def test_the_browser_has_no_say(self, shop: SmallShop, cut: Tablet) -> None:
        cut.client.cookies["django_language"] = "es"
        answer = cut.client.get(cut.url("queue"), headers={"Accept-Language": "de"})
        assert "Nothing is here" in page(answer)

    def test_a_language_does_not_stay_for_the_next_request(
        self, shop: SmallShop, cut: Tablet, signed_in: Callable[[Role], Client]
    ) -> None:
        speaks(shop.worker, "de")
        assert "Hier ist nichts" in page(cut.get("queue"))
        assert "Settings of the shop" in page(signed_in(Role.ADMINISTRATOR).get(reverse("people:list")))
        assert translation.get_language() == "en-gb"

    def test_a_queue_in_another_language_is_news(self, shop: SmallShop, cut: Tablet) -> None:
        shop.released()
        found = re.search(r'data-live="([^"]+)"', page(cut.get("queue")))
        assert found is not None
        refresh = found[1].replace("&amp;", "&")
        assert cut.client.get(refresh, headers={"HX-Request": "true"}).status_code == 204
        speaks(shop.worker, "de")
        renewed = cut.client.get(refresh, headers={"HX-Request": "true"})
        assert renewed.status_code == 200 and "In dieser Reihenfolge" in page(renewed)

    def test_numbers_have_a_comma_where_they_are_read_and_a_point_where_a_script_reads_them(
        self, shop: SmallShop, cut: Tablet, own_depth: CheckPoint
    ) -> None:
        speaks(shop.worker, "de")
        (shell,) = shop.released()
        shown = page(cut.get("step", shell.serial))
        assert "138,7 … 139,7 mm" in shown
        assert 'data-low="138.7" data-high="139.7"' in shown

    def test_point_and_comma_are_typed_alike(self, shop: SmallShop, cut: Tablet, own_depth: CheckPoint) -> None:
        for typed in ("139,2", "139.2"):
            (shell,) = shop.released(f"K-{typed[3]}")
            assert cut.tap("sign", shell, **{f"check-{own_depth.pk}": typed}).status_code == 302
        assert [reading.value for sign in SignOff.objects.all() for reading in sign.readings.all()] == [139.2, 139.2]

    def test_what_is_refused_is_said_in_the_same_language(
        self, shop: SmallShop, cut: Tablet, own_depth: CheckPoint
    ) -> None:
        speaks(shop.worker, "de")
        (shell,) = shop.released()
        shown = page(cut.tap("sign", shell, **{f"check-{own_depth.pk}": "150,5"}))
        assert "Nicht abgezeichnet" in shown and "150,5 mm (zulässig 138,7 … 139,7 mm)" in shown

    def test_a_scan_that_leads_nowhere_is_answered_in_the_workers_language(self, shop: SmallShop, cut: Tablet) -> None:
        speaks(shop.worker, "de")
        (shell,) = shop.released()
        unknown = "SS2699999" + check_character("SS2699999")
        for typed, said in (
            ("", "Eine Seriennummer tippen oder scannen."),
            (shell.serial[:-1] + "*", "das letzte Zeichen passt nicht zu den anderen"),
            (unknown, f"Hier wurde keine Trommel mit der Seriennummer {unknown} gebaut."),
        ):
            cut.client.get(reverse("scan:scan"), {"q": typed, "at": "cut"})
            assert said in page(cut.get("queue"))

    def test_an_address_with_nothing_is_answered_in_the_workers_language(self, shop: SmallShop, cut: Tablet) -> None:
        speaks(shop.worker, "de")
        for address in ("/nowhere/", "/floor/cut/nowhere/at/all/"):
            answer = cut.client.get(address)
            assert answer.status_code == 404
            assert '<html lang="de">' in page(answer) and "Nicht gefunden" in page(answer)

    def test_a_form_that_is_not_valid_any_more_is_refused_in_the_same_language(
        self, shop: SmallShop, clock: Clock, signed_in: Callable[[Role], Client]
    ) -> None:
        speaks(shop.worker, "de")
        tablet = Tablet("cut")
        tablet.sign_in(shop.worker)
        desk = signed_in(Role.SUPERVISOR)
        tablet.client.handler.enforce_csrf_checks = desk.handler.enforce_csrf_checks = True
        refused = tablet.client.post(tablet.url("sign_out"))
        assert refused.status_code == 403 and '<html lang="de">' in page(refused)
        assert '<html lang="en">' in page(desk.post(reverse("home")))

    def test_a_page_that_is_not_there_says_so_in_the_same_language(self, shop: SmallShop, cut: Tablet) -> None:
        speaks(shop.worker, "es")
        unknown = "SS2699999" + check_character("SS2699999")
        answer = cut.client.get(cut.url("step", unknown))
        shown = page(answer)
        assert answer.status_code == 404 and '<html lang="es">' in shown
        assert f"Aquí no se hizo ningún tambor con el número de serie {unknown}." in shown
        assert "<h1>No encontrado</h1>" in shown and "Not found" not in shown and "Guide" not in shown

    def test_a_tap_of_another_that_comes_late_is_answered_for_whoever_stands_there(
        self, shop: SmallShop, clock: Clock, cut: Tablet, own_depth: CheckPoint
    ) -> None:
        speaks(shop.worker, "de")
        speaks(shop.supervisor, "es")
        (shell,) = shop.released()
        whose, tapped = mark(cut, shell), shop.clock
        cut.sign_in(shop.supervisor)
        answer = late(cut, "sign", shell, tapped, whose, **{f"check-{own_depth.pk}": "150"})
        assert "No se firmó" in answer.json()["refused"]

    def test_the_drums_of_a_carton_and_its_drawing_are_called_as_the_worker_says(
        self, shop: SmallShop, clock: Clock
    ) -> None:
        speaks(shop.worker, "de")
        (shell,) = shop.released()
        pack = Tablet("pack")
        pack.sign_in(shop.worker)
        shown = page(pack.get("step", shell.serial))
        assert "Karton innen " in shown and "carton inside" not in shown
        with spoken_in("de"):
            assert name_in_kit(shell) == f"14 × 5.5 in Snaredrum {shell.serial}"

    def test_a_tablet_that_keeps_a_page_for_no_link_has_it_in_the_shops_language(self, client: Client) -> None:
        Shop.current()
        the_shop_speaks("es")
        script = client.get(reverse("floor:tablet_worker")).content.decode()
        assert "No hay enlace" in script


class TestTheRecord:
    def test_says_the_same_whoever_speaks(self, shop: SmallShop, cut: Tablet, own_depth: CheckPoint) -> None:
        said = []
        for language in ("en", "de"):
            speaks(shop.worker, language)
            (shell,) = shop.released(f"K-{language}")
            cut.tap("problem", shell, **{f"check-{own_depth.pk}": "150,5"})
            problem = Problem.objects.get(shell=shell)
            said.append((problem.text, problem.operation.state if problem.operation else ""))
        assert said[0] == said[1]
        assert "150.5 mm (allowed 138.7 … 139.7 mm)" in said[0][0]


class TestPaper:
    @pytest.fixture(autouse=True)
    def _folder(self, papers_folder: None) -> None:
        """Papers are kept in a folder of the test's own."""

    def test_a_traveler_is_in_the_shops_language_whoever_prints(self, shop: SmallShop) -> None:
        (shell,) = shop.released()
        the_shop_speaks("de")
        with spoken_in(Language.SPANISH):
            text = " ".join(pages_of(printed(shop, shell)))
        for said in ("Snaredrum", "Trommel 1 von 1", "Fällig", "Leim ansetzen", "Seite 1 von", "Örtliche Vorschriften"):
            assert said in text
        assert "Glue to mix" not in text and "Due" not in text

    def test_another_language_is_another_paper(self, shop: SmallShop) -> None:
        (shell,) = shop.released()
        (english,) = read([shell.serial], base_url=BASE)
        the_shop_speaks("es")
        (spanish,) = read([shell.serial], base_url=BASE)
        with spoken_in("de"):
            (same,) = read([shell.serial], base_url=BASE)
        assert english.key("A4") != spanish.key("A4") == same.key("A4")

    @pytest.mark.parametrize("language", ["de", "es"])
    def test_long_words_still_fit_on_two_pages(self, shop: SmallShop, language: str) -> None:
        (shell,) = shop.released()
        the_shop_speaks(language)
        assert len(pages_of(printed(shop, shell))) <= 2

    def test_the_page_behind_a_card_is_in_the_shops_language(self, shop: SmallShop, clock: Clock) -> None:
        (shell,) = shop.released()
        sign_through(shop, shell, shop.stations["final-check"].operations.get(shell=shell).position)
        the_shop_speaks("de")
        shown = page(Client().get(card_address(shell.serial, "")))
        assert "Seriennummer" in shown and '<html lang="de">' in shown

    def test_an_address_without_a_card_is_answered_in_the_shops_language(self, shop: SmallShop) -> None:
        Shop.current()
        the_shop_speaks("de")
        address = re.sub("[^/]+/$", "none/", card_address("SS26001", ""))
        answers = [Client().get(address) for _ in range(40)]
        assert {answer.status_code for answer in answers} == {404, 429}
        first, last = page(answers[0]), page(answers[-1])
        assert "Unter dieser Adresse gibt es keine Karte." in first and '<html lang="de">' in first
        assert "Von hier wurden zu viele Adressen ohne Karte aufgerufen." in last and '<html lang="de">' in last


class TestTheOffice:
    def test_a_persons_language_is_set_there_and_noted(
        self, shop: SmallShop, signed_in: Callable[[Role], Client]
    ) -> None:
        browser = signed_in(Role.ADMINISTRATOR)
        where = reverse("people:person", args=[shop.worker.pk])
        shown = page(browser.get(where))
        assert "At the tablets; empty: the shop" in shown
        form = {
            "name": shop.worker.name,
            "username": shop.worker.username,
            "role": shop.worker.role,
            "is_active": "on",
            "language": "de",
            "version": str(shop.worker.version),
        }
        assert browser.post(where, form).status_code == 302
        shop.worker.refresh_from_db()
        assert shop.worker.language == "de"
        change = shop.worker.account_changes.get(what="language")
        assert (change.before, change.after) == ("the shop's", "Deutsch")


def test_numbers_and_days_as_each_language_writes_them(shop: SmallShop) -> None:
    written = {}
    for language in ("en", "de", "es"):
        with spoken_in(language):
            written[language] = (numeral(1234.5, ".1f"), moment(shop.clock))
    assert written == {
        "en": ("1234.5", "2026-11-02 09:00"),
        "de": ("1234,5", "02.11.2026 09:00"),
        "es": ("1234,5", "02/11/2026 09:00"),
    }


def test_the_reason_that_a_page_proposes_for_opening_a_bag_is_in_english(shop: SmallShop, clock: Clock) -> None:
    """It goes into the record, and that says the same whoever signs."""
    shell = with_bags(shop)
    fill(shop, shell, "rods")
    Bag.objects.update(spec_revision=7)
    speaks(shop.worker, "de")
    bench = Tablet("assemble")
    bench.sign_in(shop.worker)
    shown = page(bench.get("bags", shell.serial))
    (reason,) = re.findall(r'name="reason"[^>]* value="([^"]*)"', shown)
    assert "Warum wird er geöffnet?" in shown
    assert reason == "New parts list, spec revision 1"


def test_a_drawing_says_its_words_in_a_language_and_leaves_names() -> None:
    texts = (
        *("apex at the outside", "1 veneer, around", "3 veneers, axial, L 1100.5", "Ø 5: holes 1–16; Ø 6.5: hole 17"),
        *("carton inside 438", "1  14 × 6.5 Snaredrum", "SS26001A, Ø 360.6 × 165.1"),
    )
    with spoken_in("de"):
        said = re.findall("<text>(.*?)</text>", in_words("".join(f"<text>{text}</text>" for text in texts)))
    assert said == [
        *("Grat an der Außenseite", "1 Furnier, rundum", "3 Furniere, axial, L 1100,5"),
        *("Ø 5: Löcher 1–16; Ø 6,5: Loch 17", "Karton innen 438", "1  14 × 6.5 Snaredrum", "SS26001A, Ø 360,6 × 165,1"),
    ]


def test_a_picture_of_work_leaves_the_names_that_the_shop_gave() -> None:
    names = ("26.104", "seam", "Tom & Tim", "14 x 5.5")
    svg = plan_over_time([GanttRow(name, []) for name in names], begins=NOW, ends=NOW + timedelta(days=1))
    with spoken_in("de"):
        said = picture_in_words(svg)
    assert [name for name in names if f">{escape(name)}</text>" not in said] == []


def test_a_day_on_a_chart_keeps_its_points() -> None:
    with spoken_in("de"):
        assert in_words("<text>26.11.2026</text><text>3.25</text>") == "<text>26.11.2026</text><text>3,25</text>"
        assert in_words("<text>apex -0.5</text>") == in_words("<text>apex 0.5</text>").replace("0,5", "-0,5")


def test_the_nominal_size_keeps_its_point(shop: SmallShop) -> None:
    (shell,) = shop.released()
    spec = current_spec(shell)
    with spoken_in("de"):
        size = station_numbers("final_check", spec.results, {**spec.inputs, "nominal_depth_in": 6.5})[0]
    assert (size.label, size.value) == ("Größe", "14 × 6.5")


@pytest.mark.parametrize(
    ("states", "said"),
    [
        ([("done", ""), ("ready", "")], "Arbeitsgang 2 von 2: bereit"),
        ([("done", "Zuschnitt"), ("ready", "Pressen")], "Arbeitsgang 2 von 2: Pressen, bereit"),
        ([("done", ""), ("skipped", "")], "1 von 2 Arbeitsgängen fertig, 1 entfallen"),
        ([], "Noch keine Arbeitsgänge"),
    ],
)
def test_a_ring_says_in_german_what_it_says_in_english(states: list[tuple[str, str]], said: str) -> None:
    with spoken_in("de"):
        assert f">{said}<" in ring(states, 24)
