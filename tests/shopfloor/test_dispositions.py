"""Deciding about a drum on hold from its page, and where the decision shows."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse

from quality.actions import sign_off
from quality.models import Defect, Disposition, Person, Problem, Role, SignOff
from quality.problems import report_problem
from quality.verification import verify_shell
from routing.models import Finish, FinishCoat, Operation, Shell, ShellState
from shopfloor.travelers.facts import read
from shopfloor.travelers.sheet import travelers_from
from tests.shopfloor.tablets import Clock, Tablet
from tests.small_shop import PIN, SmallShop

pytestmark = pytest.mark.django_db


def hold(shop: SmallShop, shell: Shell, defect: Defect | None = None) -> Shell:
    step = Operation.objects.current().get(shell=shell)
    report_problem(
        serial=shell.serial,
        position=step.position,
        person=shop.worker,
        text="dent in the wood",
        defect=defect,
        stamp=shop.stamp(shop.worker),
    )
    return Shell.objects.get(pk=shell.pk)


def sign_next(shop: SmallShop, shell: Shell, times: int) -> None:
    for _ in range(times):
        step = Operation.objects.current().get(shell=shell)
        shop.clock = max(shop.clock + timedelta(minutes=5), step.not_before or shop.clock)
        sign_off(
            serial=shell.serial, position=step.position, person=shop.worker, answers={}, stamp=shop.stamp(shop.worker)
        )


@pytest.fixture
def edged(shop: SmallShop) -> Shell:
    """On hold at its first coat: cut, pressed and edged. The first of two drums of its kit."""
    shell, _ = shop.released(quantity=2)
    sign_next(shop, shell, 3)
    return hold(shop, shell)


def decide(desk: Client, which: str, shell: Shell, **fields: str) -> str:
    """Send a form of the page and read the page that follows."""
    answer = desk.post(reverse(f"trace:{which}", args=[shell.serial]), fields, follow=True)
    assert answer.status_code == 200, answer.content.decode()
    return answer.content.decode()


def page_of(desk: Client, shell: Shell) -> str:
    return desk.get(reverse("trace:shell", args=[shell.serial])).content.decode()


def test_a_supervisor_has_every_choice(edged: Shell, supervisor: Client) -> None:
    page = page_of(supervisor, edged)
    for words in ("Release from hold", "Send back for rework", "Use as is", "Regrade", "Scrap and replace"):
        assert words in page
    assert "3. edge</option>" in page and "4. finish 1 of 2: clear 1 (held here)</option>" in page
    assert "1. cut</option>" not in page  # it is glued


@pytest.mark.parametrize("role", [Role.OFFICE, Role.WORKER])
def test_others_see_that_a_supervisor_decides(edged: Shell, signed_in: Callable[[Role], Client], role: Role) -> None:
    desk = signed_in(role)
    page = page_of(desk, edged)
    assert "A supervisor decides" in page and "Send back for rework" not in page
    for which in ("rework", "use_as_is", "regrade", "scrap"):
        assert desk.post(reverse(f"trace:{which}", args=[edged.serial])).status_code == 403
    edged.refresh_from_db()
    assert edged.state == ShellState.ON_HOLD


def test_what_is_usual_for_the_defect_is_said(shop: SmallShop, supervisor: Client) -> None:
    defect = Defect.objects.create(code="X1", name="dent", severity="minor", usual_disposition=Disposition.REWORK)
    shell = hold(shop, shop.released()[0], defect)
    assert "Usually: rework (minor defect)" in page_of(supervisor, shell)


def test_rework_shows_what_is_void(edged: Shell, supervisor: Client) -> None:
    page = decide(supervisor, "rework", edged, position="3", decided_why="steam the dent out")
    assert "is sent back" in page and "edge: signed off</strong> (sent back for rework)" in page
    assert "steam the dent out" in page
    assert SignOff.objects.standing().count() == 2
    paper = supervisor.get(reverse("trace:json", args=[edged.serial])).json()
    assert [event["void"] for event in paper["events"] if event["void"]] == ["sent back for rework"]


def test_a_concession_shows_on_the_page_and_on_the_traveler(edged: Shell, supervisor: Client) -> None:
    page = decide(supervisor, "use_as_is", edged, allowed_by="the customer", decided_why="not seen when mounted")
    assert "Used as it is, under a concession:" in page and "Allowed by the customer" in page
    serials = Shell.objects.values_list("serial", flat=True)
    notes = [sheet.body.notes for sheet in travelers_from(read(serials, base_url="http://shop"))]
    assert "dent in the wood" in notes[0] and "the customer" in notes[0] and "concession" in notes[0]
    assert notes[1] == ""


def test_regrading(edged: Shell, supervisor: Client) -> None:
    gloss = Finish.objects.create(name="Heron gloss", kind="lacquer", gloss_target_gu=85)
    FinishCoat.objects.create(
        finish=gloss, position=1, name="clear", stage="clear", wet_film_um=100, volume_solids_pct=35, base_dwell_h=3
    )
    assert "Heron gloss</option>" in page_of(supervisor, edged)
    page = decide(supervisor, "regrade", edged, other=f"{edged.model_id}-{gloss.pk}", decided_why="stain uneven")
    assert "Regraded; the order asked for" in page and "spec revision 2" in page
    edged.refresh_from_db()
    assert edged.finish == gloss
    # The paper leaves out what is no longer to be done.
    (sheet,) = travelers_from(read([edged.serial], base_url="http://shop"))
    coats = [step.title for visit in sheet.body.stations for step in visit.steps if "clear" in step.title]
    assert coats == ["1 of 1: clear"]


def test_a_scrapped_shell_leads_to_its_replacement(edged: Shell, supervisor: Client) -> None:
    page = decide(supervisor, "scrap", edged, decided_why="split right through")
    made = Shell.objects.get(replaces=edged)
    assert f"{made.serial} takes its place" in page and "Replaces" in page
    old = page_of(supervisor, edged)
    assert "Replaced by" in old and made.serial in old
    assert list(verify_shell(Shell.objects.get(pk=edged.pk))) == []
    for screen in ("board:kits", "board:board"):
        board = supervisor.get(reverse(screen)).content.decode()
        assert made.serial in board and edged.serial not in board.replace(f"in place of {edged.serial}", "")
    kits = supervisor.get(reverse("board:kits")).content.decode()
    second = Shell.objects.exclude(pk__in=[edged.pk, made.pk]).get()
    assert kits.index(made.serial) < kits.index(second.serial)
    assert f"in place of {edged.serial}" in kits
    kit = supervisor.get(reverse("orders:kit", args=["K-1"])).content.decode()
    assert made.serial in kit and edged.serial not in kit
    order = supervisor.get(reverse("orders:order", args=["K-1"])).content.decode()
    rings = order[order.index("kit-rings") : order.index("<table")]
    assert rings.count("kit-ring") - 1 == 2
    assert order.index(made.serial) < order.index(second.serial)
    assert f"in place of {edged.serial}" in order


@pytest.mark.parametrize(
    ("which", "fields", "words"),
    [
        ("rework", {"decided_why": "x"}, "Pick the step"),
        ("rework", {"position": "١", "decided_why": "x"}, "Pick the step"),
        ("rework", {"position": "1", "decided_why": "x"}, "cut again"),
        ("rework", {"position": "3"}, "Say what is to be done"),
        ("use_as_is", {"decided_why": "x"}, "Say who allowed it"),
        ("use_as_is", {"allowed_by": "x"}, "Say why"),
        ("regrade", {"other": "999-999", "decided_why": "x"}, "Pick the model and finish"),
        ("scrap", {}, "Say why"),
    ],
)
def test_what_is_missing_is_said_and_what_was_typed_stays(
    edged: Shell, supervisor: Client, which: str, fields: dict[str, str], words: str
) -> None:
    answer = supervisor.post(reverse(f"trace:{which}", args=[edged.serial]), {"decision": which, **fields})
    assert answer.status_code == 422
    page = answer.content.decode()
    assert words in page
    assert page.count('value="x"') >= sum(value == "x" for value in fields.values())
    edged.refresh_from_db()
    assert edged.state == ShellState.ON_HOLD


def test_the_second_supervisor_is_told_that_somebody_decided(edged: Shell, supervisor: Client) -> None:
    decide(supervisor, "rework", edged, position="3", decided_why="first")
    answer = supervisor.post(reverse("trace:scrap", args=[edged.serial]), {"decided_why": "second"})
    assert answer.status_code == 409 and "somebody decided already" in answer.content.decode()
    assert not Shell.objects.filter(replaces=edged).exists()


def test_a_form_that_arrives_twice_scraps_once(edged: Shell, supervisor: Client) -> None:
    for _ in range(2):
        decide(supervisor, "scrap", edged, decided_why="split", tap_key="one form")
    assert Shell.objects.filter(replaces__isnull=False).count() == 1
    assert Problem.objects.get().disposition == Disposition.SCRAP


def at(shop: SmallShop, station: str, who: Person) -> Tablet:
    tablet = Tablet(station)
    tablet.sign_in(who)
    return tablet


def test_a_supervisor_sends_back_to_the_station_of_the_tablet(edged: Shell, shop: SmallShop, clock: Clock) -> None:
    tablet = at(shop, "edge", shop.supervisor)
    shown = tablet.get("step", edged.serial).content.decode()
    assert "Release from hold" in shown and "Rework here: sign again from edge" in shown
    assert tablet.tap("rework", edged, position="3", settlement="steam it", pin="000000").status_code == 422
    answer = tablet.tap("rework", edged, position="3", settlement="steam it", pin=PIN)
    assert answer.status_code == 302
    assert Operation.objects.current().get(shell=edged).position == 3
    assert Problem.objects.get().disposition == Disposition.REWORK


def test_nothing_is_sent_back_to_a_station_it_did_not_come_to(edged: Shell, shop: SmallShop, clock: Clock) -> None:
    tablet = at(shop, "assemble", shop.supervisor)
    assert "Rework here" not in tablet.get("step", edged.serial).content.decode()
    worker = at(shop, "edge", shop.worker)
    assert "Rework here" not in worker.get("step", edged.serial).content.decode()
    answer = worker.tap("rework", edged, position="3", settlement="steam it", pin=PIN)
    assert answer.status_code == 422 and "ask a supervisor" in answer.content.decode()
    assert Problem.objects.get().disposition == ""


def test_the_final_check_reads_the_concession(edged: Shell, shop: SmallShop, supervisor: Client, clock: Clock) -> None:
    decide(supervisor, "use_as_is", edged, allowed_by="the customer", decided_why="not seen when mounted")
    sign_next(shop, edged, 3)
    shown = at(shop, "final-check", shop.checker).get("step", edged.serial).content.decode()
    assert "Used as it is, under a concession: dent in the wood" in shown and "Allowed by the customer" in shown
