"""Looking up a drum, an order, a person; settling and withdrawing from the drum's page."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from quality.actions import sign_off
from quality.models import Withdrawal
from quality.problems import report_problem
from routing.models import Shell, ShellState
from tests.small_shop import SmallShop

pytestmark = pytest.mark.django_db


@pytest.fixture
def cut_shell(shop: SmallShop) -> Shell:
    shell = shop.released(customer_reference="PO 77")[0]
    sign_off(serial=shell.serial, position=1, person=shop.worker, answers={}, stamp=shop.stamp(shop.worker))
    return shell


def test_a_serial_leads_to_its_drum_however_it_is_typed(cut_shell: Shell, office: Client) -> None:
    serial = cut_shell.serial
    for typed in (serial, serial.lower(), f" {serial[:4]}-{serial[4:]} "):
        answer = office.get(reverse("trace:search"), {"q": typed})
        assert answer.status_code == 302
        assert answer["Location"] == reverse("trace:shell", args=[serial])


def test_a_mistyped_serial_is_recognised(cut_shell: Shell, office: Client) -> None:
    serial = cut_shell.serial
    swapped = serial[:7] + serial[8] + serial[7] + serial[9:]
    assert "last character does not fit" in office.get(reverse("trace:search"), {"q": swapped}).content.decode()
    assert office.get(reverse("trace:shell", args=[swapped])).status_code == 404


@pytest.mark.parametrize("words", ["K-1", "PO 77", "harrow", "SS26"])
def test_order_reference_and_customer_list_their_drums(cut_shell: Shell, office: Client, words: str) -> None:
    assert cut_shell.serial in office.get(reverse("trace:search"), {"q": words}).content.decode()


def test_nothing_found_says_what_to_try(shop: SmallShop, office: Client) -> None:
    assert "Try the serial number" in office.get(reverse("trace:search"), {"q": "zebra"}).content.decode()


def test_the_page_tells_the_story(cut_shell: Shell, shop: SmallShop, office: Client) -> None:
    page = office.get(reverse("trace:shell", args=[cut_shell.serial])).content.decode()
    assert "No final check yet" in page
    assert shop.worker.name in page
    assert "K-1" in page
    assert "Release from hold" not in page


def test_json_and_pdf(cut_shell: Shell, office: Client) -> None:
    story = office.get(reverse("trace:json", args=[cut_shell.serial])).json()
    assert [event["kind"] for event in story["events"]] == ["released", "signed"]
    pdf = office.get(reverse("trace:pdf", args=[cut_shell.serial]))
    assert pdf["Content-Type"] == "application/pdf"
    assert pdf.content.startswith(b"%PDF-")


def test_a_person_shows_what_they_signed(cut_shell: Shell, shop: SmallShop, office: Client) -> None:
    page = office.get(reverse("trace:person", args=[shop.worker.pk])).content.decode()
    assert cut_shell.serial in page
    assert "signed nothing yet" in office.get(reverse("trace:person", args=[shop.checker.pk])).content.decode()
    assert office.get(reverse("trace:person", args=[999999])).status_code == 404


def test_a_supervisor_settles_a_problem(cut_shell: Shell, shop: SmallShop, supervisor: Client, office: Client) -> None:
    report_problem(
        serial=cut_shell.serial, position=2, person=shop.worker, text="void in plate", stamp=shop.stamp(shop.worker)
    )
    url = reverse("trace:settle", args=[cut_shell.serial])
    assert "void in plate" in supervisor.get(reverse("trace:shell", args=[cut_shell.serial])).content.decode()
    assert office.post(url, {"settlement": "filled"}).status_code == 403
    assert supervisor.post(url, {"settlement": ""}).status_code == 422
    assert supervisor.post(url, {"settlement": "filled"}).status_code == 302
    assert supervisor.post(url, {"settlement": "filled"}).status_code == 409
    cut_shell.refresh_from_db()
    assert cut_shell.state == ShellState.IN_PRODUCTION
    assert supervisor.get(url).status_code == 405


def test_a_supervisor_withdraws_a_signature_with_a_reason(cut_shell: Shell, supervisor: Client) -> None:
    url = reverse("trace:withdraw", args=[cut_shell.serial, 1])
    assert supervisor.post(url, {"reason": ""}).status_code == 422
    assert supervisor.post(url, {"reason": "wrong shell"}).status_code == 302
    assert Withdrawal.objects.get().reason == "wrong shell"
    assert supervisor.post(url, {"reason": "again"}).status_code == 409
    page = supervisor.get(reverse("trace:shell", args=[cut_shell.serial])).content.decode()
    assert "withdrawn later" in page


def test_a_supervisor_issues_the_spec_again_with_a_reason(cut_shell: Shell, supervisor: Client, office: Client) -> None:
    url = reverse("trace:reissue", args=[cut_shell.serial])
    assert office.post(url, {"why": "x"}).status_code == 403
    assert supervisor.post(url, {"why": " "}).status_code == 422
    assert supervisor.post(url, {"why": "new edge"}).status_code == 302
    cut_shell.refresh_from_db()
    assert cut_shell.spec_revision == 2
    assert "new edge" in supervisor.get(reverse("trace:shell", args=[cut_shell.serial])).content.decode()
    assert supervisor.get(url).status_code == 405
