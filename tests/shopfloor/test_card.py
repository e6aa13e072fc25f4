"""The card in the carton and the page its code opens."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import timedelta

import pytest
import time_machine
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from pytest_django import Settings

from quality.actions import sign_off, withdraw_sign_off
from quality.models import Role
from routing.models import Operation, RecordKind, Shell, ShellRecord, Shop, StationKind
from shopfloor.card import printing
from shopfloor.paper import PaperError
from shopfloor.qr import TOKEN_LENGTH, card_address, card_token, is_card_token
from shopfloor.tablet_station import STATION_COOKIE, binding_of
from shopfloor.worker_token import WorkerAtTablet, keep_worker
from tests.shopfloor.paper import A6_ACROSS, codes_of, pages_of, sizes_of
from tests.shopfloor.tablets import make_tablet
from tests.small_shop import SmallShop, person

pytestmark = pytest.mark.django_db


def checked(shop: SmallShop, number: str = "K-1") -> Shell:
    """A drum on which everything up to the final check is signed."""
    (shell,) = shop.released(number)
    for operation in Operation.objects.filter(shell=shell).select_related("station").order_by("position"):
        if operation.station.kind == StationKind.PACK:
            break
        shop.wait(hours=100)
        who = shop.checker if operation.station.kind == StationKind.FINAL_CHECK else shop.worker
        sign_off(
            serial=shell.serial,
            position=operation.position,
            person=who,
            answers={},
            pin_confirmed=True,
            stamp=shop.stamp(who),
        )
    return shell


def print_address(shell: Shell) -> str:
    return reverse("card:print", args=[shell.serial])


def prints(shell: Shell) -> list[ShellRecord]:
    return list(ShellRecord.objects.filter(shell=shell, kind=RecordKind.CARD).order_by("sequence"))


def tablet_of(who: str, shop: SmallShop, station: str = "final-check") -> Client:
    """A tablet at a station at which ``who`` is signed in."""
    worker = {"checker": shop.checker, "worker": shop.worker}[who]
    client = Client()
    made = make_tablet(client, name="Checking desk")
    answer = client.get(reverse("floor:stations"))
    keep_worker(answer, WorkerAtTablet(worker, timezone.now()), device=binding_of(made), secure=False)
    client.cookies.update(answer.cookies)
    client.cookies[STATION_COOKIE] = station
    return client


def test_the_card_names_the_drum_its_checker_and_the_day(shop: SmallShop, office: Client) -> None:
    shell = checked(shop)
    answer = office.post(print_address(shell))
    assert answer.status_code == 200
    assert answer["Content-Disposition"] == f'inline; filename="card-{shell.serial}.pdf"'
    assert sizes_of(answer.content) == {A6_ACROSS}
    (text,) = pages_of(answer.content)
    for said in [
        "Small Shop",
        "14 × 5.5 in snare",
        "Heron, Heron satin",
        shell.serial,
        shop.checker.name,
        "1 December 2026",
    ]:
        assert said in text
    assert "Each of the 7 segments" in text
    assert shop.worker.name not in text
    assert [record.body["checked_by"] for record in prints(shell)] == [shop.checker.name]


def test_letter_shops_get_a_quarter_sheet(shop: SmallShop, office: Client) -> None:
    shell = checked(shop)
    row = Shop.current()
    row.paper_size = "Letter"
    row.save()
    assert sizes_of(office.post(print_address(shell)).content) == {(396, 306)}


def test_a_second_card_says_so(shop: SmallShop, office: Client) -> None:
    shell = checked(shop)
    first, second = (office.post(print_address(shell), {"tap_key": "one"}) for _ in range(2))
    assert "copy" not in pages_of(first.content)[0]
    assert "copy 2 of this card" in pages_of(second.content)[0]
    assert [record.body["copy"] for record in prints(shell)] == [1, 2]


def test_the_code_opens_the_public_page(shop: SmallShop, office: Client, client: Client) -> None:
    shell = checked(shop)
    (code,) = codes_of(office.post(print_address(shell)).content)
    assert code == card_address(shell.serial, "http://testserver")
    answer = client.get(code)
    assert answer.status_code == 200
    assert answer["X-Robots-Tag"] == "noindex"
    page = answer.content.decode()
    for said in [shell.serial, "14 × 5.5 in snare", "Heron satin", shop.checker.name, "1 December 2026", "Small Shop"]:
        assert said in page
    for internal in ["Harrow Lane School", "K-1", shop.worker.name, "tablet 1"]:
        assert internal not in page


def test_without_its_token_there_is_no_page(shop: SmallShop, client: Client) -> None:
    shell = checked(shop)
    other = checked(shop, "K-2")
    token = card_token(shell.serial)
    for serial, given in [
        (shell.serial, "a" * TOKEN_LENGTH),
        (shell.serial, token[:-1]),
        (shell.serial, token + "a"),
        (shell.serial, card_token(other.serial)),
        (shell.serial, "é" * TOKEN_LENGTH),
        ("SS26000099", card_token("SS26000099")),
    ]:
        assert client.get(reverse("card:public", args=[serial, given])).status_code == 404
    assert client.get(reverse("card:public", args=[shell.serial, token])).status_code == 200
    assert client.post(reverse("card:public", args=[shell.serial, token])).status_code == 405


def test_a_withdrawn_final_check_takes_its_page_back(shop: SmallShop, client: Client, office: Client) -> None:
    shell = checked(shop)
    address = reverse("card:public", args=[shell.serial, card_token(shell.serial)])
    assert client.get(address).status_code == 200
    withdraw_sign_off(serial=shell.serial, position=7, person=shop.checker, stamp=shop.stamp(shop.checker))
    assert client.get(address).status_code == 404
    assert office.post(print_address(shell)).status_code == 409


def test_tokens_are_long_and_outlive_a_kept_key(settings: Settings) -> None:
    token = card_token("SS2600001I")
    assert re.fullmatch(r"[a-z2-7]{12}", token)
    assert is_card_token("SS2600001I", token)
    assert is_card_token("SS2600001I", token.upper())
    assert not is_card_token("SS26000024", token)
    settings.SECRET_KEY, settings.SECRET_KEY_FALLBACKS = "another key " * 5, [settings.SECRET_KEY]
    assert card_token("SS2600001I") != token
    assert is_card_token("SS2600001I", token)
    settings.SECRET_KEY_FALLBACKS = []
    assert not is_card_token("SS2600001I", token)


def test_before_the_final_check_there_is_no_name_to_print(shop: SmallShop, office: Client) -> None:
    (shell,) = shop.released()
    answer = office.post(print_address(shell))
    assert answer.status_code == 409
    assert f"{shell.serial} has no final check yet" in answer.content.decode()
    assert prints(shell) == []


def test_the_checker_prints_at_the_tablet(shop: SmallShop) -> None:
    shell = checked(shop)
    answer = tablet_of("checker", shop).post(print_address(shell))
    assert answer.status_code == 200
    (record,) = prints(shell)
    assert (record.person_name, record.device) == (shop.checker.name, "Checking desk")


def test_a_worker_at_a_tablet_may_not(shop: SmallShop) -> None:
    shell = checked(shop)
    answer = tablet_of("worker", shop).post(print_address(shell))
    assert answer.status_code == 403
    assert f"{shop.worker.name} may not print cards" in answer.content.decode()
    assert prints(shell) == []


@pytest.mark.parametrize(
    ("role", "status"),
    [
        (Role.WORKER, 403),
        (Role.FINAL_CHECKER, 200),
        (Role.SUPERVISOR, 200),
        (Role.OFFICE, 200),
        (Role.ADMINISTRATOR, 200),
    ],
)
def test_who_prints_cards(shop: SmallShop, signed_in: Callable[[Role], Client], role: Role, status: int) -> None:
    shell = checked(shop)
    assert signed_in(role).post(print_address(shell)).status_code == status
    assert len(prints(shell)) == (status == 200)


def test_strangers_sign_in_first_where_they_stand(shop: SmallShop, client: Client) -> None:
    shell = checked(shop)
    answer = client.post(print_address(shell))
    assert (answer.status_code, answer["Location"].split("?")[0]) == (302, reverse("signin:office"))
    tablet = Client()
    tablet.cookies[STATION_COOKIE] = "pack"
    assert tablet.post(print_address(shell))["Location"].startswith(reverse("signin:office")), "no tablet of the shop"
    make_tablet(tablet)
    assert tablet.post(print_address(shell))["Location"] == reverse("floor:sign_in", args=["pack"])
    late = tablet_of("checker", shop)
    idle = Shop.current().floor_idle_minutes
    shop_later = timezone.now() + timedelta(minutes=idle + 1)
    with time_machine.travel(shop_later, tick=False):
        assert late.post(print_address(shell)).status_code == 302
    assert prints(shell) == []


def test_wrong_method_and_unknown_drum(shop: SmallShop, office: Client) -> None:
    shell = checked(shop)
    assert office.get(print_address(shell)).status_code == 405
    assert office.post(reverse("card:print", args=["SS26000099"])).status_code == 404


def test_a_missing_library_is_named_before_anything_is_on_record(
    shop: SmallShop, office: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    shell = checked(shop)

    def missing() -> None:
        raise PaperError("A library that printing needs is missing.")

    monkeypatch.setattr(printing, "require_printing", missing)
    answer = office.post(print_address(shell))
    assert answer.status_code == 503
    assert "A library that printing needs is missing." in answer.content.decode()
    assert prints(shell) == []


def test_names_are_only_words(shop: SmallShop, office: Client, client: Client) -> None:
    shop.checker.name = "<b>Bo</b> & <script>x</script>"
    shop.checker.save(update_fields=["name"])
    person("someone-else", Role.OFFICE)
    shell = checked(shop)
    assert shop.checker.name in pages_of(office.post(print_address(shell)).content)[0]
    page = client.get(reverse("card:public", args=[shell.serial, card_token(shell.serial)])).content.decode()
    assert "<b>Bo</b>" not in page
    assert "&lt;b&gt;Bo&lt;/b&gt; &amp;" in page


def test_whoever_walks_through_numbers_has_to_wait_and_learns_nothing(shop: SmallShop) -> None:
    shell = checked(shop)
    walker, customer = Client(), Client(REMOTE_ADDR="198.51.100.7")
    token = card_token(shell.serial)
    answers = [
        walker.get(reverse("card:public", args=[serial, "a" * TOKEN_LENGTH]))
        for serial in [shell.serial, "SS2600099X", "no-number"] * 6
    ]
    said = {re.sub("[0-9a-f]{32}", "", answer.content.decode()) for answer in answers}
    assert {answer.status_code for answer in answers} == {404} and len(said) == 1
    for _ in range(3):
        last = walker.get(reverse("card:public", args=["no-number", "a" * TOKEN_LENGTH]))
    assert last.status_code == 429 and 0 < int(last["Retry-After"]) <= 60
    assert re.search(r"Wait \d+ seconds, then scan the code again.", last.content.decode())
    assert walker.get(reverse("card:public", args=[shell.serial, token])).status_code == 429
    page = customer.get(reverse("card:public", args=[shell.serial, token]))
    assert page.status_code == 200
    assert page["Referrer-Policy"] == "no-referrer" and "no-store" in page["Cache-Control"]
