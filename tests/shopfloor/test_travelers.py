"""Travelers: what stands on them, and the command that prints them."""

from __future__ import annotations

from dataclasses import replace
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError
from django.utils import timezone
from pytest_django import Settings

from quality.actions import sign_off
from quality.models import CheckKind, CheckPoint
from routing.history import Stamp
from routing.models import (
    DrumModel,
    Finish,
    KitLine,
    KitOrder,
    Operation,
    RouteStep,
    RouteTemplate,
    TravelerPrint,
)
from routing.reissue import current_inputs, reissue_spec
from routing.release import release_order
from shopfloor import paper_check, paper_queue
from shopfloor.demo.loading import load_demo
from shopfloor.paper import PaperError, pdf_from_html
from shopfloor.travelers.facts import read
from shopfloor.travelers.making import make_print
from shopfloor.travelers.printing import print_travelers
from shopfloor.travelers.sheet import travelers_from
from tests.shopfloor.paper import A4, LETTER, codes_of, pages_of, sizes_of
from tests.shopfloor.traveler_prints import BASE, printed, prints, sign
from tests.small_shop import SmallShop

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("papers_folder")]


def test_a_traveler_says_what_drum_for_whom_and_when(shop: SmallShop) -> None:
    (shell,) = shop.released(customer_reference="PO 48812", note="Badge at the top.")
    text = pages_of(printed(shop, shell))[0]
    for said in [
        shell.serial,
        "K-1",
        "Harrow Lane School",
        "PO 48812",
        "Badge at the top.",
        "2026-12-18",
        "14 × 5.5 in snare",
        "Heron satin",
        "drum 1 of 1",
        "page 1 of",
        "Revision 1",
    ]:
        assert said in text


def test_every_station_has_its_numbers_caution_and_steps_in_route_order(shop: SmallShop) -> None:
    (shell,) = shop.released()
    text = " ".join(pages_of(printed(shop, shell)))
    frozen = shell.specs.get()
    for blank in frozen.results["cutting"]["blanks"]:
        assert f"{blank['length_mm']:.1f} × {blank['height_mm']:.1f}" in text
    assert f"{frozen.results['gluing']['to_mix_g']:.0f} g" in text
    assert "then 48 h curing" in text
    for code in shop.stations:
        assert f"Mind your hands at {code}." in text
    places = [text.index(f"Mind your hands at {code}.") for code in shop.stations]
    assert places == sorted(places)
    assert "1 of 2: clear 1" in text
    assert "2 of 2: clear 2" in text


def test_numbers_come_from_the_frozen_spec_even_when_the_recipe_changed(shop: SmallShop) -> None:
    (shell,) = shop.released()
    before = pages_of(printed(shop, shell))
    shop.model.nominal_depth_in = 8
    shop.model.save(update_fields=["nominal_depth_in"])
    frozen = shell.specs.get()
    assert f"{frozen.results['cutting']['pressed_height_mm']:.1f} mm" in before[0]
    again = " ".join(pages_of(printed(shop, shell)))
    assert f"{frozen.results['cutting']['pressed_height_mm']:.1f} mm" in again


def test_what_is_signed_shows_who_and_when(shop: SmallShop) -> None:
    (shell,) = shop.released()
    assert shop.worker.name not in " ".join(pages_of(printed(shop, shell)))
    sign(shop, shell, 1)
    text = " ".join(pages_of(printed(shop, shell)))
    assert text.count(shop.worker.name) == 1
    assert "2026-11-02 09:00" in text  # 8:00 UTC in the shop's own time


def test_measured_checks_have_a_line_to_write_on_until_they_are_signed(shop: SmallShop) -> None:
    CheckPoint.objects.create(
        code="depth",
        station=shop.stations["cut"],
        text="Depth by rule",
        kind=CheckKind.MEASURED,
        unit="mm",
        nominal=155.7,
        minus=0.5,
        plus=0.5,
    )
    (shell,) = shop.released()
    assert "Depth by rule _______ 155.2 … 156.2 mm" in " ".join(pages_of(printed(shop, shell)))
    (point,) = CheckPoint.objects.all()
    sign_off(
        serial=shell.serial,
        position=1,
        person=shop.worker,
        answers={str(point.pk): "155.7"},
        stamp=shop.stamp(shop.worker),
    )
    assert "Depth by rule" not in " ".join(pages_of(printed(shop, shell)))


@pytest.mark.parametrize(("size", "points"), [("A4", A4), ("Letter", LETTER)])
def test_paper_has_the_size_that_was_asked_for(shop: SmallShop, size: str, points: tuple[int, int]) -> None:
    (shell,) = shop.released()
    pdf = printed(shop, shell, size=size)
    assert sizes_of(pdf) == {points}
    assert len(pages_of(pdf)) <= 2


@pytest.mark.parametrize("size", ["A4", "Letter"])
def test_the_code_opens_the_shell_and_says_which_revision_the_paper_is(shop: SmallShop, size: str) -> None:
    first, second = shop.released(quantity=2)
    inputs = current_inputs(second)
    reissue_spec(
        serial=second.serial,
        inputs=replace(inputs, trim_each_end_mm=9.0),
        reason="blunt saw",
        stamp=shop.stamp(shop.supervisor),
    )
    codes = codes_of(printed(shop, first, second, size=size))
    assert codes == [f"{BASE}/s/{first.serial}/?r=1", f"{BASE}/s/{second.serial}/?r=2"]


def test_only_a_reprint_says_that_it_is_one(shop: SmallShop) -> None:
    (shell,) = shop.released()
    first, second, third = (pages_of(printed(shop, shell)) for _ in range(3))
    assert not any("COPY" in page for page in first)
    assert all("COPY 2" in page for page in second)
    assert all("COPY 3" in page for page in third)
    assert [record.body["copy"] for record in prints(shell)] == [1, 2, 3]
    assert prints(shell)[0].person_name == shop.supervisor.name


def long_route(shop: SmallShop, steps: int) -> None:
    """A route that visits one station after the other, ``steps`` times in all before the final check."""
    template = RouteTemplate.objects.get()
    RouteStep.objects.all().delete()
    codes = ["cut", "press", "edge", "assemble"]
    RouteStep.objects.bulk_create(
        [
            RouteStep(template=template, position=n, station=shop.stations[codes[n % 4]], dwell_h=0)
            for n in range(1, steps + 1)
        ]
    )


@pytest.mark.parametrize("size", ["A4", "Letter"])
def test_a_long_route_has_more_pages_with_a_head_on_each_and_splits_no_row(shop: SmallShop, size: str) -> None:
    for code, station in shop.stations.items():
        station.caution = f"begin-{code} " + "careful " * 40 + f"end-{code}"
        station.save(update_fields=["caution"])
    long_route(shop, 40)
    (shell,) = shop.released()
    pages = pages_of(printed(shop, shell, size=size))
    assert len(pages) > 2
    for number, page in enumerate(pages, start=1):
        assert f"{shell.serial} page {number} of {len(pages)}" in page
        for code in ("cut", "press", "edge", "assemble"):
            assert page.count(f"begin-{code}") == page.count(f"end-{code}")
    assert sum(page.count("begin-") for page in pages) == 40


@pytest.mark.parametrize("size", ["A4", "Letter"])
def test_the_longest_route_of_the_demo_shop_takes_two_pages(db: None, size: str) -> None:
    now = timezone.now()
    load_demo(now=now, today=timezone.localdate())
    model = DrumModel.objects.get(code="heron-bass-22x18")
    finish = Finish.objects.get(name="Rowan Red gloss")
    order = KitOrder.objects.create(number="K-long", customer="Harrow Lane School", due=now.date(), created_at=now)
    KitLine.objects.create(order=order, position=1, model=model, finish=finish)
    stamp = Stamp(None, "command line", now, now)
    (shell,) = release_order(number="K-long", stamp=stamp)
    assert shell.operations.count() >= 19
    asked, _ = print_travelers([shell.serial], name="long.pdf", paper=size, base_url=BASE, stamp=stamp)
    pages = pages_of(make_print(asked))
    assert len(pages) == 2
    assert "final check" in pages[1].lower()


def test_a_kit_is_one_file_and_no_page_carries_another_shells_serial(shop: SmallShop) -> None:
    shells = shop.released(quantity=3)
    sign(shop, shells[1], 1)
    pages = pages_of(printed(shop, *shells))
    each = len(pages) // 3
    for number, shell in enumerate(shells):
        own = pages[number * each : (number + 1) * each]
        assert all(shell.serial in page for page in own)
        assert not any(other.serial in page for page in own for other in shells if other != shell)
        assert f"drum {number + 1} of 3" in own[0]
        assert (shop.worker.name in own[0]) == (number == 1)


def test_the_same_paper_is_the_same_file(shop: SmallShop) -> None:
    (shell,) = shop.released()
    first = printed(shop, shell)
    for made in paper_queue.folder("prints").iterdir():
        made.unlink()
    assert make_print(TravelerPrint.objects.get()) == first


def test_nothing_is_fetched_from_outside(shop: SmallShop, monkeypatch: pytest.MonkeyPatch) -> None:
    opened: list[Any] = []
    monkeypatch.setattr("socket.create_connection", lambda *a, **k: opened.append(a))
    monkeypatch.setattr("urllib.request.FileHandler.file_open", lambda self, req: opened.append(req.full_url))
    html = (
        '<img src="http://127.0.0.1:9/a.png"><img src="file:///etc/hostname"><link rel="stylesheet" href="http://x/y.css">'
        '<style>@import "http://127.0.0.1:9/b.css"; p { background: url(https://127.0.0.1:9/c.png) }</style><p>still here</p>'
    )
    assert pages_of(pdf_from_html(html, css="card.css")) == ["still here"]
    assert opened == []


def test_a_hostile_customer_is_only_words(shop: SmallShop) -> None:
    name = '<img src="file:///etc/passwd"><b>x</b> & Co {{ 7|add:7 }}'
    (shell,) = shop.released(customer=name, customer_reference="<script>alert(1)</script>", note="</table><h1>big</h1>")
    text = pages_of(printed(shop, shell))[0]
    assert name in text
    assert "<script>alert(1)</script>" in text
    assert "</table><h1>big</h1>" in text


def test_a_missing_library_is_named_before_anything_is_on_record(
    shop: SmallShop, monkeypatch: pytest.MonkeyPatch
) -> None:
    (shell,) = shop.released()

    monkeypatch.setitem(paper_check.LIBRARIES, "Pango", ("libno-such-library.so.0",))
    with pytest.raises(PaperError, match="apt-get install libpango"):
        printed(shop, shell)
    assert prints(shell) == []


def test_the_number_of_queries_does_not_grow(shop: SmallShop, django_assert_num_queries: Any) -> None:
    shells = shop.released(quantity=8)
    for some in (shells[:1], shells):
        with django_assert_num_queries(10):
            travelers_from(read([shell.serial for shell in some], base_url=BASE))


# Command


def run(*words: str) -> str:
    out = StringIO()
    call_command("travelers", *words, stdout=out, stderr=out)
    return out.getvalue()


def test_the_command_prints_orders_and_serials_into_one_file(
    shop: SmallShop, tmp_path: Path, settings: Settings
) -> None:
    settings.SHOP_URL = BASE
    shells = shop.released(quantity=2)
    (other,) = shop.released("K-2")
    target = tmp_path / "all.pdf"
    said = run("K-1", other.serial.lower(), shells[0].serial, "--out", str(target), "--paper", "letter")
    assert said == f"3 travelers are in {target}.\n"
    assert codes_of(target.read_bytes()) == [f"{BASE}/s/{shell.serial}/?r=1" for shell in (*shells, other)]
    assert sizes_of(target.read_bytes()) == {LETTER}
    assert [record.person_name for record in prints(shells[0])] == ["command line"]
    assert {path.name for path in tmp_path.iterdir()} == {target.name, "papers"}  # the kept sheets, beside


def test_the_command_says_when_codes_would_hold_no_address(shop: SmallShop, tmp_path: Path, settings: Settings) -> None:
    settings.SHOP_URL = ""
    shop.released()
    assert "SHOP_URL is not set" in run("K-1", "--out", str(tmp_path / "one.pdf"))


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (["K-404"], "K-404 is no order here"),
        (["SS2600001I", "K-9"], "Order K-9 is not released yet"),
        (["SS26000099"], "SS26000099 is no order here"),
        (["K-1", "--paper", "A3"], "There is no paper"),
        (["K-1", "--out", "/nowhere/at/all.pdf"], "There is no folder /nowhere/at; make it first."),
    ],
)
def test_what_the_command_refuses_leaves_an_older_file_alone(
    shop: SmallShop, tmp_path: Path, words: list[str], sentence: str
) -> None:
    (shell,) = shop.released()
    assert shell.serial == "SS2600001I"
    shop.order("K-9")
    target = tmp_path / "old.pdf"
    target.write_text("old")
    with pytest.raises(CommandError, match=sentence):
        run(*(["--out", str(target), *words]))
    assert target.read_text() == "old"
    assert prints(shell) == []
    assert list(tmp_path.iterdir()) == [target]


def test_operations_stay_as_they_are(shop: SmallShop) -> None:
    (shell,) = shop.released()
    before = list(Operation.objects.filter(shell=shell).values())
    printed(shop, shell)
    assert list(Operation.objects.filter(shell=shell).values()) == before
