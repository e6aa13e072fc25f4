"""One shell through everything that can happen to it, and its replacement to the carton: the story has no gap."""

from __future__ import annotations

import pytest
from django.core.management import call_command
from django.test import Client
from django.urls import reverse

from quality.dispositions import regrade
from quality.lot_hold import hold_lot, release_shells
from quality.lots import set_lot_state
from quality.models import HeldShell, LotState, Problem, Voiding
from quality.recall import by_lot
from quality.seal import broken_seals, seal_days
from quality.trace import story_of
from quality.verification import verify_shell
from routing.models import Operation, OperationState, RecordKind, Shell, ShellRecord, ShellState
from tests.quality.on_hold import ASSEMBLE, COAT_2, EDGE, PACK, hold, other_finish, scrap_it, send_back, sign_up_to
from tests.quality.test_materials import lot, sign
from tests.shopfloor.paper import pages_of
from tests.small_shop import SmallShop

pytestmark = pytest.mark.django_db


def lived_through(shop: SmallShop) -> tuple[Shell, Shell]:
    """Three reworks, a lot held in the middle of them and released, a regrade, a scrap; then its replacement, packed."""
    plates = lot(shop)
    shell, sister = shop.released(quantity=2)
    for each in (shell, sister):
        sign(shop, each, plate_birch_3_0="P-1")
    sign_up_to(shop, shell, ASSEMBLE)
    hold(shop, shell, "dent in the edge")
    send_back(shop, shell, EDGE)
    sign_up_to(shop, shell, COAT_2)
    held = hold_lot(
        lot=plates, reason="delaminates at the seam", person=shop.supervisor, stamp=shop.stamp(shop.supervisor)
    )
    shop.wait(hours=3)
    release_shells(
        hold=held, settlement="pulled apart, good", person=shop.supervisor, stamp=shop.stamp(shop.supervisor)
    )
    set_lot_state(
        lot=plates,
        state=LotState.OPEN,
        reason="pulled apart, good",
        person=shop.supervisor,
        stamp=shop.stamp(shop.supervisor),
    )
    hold(shop, shell, "run in the lacquer")
    send_back(shop, shell, COAT_2)
    sign_up_to(shop, shell, ASSEMBLE)
    hold(shop, shell, "wrong colour")
    send_back(shop, shell, EDGE)
    sign_up_to(shop, shell, EDGE)
    hold(shop, shell, "customer wants gloss")
    regrade(
        serial=shell.serial,
        model=shell.model,
        finish=other_finish(),
        person=shop.supervisor,
        reason="gloss instead",
        stamp=shop.stamp(shop.supervisor),
    )
    sign_up_to(shop, shell, 6)
    hold(shop, shell, "split right through")
    replacement = scrap_it(shop, shell).replacement
    sign(shop, replacement, plate_birch_3_0="P-1")
    sign_up_to(shop, replacement, PACK)
    return Shell.objects.get(pk=shell.pk), Shell.objects.get(pk=replacement.pk)


def test_the_story_has_no_gap(shop: SmallShop) -> None:
    shell, replacement = lived_through(shop)
    story = story_of(shell)
    assert [event.sequence for event in story.events] == list(range(1, shell.chain_length + 1))
    assert [event.kind for event in story.events if event.kind != RecordKind.SIGNED] == [
        RecordKind.RELEASED,
        RecordKind.HELD,
        RecordKind.REWORK,
        RecordKind.HELD,
        RecordKind.RESUMED,
        RecordKind.HELD,
        RecordKind.REWORK,
        RecordKind.HELD,
        RecordKind.REWORK,
        RecordKind.HELD,
        RecordKind.REISSUED,
        RecordKind.HELD,
        RecordKind.SCRAPPED,
    ]
    # Every signature that ever was is there; what rework made void is marked, and nothing else is.
    signed = [event for event in story.events if event.kind == RecordKind.SIGNED]
    void = [event for event in signed if event.void]
    assert len(void) == Voiding.objects.filter(sign_off__operation__shell=shell).count() == 4 + 1 + 4
    standing = {f"{step.title}: signed off" for step in story.steps if step.signed_by}
    assert standing == {event.title for event in signed if not event.void}
    assert [problem.disposition for problem in Problem.objects.filter(shell=shell).order_by("pk")] == [
        "rework",
        "released",
        "rework",
        "rework",
        "regrade",
        "scrap",
    ]
    assert all(event.person for event in story.events)
    times = [event.at for event in story.events]
    assert times == sorted(times)
    assert story.replaced_by == replacement.serial
    assert story_of(replacement).replaces == shell.serial


def test_the_kit_is_whole_and_nothing_of_the_scrapped_shell_goes_on(shop: SmallShop) -> None:
    shell, replacement = lived_through(shop)
    assert (shell.state, replacement.state) == (ShellState.SCRAPPED, ShellState.PACKED)
    assert replacement.line_id == shell.line_id
    left = Operation.objects.filter(shell=shell).exclude(state__in=[OperationState.DONE, OperationState.SKIPPED])
    assert not left.exists()


def test_the_record_is_proved_whole_day_by_day(shop: SmallShop, capsys: pytest.CaptureFixture[str]) -> None:
    shell, replacement = lived_through(shop)
    shop.wait(hours=30)
    sealed = seal_days(now=shop.clock)
    assert sum(seal.records for seal in sealed) == ShellRecord.objects.count()
    for each in (shell, replacement):
        assert list(verify_shell(each)) == []
    assert list(broken_seals()) == []
    call_command("verify_records")
    assert "3 chains" in capsys.readouterr().out


def test_the_lot_knows_its_shells_and_each_shell_its_lot(shop: SmallShop) -> None:
    shell, replacement = lived_through(shop)
    plates = HeldShell.objects.filter(shell=shell)[0].hold.lot
    assert plates is not None
    found = {each.serial for each in by_lot(plates)}
    assert {shell.serial, replacement.serial} < found
    for each in (shell, replacement):
        used = [material.shown for event in story_of(each).events for material in event.materials]
        assert any("P-1" in words for words in used)
    assert {row.shell.serial for row in HeldShell.objects.all()} == found - {replacement.serial}


def test_page_paper_and_certificate_tell_it(client: Client, shop: SmallShop) -> None:
    shell, replacement = lived_through(shop)
    client.force_login(shop.supervisor)
    page = client.get(reverse("trace:shell", args=[shell.serial])).content.decode()
    for words in ("dent in the edge", "run in the lacquer", "delaminates at the seam", "customer wants gloss"):
        assert words in page
    paper = " ".join("".join(pages_of(client.get(reverse("trace:pdf", args=[shell.serial])).content)).split())
    assert "split right through" in paper
    json = client.get(reverse("trace:json", args=[shell.serial])).json()
    assert len(json["events"]) == shell.chain_length
    certificate = client.get(reverse("certificate:pdf", args=[replacement.serial]))
    assert certificate.status_code == 200
    assert shell.serial in "".join(pages_of(certificate.content))
