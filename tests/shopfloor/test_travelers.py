"""Travelers: what stands on them, who may print them, and that a print is on record."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from pytest_django import Settings

from quality.actions import sign_off
from quality.models import CheckKind, CheckPoint, Role
from routing.history import Stamp
from routing.models import (
    DrumModel,
    Finish,
    KitLine,
    KitOrder,
    Operation,
    RecordKind,
    RouteStep,
    RouteTemplate,
    Shell,
    ShellRecord,
    Shop,
    TravelerPrint,
)
from routing.reissue import current_inputs, reissue_spec
from routing.release import release_order
from shopfloor import paper_check, paper_queue
from shopfloor.demo.loading import load_demo
from shopfloor.paper import PaperError, pdf_from_html
from shopfloor.travelers import making, printing
from shopfloor.travelers.facts import read
from shopfloor.travelers.making import make_print
from shopfloor.travelers.printing import MOST_AT_ONCE, print_travelers
from shopfloor.travelers.sheet import travelers_from
from tests.shopfloor.paper import A4, LETTER, codes_of, pages_of, sizes_of
from tests.shopfloor.papers_made import work_through
from tests.shopfloor.tablets import Clock
from tests.small_shop import SmallShop

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("papers_folder")]

BASE = "https://floor.example"


def printed(shop: SmallShop, *shells: Shell, size: str = "A4") -> bytes:
    stamp = shop.stamp(shop.supervisor)
    asked, _ = print_travelers(
        [shell.serial for shell in shells], name="some.pdf", paper=size, base_url=BASE, stamp=stamp
    )
    return make_print(asked)


def opened(answer: Any, browser: Client) -> bytes:
    """The file that a print leads to."""
    assert answer.status_code == 302
    page = browser.get(answer["Location"])
    assert page.status_code == 302
    file = browser.get(page["Location"])
    assert (file.status_code, file["Content-Type"], file["Cache-Control"]) == (200, "application/pdf", "no-store")
    return file.content


def sign(shop: SmallShop, shell: Shell, position: int) -> None:
    sign_off(serial=shell.serial, position=position, person=shop.worker, answers={}, stamp=shop.stamp(shop.worker))


def prints(shell: Shell) -> list[ShellRecord]:
    return list(ShellRecord.objects.filter(shell=shell, kind=RecordKind.PRINTED).order_by("sequence"))


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


# Views


def test_a_shell_is_printed_from_the_office_and_recorded(
    shop: SmallShop, supervisor: Client, papers_made: None
) -> None:
    (shell,) = shop.released()
    answer = supervisor.post(reverse("travelers:print_shell", args=[shell.serial]))
    assert codes_of(opened(answer, supervisor)) == [f"http://testserver/s/{shell.serial}/?r=1"]
    file = supervisor.get(reverse("travelers:file", args=[TravelerPrint.objects.get().pk]))
    assert file["Content-Disposition"] == f'inline; filename="traveler-{shell.serial}.pdf"'
    assert [record.person_name for record in prints(shell)] == [shop.supervisor.name]


def test_the_code_says_the_address_of_the_shop_when_there_is_one(
    shop: SmallShop, supervisor: Client, settings: Settings, papers_made: None
) -> None:
    settings.SHOP_URL = "https://floor.ottermill.example"
    (shell,) = shop.released()
    answer = supervisor.post(reverse("travelers:print_shell", args=[shell.serial]))
    assert codes_of(opened(answer, supervisor)) == [f"https://floor.ottermill.example/s/{shell.serial}/?r=1"]


def test_a_kit_and_a_selection(shop: SmallShop, supervisor: Client, papers_made: None) -> None:
    shells = shop.released(quantity=3)
    kit = supervisor.post(reverse("travelers:print_order", args=["K-1"]))
    assert codes_of(opened(kit, supervisor)) == [f"http://testserver/s/{shell.serial}/?r=1" for shell in shells]
    some = supervisor.post(reverse("travelers:print_selection"), {"serials": [shells[2].serial, shells[0].serial]})
    assert codes_of(opened(some, supervisor)) == [
        f"http://testserver/s/{shell.serial}/?r=1" for shell in (shells[0], shells[2])
    ]
    assert [len(prints(shell)) for shell in shells] == [2, 1, 2]


def test_the_same_tap_twice_is_one_print_and_one_file(shop: SmallShop, supervisor: Client, papers_made: None) -> None:
    shells = shop.released(quantity=2)
    address = reverse("travelers:print_order", args=["K-1"])
    first, second = (supervisor.post(address, {"tap_key": "k"}) for _ in range(2))
    assert first["Location"] == second["Location"]
    assert opened(first, supervisor) == opened(second, supervisor)
    assert [len(prints(shell)) for shell in shells] == [1, 1]
    another = supervisor.post(address, {"tap_key": "l"})
    assert another["Location"] != first["Location"]
    assert [len(prints(shell)) for shell in shells] == [2, 2]


def test_one_page_sent_with_other_shells_ticked_or_other_paper_is_another_print(
    shop: SmallShop, supervisor: Client
) -> None:
    one, other = shop.released(quantity=2)
    address = reverse("travelers:print_selection")
    for serials, size in (([one], "A4"), ([one, other], "A4"), ([other, one], "A4"), ([one], "Letter")):
        supervisor.post(address, {"tap_key": "k", "serials": [shell.serial for shell in serials], "paper": size})
    assert TravelerPrint.objects.count() == 3
    assert [len(prints(shell)) for shell in (one, other)] == [3, 1]


def test_a_page_that_stayed_open_offers_the_same_file_or_another_copy(
    shop: SmallShop, clock: Clock, supervisor: Client, papers_made: None
) -> None:
    (shell,) = shop.released()
    address = reverse("travelers:print_order", args=["K-1"])
    file = opened(supervisor.post(address, {"tap_key": "k"}), supervisor)
    clock.wait(minutes=5)
    later = supervisor.post(address, {"tap_key": "k"})
    page = supervisor.get(later["Location"])
    assert "Printed already" in page.content.decode()
    asked = TravelerPrint.objects.get()
    assert supervisor.get(reverse("travelers:file", args=[asked.pk])).content == file
    form = {name: page.context[name] for name in ("tap_key",)} | {"serials": [shell.serial], "paper": "A4"}
    again = supervisor.post(reverse("travelers:print_selection"), form)
    assert all("COPY 2" in text for text in pages_of(opened(again, supervisor)))


def test_a_print_of_yesterday_is_not_made_from_what_the_shell_is_today(
    shop: SmallShop, supervisor: Client, papers_made: None
) -> None:
    shop.released()
    supervisor.post(reverse("travelers:print_order", args=["K-1"]))
    TravelerPrint.objects.update(printed_at=timezone.now() - timedelta(days=1))
    asked = TravelerPrint.objects.get()
    assert supervisor.get(reverse("travelers:file", args=[asked.pk])).status_code == 302
    page = supervisor.get(reverse("travelers:print", args=[asked.pk]))
    assert page.status_code == 410
    assert "Print again" in page.content.decode()


def test_until_it_is_made_the_page_says_how_far_it_is(shop: SmallShop, supervisor: Client) -> None:
    shells = shop.released(quantity=3)
    answer = supervisor.post(reverse("travelers:print_order", args=["K-1"]))
    page = supervisor.get(answer["Location"])
    assert "<strong>0</strong> of 3 are made" in page.content.decode()
    assert f'<a href="{answer["Location"]}">Look again</a>' in page.content.decode()
    making.make(read([shells[0].serial], base_url="http://testserver"), "A4")
    part = supervisor.get(answer["Location"], headers={"HX-Request": "true"}).content.decode()
    assert "<strong>1</strong> of 3 are made" in part
    assert "<html" not in part
    work_through()
    ready = supervisor.get(answer["Location"], headers={"HX-Request": "true"})
    asked = TravelerPrint.objects.get()
    assert ready["HX-Redirect"] == reverse("travelers:file", args=[asked.pk])


def test_what_can_not_be_made_says_so_instead_of_waiting_for_ever(
    shop: SmallShop, supervisor: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    shop.released()
    answer = supervisor.post(reverse("travelers:print_order", args=["K-1"]))

    def broken(*_: object) -> bytes:
        raise ValueError("a drawing without a size")

    monkeypatch.setattr(making, "body_pages", broken)
    assert work_through() == 2
    page = supervisor.get(answer["Location"])
    assert page.status_code == 503
    assert "This could not be made" in page.content.decode()
    assert paper_queue.waiting() == []


HTMX = {"HX-Request": "true"}


def told_to_load_anew(answer: Any) -> bool:
    """A page that waits puts what it is sent into itself, and drops what is an error: then it has to be loaded anew."""
    return (answer.status_code, answer.get("HX-Refresh"), answer.content) == (200, "true", b"")


def test_a_page_that_waits_learns_that_the_print_failed_or_is_gone(
    shop: SmallShop, supervisor: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    shop.released()
    page = supervisor.post(reverse("travelers:print_order", args=["K-1"]))["Location"]
    assert 'hx-trigger="every 500ms"' in supervisor.get(page, headers=HTMX).content.decode()
    monkeypatch.setattr(making, "body_pages", lambda *_: 1 / 0)
    work_through()
    assert told_to_load_anew(supervisor.get(page, headers=HTMX))
    assert supervisor.get(page).status_code == 503
    TravelerPrint.objects.update(printed_at=timezone.now() - timedelta(days=1))
    assert told_to_load_anew(supervisor.get(page, headers=HTMX))
    assert supervisor.get(page).status_code == 410


def test_a_page_that_waits_and_was_asked_for_again_gets_its_question_as_a_page(
    shop: SmallShop, supervisor: Client
) -> None:
    shop.released()
    page = supervisor.post(reverse("travelers:print_order", args=["K-1"]))["Location"] + "?again=1"
    assert 'hx-trigger="every 500ms"' in supervisor.get(page, headers=HTMX).content.decode()
    work_through()
    assert told_to_load_anew(supervisor.get(page, headers=HTMX))
    assert "Open the same file" in supervisor.get(page).content.decode()


def test_a_preview_that_waits_learns_that_it_failed(
    shop: SmallShop, supervisor: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    (shell,) = shop.released()
    page = reverse("travelers:preview", args=[shell.serial])
    assert 'hx-trigger="every 500ms"' in supervisor.get(page, headers=HTMX).content.decode()
    monkeypatch.setattr(making, "body_pages", lambda *_: 1 / 0)
    work_through()
    assert told_to_load_anew(supervisor.get(page, headers=HTMX))
    assert supervisor.get(page).status_code == 503

    def no_library() -> None:
        raise PaperError("Install it.")

    monkeypatch.setattr(printing, "require_libraries", no_library)
    assert told_to_load_anew(supervisor.get(page, headers=HTMX))
    assert "Install it." in supervisor.get(page).content.decode()


def test_a_preview_is_marked_and_not_on_record(shop: SmallShop, supervisor: Client) -> None:
    (shell,) = shop.released()
    address = reverse("travelers:preview", args=[shell.serial])
    page = supervisor.get(address, {"paper": "Letter"})
    assert "is being made" in page.content.decode()
    work_through()
    part = supervisor.get(address, {"paper": "Letter"}, headers={"HX-Request": "true"})
    assert part["HX-Redirect"] == f"{address}?paper=Letter"
    answer = supervisor.get(address, {"paper": "Letter"})
    assert (answer.status_code, answer["Content-Type"]) == (200, "application/pdf")
    assert sizes_of(answer.content) == {LETTER}
    assert all("PREVIEW" in page for page in pages_of(answer.content))
    assert prints(shell) == []


def test_the_shops_paper_is_used_when_none_is_asked_for(shop: SmallShop, supervisor: Client) -> None:
    (shell,) = shop.released()
    address = reverse("travelers:print_shell", args=[shell.serial])
    supervisor.post(address)
    supervisor.post(address, {"paper": "letter"})
    row = Shop.current()
    row.paper_size = "Letter"
    row.save()
    supervisor.post(address)
    supervisor.post(f"{address}?paper=a4")
    assert [asked.paper for asked in TravelerPrint.objects.order_by("pk")] == ["A4", "Letter", "Letter", "A4"]
    assert [record.body["paper"] for record in prints(shell)] == ["A4", "Letter", "Letter", "A4"]


def test_bad_paper_nothing_chosen_and_too_many_are_refused_in_words(
    shop: SmallShop, supervisor: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    shells = shop.released(quantity=3)
    bad = supervisor.post(reverse("travelers:print_shell", args=[shells[0].serial]), {"paper": "<A3>"})
    assert bad.status_code == 422
    assert "There is no paper “&lt;A3&gt;”; choose A4 or Letter." in bad.content.decode()
    nothing = supervisor.post(reverse("travelers:print_selection"), {"serials": ["unknown"]})
    assert nothing.status_code == 422
    assert "Choose at least one shell to print." in nothing.content.decode()
    assert MOST_AT_ONCE == 200
    monkeypatch.setattr(printing, "MOST_AT_ONCE", 2)
    many = supervisor.post(reverse("travelers:print_order", args=["K-1"]))
    assert many.status_code == 422
    assert "These are 3 travelers; print at most 2 at once, kit by kit." in many.content.decode()
    assert [prints(shell) for shell in shells] == [[], [], []]


def test_an_order_that_is_not_released_has_nothing_to_print(shop: SmallShop, supervisor: Client) -> None:
    shop.order("K-9")
    answer = supervisor.post(reverse("travelers:print_order", args=["K-9"]))
    assert answer.status_code == 422
    assert "Choose at least one shell" in answer.content.decode()


def addresses(shell: Shell) -> list[tuple[str, str]]:
    return [
        ("post", reverse("travelers:print_shell", args=[shell.serial])),
        ("post", reverse("travelers:print_order", args=["K-1"])),
        ("post", reverse("travelers:print_selection")),
        ("get", reverse("travelers:preview", args=[shell.serial])),
        ("get", reverse("travelers:ahead", args=["K-1"])),
        ("get", reverse("travelers:print", args=[7])),
        ("get", reverse("travelers:file", args=[7])),
    ]


def test_strangers_sign_in_first(shop: SmallShop, client: Client) -> None:
    (shell,) = shop.released()
    for method, address in addresses(shell):
        answer = getattr(client, method)(address)
        assert (answer.status_code, answer["Location"].split("?")[0]) == (302, reverse("signin:office"))
    assert prints(shell) == []


@pytest.mark.parametrize("role", [Role.WORKER, Role.FINAL_CHECKER, Role.OFFICE])
def test_roles_that_do_not_print_travelers(shop: SmallShop, signed_in: Callable[[Role], Client], role: Role) -> None:
    (shell,) = shop.released()
    browser = signed_in(role)
    for method, address in addresses(shell):
        assert getattr(browser, method)(address).status_code == 403
    assert prints(shell) == []


def test_wrong_methods(shop: SmallShop, supervisor: Client) -> None:
    (shell,) = shop.released()
    for method, address in addresses(shell):
        other = "get" if method == "post" else "post"
        assert getattr(supervisor, other)(address).status_code == 405
    assert prints(shell) == []


def test_what_is_not_there(shop: SmallShop, supervisor: Client) -> None:
    assert supervisor.post(reverse("travelers:print_shell", args=["SS26000099"])).status_code == 404
    assert supervisor.get(reverse("travelers:preview", args=["SS26000099"])).status_code == 404
    assert supervisor.post(reverse("travelers:print_order", args=["K-404"])).status_code == 404
    assert supervisor.get(reverse("travelers:ahead", args=["K-404"])).status_code == 404
    assert supervisor.get(reverse("travelers:print", args=[404])).status_code == 404
    assert supervisor.get(reverse("travelers:file", args=[404])).status_code == 404


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
