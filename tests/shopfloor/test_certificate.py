"""The certificate: every signer, every reading with its limits, lots, holds, revision and fingerprint, as printed."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from quality.actions import sign_off
from quality.certificate import certificate_of, fingerprint
from quality.models import CheckPoint, LotKind, Person, Reading, Role, SignOff
from quality.problems import report_problem, settle_problem
from routing.errors import NotAllowedNow
from routing.models import Operation, Shell, ShellState, Shop
from tests.quality.test_glue_batches import mix
from tests.quality.test_materials import lot
from tests.shopfloor.paper import A4, LETTER, pages_of, sizes_of
from tests.shopfloor.tablets import sign_through
from tests.small_shop import SmallShop, person

pytestmark = pytest.mark.django_db
# A signer of its own for each station, so that a name left out is noticed.
SIGNERS = ["Ann Cutter", "Bea Presser", "Cleo Router", "Dan Sprayer", "Eve Polisher", "Fay Builder", "Gus Checker"]
DEPTHS = {1: ("139.62", "mm"), 3: ("139.7", "mm"), 6: ("0.35", "mm")}


@pytest.fixture
def drum(shop: SmallShop) -> Shell:
    """Finally checked, with a reading at three steps, a lot, a glue batch, and a hold that was settled."""
    lot(shop), lot(shop, "CL-1", LotKind.COATING, "clear")
    shell = shop.released(customer_reference="PO 77")[0]
    for position in DEPTHS:
        CheckPoint.objects.create(
            code=f"measure-{position}",
            station=shop.step(shell, position).station,
            text=f"Measure {position}",
            kind="measured",
            unit="mm",
            nominal=float(DEPTHS[position][0]) + 0.01,
            minus=0.4 if position != 6 else None,
            plus=0.4,
        )
    CheckPoint.objects.create(code="seams", station=shop.stations["cut"], text="Seams closed")
    signers = [
        person(name.lower().replace(" ", "-"), Role.FINAL_CHECKER, stations=list(shop.stations.values()))
        for name in SIGNERS
    ]
    for position, who in enumerate(signers, start=1):
        shop.wait(hours=60)
        materials = {1: {"plate-birch-3-0": "P-1"}, 4: {"coating": "CL-1"}}.get(position, {})
        if position == 2:
            materials = {"glue": mix(shop).code}
        if position == 5:
            hold_and_settle(shop, shell, position, signers[2])
        answers = {
            str(check.pk): DEPTHS[position][0] if check.unit else "yes"
            for check in CheckPoint.objects.filter(station=shop.step(shell, position).station)
        }
        sign_off(
            serial=shell.serial,
            position=position,
            person=who,
            answers=answers,
            materials=materials,
            note="a little tight" if position == 3 else "",
            pin_confirmed=True,
            stamp=shop.stamp(who),
        )
    shell.refresh_from_db()
    return shell


def hold_and_settle(shop: SmallShop, shell: Shell, position: int, finder: Person) -> None:
    report_problem(
        serial=shell.serial, position=position, person=finder, text="dust in the coat", stamp=shop.stamp(finder)
    )
    settle_problem(
        serial=shell.serial, person=shop.supervisor, settlement="rubbed down", stamp=shop.stamp(shop.supervisor)
    )


def text_of(client: Client, shell: Shell) -> str:
    answer = client.get(reverse("certificate:pdf", args=[shell.serial]))
    assert (answer.status_code, answer["Content-Type"]) == (200, "application/pdf")
    pages = pages_of(answer.content)
    assert len(pages) <= 2
    return " ".join(pages)


def test_the_paper_names_every_signer_and_every_reading(shop: SmallShop, drum: Shell, office: Client) -> None:
    text = text_of(office, drum)
    names = list(SignOff.objects.values_list("record__person_name", flat=True))
    assert sorted(names) == sorted(SIGNERS)
    for name in names:
        assert name in text
    assert Reading.objects.count() == len(DEPTHS) + 1
    for position, (value, unit) in DEPTHS.items():
        assert f"Measure {position}: {value} {unit}" in text
    assert "Seams closed: yes" in text
    assert "Measure 1: 139.62 mm (139.23 … 140.03 mm)" in text
    assert "Measure 3: 139.7 mm (139.31 … 140.11 mm)" in text
    assert "Measure 6: 0.35 mm (at most 0.76 mm)" in text
    for operation in Operation.objects.filter(shell=drum):
        assert operation.title in text


def test_the_paper_says_what_it_is_and_what_it_is_made_of(shop: SmallShop, drum: Shell, office: Client) -> None:
    text = text_of(office, drum)
    for words in (
        drum.serial,
        "14 × 5.5 in",
        "352.4 mm",
        "9.0 mm, 3 plates",
        "3 × Birch 3.0 (Birch)",
        "Double 45",
        "K-1 for Harrow Lane School (PO 77)",
        "P-1 Birch 3.0",
        "G-2611",
        "CL-1 clear",
        "Note: a little tight",
        "dust in the coat",
        "rubbed down",
        shop.supervisor.name,
        f"Final check by {SIGNERS[6]}",
        "Spec revision 1",
        f"formulas {drum.specs.get().formula_version}",
        fingerprint(drum.chain_head),
        f"{drum.chain_length} records",
    ):
        assert words in text, words
    assert drum.chain_head.startswith(fingerprint(drum.chain_head).replace(" ", ""))
    assert "never on hold" not in text


def test_a_drum_that_was_never_held_says_so(shop: SmallShop, office: Client) -> None:
    shell = shop.released()[0]
    sign_through(shop, shell, 8)
    text = text_of(office, shell)
    assert "never on hold" in text
    assert "packed" in text


def test_the_page_has_the_size_of_the_shops_paper(shop: SmallShop, drum: Shell, office: Client) -> None:
    address = reverse("certificate:pdf", args=[drum.serial])
    assert sizes_of(office.get(address).content) == {A4}
    Shop.objects.update(paper_size="Letter")
    assert sizes_of(office.get(address).content) == {LETTER}


def test_the_drums_page_leads_to_it_after_the_final_check(shop: SmallShop, drum: Shell, office: Client) -> None:
    for shell, leads in ((drum, True), (shop.released("K-2")[0], False)):
        page = office.get(reverse("trace:shell", args=[shell.serial])).content.decode()
        assert (reverse("certificate:pdf", args=[shell.serial]) in page) is leads


def test_there_is_none_before_the_final_check_and_none_on_hold(shop: SmallShop, drum: Shell, office: Client) -> None:
    fresh = shop.released("K-2")[0]
    refused = office.get(reverse("certificate:pdf", args=[fresh.serial]))
    assert refused.status_code == 422
    assert "no final check yet" in refused.content.decode()
    report_problem(serial=drum.serial, position=8, person=shop.worker, text="scratch", stamp=shop.stamp(shop.worker))
    refused = office.get(reverse("certificate:pdf", args=[drum.serial]))
    assert refused.status_code == 422
    assert "is on hold" in refused.content.decode()


@pytest.mark.parametrize("state", [ShellState.SCRAPPED, ShellState.REMADE])
def test_there_is_none_of_what_was_scrapped(shop: SmallShop, drum: Shell, state: ShellState) -> None:
    drum.state = state
    with pytest.raises(NotAllowedNow) as refused:
        certificate_of(drum)
    assert refused.value.code == "no_certificate"


def test_there_is_none_when_the_record_does_not_hold(shop: SmallShop, drum: Shell) -> None:
    Shell.objects.filter(pk=drum.pk).update(chain_head="0" * 64)
    drum.refresh_from_db()
    with pytest.raises(NotAllowedNow) as refused:
        certificate_of(drum)
    assert refused.value.code == "record_broken"
