"""What a traveler is drawn with: letters, lines, drawings and the file, read back by a program that is not ours."""

from __future__ import annotations

import io
import math
import os
import re
import subprocess
import sys

import pypdfium2
import pytest
from pypdf import PdfReader

from routing.drawings.common import text_width
from routing.drawings.ring import RingSegment, ring_svg
from shopfloor.qr import qr_svg
from shopfloor.travelers import texts as texts_module
from shopfloor.travelers.drawn import PAPERS_PT, Drawn, Page, pdf_of, squeezed
from shopfloor.travelers.ink import Ink, ask_for_words, path
from shopfloor.travelers.lines import Line, Style, Words, break_lines
from shopfloor.travelers.texts import Texts
from shopfloor.travelers.type_case import FACES, legible, set_page, tidy, type_case
from tests.shopfloor.paper import codes_of, pages_of

A4_HIGH = PAPERS_PT["A4"][1]


def file_of(ink: Ink, title: str = "t") -> bytes:
    drawn = Drawn(ink.fonts_used(), {"B": squeezed(ink.content())}, [Page("B", squeezed(b""))], ink.set_forms)
    again = Drawn.from_bytes(drawn.to_bytes())
    assert again == drawn
    return pdf_of([(page, b"") for page in again.pages], [again], paper="A4", title=title)


def set_lines(texts: Texts, words: list[Words], room: float) -> list[Line]:
    return texts.settled(lambda: texts.lines(words, room))


def with_lines(words: list[Words]) -> Ink:
    page = ink()
    for n, line in enumerate(set_lines(page.texts, words, 400)):
        page.line(50, 50 + n * line.height, line)
    return page


def ink() -> Ink:
    return Ink(Texts(), A4_HIGH)


# Letters


@pytest.mark.parametrize("words", ["Plate 1: Birch 3.0, three-veneer", "Ø 4.8: holes 3–8; 45°", "WAVE ± 0.3 × 12"])
@pytest.mark.parametrize("bold", [False, True])
def test_widths_are_those_of_the_face(words: str, bold: bool) -> None:
    """Against the table of the drawings, which was read from the face's own file (signs only nearly)."""
    assert type_case().width(words, "bold" if bold else "text") == pytest.approx(
        text_width(words, 1, bold=bold), rel=1e-6 if words.isascii() else 0.006
    )


@pytest.mark.parametrize(
    "words",
    ["Bearing edges", "Žluťoučký kůň", "⚠ Caution ▨ 14″ µm ½", "Музыкальная школа № 5", "Κύμβαλο", "ﬁne — “quoted”"],
)
@pytest.mark.parametrize("face", FACES)
def test_what_is_drawn_or_set_can_be_read_and_searched(words: str, face: str) -> None:
    page = with_lines([Words(words, Style(11, face))])  # type: ignore[arg-type]
    assert pages_of(file_of(page)) == [words]


def test_a_text_with_a_letter_that_is_not_plain_is_set_as_a_whole() -> None:
    texts = Texts()
    assert texts.are_plain(["Bearing edges", "Zürich ½ × 14″"]) and not texts.are_plain(["a", "b № 5"])
    for words in ("مكتبة", "a שלום b", "Zu\u0308rich й\u0301", "日本", "plain № 5"):
        (line,) = set_lines(texts, [Words(words, Style(20))], 400)
        assert line.form is not None and line.words == () and 5 < line.width < 400
    assert texts.lines([Words("plain", Style(20))], 400)[0].form is None
    assert texts.set_wanted() is False


def test_letters_join_as_the_font_has_them() -> None:
    texts = Texts()
    (together,) = set_lines(texts, [Words("مكتبة", Style(20))], 400)
    apart = [set_lines(texts, [Words(letter, Style(20))], 400)[0].width for letter in "مكتبة"]
    assert together.width < 0.9 * sum(apart)


def test_a_letter_that_no_font_has_leaves_a_sign_and_one_line_in_the_log(caplog: pytest.LogCaptureFixture) -> None:
    style = Style(20)
    page = with_lines([Words("a\U0001f941b \U0001f941 \U000e1234", style), Words(" \U0001f941", Style(9, "bold"))])
    only = with_lines([Words("ab", style)])
    assert _black(file_of(page)) > _black(file_of(only))
    (said,) = [record for record in caplog.records if record.name.startswith("shopfloor")]
    assert "U+1F941" in said.getMessage() and "□" in said.getMessage()
    assert [record for record in caplog.records if record.name == "weasyprint"] == []


def test_all_that_is_wanted_is_set_in_one_document(monkeypatch: pytest.MonkeyPatch) -> None:
    documents = []

    def counted(html: str) -> object:
        documents.append(html)
        return set_page(html)

    monkeypatch.setattr(texts_module, "set_page", counted)
    texts = Texts()
    found = texts.settled(
        lambda: [texts.lines([Words(f"№ {n}", Style(6 + n))], 200) for n in range(20)] + [[texts.line("№", Style(8))]]
    )
    assert len(documents) == 1 and len({line.form.name for (line,) in found if line.form}) == 21
    assert all(line.height == pytest.approx(1.2 * (6 + n)) for n, (line,) in enumerate(found[:20]))


def test_a_text_that_is_set_runs_out_of_no_room_and_is_searched_whole() -> None:
    texts = Texts()
    words = "Ш" * 150 + " № ± 1 " + "цех " * 40
    lines = set_lines(texts, [Words("Note. ", Style(9, "bold")), Words(words, Style(9))], 120)
    assert len(lines) > 5 and all(0 < line.width <= 120.1 for line in lines)
    page = Ink(texts, A4_HIGH)
    for n, line in enumerate(lines):
        page.line(50, 50 + n * line.height, line)
    pdf = file_of(page)
    assert "".join(pages_of(pdf)[0].split()) == "Note." + "".join(words.split())
    left, top, right, bottom = _picture(pdf).point(lambda dot: 255 * (dot < 128)).getbbox()  # type: ignore[attr-defined]
    assert left >= 100 and right <= 2 * 170.5 and top >= 100 and bottom <= 2 * (50 + len(lines) * 10.8) + 1


@pytest.mark.parametrize("size", [5, 9, 30])
def test_a_text_that_is_set_stands_on_the_base_line_of_one_that_is_drawn(size: int) -> None:
    drawn, mixed = with_lines([Words("HHHH", Style(size))]), with_lines([Words("HHHHЖ", Style(size))])
    boxes = [_picture(file_of(page), 8).point(lambda dot: 255 * (dot < 128)).getbbox() for page in (drawn, mixed)]  # type: ignore[attr-defined]
    assert boxes[0][:2] == pytest.approx(boxes[1][:2], abs=2) and boxes[0][3] == pytest.approx(boxes[1][3], abs=2)


def _columns(pdf: bytes) -> list[bool]:
    picture = _picture(pdf).point(lambda dot: 255 * (dot < 128))  # type: ignore[attr-defined]
    return [picture.crop((x, 0, x + 1, picture.height)).getbbox() is not None for x in range(picture.width)]


@pytest.mark.parametrize(
    ("words", "as_seen"), [("ש 5 ABC", "ABC 5 ש"), ("ABC 5 ש", "ABC 5 ש"), ("שב 14 in", "in 14 בש")]
)
def test_words_run_the_way_that_their_first_letter_does(words: str, as_seen: str) -> None:
    """UAX #9, P2 and P3, against the same letters forced into their places one by one."""
    style, texts = Style(30), Texts()
    whole = with_lines([Words(words, style)])
    forced = Ink(texts, A4_HIGH)
    x = 50.0
    for letter in as_seen:
        line = texts.settled(lambda letter=letter: texts.line(letter, style))  # type: ignore[misc]
        forced.line(x, 50, line)
        x += line.width or texts.case.width(" ", "text") * 30
    differs = sum(a != b for a, b in zip(_columns(file_of(whole)), _columns(file_of(forced)), strict=True))
    assert differs <= 12


def test_tidy_words_have_composed_letters_and_single_spaces() -> None:
    assert tidy("a\n  b\tc\u200b\x07") == "a b c"
    assert tidy("Zu\u0308rich") == "Zürich"
    assert tidy("6 … 10 %") == "6 … 10 %"
    assert legible("a\u200db\x07\n c\ufffe") == "a\u200db c"


# Lines


def text_of(words: str, room: float, *, size: float = 10) -> list[str]:
    lines = break_lines(type_case(), [Words(words, Style(size))], room)
    assert all(line.width <= room + 0.02 for line in lines)
    return ["".join(part.text for part in line.words) for line in lines]


def test_lines_end_between_words_and_after_a_hyphen_but_not_within_a_figure() -> None:
    assert text_of("Plate 1: Birch 3.0, three-veneer, cross-grain", 98) == [
        "Plate 1: Birch 3.0,",
        "three-veneer, cross-",
        "grain",
    ]
    for room in range(66, 160, 3):
        lines = text_of("near F4, -22 cents ± 1 Hz 11.0–11.4 g", room)
        assert not any(line.endswith(("-", "±", "–")) or line[0] in "gH" for line in lines)
        assert " ".join(lines) == "near F4, -22 cents ± 1 Hz 11.0–11.4 g"


def test_a_word_that_is_too_long_is_broken_and_loses_nothing() -> None:
    lines = text_of("x" * 200 + " end", 100)
    assert len(lines) > 5
    assert "".join(lines).replace(" ", "") == "x" * 200 + "end"


def test_words_of_several_styles_share_a_base_line_and_no_space_ends_a_line() -> None:
    large, small = Style(12, "bold"), Style(7)
    (line,) = break_lines(type_case(), [Words("14 in ", large), Words(" bore 352.4 mm ", small)], 500)
    assert "".join(part.text for part in line.words).split() == ["14", "in", "bore", "352.4", "mm"]
    assert not line.words[-1].text.endswith(" ")
    assert line.height == pytest.approx(12 * 1.2)
    assert break_lines(type_case(), [Words("  ", small)], 100) == []


# Drawings


def _picture(pdf: bytes, scale: float = 2.0) -> object:
    return pypdfium2.PdfDocument(pdf)[0].render(scale=scale, grayscale=True).to_pil()


def _black(pdf: bytes) -> int:
    return sum(_picture(pdf).histogram()[:128])  # type: ignore[attr-defined]


def test_a_circle_of_arcs_covers_what_a_circle_covers() -> None:
    """Area and place, by counting dots of a rendered page."""
    page = ink()
    page.svg(100, 100, 2.0, '<svg viewBox="0 0 100 100"><path d="M10 50a40 40 0 1 1 80 0a40 40 0 1 1 -80 0"/></svg>')
    pdf = file_of(page)
    assert _black(pdf) == pytest.approx(math.pi * 80**2 * 4, rel=0.005)
    left, top, right, bottom = _picture(pdf).point(lambda dot: 255 * (dot < 128)).getbbox()  # type: ignore[attr-defined]
    assert (left / 2, top / 2, right / 2, bottom / 2) == pytest.approx((120, 120, 280, 280), abs=0.6)


@pytest.mark.parametrize(("large", "sweep"), [(0, 0), (0, 1), (1, 0), (1, 1)])
def test_an_arc_keeps_its_distance_from_its_centre(large: int, sweep: int) -> None:
    """From (10, 0) to (0, 10) round (0, 0) or (10, 10): SVG 1.1, 8.3.8, with y downwards."""
    centre = (0, 0) if large != sweep else (10, 10)
    curves = re.findall(r"(\S+) (\S+) c", path(f"M10 0A10 10 0 {large} {sweep} 0 10"))
    assert len(curves) == (3 if large else 1)
    for x, y in curves:
        assert math.hypot(float(x) - centre[0], float(y) - centre[1]) == pytest.approx(10, abs=0.02)
    assert [float(n) for n in curves[-1]] == pytest.approx([0, 10], abs=0.01)


def test_path_data_follows_each_kind_of_step() -> None:
    assert path("M1 2h3v4l-1-1H0V0Zm5 5 1 1") == (
        "1.00 2.00 m 4.00 2.00 l 4.00 6.00 l 3.00 5.00 l 0.00 5.00 l 0.00 0.00 l h 6.00 7.00 m 7.00 8.00 l"
    )


@pytest.mark.parametrize(
    "inside",
    [
        '<rect width="3" height="3"/>',
        '<path d="M0 0C1 1 2 2 3 3"/>',
        '<path d="M0 0A3 4 0 0 1 5 5"/>',
        '<path d="M0 0L1"/>',
        '<path d="M0 0h9" opacity="0.5"/>',
        '<g transform="scale(2)"/>',
        '<path d="M0 0h9" fill="red"/>',
        '<text x="1" y="8" font-size="3">a<tspan>b</tspan></text>',
    ],
)
def test_what_our_drawings_do_not_have_is_refused_instead_of_left_out(inside: str) -> None:
    with pytest.raises((ValueError, KeyError)):
        ink().svg(0, 0, 1, f'<svg viewBox="0 0 9 9">{inside}</svg>')


@pytest.mark.parametrize("state", ["waiting", "skipped", "drying", "done", "ready", "in_work", "on_hold"])
def test_every_state_of_a_ring_can_be_drawn(state: str) -> None:
    page = ink()
    page.svg(0, 0, 1, ring_svg([RingSegment("waiting"), RingSegment(state), RingSegment("done")]))
    assert _black(file_of(page)) > 1000


def test_a_code_is_read_by_a_scanner() -> None:
    page = ink()
    page.svg(100, 100, 85 / 33, qr_svg("https://floor.example/s/OW26000016/?r=1"))
    assert codes_of(file_of(page)) == ["https://floor.example/s/OW26000016/?r=1"]


def test_words_of_a_drawing_turn_with_it() -> None:
    page = ink()
    page.svg(
        100,
        100,
        1,
        '<svg viewBox="0 0 9 9"><text x="5" y="90" font-size="9" transform="rotate(-90 5 90)">upright</text></svg>',
    )
    left, top, right, bottom = _picture(file_of(page)).point(lambda dot: 255 * (dot < 128)).getbbox()  # type: ignore[attr-defined]
    assert bottom - top > 2 * (right - left)
    assert bottom / 2 == pytest.approx(190, abs=1.5)


@pytest.mark.parametrize(("anchor", "x"), [("start", 40), ("middle", 50), ("end", 60)])
def test_words_of_a_drawing_that_are_set_stay_in_it(anchor: str, x: int) -> None:
    svg = f'<svg viewBox="0 0 100 20"><text x="{x}" y="12" font-size="9" text-anchor="{anchor}">{{}}</text></svg>'
    for words, widest in (("ЖИН", 30.0), ("Ж" * 30, 60.0 if anchor != "middle" else 100.0)):
        texts = Texts()
        ask_for_words(texts, svg.format(words))
        texts.set_wanted()
        page = Ink(texts, A4_HIGH)
        page.svg(100, 100, 2.0, svg.format(words))
        assert texts.set_wanted() is False
        assert pages_of(file_of(page)) == [words]
        left, _, right, bottom = _picture(file_of(page)).point(lambda dot: 255 * (dot < 128)).getbbox()  # type: ignore[attr-defined]
        assert left >= 200 - 1 and right <= 600 + 1 and (right - left) / 4 <= widest + 1
        assert bottom / 2 == pytest.approx(100 + 2 * 12, abs=1.5)


# What it loads


def test_a_code_leads_to_the_page_of_the_shell_though_no_page_is_loaded_to_make_it() -> None:
    from django.urls import reverse

    from shopfloor.qr import traveler_address

    address = traveler_address("OW26000016", 3, "https://floor.example")
    assert address == f"https://floor.example{reverse('scan:shell', args=['OW26000016'])}?r=3"
    loads = (
        "import django, sys; django.setup()\n"
        "import shopfloor.travelers.making, shopfloor.qr as qr\n"
        "qr.traveler_address('OW26000016', 3, '')\n"
        "sys.exit('shopfloor.urls' in sys.modules)"
    )
    environment = os.environ | {"DJANGO_SETTINGS_MODULE": "shopfloor.settings"}
    assert subprocess.run([sys.executable, "-c", loads], env=environment, check=False).returncode == 0


# The file


def test_a_file_is_whole_has_a_title_and_one_copy_of_what_pages_share() -> None:
    page = ink()
    page.text(50, 100, "shared", Style(11))
    over = ink()
    over.text(50, 200, "over it", Style(11, "bold"))
    kept = Drawn(page.fonts_used() | over.fonts_used(), {"B": squeezed(page.content())}, [Page("B", squeezed(b""))] * 3)
    pdf = pdf_of([(each, over.content()) for each in kept.pages], [kept, kept], paper="Letter", title="Tésts – 3")
    reader = PdfReader(io.BytesIO(pdf), strict=True)
    assert reader.metadata is not None and reader.metadata.title == "Tésts – 3"
    assert pages_of(pdf) == ["shared over it"] * 3
    assert pdf.count(b"/Subtype/Form") == 1
    assert len({page["/Contents"][2].get_object().get_data() for page in reader.pages}) == 1  # type: ignore[index]
    assert pdf == pdf_of([(each, over.content()) for each in kept.pages], [kept], paper="Letter", title="Tésts – 3")
