"""Travelers printed from the office: once for each tap, waited for, refused in words."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from pytest_django import Settings

from quality.models import Role
from routing.models import Shell, Shop, TravelerPrint
from shopfloor import paper_queue
from shopfloor.paper import PaperError
from shopfloor.travelers import making, printing
from shopfloor.travelers.facts import read
from shopfloor.travelers.printing import MOST_AT_ONCE
from tests.shopfloor.paper import LETTER, codes_of, pages_of, sizes_of
from tests.shopfloor.papers_made import work_through
from tests.shopfloor.tablets import Clock
from tests.shopfloor.traveler_prints import opened, prints
from tests.small_shop import SmallShop

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("papers_folder")]
HTMX = {"HX-Request": "true"}


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
